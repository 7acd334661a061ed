"""The demo operation: every story in it can be read back from its records."""

import datetime as dt
import time
from collections import Counter
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import sqlalchemy as sa
from scipy import stats

import benchwalk.records as r
from benchwalk import demo
from benchwalk.demo import scenario
from benchwalk.demo.ground import id_of
from benchwalk.demo.growing import Growing
from benchwalk.demo.scouting import SCOUTS, looks, walk_days
from benchwalk.records import queries
from benchwalk.records.database import migrate, open_database, session, writing
from benchwalk.records.ledger import verify
from benchwalk.records.setup import set_up
from benchwalk.summarise import Key, summarise, trend
from benchwalk.summarise.gathered import gather

pytestmark = pytest.mark.slow
LAST = scenario.day_of(scenario.WEEKS - 1, 2)
CARD = ("western_flower_thrips", "adult", "yellow_card")


def opened(path):
    engine = open_database(f"sqlite:///{path / 'demo.sqlite'}")
    migrate(engine)
    return engine


@pytest.fixture(scope="session")
def built(data_of_the_demo):
    """The demo operation, built once: (engine, operation)."""
    with demo.ready(data_of_the_demo()) as held:
        yield held


@pytest.fixture
def s(built):
    with session(*built) as reading:
        yield reading


def unit_id(key):
    return id_of("unit", key)


def trend_of(s, unit, taxon, stage, method="plant_count"):
    return trend(s, gather(s, LAST, 7), Key(unit_id(unit), taxon, stage, method))


def around(points, day, walks=2):
    """Mean density of the walks before a day and of those after it."""
    before = [p.density.mean for p in points if p.on <= day][-walks:]
    after = [p.density.mean for p in points if p.on > day][:walks]
    return np.mean(before), np.mean(after)


def line_of(s, day, unit, taxon, stage, method):
    found = [
        line
        for u in summarise(s, day).units
        if u.unit.id == unit_id(unit)
        for line in u.lines
        if (line.taxon, line.stage, line.method) == (taxon, stage, method)
    ]
    assert len(found) == 1
    return found[0]


def test_the_active_that_works_lowers_its_series(s):
    """Truth put in: spinosad kills 85 % of larvae and adults, in weeks 9, 18, 22 and 23."""
    for unit in ("G1", "G2"):
        found = trend_of(s, unit, "western_flower_thrips", "larva")
        sprays = [m.on for m in found.treatments if m.active == "spinosad"]
        assert sprays == [scenario.day_of(week, 4) for week in (9, 18, 22, 23)]
        before, after = around(found.points, scenario.day_of(18, 4))
        assert after < 0.6 * before


def test_the_active_that_no_longer_works_does_not_lower_its_series(s):
    """Truth put in: imidacloprid kills 8 % and 6 % a day at most, in weeks 11 and 17."""
    found = trend_of(s, "G4", "greenhouse_whitefly", "nymph")
    drenches = [m.on for m in found.treatments if m.active == "imidacloprid"]
    assert drenches == [scenario.day_of(week, 3) for week in (11, 17)]
    for day in drenches:
        before, after = around(found.points, day, walks=3)
        assert after > before


def test_weekly_releases_go_on_and_the_mites_go_down(s):
    found = trend_of(s, "L3", "two_spotted_spider_mite", "motile", "leaf_count")
    releases = [m.on for m in found.treatments if m.kind == "release"]
    assert releases == [scenario.day_of(week, 3) for week in range(7, 25)]
    before, after = around(found.points, scenario.day_of(10, 3), walks=4)
    assert after < 0.5 * before
    enemies = trend_of(s, "L3", "phytoseiulus_persimilis", "adult", "leaf_count")
    assert sum(p.density.mean > 0 for p in enemies.points) > 5


def test_a_spray_that_spares_eggs_is_followed_by_a_rebound(s):
    """Truth put in: abamectin kills 90 % of young and adult mites and no egg, in week 15."""
    spray = scenario.day_of(15, 4)
    motile, eggs = (
        trend_of(s, "G6", "two_spotted_spider_mite", stage, "leaf_count").points
        for stage in ("motile", "egg")
    )
    before, after = around(motile, spray, walks=1)
    assert after < 0.5 * before
    assert next(p.density.mean for p in eggs if p.on > spray) > 0
    later = [p.density.mean for p in motile if p.on > spray]
    assert later[5] > 2 * later[0]


def test_what_flies_in_is_on_the_door_card_and_not_in_the_interior_mean(s):
    door = [c for c in queries.catches(s, scenario.FIRST, LAST, scenario.ZONE) if c.role == "door"]
    thrips = {c.walk_on: c.fresh for c in door if c.taxon == "western_flower_thrips"}
    pulse = [n for on, n in thrips.items() if scenario.day_of(15) < on < scenario.day_of(18)]
    earlier = [n for on, n in thrips.items() if on < scenario.day_of(14)]
    assert np.mean(pulse) > 3 * np.mean(earlier)
    assert line_of(s, LAST, "G3", *CARD).series.units_sampled == 1


def test_a_walk_that_ran_out_of_time_says_so_and_keeps_its_looks(s):
    short = s.scalars(sa.select(r.Visit).where(r.Visit.state == "cut_short")).all()
    (visit,) = short
    looked = s.scalars(
        sa.select(r.Observation.id).where(
            r.Observation.walk_id == visit.walk_id,
            r.Observation.unit_id == visit.unit_id,
            r.Observation.kind == "look",
        )
    ).all()
    assert (visit.unit_id, visit.reason, len(looked)) == (unit_id("G6"), "time", 7)


def test_a_card_that_could_not_be_read_has_a_state_and_no_number(s):
    lost = s.scalars(
        sa.select(r.Observation).where(r.Observation.state.in_(("missing", "unreadable")))
    ).all()
    assert {(o.unit_id, o.state) for o in lost} == {
        (unit_id("G2"), "missing"),
        (unit_id("L2"), "unreadable"),
    }
    assert all(o.examined == [] for o in lost)


def test_the_closed_units_trend_crosses_to_its_successor(s):
    found = trend_of(s, "G7", "greenhouse_whitefly", "nymph")
    closed = scenario.units()["G5"].closed
    assert {p.unit_id for p in found.points if p.on < closed} == {unit_id("G5")}
    assert {p.unit_id for p in found.points if p.on >= closed} == {unit_id("G7")}
    assert len(found.points) == scenario.WEEKS
    first = line_of(
        s, closed + dt.timedelta(days=1), "G7", *("greenhouse_whitefly", "nymph"), "plant_count"
    )
    assert first.change.before_on == closed - dt.timedelta(days=6)
    assert s.get_one(r.Unit, (s.info["operation_id"], unit_id("G5"))).closed_on == closed


def test_the_missed_week_is_not_looked_with_its_reason_and_without_a_number(s):
    day = scenario.day_of(scenario.MISSED_WEEK, 2)
    week = summarise(s, day)
    assert {m.unit.id: m.reason for m in week.not_looked} == {
        unit_id(unit): reason for unit, reason in scenario.MISSED.items()
    }
    held = queries.rounds(s, day, day) + queries.catches(s, day, day, ZoneInfo("UTC"))
    assert not {x.unit_id for x in held} & {unit_id(unit) for unit in scenario.MISSED}


def test_of_the_silent_phone_there_is_no_word(s):
    silent = {m.unit.id: m.reason for m in summarise(s, LAST).not_looked}
    assert silent == {unit_id(unit): "no_word" for unit in ("L4", "L5", "L6")}
    heard = {d.label: (d.last_heard_at, d.unsent) for d in s.scalars(sa.select(r.Device))}
    (label,) = [label for label, (_, unsent) in heard.items() if unsent is None]
    assert all(heard[label][0] < at for other, (at, _) in heard.items() if other != label)


def test_cumulative_cards_are_read_by_difference(s):
    """Oracle: subtraction of what is written, one reading from the next on the same card."""
    written = s.execute(
        sa.select(r.Observation.card_id, r.Walk.walk_on, r.Tally.number)
        .join(r.Walk, r.Walk.id == r.Observation.walk_id)
        .join(r.Tally, r.Tally.observation_id == r.Observation.id)
        .where(r.Observation.kind == "reading", r.Observation.unit_id == unit_id("L1"))
        .where(r.Tally.taxon == "greenhouse_whitefly")
        .order_by(r.Walk.walk_on)
    ).all()
    expected, on_card = {}, Counter()
    for card, day, number in written:
        expected[day] = number - on_card[card]
        on_card[card] = number
    caught = {
        c.walk_on: c.fresh
        for c in queries.catches(s, scenario.FIRST, LAST, scenario.ZONE)
        if c.unit_id == unit_id("L1") and c.taxon == "greenhouse_whitefly"
    }
    assert caught == expected
    assert len(on_card) == 7
    assert sum(1 for card, _, _ in written if card == written[0][0]) == 4
    assert sum(caught.values()) < sum(number for _, _, number in written)


def test_a_week_without_a_reading_is_in_the_next_difference(s):
    """Row 1 was not walked in week 15: two weeks of catch over 14 days, not 7."""
    after = scenario.day_of(scenario.MISSED_WEEK + 1, 2)
    (caught,) = [
        c
        for c in queries.catches(s, after, after, scenario.ZONE)
        if c.unit_id == unit_id("L1") and c.taxon == "greenhouse_whitefly"
    ]
    assert caught.days == pytest.approx(14, abs=0.2)


def plants_on(s, day):
    return {p.id: p.plants for p in queries.plantings(s, day)}


def test_a_movement_conserves_plants(s):
    move = scenario.MOVED
    before = plants_on(s, move.day - dt.timedelta(days=1))
    after = plants_on(s, move.day)
    source, target = (id_of("planting", key) for key in (move.source, move.target))
    assert sum(before.values()) == sum(after.values())
    assert before[source] - after[source] == after[target] - before[target] == move.plants
    assert (after[source], after[target]) == (200 - 60, 132 + 60)


def test_a_succession_hands_over_every_plant(s):
    closed = scenario.units()["G5"].closed
    before, after = plants_on(s, closed - dt.timedelta(days=1)), plants_on(s, closed)
    assert before[id_of("planting", "G5")] == after[id_of("planting", "G7")] == 192
    assert id_of("planting", "G5") not in after


def test_the_virus_find_changes_the_threshold_in_force(s):
    before = line_of(s, scenario.VIRUS_DAY - dt.timedelta(days=1), "G2", *CARD)
    after = line_of(s, scenario.VIRUS_DAY, "G2", *CARD)
    assert (before.rule.threshold.rule, before.rule.threshold.value) == ("crop", 18.0)
    assert (after.rule.threshold.rule, after.rule.threshold.value) == ("virus", 1.0)
    # not one digit of the density: Tuesday's card is another card, a week later
    again = line_of(s, scenario.VIRUS_DAY + dt.timedelta(days=7), "G2", *CARD)
    assert again.rule.threshold.air_space_id == id_of("air_space", "East range")
    assert again.rule.threshold.source == "CountyExt2009"


def test_the_virus_binds_its_own_air_space_only(s):
    found = [t for t in queries.thresholds(s, LAST) if t.rule == "virus"]
    assert {t.air_space_id for t in found} == {id_of("air_space", "East range")}
    (sighting,) = s.scalars(sa.select(r.Sighting))
    assert (sighting.taxon, sighting.unit_id) == (scenario.VIRUS, unit_id("G2"))


def test_sixteen_units_of_three_houses_in_two_air_spaces_are_alive_on_every_day(s):
    for day in (scenario.FIRST, scenario.units()["G5"].closed, LAST):
        there = queries.units(s, day)
        assert len(there) == 16
        assert len({u.house for u in there}) == 3
        assert len({u.air_space_id for u in there}) == 2
    assert len({p.crop for p in queries.plantings(s, LAST)}) == 11


def test_every_unit_is_on_a_route_every_week_for_twenty_six_weeks(s):
    for week in range(scenario.WEEKS):
        called = [c for day in walk_days(week) for c in queries.called(s, day, day)]
        live = {u.id for u in queries.units(s, scenario.day_of(week, 2))}
        assert Counter(c.unit_id for c in called) == Counter(dict.fromkeys(live, 1))
        assert all(c.routed for c in called)


def on_the_wall(at):
    return at.astimezone(scenario.ZONE).replace(tzinfo=None)


def test_discs_lie_two_days_and_the_cards_hang_a_week_or_four(s):
    hours, days = [], Counter()
    for card in s.scalars(sa.select(r.Card).where(r.Card.taken_at.is_not(None))):
        # by the clock on the wall: one disc lay through the night when clocks change
        lasted = on_the_wall(card.taken_at) - on_the_wall(card.hung_at)
        if card.method == "potato_disc":
            hours.append(lasted / dt.timedelta(hours=1))
        else:
            days[round(lasted / dt.timedelta(days=7))] += 1
    assert set(hours) == {48.0}
    assert days[1] > 200
    assert days[4] >= 30


def test_own_thresholds_say_that_they_are_invented_and_some_pests_have_none(s):
    own = [t for t in queries.thresholds(s, LAST) if t.source == scenario.SOURCE]
    assert len(own) == len(scenario.rows("thresholds"))
    assert all(t.status == "own" for t in own)
    states = Counter(line.state for u in summarise(s, LAST).units for line in u.lines)
    assert states["no_threshold"] > 0
    assert states["over"] > 0
    assert states["under"] > 0
    assert states["none"] > 0


def test_only_the_scout_who_stops_counting_says_at_least(s):
    found = s.execute(
        sa.select(r.Walk.scout_id, r.Tally.number)
        .join(r.Observation, r.Observation.walk_id == r.Walk.id)
        .join(r.Tally, r.Tally.observation_id == r.Observation.id)
        .where(r.Tally.how == "at_least", r.Observation.kind == "look")
    ).all()
    assert {scout for scout, _ in found} == {id_of("person", "scout 4")}
    assert {number for _, number in found} == {25}


def test_a_scout_sees_the_share_that_the_observation_model_gives():
    """Put in: 0.95 of scout 1, 0.60 of scout 4, times exp(N(-0.05, 0.10)), never above 1.

    Oracle: that mean, integrated by scipy.stats.
    """
    growing = Growing()
    for n in range(120):
        growing.live(scenario.FIRST + dt.timedelta(days=n))
    unit, rng = scenario.units()["G4"], np.random.default_rng(1)
    seen = [[_adults(looks(growing, unit, SCOUTS[n], rng)) for _ in range(250)] for n in (0, 3)]
    good, poor = (np.mean(x) for x in seen)
    assert poor / good == pytest.approx(share_seen(0.60) / share_seen(0.95), rel=0.08)
    # the variance of a round's error is 0.10: no round tells the mean better than that
    assert np.std(np.log(np.array(seen[1]) + 0.5)) > 0.3


def share_seen(chance):
    error = stats.norm(-0.05, np.sqrt(0.10))
    return error.expect(lambda e: np.minimum(1, chance * np.exp(e)), lb=-3, ub=3)


def _adults(found):
    return sum(
        x.number for look in found for x in look.examined["plant_count"][1] if x.stage == "adult"
    )


def test_the_ledger_is_whole_and_nobody_in_it_has_a_name(s):
    operation = s.info["operation_id"]
    assert verify(s, operation) is None
    people = s.scalars(sa.select(r.Person)).all()
    assert Counter(p.role for p in people) == {"scout": 4, "applicator": 1}
    assert all(p.name is None for p in people)
    held = s.get_one(r.Operation, operation)
    assert held.practice
    assert "(invented)" in held.name


def test_a_second_build_adds_nothing(built):
    engine, operation = built
    with session(engine, operation) as s:
        before = s.scalar(sa.select(sa.func.max(r.Ledger.seq)))
    assert demo.build_once(engine) == demo.Built(operation, counts=0)
    with session(engine, operation) as s:
        assert s.scalar(sa.select(sa.func.max(r.Ledger.seq))) == before


VOCABULARY = ("taxon", "stage", "method", "crop")


def said(engine, operation):
    """Everything in the records but the words and thresholds that every operation begins with."""
    with session(engine, operation) as s:
        shipped = {
            t.id
            for t in s.scalars(sa.select(r.Threshold))
            if t.source != scenario.SOURCE and t.rule != "virus"
        }
        words = [r.Ledger.kind, r.Ledger.id, r.Ledger.rev, r.Ledger.seen_at, r.Ledger.body]
        found = s.execute(sa.select(*words).order_by(r.Ledger.seq)).all()
    return [tuple(x) for x in found if x.kind not in VOCABULARY and x.id not in shipped]


REAL = dt.datetime


class Later(type(dt.datetime)):
    """A clock five years on; what is an instant stays one."""

    def __instancecheck__(cls, held):
        return isinstance(held, REAL)


@pytest.fixture
def later(monkeypatch):
    years = dt.timedelta(days=5 * 365)
    now = time.time_ns

    class Moved(REAL, metaclass=Later):
        @classmethod
        def now(cls, tz=None):
            return REAL.now(tz) + years

        @classmethod
        def today(cls):
            return REAL.today() + years

    monkeypatch.setattr(dt, "datetime", Moved)
    monkeypatch.setattr(time, "time_ns", lambda: now() + int(years.total_seconds() * 1e9))


def test_on_another_day_and_on_either_database_it_is_the_same_demo(built, engine, later):
    """The clock is five years on; received is when it was received, all else is the scenario's.

    On PostgreSQL the first five weeks: every row there passes some triggers of its own.
    """
    weeks = 5 if engine.dialect.name == "postgresql" else scenario.WEEKS
    operation = set_up(engine, demo.NAME, scenario.ZONE.key).operation
    with writing(engine, operation) as s:
        demo.build(s, weeks)
    with session(engine, operation) as s:
        received = s.scalar(sa.select(sa.func.max(r.Ledger.received_at)))
    assert received.year >= scenario.FIRST.year + 5
    again = said(engine, operation)
    assert len(again) > 250 * weeks
    assert again == said(*built)[: len(again)]


def test_flags_are_set_confirmed_and_cleared_at_one_plant_and_change_no_density(s):
    """The table of flags read back: its weeks, one plant each, and no look of them is a sample."""
    marked = s.scalars(
        sa.select(r.Observation)
        .where(r.Observation.flag_mark.is_not(None))
        .order_by(r.Observation.seen_at)
    ).all()
    flags = {f.id: f for f in s.scalars(sa.select(r.Flag))}
    held = {
        unit_id(row["unit"]): [
            (mark, int(row[f"{mark}_week"]))
            for mark in ("set", "confirmed", "cleared")
            if row[f"{mark}_week"]
        ]
        for row in scenario.rows("flags")
    }
    assert {f.unit_id for f in flags.values()} == set(held)
    for flag in flags.values():
        looks = [o for o in marked if o.flag_id == flag.id]
        weeks = [(o.seen_at.date() - scenario.FIRST).days // 7 for o in looks]
        assert list(zip((o.flag_mark for o in looks), weeks, strict=True)) == held[flag.unit_id]
        assert {(o.position, o.why) for o in looks} == {(flag.position, "flagged")}
        assert all(o.examined for o in looks)  # counted, and apart from the sample
