"""What the report says beside the week: five absences, finds, flags, voids, trends."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from benchwalk.catalogue import LOCALES
from benchwalk.report.report_words import report_words
from benchwalk.report.timeline import CULTURAL
from benchwalk.summarise import NotLooked
from tests.report.a_report import WEEK, a_report
from tests.report.a_summary import a_summary
from tests.report.by_hand import DAY, place


@pytest.fixture
def report():
    return report_words(a_report())


def held(words):
    return {one.word: one.text for one in words.held}


def test_each_of_the_five_absences_has_its_line_in_both_languages():
    english = ["in", "looked, none", "not looked", "no word", "not sent yet", "void"]
    spanish = ["llegó", "se revisó, nada", "sin revisar", "sin noticias", "sin enviar", "anulado"]
    assert [one.word for one in report_words(a_report()).held] == english
    assert [one.word for one in report_words(a_report(), "es").held] == spanish


def test_what_is_in_and_what_is_not_adds_up(report):
    """11 units with lines; 4 not looked, one of them without a word from its phone."""
    said = held(report)
    assert said["in"] == "Units looked at: 11 of 15."
    assert said["not looked"].startswith("Units: 3. Counts made before, and not on this walk: 1.")
    assert said["no word"].endswith("nothing came back: 1.")
    assert said["looked, none"] == "Counts that found none: 3. Units with no pest at all: 2."
    assert said["void"] == "Records taken back in these days: 2."


def test_the_scouts_own_reasons_are_said_and_a_silent_phone_is_none_of_them(report):
    text = held(report)["not looked"]
    assert "out of time (1)" in text.lower()
    assert "the key to the gate was lost (1)" in text
    assert "no word" not in text


def test_an_absence_that_did_not_happen_is_said_too():
    summary = replace(a_summary(), not_looked=())
    said = held(report_words(replace(a_report(summary), voided=())))
    assert said["no word"].endswith("0.")
    assert said["void"].endswith("0.")
    assert said["not looked"].startswith("Units: 0.")


def test_first_finds_say_where_and_how_far(report):
    assert len(report.finds) == 2
    mites, whitefly = report.finds
    assert mites.startswith("Cucumber span / Bay 4: two-spotted spider mite: egg")
    assert "First find in this unit" in mites
    assert "First find in the whole operation" in whitefly


def test_a_flag_says_its_place_its_colour_and_its_last_mark(report):
    first, second = report.flags
    assert first == "South house / Bench row 2, row 3: red, virus suspected; confirmed Thu 7 May"
    assert second.endswith("; when it was set is not said")


def test_a_void_can_still_be_read_with_its_reason(report):
    first, second = report.voided
    assert first.what == "look or reading, Cucumber span / Bay 4, Thu 7 May"
    assert first.reason == "Void: counted on the wrong bench."
    assert second.what == "some kind of later, Thu 7 May"


def test_there_is_one_trend_a_line_over_its_threshold_in_order_of_need(report):
    assert [(t.unit.split(" / ")[1], t.line.pest.split(":")[0]) for t in report.trends] == [
        ("Bay 4", "two-spotted spider mite"),
        ("Bench row 2", "western flower thrips"),
        (
            "Mesa larga de nochebuenas bajo la ventila sur, segunda repisa",
            "sweetpotato (silverleaf) whitefly",
        ),
    ]


def test_a_trend_is_drawn_in_times_the_threshold_and_shows_half_a_year(report):
    """Times as the course was made from; the point of 30 weeks ago lies before."""
    spots = report.trends[1].course.spots
    assert spots[0].on == DAY - 20 * WEEK
    assert [s.times for s in spots] == pytest.approx(
        [0.0, 0.2, 0.01, 0.9, None, 30.0, 1.0, 2.4], nan_ok=True
    )
    assert spots[-1].high == pytest.approx(3.7)


def test_a_day_without_a_measured_density_has_no_figure_and_is_no_zero(report):
    spot = next(s for s in report.trends[1].course.spots if s.on == DAY - 14 * WEEK)
    assert (spot.times, spot.low, spot.high) == (None, None, None)


def test_treatments_are_numbered_by_day_and_said_once_with_their_days(report):
    trend = report.trends[1]
    assert [(s.n, s.cultural) for s in trend.course.stamps] == [(1, False), (2, True), (3, False)]
    assert trend.treatments == (
        "spray, spinosad, against western flower thrips, 50\N{NO-BREAK SPACE}% of the unit:"
        " 1 (Thu 12 Feb), 3 (Thu 2 Apr)",
        "wash, plain water: 2 (Fri 13 Feb)",
        "release, =swirskii: 3 (Thu 2 Apr)",
    )


def test_a_treatment_of_long_ago_is_neither_drawn_nor_listed(report):
    assert all("long ago" not in said for trend in report.trends for said in trend.treatments)


def test_any_find_has_no_picture_and_says_its_days_in_figures(report):
    trend = report.trends[2]
    assert trend.course is None
    assert trend.counts.startswith("Thu 18 Dec: 0 per card, days not said;")
    assert "counted, no density" in trend.counts  # of the day that was not measured
    assert (trend.now, trend.line.rule) == ("over", "any find: act")
    assert trend.sentence == ""


@pytest.mark.parametrize("locale", LOCALES)
def test_a_picture_has_a_sentence_for_those_who_do_not_see_it(locale):
    sentence = report_words(a_report(), locale).trends[1].sentence
    assert "2.4" in sentence
    assert "8" in sentence


def test_cultural_work_is_of_the_kinds_that_records_know():
    from benchwalk.catalogue import strings  # noqa: PLC0415 - only here

    assert all(f"report.kind.{kind}" in strings() for kind in CULTURAL)


def test_a_unit_that_nobody_looked_at_has_no_line_and_no_find():
    summary = a_summary()
    missed = NotLooked(place("Bench row 99"), "wet", dt.date(2026, 4, 30))
    words = report_words(a_report(replace(summary, not_looked=(*summary.not_looked, missed))))
    lines = [u.name for g in words.week.groups for u in g.units]
    assert "South house / Bench row 99" not in lines
    assert not any("row 99" in find for find in words.finds)
