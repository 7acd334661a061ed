"""A pest over the walks of a unit, across its succession, with treatments marked."""

import datetime as dt

import numpy as np
import pytest

import benchwalk.records as r
from benchwalk.records.database import session, writing
from benchwalk.summarise import Key, trend
from benchwalk.summarise.gathered import gather
from tests.week.nursery import MONDAY, WEEK, noon

NYMPHS = ("greenhouse_whitefly", "nymph", "plant_count")


def trend_of(nursery, unit, key=NYMPHS, until=MONDAY + 9 * WEEK):
    with session(nursery.engine, nursery.n) as s:
        return trend(s, gather(s, until, 7), Key(unit.id, *key))


def succeed(nursery, unit, on, name):
    """Close a unit and open its successor on the same day."""
    with writing(nursery.engine, nursery.n) as s:
        s.get_one(r.Unit, (nursery.n, unit.id)).closed_on = on
    life = {"opened_on": on, "predecessor_id": unit.id}
    after = r.Unit(id=r.uuid7(), house_id=nursery.house.id, name=name, **life)
    nursery.write(after)
    return after


def test_a_trend_is_the_density_of_every_day_looked_at(nursery):
    unit = nursery.unit("Bench 1")
    for week, counts in enumerate(([2, 4], [0, 0], [5, 7])):
        nursery.looks(unit, counts, on=MONDAY + week * WEEK)
    found = trend_of(nursery, unit)
    assert [p.on for p in found.points] == [MONDAY, MONDAY + WEEK, MONDAY + 2 * WEEK]
    assert [p.density.mean for p in found.points] == [3.0, 0.0, 6.0]
    assert all(p.density.low <= p.density.mean < p.density.high for p in found.points)


def test_a_week_nobody_looked_has_no_point_and_no_zero(nursery):
    unit = nursery.unit("Bench 1")
    nursery.looks(unit, [4], on=MONDAY)
    nursery.walk(MONDAY + WEEK, unit, state="skipped", reason="wet")
    nursery.looks(unit, [6], on=MONDAY + 2 * WEEK)
    assert [p.density.mean for p in trend_of(nursery, unit).points] == [4.0, 6.0]


def test_a_trend_crosses_from_a_closed_unit_to_its_successor(nursery):
    first = nursery.unit("Bench 1")
    nursery.looks(first, [2, 2], on=MONDAY)
    second = succeed(nursery, first, MONDAY + WEEK, "Bench 1 wide")
    nursery.looks(second, [8, 8], on=MONDAY + WEEK)
    found = trend_of(nursery, second)
    assert [(p.unit_id, p.density.mean) for p in found.points] == [(first.id, 2), (second.id, 8)]
    assert [p.density.mean for p in trend_of(nursery, first).points] == [2.0]


def test_a_successors_first_walk_is_compared_with_its_predecessors_last(nursery):
    first = nursery.unit("Bench 1")
    nursery.looks(first, [2, 2], on=MONDAY)
    second = succeed(nursery, first, MONDAY + WEEK, "Bench 1 wide")
    nursery.looks(second, [8, 8], on=MONDAY + WEEK)
    change = nursery.line(second, day=MONDAY + WEEK).change
    assert (change.before_on, change.ratio) == (MONDAY, 4.0)


@pytest.mark.parametrize(("before", "first"), [([2, 2], ""), ([0, 0], "operation")])
def test_what_a_predecessor_had_is_no_first_find_of_its_successor(nursery, before, first):
    old = nursery.unit("Bench 1")
    nursery.looks(old, before, on=MONDAY)
    new = succeed(nursery, old, MONDAY + WEEK, "Bench 1 wide")
    nursery.looks(new, [8, 8], on=MONDAY + WEEK)
    assert nursery.line(new, day=MONDAY + WEEK).first == first


def test_a_successors_interval_leans_on_the_rounds_of_its_predecessor(nursery):
    first = nursery.unit("Bench 1")
    for week in range(10):
        nursery.looks(first, [0, 3, 6, 1], on=MONDAY + week * WEEK)
    second = succeed(nursery, first, MONDAY + 10 * WEEK, "Bench 1 wide")
    nursery.looks(second, [2, 2], on=MONDAY + 10 * WEEK)
    spread = nursery.line(second, day=MONDAY + 10 * WEEK).dispersion
    assert (spread.rounds, spread.assumed) == (10, False)


def test_catches_without_a_day_out_are_not_in_a_trend_of_catches_a_week(nursery):
    unit = nursery.unit("Bench 1")
    nursery.card(unit, 9, on=MONDAY)
    nursery.card(unit, 14, on=MONDAY + WEEK, hung=MONDAY, station="Y")
    found = trend_of(nursery, unit, ("western_flower_thrips", "adult", "yellow_card"))
    assert found.per == "per_card_per_week"
    assert [p.density.mean for p in found.points] == [14.0]


def test_a_capped_count_is_a_lower_bound_in_its_trend(nursery):
    unit = nursery.unit("Bench 1")
    nursery.looks(unit, ["50+"])
    (point,) = trend_of(nursery, unit).points
    assert point.at_least
    assert (point.density.mean, point.density.high) == (50.0, np.inf)


def test_finds_on_flagged_plants_are_in_no_trend(nursery):
    unit = nursery.unit("Bench 1")
    nursery.looks(unit, [9], why="flagged")
    assert trend_of(nursery, unit) is None


def spray(nursery, unit, on, hour=12):
    at = noon(on).replace(hour=hour)
    load = r.Load(n=1, started_at=at, ended_at=at, treated=[r.Treated(unit_id=unit.id)])
    said = {"kind": "spray", "what": "soap", "taxon": "greenhouse_whitefly"}
    nursery.write(r.Application(id=r.uuid7(), loads=[load], **said))


def test_treatments_of_a_unit_and_its_predecessor_are_marked_and_others_not(nursery):
    first, other = nursery.unit("Bench 1"), nursery.unit("Bench 2")
    nursery.looks(first, [2])
    spray(nursery, first, MONDAY + dt.timedelta(days=2))
    second = succeed(nursery, first, MONDAY + WEEK, "Bench 1 wide")
    spray(nursery, second, MONDAY + WEEK)
    spray(nursery, other, MONDAY)
    spray(nursery, second, MONDAY + 20 * WEEK)
    found = trend_of(nursery, second).treatments
    assert [(m.on, m.unit_id) for m in found] == [
        (MONDAY + dt.timedelta(days=2), first.id),
        (MONDAY + WEEK, second.id),
    ]
    assert {(m.kind, m.what, m.share_percent) for m in found} == {("spray", "soap", 100)}


@pytest.mark.parametrize("hour", [0, 23])
def test_a_treatment_stands_on_its_day_by_the_nurserys_clock(nursery, hour):
    """23 h in New York is the next day in UTC."""
    unit = nursery.unit("Bench 1")
    nursery.looks(unit, [2])
    spray(nursery, unit, MONDAY, hour=hour)
    assert [m.on for m in trend_of(nursery, unit).treatments] == [MONDAY]
