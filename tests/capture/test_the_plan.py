"""What a phone loads before a walk: what to look for, when to stop, and where nobody enters."""

from __future__ import annotations

import datetime as dt
import json
from math import ceil, floor, log
from zoneinfo import ZoneInfo

import pytest

import benchwalk.records as r
from benchwalk.records.database import session
from benchwalk.records.sync.asked import Asked
from benchwalk.records.sync.entering import entering
from benchwalk.records.sync.plan import plan
from benchwalk.summarise.stops import stops

DAY = dt.date(2026, 3, 10)
NOW = dt.datetime(2026, 3, 10, 11, tzinfo=dt.UTC)
ON_ROOTS = ("western_flower_thrips", "adult", "root_inspection")
on_sqlite = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
THRIPS = ("western_flower_thrips", "adult", "leaf_count")


@pytest.fixture
def o(small):
    return small


def a_target(o, what=THRIPS, **kw):
    taxon, stage, method = what
    scope = {"unit_id": o.unit.id} | kw
    return o.add(
        r.Target(taxon=taxon, stage=stage, method=method, from_on=dt.date(2026, 1, 1), **scope)
    )


def a_threshold(o, what=THRIPS, value=2.0, per="per_leaf", **kw):
    taxon, stage, method = what
    rule = {"kind": "action", "rule": "general", "sense": "ceiling", "crop": "any_crop"}
    said = rule | {"value": value, "per": per, "source": "own", "from_on": dt.date(2026, 1, 1)}
    return o.add(r.Threshold(taxon=taxon, stage=stage, method=method, **said | kw))


def a_pansy(o, unit=None):
    phase = r.Phase(from_on=dt.date(2026, 1, 1), phase="growing")
    planting = o.add(r.Planting(unit_id=(unit or o.unit).id, crop="pansy", phases=[phase]))
    came = {"kind": "receive", "moved_on": dt.date(2026, 1, 1), "plants": 400}
    o.add(r.Movement(to_id=planting.id, **came))
    return planting


def walked(o, *days, counts=(3,) * 8, method="leaf_count"):
    for on in days:
        walk = r.Walk(id=r.uuid7(), walk_on=on, scout_id=o.person)
        o.s.add(walk)
        o.s.flush()
        o.s.add(r.Visit(walk_id=walk.id, unit_id=o.unit.id, state="done"))
        o.s.flush()
        o.s.add_all(a_look(o, walk, number, method) for number in counts)
    o.s.commit()


def a_look(o, walk, number, method):
    tally = r.Tally(taxon="western_flower_thrips", stage="adult", number=number)
    items = 3 if method == "leaf_count" else None
    examined = [r.Examined(method=method, items=items, tallies=[tally])]
    place = {"walk_id": walk.id, "unit_id": o.unit.id, "seen_at": NOW}
    return r.Observation(kind="look", why="sample", plants=1, examined=examined, **place)


def days_before(*weeks):
    return [DAY - dt.timedelta(days=7 * w) for w in weeks]


def the_plan(o):
    """The plan of the day, by unit, as the phone reads it."""
    with session(o.s.get_bind(), o.n) as s:
        held = plan(s, o.n, DAY, r.uuid7())
    return json.loads(json.dumps(held))


def unit_of(held, name):
    return next(u for u in held["units"] if u["name"] == name)


def the_stop(o):
    """The one stop table of a unit."""
    held = unit_of(the_plan(o), "U1")
    with session(o.s.get_bind(), o.n) as s:
        found = stops(s, DAY, {o.unit.id: [Asked(**t) for t in held["targets"]]})
    (stop,) = found[o.unit.id]
    return stop


def limits_by_hand(at, k, n):
    """Wald's lines for the negative binomial, .25 at against at, alpha .1 and beta .05
    ([Wald1947]_, [Waters1955]_), written again from the formulas."""
    low, high = at / 4, at
    d = log(high * (low + k) / (low * (high + k)))
    slope = k * log((high + k) / (low + k)) / d
    under = floor(log(0.05 / 0.9) / d + slope * n + 1e-9)
    over = ceil(log(0.95 / 0.1) / d + slope * n - 1e-9)
    return (under if under >= 0 else None), over


@on_sqlite
def test_limits_are_those_of_the_sequential_test_by_hand(o):
    a_pansy(o)
    a_target(o)
    a_threshold(o)
    walked(o, *days_before(5, 4, 3, 2, 1))
    stop = the_stop(o)
    assert (stop.refused, stop.no_under, stop.items) == (None, None, 3)
    assert stop.at == 2.0 * 3  # a leaf, three leaves a plant
    assert stop.n_min == 5
    assert len(stop.under) == len(stop.over) == 40
    for n in range(1, 41):
        expected = (None, None) if n < 5 else limits_by_hand(stop.at, stop.k, n)
        assert (stop.under[n - 1], stop.over[n - 1]) == expected, n


@on_sqlite
def test_k_is_what_the_operations_rounds_taught_it_and_says_so_when_it_is_assumed(o):
    a_pansy(o)
    a_target(o, ON_ROOTS)
    a_threshold(o, ON_ROOTS, per="per_plant")
    assert (the_stop(o).k, the_stop(o).k_assumed) == (0.6, True)  # of plants, before any round
    clumps = (0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 20)
    twelve = [DAY - dt.timedelta(days=4 * n) for n in range(1, 13)]
    walked(o, *twelve, counts=clumps, method="root_inspection")
    clumped = the_stop(o)
    assert clumped.k < 0.3
    assert not clumped.k_assumed


@on_sqlite
@pytest.mark.parametrize(
    ("weeks", "no_under"), [((), "first_walks"), ((1,), "first_walks"), ((2, 1), None)]
)
def test_under_is_not_called_early_on_a_units_first_two_walks(o, weeks, no_under):
    a_pansy(o)
    a_target(o, ON_ROOTS)
    a_threshold(o, ON_ROOTS, per="per_plant")
    walked(o, *days_before(*weeks), method="root_inspection")
    stop = the_stop(o)
    assert stop.no_under == no_under
    assert [u is not None for u in stop.under[:39]].count(True) == (0 if no_under else 35)
    assert all(limit is not None for limit in stop.over[4:])


@on_sqlite
def test_every_fourth_walk_is_a_full_one(o):
    a_pansy(o)
    a_target(o, ON_ROOTS)
    a_threshold(o, ON_ROOTS, per="per_plant")
    refused = []
    for week in range(9, 0, -1):
        walked(o, *days_before(week), method="root_inspection", counts=(1, 2))
        refused.append(the_stop(o).refused)
    assert refused == [None, None, "full_walk", None, None, None, "full_walk", None, None]


@on_sqlite
def test_under_is_not_called_early_where_plants_came_since_the_last_walk(o):
    a_pansy(o)
    a_target(o)
    a_threshold(o)
    walked(o, *days_before(5, 4, 3, 2, 1))
    assert the_stop(o).no_under is None
    there = a_pansy(o)
    o.add(
        r.Movement(kind="receive", to_id=there.id, moved_on=DAY - dt.timedelta(days=2), plants=10)
    )
    assert the_stop(o).no_under == "arrivals"


@on_sqlite
def test_one_find_is_over_where_any_find_is_too_many_and_none_is_never_called_early(o):
    a_pansy(o)
    a_target(o)
    a_threshold(o, value=None, per=None, sense="any_find")
    stop = the_stop(o)
    assert (stop.n_min, stop.no_under, set(stop.under), set(stop.over)) == (
        1,
        "any_find",
        {None},
        {1},
    )


@on_sqlite
def test_a_regulated_pest_is_never_called_under_early(o):
    a_pansy(o)
    a_target(o)
    a_threshold(o, rule="regulated")
    walked(o, *days_before(5, 4, 3, 2, 1))
    assert the_stop(o).no_under == "regulated"


@on_sqlite
def test_without_a_table_the_reason_is_said(o):
    a_pansy(o)
    a_target(o)
    assert the_stop(o).refused == "no_threshold"
    a_threshold(o, per="percent_leaves")
    assert the_stop(o).refused == "quantity"
    a_threshold(o, from_on=dt.date(2026, 2, 1))
    assert the_stop(o).refused == "items"
    assert (the_stop(o).under, the_stop(o).over) == (None, None)


@on_sqlite
def test_a_card_has_no_stop_table(o):
    a_target(o, ("western_flower_thrips", "adult", "yellow_card"))
    assert the_stop(o).refused == "not_on_plants"


@on_sqlite
def test_the_floor_of_the_plan_is_never_gone_below(o):
    a_pansy(o)
    a_target(o, plants_min=12)
    a_threshold(o)
    walked(o, *days_before(5, 4, 3, 2, 1))
    stop = the_stop(o)
    assert stop.n_min == 12
    assert set(stop.under[:11] + stop.over[:11]) == {None}


def test_a_unit_without_targets_is_looked_at_as_before_then_by_thresholds_then_not(o):
    assert unit_of(the_plan(o), "U1")["targets_from"] == "none"
    a_pansy(o)
    a_threshold(o)
    by_threshold = unit_of(the_plan(o), "U1")
    assert (by_threshold["targets_from"], len(by_threshold["targets"])) == ("thresholds", 1)
    walked(o, *days_before(2))
    as_before = unit_of(the_plan(o), "U1")
    assert as_before["targets_from"] == "past"
    assert as_before["targets"] == [
        {
            "taxon": "western_flower_thrips",
            "stage": "adult",
            "method": "leaf_count",
            "plants_min": None,
            "every_days": None,
            "items": 3,
        }
    ]
    a_target(o, ("thrips", "larva", "leaf_count"))
    assert unit_of(the_plan(o), "U1")["targets_from"] == "plan"


@on_sqlite
def test_what_was_looked_for_long_ago_is_no_habit(o):
    walked(o, *days_before(9))
    assert unit_of(the_plan(o), "U1")["targets_from"] == "none"


def test_items_are_what_most_plants_were_looked_at_with_and_unknown_stays_unknown(o):
    a_target(o)
    assert unit_of(the_plan(o), "U1")["targets"][0]["items"] is None
    walked(o, *days_before(2), counts=(1, 1, 1))
    walk, _ = o.walk(on=days_before(1)[0])
    five = [r.Examined(method="leaf_count", items=5, tallies=[])]
    o.look(walk, examined=five)
    assert unit_of(the_plan(o), "U1")["targets"][0]["items"] == 3


@on_sqlite
def test_where_to_look_is_said_in_both_languages_by_the_taxon_or_its_group(o):
    a_target(o)
    said = the_plan(o)["where"]["western_flower_thrips"]
    assert set(said) == {"en", "es"}
    assert "flowers" in said["en"]
    assert "flores" in said["es"]


def sprayed(o, hours_ago, ended_hours_ago=None, kind="spray", unit=None, precision="minute"):
    ended = None if ended_hours_ago is None else NOW - dt.timedelta(hours=ended_hours_ago)
    treated = [r.Treated(unit_id=(unit or o.unit).id)]
    started = NOW - dt.timedelta(hours=hours_ago)
    load = r.Load(n=1, started_at=started, ended_at=ended, precision=precision, treated=treated)
    o.add(r.Application(kind=kind, what="oil", loads=[load]))


def bound(o):
    with session(o.s.get_bind(), o.n) as s:
        found = entering(s, NOW, ZoneInfo("America/New_York"))
    why = {
        name: [
            [x["why"] for x in held.get(unit.id, [])] for held in (found.closures, found.notices)
        ]
        for name, unit in (("U1", o.unit), ("U2", o.unit2))
    }
    return why["U1"], why["U2"]


def test_a_unit_is_shut_while_an_application_runs(o):
    sprayed(o, 1)
    assert bound(o) == ([["running"], []], [[], []])


def test_a_fog_shuts_every_unit_of_its_air(o):
    sprayed(o, 1, kind="fog")
    assert bound(o) == ([["running"], []], [["running"], []])


def test_an_application_that_ended_is_told_and_shuts_nothing_by_itself(o):
    sprayed(o, 5, 4)
    assert bound(o) == ([[], ["treated"]], [[], []])


@on_sqlite
@pytest.mark.parametrize(
    "said",
    [
        {"hours_ago": 60, "ended_hours_ago": 49},
        {"hours_ago": 25},
        {"hours_ago": 1, "kind": "release"},
        {"hours_ago": 1, "precision": "day"},
    ],
)
def test_what_binds_nobody_any_more_is_not_told(o, said):
    sprayed(o, **said)
    assert bound(o) == ([[], []], [[], []])


def test_a_sign_the_last_walk_met_is_told_until_somebody_got_in(o):
    o.walk(on=DAY, state="skipped", reason="sign")
    assert bound(o) == ([[], ["sign"]], [[], []])
    o.walk(on=DAY)
    assert bound(o) == ([[], []], [[], []])


def test_a_unit_that_ends_is_shut_from_that_midnight_where_it_is(o):
    o.unit.closed_on = dt.date(2026, 3, 12)
    o.s.commit()
    with session(o.s.get_bind(), o.n) as s:
        (shut,) = entering(s, NOW, ZoneInfo("America/New_York")).closures[o.unit.id]
    # summer time began on 8 March 2026 there: four hours behind UTC
    assert shut == {"from": "2026-03-12T04:00:00+00:00", "until": None, "why": "closed"}
