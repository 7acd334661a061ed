"""How right past forecasts were: the page says the scores of the command, and says when few."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from benchwalk.catalogue import LOCALES, say
from benchwalk.records.database import session
from benchwalk.report.calibration_words import calibration_page_words
from benchwalk.report.figures import figure, percent
from benchwalk.science.forecast import Scores
from benchwalk.science.forecast.calibration import Reliability
from benchwalk.summarise import summarise
from benchwalk.summarise.forecasts import calibrated
from benchwalk.summarise.foreseen import foreseen

EVEN = Reliability(np.array([0.1, 0.5]), np.array([0.125, 0.5]), np.array([40, 40]))
SCORES = Scores(80, 80, 0.80, 0.06, 0.08, 0.3, 0.4, EVEN)


def test_the_page_shows_the_scores_that_the_command_prints(signed_in, demo_operation):
    with session(*demo_operation) as s:
        scores = calibrated(foreseen(s, summarise(s)).forecasts)
    source = signed_in("advisor").get("/calibration?lang=en").text
    shown = dict(re.findall(r'data-key="calibration\.([^"]+)">([^<]+)<', source))
    assert shown["coverage"] == percent(100 * scores.coverage)
    assert shown["crps"] == figure(scores.crps, 3)
    assert shown["crps_last"] == figure(scores.crps_last, 3)
    assert shown["brier"] == figure(scores.brier, 3)
    assert shown["brier_last"] == figure(scores.brier_last, 3)
    assert len([key for key in shown if key.endswith(".happened")]) == len(scores.reliability.n)
    assert f">{scores.n}<" in source


@pytest.mark.parametrize("locale", LOCALES)
def test_too_few_forecasts_are_said_and_no_judgement_is_made(locale):
    few = calibration_page_words(replace(SCORES, n=7), 1.0, locale)
    assert few.few == say("page.calibration_few", locale, n=7, least=40)
    assert few.parts[0].answer == say("page.calibration_open", locale, p=percent(80))
    none = calibration_page_words(None, 1.0, locale)
    assert none.few == say("page.calibration_few", locale, n=0, least=40)
    assert none.parts == ()


@pytest.mark.parametrize(
    ("coverage", "key"),
    [
        (0.6, "narrow"),
        (0.749, "narrow"),
        (0.75, "about_right"),
        (0.82, "about_right"),
        (0.9, "wide"),
    ],
)
def test_the_width_of_intervals_is_judged_by_how_many_counts_fell_inside(coverage, key):
    part = calibration_page_words(replace(SCORES, coverage=coverage), 1.0, "en").parts[0]
    assert part.answer == say(f"page.calibration_{key}", "en", p=percent(100 * coverage))


def test_a_forecast_worse_than_the_last_count_is_said_to_be_worse():
    better = calibration_page_words(SCORES, 1.0, "en").parts[1]
    worse = calibration_page_words(replace(SCORES, crps=0.5), 1.0, "en").parts[1]
    assert "25\N{NO-BREAK SPACE}% smaller" in better.answer
    assert "25\N{NO-BREAK SPACE}% larger" in worse.answer


def test_what_happened_has_its_binomial_interval():
    """5 of 40: 90 % mid-P interval, by the library's own function of infested plants."""
    first = calibration_page_words(SCORES, 1.0, "en").bins[0]
    assert first.happened == "13\N{NO-BREAK SPACE}%"
    assert re.fullmatch(r"5\.\d to 23", first.span)


def test_inflated_variances_are_said():
    assert calibration_page_words(SCORES, 1.0, "en").inflated == ""
    assert "2.5" in calibration_page_words(SCORES, 2.5, "en").inflated


def test_a_bin_of_few_is_in_the_table_and_not_in_the_picture():
    few = Reliability(np.array([0.1, 0.5]), np.array([0.0, 0.5]), np.array([4, 40]))
    words = calibration_page_words(replace(SCORES, reliability=few), 1.0, "en")
    assert len(words.bins) == 2
    assert words.picture.count("<circle") == 1


def test_a_nursery_without_walks_has_the_page_and_its_sentence(empty):
    source = empty.get("/calibration?lang=en").text
    assert "Too few forecasts yet: 0 counts" in source
