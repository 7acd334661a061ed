"""What a report has beside the summary: trends of what is over, standing flags, voids."""

from __future__ import annotations

import datetime as dt

import pytest

import benchwalk.records as r
from benchwalk.records.database import session, writing
from benchwalk.summarise import reported
from tests.week.nursery import MONDAY, WEEK, noon

POINSETTIA = "poinsettia"


def report_of(nursery, day=None, days=7):
    with session(nursery.engine, nursery.n) as s:
        return reported(s, day, days)


def test_an_operation_without_walks_has_no_report(nursery):
    assert report_of(nursery) is None


def test_what_is_over_its_threshold_has_its_trend_and_nothing_else_has(nursery):
    over, under = nursery.unit("Bench 1", POINSETTIA), nursery.unit("Bench 2", POINSETTIA)
    nursery.threshold(POINSETTIA, 2.0)
    for week in (0, 1):
        nursery.looks(over, [3, 5], on=MONDAY + week * WEEK)
        nursery.looks(under, [0, 1], on=MONDAY + week * WEEK)
    (found,) = report_of(nursery).over
    assert found.unit.unit.id == over.id
    assert found.line.state == "over"
    assert [p.density.mean for p in found.trend.points] == [4.0, 4.0]


def test_nothing_over_means_no_trend(nursery):
    nursery.looks(nursery.unit("Bench 1", POINSETTIA), [0, 0])
    assert report_of(nursery).over == ()


# flags ----------------------------------------------------------------------------------------


@pytest.fixture
def unit(nursery):
    return nursery.unit("Bench 1", POINSETTIA)


def flag(nursery, unit, **said):
    row = {"colour": "red", "reason": "virus suspected", "position": "row 3"}
    held = r.Flag(id=r.uuid7(), unit_id=unit.id, **(row | said))
    nursery.write(held)
    return held


def mark(nursery, unit, held, mark, on):
    nursery.looks(unit, [1], on=on, why="flagged", flag_id=held.id, flag_mark=mark)


def test_a_flag_stands_from_the_walk_that_set_it_to_the_one_that_cleared_it(nursery, unit):
    held = flag(nursery, unit)
    for week, what in enumerate(("set", "confirmed", "cleared")):
        mark(nursery, unit, held, what, MONDAY + week * WEEK)
    said = []
    for day in (MONDAY - WEEK, MONDAY, MONDAY + WEEK, MONDAY + 2 * WEEK):
        said.append([(f.mark, f.on) for f in report_of(nursery, day).flags])
    assert said == [[], [("set", MONDAY)], [("confirmed", MONDAY + WEEK)], []]


def test_a_flag_set_anew_after_it_was_cleared_stands_again(nursery, unit):
    held = flag(nursery, unit)
    for week, what in enumerate(("set", "cleared", "set")):
        mark(nursery, unit, held, what, MONDAY + week * WEEK)
    (found,) = report_of(nursery, MONDAY + 2 * WEEK).flags
    assert (found.mark, found.on) == ("set", MONDAY + 2 * WEEK)


def test_a_flag_no_look_ever_named_stands_without_a_day(nursery, unit):
    flag(nursery, unit, position=None)
    nursery.looks(unit, [0])
    (found,) = report_of(nursery).flags
    assert (found.unit_id, found.colour, found.position) == (unit.id, "red", None)
    assert (found.mark, found.on) == (None, None)


# voids ----------------------------------------------------------------------------------------


def void(nursery, model, reason, when):
    with writing(nursery.engine, nursery.n) as s:
        s.info |= {"void_reason": reason, "seen_at": when}
        s.delete(s.query(model).first())


def test_a_record_taken_back_in_the_week_is_reported_with_its_reason(nursery, unit):
    nursery.looks(unit, [4, 6])
    void(nursery, r.Observation, "wrong bench", noon(MONDAY))
    (found,) = report_of(nursery, MONDAY).voided
    assert (found.kind, found.reason, found.on) == ("observation", "wrong bench", MONDAY)
    assert found.unit_id == unit.id
    line = next(x for u in report_of(nursery, MONDAY).summary.units for x in u.lines)
    assert line.series.looks == 1


def test_what_was_taken_back_before_or_after_the_week_is_not_reported(nursery, unit):
    nursery.looks(unit, [4, 6])
    void(nursery, r.Observation, "wrong bench", noon(MONDAY))
    for day in (MONDAY - dt.timedelta(days=1), MONDAY + WEEK):
        assert report_of(nursery, day).voided == ()
    assert len(report_of(nursery, MONDAY + WEEK - dt.timedelta(days=1)).voided) == 1


def test_the_day_of_a_void_is_that_of_the_operations_own_zone(nursery, unit):
    """03:30 in UTC is 22:30 of the day before in New York (UTC-5 on that date, tz database)."""
    nursery.looks(unit, [4, 6])
    late = dt.datetime.combine(MONDAY + dt.timedelta(days=1), dt.time(3, 30), dt.UTC)
    void(nursery, r.Observation, "twice", late)
    (found,) = report_of(nursery, MONDAY).voided
    assert found.on == MONDAY


def test_a_record_without_a_unit_is_reported_without_one(nursery, unit):
    nursery.looks(unit, [4])
    nursery.write(r.Application(id=r.uuid7(), kind="spray", what="water"))
    void(nursery, r.Application, "not done", noon(MONDAY))
    (found,) = report_of(nursery, MONDAY).voided
    assert (found.kind, found.unit_id) == ("application", None)
