"""A unit's page over the demo: the sentence first, half a year, treatments, walks."""

from __future__ import annotations

import re
import uuid

import numpy as np
import pytest

from benchwalk.catalogue import LOCALES, say
from benchwalk.demo.ground import id_of
from benchwalk.records.database import session
from benchwalk.report.course_words import _fan
from benchwalk.report.effect_drawing import effect_drawing
from benchwalk.report.effect_words import last_of
from benchwalk.report.forecast_words import change_words
from benchwalk.report.unit_page_words import unit_page_words
from benchwalk.summarise import summarise, trend
from benchwalk.summarise.checks import LATEST_DAYS, every_check
from benchwalk.summarise.foreseen import foreseen, unit_with_ahead
from benchwalk.summarise.series import SAMPLE
from benchwalk.summarise.unit import unit_course
from benchwalk.web import Served, create_app
from tests.web.conftest import asking, listening, token_of
from tests.web.test_reading_the_week import Text


@pytest.fixture(scope="module")
def courses(demo_operation):
    """Every unit of the demo with its half year."""
    with session(*demo_operation) as s:
        week = summarise(s)
        return [unit_course(s, u.id) for u in week.known.units]


@pytest.fixture(scope="module")
def found(demo_operation):
    """What is ahead in the demo, and what its treatments did."""
    with session(*demo_operation) as s:
        return foreseen(s, summarise(s)).forecasts


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


def test_what_treatments_did_is_what_the_forecast_says_of_them(courses, found):
    """Every treatment of the page is one of `benchwalk forecast --json`, with its ends and word."""
    shown = 0
    for course in courses:
        said = unit_page_words(course, "en", found).did
        for row, did in zip(said.each, last_of(found.did, course), strict=True):
            assert did in found.did
            assert did.population.key.unit_id == course.unit.id
            assert row.word == say(f"page.did_{did.word}", "en")
            assert change_words(did.low, did.high, "en") in row.ends
            assert row.tell == ("" if did.word != "cannot_tell" else row.tell)
            shown += 1
    assert shown > 10


def test_the_word_of_a_treatment_follows_from_the_ends_of_its_interval(courses, found):
    """Rule of the engine: worked above 30 % fewer, did not work under 50 %, else cannot tell."""
    words = set()
    for did in (d for course in courses for d in last_of(found.did, course)):
        expected = (
            "worked" if did.low > 0.3 else "did_not_work" if did.high < 0.5 else "cannot_tell"
        )
        assert did.word == expected
        words.add(did.word)
    assert {"worked", "cannot_tell"} <= words


@pytest.mark.parametrize("locale", LOCALES)
def test_no_middle_value_of_a_treatment_is_said_or_drawn(courses, found, locale):
    for course in courses:
        for effect in unit_page_words(course, locale, found).did.each:
            assert "-" not in effect.ends
            assert "<circle" not in effect.picture
            assert effect.picture.count('class="end') == 2
            assert effect.picture.count('class="class-expected"') == 1


def test_a_units_page_shows_the_fan_only_once_what_is_ahead_was_worked_out(courses, found):
    course = next(c for c in courses if c.now is not None and c.courses)
    plain, whole = unit_page_words(course, "en"), unit_page_words(course, "en", found)
    assert plain.did is None
    assert not any('class="fan"' in c.picture for c in plain.courses)
    assert any(c.picture.count('class="fan"') == 3 for c in whole.courses)


def test_a_unit_with_what_is_ahead_is_the_unit_of_the_week(demo_operation, courses, found):
    """The same word of need, *near* too, on the week's page and the unit's."""
    with session(*demo_operation) as s:
        week = {u.unit.id: u.state for u in foreseen(s, summarise(s)).units}
    alone = {c.unit.id: unit_with_ahead(c.now, found).state for c in courses if c.now is not None}
    assert alone == week
    assert "near" in alone.values()


def test_the_fan_begins_at_the_last_walk_and_widens(courses, found):
    for course in courses:
        for pest in course.courses:
            fan = list(_fan(pest, found))
            assert [on.on for on in fan] == sorted(on.on for on in fan)
            for on in fan:
                lows, highs = zip(*on.ends, strict=True)
                assert list(lows) == sorted(lows)
                assert list(highs) == sorted(highs, reverse=True)
                assert lows[-1] <= on.middle <= highs[-1]


def test_after_something_was_recorded_the_page_leads_to_what_is_ahead(demo_operation):
    """A server that has worked nothing out yet: the link works it out, then the page shows it."""
    engine, operation = demo_operation
    unit = id_of("unit", "G2")
    app = create_app(Served(engine, operation))
    token = token_of(engine, operation, "grower")
    with listening(app) as url, asking(url, token) as grower:
        first = grower.get(f"/units/{unit}?lang=en").text
        assert say("page.ahead_show", "en") in first
        assert 'hx-trigger="load"' in first
        there = grower.get(f"/units/{unit}/ahead")
        assert there.status_code == 303
        second = grower.get(there.headers["location"]).text
        assert say("page.ahead_show", "en") not in second
        assert 'class="fan"' in second
        assert grower.get(f"/units/{uuid.uuid4()}/ahead").status_code == 404


def test_checks_are_due_where_nobody_looked_since_a_treatment(demo_operation, courses):
    """Recomputed: no sample of the pest on or after the day; within four weeks."""
    with session(*demo_operation) as s:
        week = summarise(s)
        due = every_check(s, week.known)
    assert due
    for check in due:
        line = week.known.unit_line(check.place.id)
        for series in week.history:
            concerns = check.put.against is None or check.put.against in week.known.taxon_line(
                series.key.taxon
            )
            late = series.why == SAMPLE and series.on >= check.due_on
            assert not (series.key.unit_id in line and late and concerns)
        assert 0 <= (week.day - check.on).days <= LATEST_DAYS
        assert check.due_on > check.on
    alone = {(c.place.id, c.put.what, c.due_on) for course in courses for c in course.checks}
    assert alone == {(c.place.id, c.put.what, c.due_on) for c in due}


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
    assert f"{walk.scout}, minutes: {walk.minutes:.0f}" in text
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
