"""A unit's page over the demo: the sentence first, half a year, treatments, walks."""

from __future__ import annotations

import re
import uuid

import numpy as np
import pytest

from benchwalk.catalogue import LOCALES
from benchwalk.demo.ground import id_of
from benchwalk.records.database import session
from benchwalk.report.effect_drawing import effect_drawing
from benchwalk.report.unit_page_words import unit_page_words
from benchwalk.science import density
from benchwalk.summarise import summarise, trend
from benchwalk.summarise.effects import FELL, HALF, LEVEL
from benchwalk.summarise.series import SAMPLE, all_series
from benchwalk.summarise.unit import unit_course
from tests.web.test_reading_the_week import Text


@pytest.fixture(scope="module")
def courses(demo_operation):
    """Every unit of the demo with its half year."""
    with session(*demo_operation) as s:
        week = summarise(s)
        return [unit_course(s, u.id) for u in week.known.units]


def course_of(s, key):
    return unit_course(s, id_of("unit", key))


def test_a_unit_alone_is_the_unit_of_the_week(demo_operation, courses):
    """The same words and figures, though only that unit's counts were read."""
    with session(*demo_operation) as s:
        week = summarise(s)
    alone = {c.unit.id: c.now for c in courses if c.now is not None}
    for unit in week.units:
        mine = alone[unit.unit.id]
        assert (mine.state, mine.on, mine.plants_looked) == (
            unit.state,
            unit.on,
            unit.plants_looked,
        )
        pairs = {line.series.key: line for line in mine.lines}
        for line in unit.lines:
            there = pairs[line.series.key].density
            figures = [(d.mean, d.low, d.high) for d in (there, line.density)]
            assert np.allclose(*figures, equal_nan=True)
            assert pairs[line.series.key].state == line.state
    missing = {c.unit.id: c.missing.reason for c in courses if c.missing is not None}
    assert missing == {m.unit.id: m.reason for m in week.not_looked}


def test_the_points_drawn_are_those_of_the_trend(demo_operation):
    with session(*demo_operation) as s:
        course = course_of(s, "G2")
        known = summarise(s).known
        for pest in course.courses:
            for stage in pest.stages:
                whole = trend(s, known, stage.key)
                recent = [p for p in whole.points if p.on >= course.since]
                assert [p.on for p in stage.points] == [p.on for p in recent]
                assert np.allclose(
                    [p.density.mean for p in stage.points],
                    [p.density.mean for p in recent],
                    equal_nan=True,
                )


def test_the_threshold_steps_on_the_day_the_virus_was_found(demo_operation):
    """The scenario puts thrips on cards at 1 a week from the day of the positive strip test."""
    with session(*demo_operation) as s:
        course = course_of(s, "G2")
    cards = [c for c in course.courses if c.method == "yellow_card"]
    thrips = next(c for c in cards if c.taxon == "western_flower_thrips")
    steps = thrips.stages[0].steps
    assert [step.rule.threshold.value for step in steps] == [18.0, 1.0]
    assert steps[1].from_on == course.on(course.sightings[0].at)
    assert steps[1].rule.threshold.rule == "virus"


def test_the_change_after_a_treatment_is_the_ratio_of_the_two_counts(demo_operation):
    """Recomputed from the two series with the library's own interval at 95 %."""
    with session(*demo_operation) as s:
        course = course_of(s, "G1")
    sample = [x for x in all_series(course.known) if x.why == SAMPLE]
    compared = [e for e in course.effects if not np.isnan(e.fewer_low)]
    assert compared
    for effect in compared:
        before, after = (
            next(x for x in sample if x.key == effect.key and x.on == on)
            for on in (effect.before_on, effect.after_on)
        )
        assert before.on <= effect.on < after.on
        rounds = (*after.counts[:2], *before.counts[:2])
        ratio = float(density.ratio_interval(*rounds, k=1.0, level=LEVEL).ratio)
        assert effect.fewer_low <= 100 * (1 - ratio) <= effect.fewer_high


def test_the_word_of_a_treatment_follows_from_the_ends_of_its_interval(courses):
    words = set()
    for effect in (e for course in courses for e in course.effects):
        low, high = effect.fewer_low, effect.fewer_high
        expected = "fell" if low > FELL else "not_fallen" if high < HALF else "cannot_tell"
        if np.isnan(low):
            expected = effect.word
            assert effect.word in ("no_before", "not_yet", "none_before", "not_compared")
        assert effect.word == expected
        words.add(effect.word)
    assert {"fell", "cannot_tell", "not_yet", "none_before"} <= words


@pytest.mark.parametrize("locale", LOCALES)
def test_no_middle_value_of_a_treatment_is_said_or_drawn(courses, locale):
    for course in courses:
        for effect in unit_page_words(course, locale).effects:
            assert "-" not in effect.ends
            assert "<circle" not in effect.picture
            assert effect.picture.count('class="end') == (2 if effect.picture else 0)


def test_ends_beyond_the_axis_have_arrowheads_and_those_on_it_bars():
    assert effect_drawing(-900, 99.9, "x").count("end-beyond") == 2
    assert effect_drawing(-20, 66, "x").count("end-beyond") == 0


def test_the_sentence_stands_before_every_figure(signed_in, courses):
    for course in courses:
        source = signed_in("advisor").get(f"/units/{course.unit.id}").text
        lead = source.index('class="lead"')
        assert lead < source.index("data-key") if "data-key" in source else True
        assert source.index("<h1") < lead


def test_a_unit_nobody_looked_at_says_why_and_keeps_its_half_year(signed_in, courses):
    missed = [c for c in courses if c.missing is not None]
    assert len(missed) == 3
    for course in missed:
        source = signed_in("grower").get(f"/units/{course.unit.id}").text
        text = Text(source).text
        assert "No word: on the route, nothing came back" in text
        assert 'class="days"' in source
        assert 'class="gap"' in source  # weeks without a count are dashes
        this_week = [k for k in re.findall(r'data-key="([^"]+)"', source) if k[-1].isalpha()]
        assert this_week == []


def test_looked_none_is_drawn_as_a_ring_and_a_week_without_a_count_as_a_dash(courses):
    """Rings are as many as the days that counted none; a day without a mean is never one."""
    for course in courses:
        words = unit_page_words(course, "en")
        for pest, said in zip(course.courses, words.courses, strict=True):
            means = [p.density.mean for stage in pest.stages for p in stage.points]
            assert said.picture.count('class="zero"') == sum(m == 0 for m in means)


def test_walks_have_their_minutes_and_who_walked(signed_in, courses):
    course = next(c for c in courses if c.now is not None)
    text = Text(signed_in("grower").get(f"/units/{course.unit.id}").text).text
    walk = course.walks[0]
    assert walk.minutes > 0
    assert f"{walk.scout}, {walk.minutes:.0f} minutes" in text
    assert len(course.walks) == 26


def test_treatments_have_one_number_in_picture_and_list(courses):
    treated = [c for c in courses if c.put]
    assert treated
    for course in treated:
        words = unit_page_words(course, "en")
        listed = {entry.when.split(".")[0] for entry in words.treatments}
        drawn = {
            n for c in words.courses for n in re.findall(r'class="on-disc"[^>]*>(\d+)<', c.picture)
        }
        assert drawn <= listed
        assert drawn


def test_another_id_is_no_page(signed_in):
    answer = signed_in("grower").get(f"/units/{uuid.uuid4()}")
    assert answer.status_code == 404
    assert signed_in("grower").get("/units/../people").status_code in (403, 404)


def test_before_its_first_day_a_unit_is_no_page(signed_in, courses):
    unit = courses[0].unit.id
    assert signed_in("grower").get(f"/units/{unit}?day=2001-01-01").status_code == 404
