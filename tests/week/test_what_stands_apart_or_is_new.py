"""Units that are easily told wrong: finds on flagged plants alone, a unit opened since the walk."""

from __future__ import annotations

import datetime as dt

import pytest

import benchwalk.records as r
from benchwalk.catalogue import LOCALES, say
from benchwalk.records.database import session, writing
from benchwalk.report.row_words import page_words
from benchwalk.summarise.rows import week_rows
from benchwalk.summarise.unit import unit_course
from tests.week.nursery import MONDAY

DAY = dt.timedelta(days=1)
ENEMY = {"taxon": "encarsia_formosa", "stage": "parasitised_pupa"}


@pytest.fixture
def flagged(nursery):
    """No pest on three plants chosen at random, four on a flagged one."""
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [0, 0, 0])
    nursery.looks(bench, [4], why="flagged", position="flag")
    return nursery


@pytest.mark.parametrize("locale", LOCALES)
def test_a_row_of_finds_on_flagged_plants_does_not_say_looked_none(flagged, locale):
    (group,) = page_words(week_rows(flagged.week()), locale).groups
    (row,) = group.rows
    assert (group.part.state, row.state) == ("present", "present")
    assert row.word == say("state.present", locale)
    assert row.note == say("week.found_apart", locale)


def test_a_walk_that_found_some_on_flagged_plants_proves_no_clean_unit(flagged):
    assert flagged.week().units[0].clean is None


def test_natural_enemies_on_flagged_plants_do_not_make_a_unit_worse(nursery):
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [0, 0, 0])
    nursery.looks(bench, [4], why="flagged", position="flag", **ENEMY)
    (unit,) = nursery.week().units
    assert (unit.state, unit.clean.plants) == ("none", 3)
    assert [a.series.total for a in unit.apart] == [4]  # and are shown


def test_a_unit_that_opened_since_the_newest_walk_is_shown_on_its_first_day(nursery):
    """The page of a unit that was closed leads to the one that came after."""
    bench, opened = nursery.unit("Bench 1", "poinsettia"), MONDAY + 3 * DAY
    nursery.looks(bench, [1])
    with writing(nursery.engine, nursery.n) as s:
        s.get_one(r.Unit, (nursery.n, bench.id)).closed_on = opened
    new = {"house_id": nursery.house.id, "name": "Bench 1 east", "opened_on": opened}
    nursery.write(r.Unit(id=r.uuid7(), predecessor_id=bench.id, **new))
    with session(nursery.engine, nursery.n) as s:
        (successor,) = unit_course(s, bench.id).successors
        course = unit_course(s, successor.id)
        assert (course.day, course.missing.reason) == (opened, "no_walk")
        assert unit_course(s, successor.id, MONDAY) is None


def test_a_week_whose_later_walk_cannot_be_compared_still_has_its_count(nursery):
    """3 on one plant at 2.0 a plant is 1.5 times; the walk after it does not say of how many."""
    nursery.threshold("poinsettia", 2.0)
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [3], on=MONDAY - 9 * DAY)
    nursery.looks(bench, [8], on=MONDAY - 8 * DAY, plants=None)
    nursery.looks(bench, [1])
    (row,) = week_rows(nursery.week()).rows
    assert row.weeks == (*[None] * 8, 1.5, 0.5)
