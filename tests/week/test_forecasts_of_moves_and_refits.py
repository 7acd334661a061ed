"""Plants that move, levels that may jump, units nobody looked at, and numbers learned anew.

Expected directions are worked by hand; the numbers that are stored are those the library learned.
"""

import datetime as dt

import numpy as np
import pytest
import sqlalchemy as sa
from typer.testing import CliRunner

import benchwalk.records as r
from benchwalk.cli import app
from benchwalk.records.database import session, writing
from benchwalk.report.forecast_words import forecast_words
from benchwalk.science.forecast import DEFAULTS, ScoutOffset
from benchwalk.summarise.forecasts import forecasts, refitted
from benchwalk.summarise.gathered import gather
from tests.week.nursery import MONDAY, WEEK
from tests.week.test_forecasts import RISING, found, walked

DAY = MONDAY + 5 * WEEK
LATE = dt.timedelta(days=2)


def spread(ahead):
    return np.log(ahead.now.high / ahead.now.low)


def of_unit(nursery, unit, day=DAY):
    return next(a for a in found(nursery, day).ahead.values() if a.key.unit_id == unit.id)


def planting_of(nursery, unit):
    with session(nursery.engine, nursery.n) as s:
        return s.scalars(sa.select(r.Planting).where(r.Planting.unit_id == unit.id)).one()


def moved(nursery, source, to, plants, on):
    """Plants from one unit's planting into another's; source None: from outside."""
    ends = {"to_id": planting_of(nursery, to).id, "plants": plants, "moved_on": on}
    kind = "receive"
    if source is not None:
        kind, ends["from_id"] = "move", planting_of(nursery, source).id
    nursery.write(r.Movement(kind=kind, **ends))


def test_plants_from_a_dense_unit_raise_what_is_expected_where_they_came_to(nursery):
    clean, dense = nursery.unit("Clean", "poinsettia", 100), nursery.unit("Dense", "poinsettia", 99)
    walked(nursery, clean, [2, 2, 3, 2, 2, 2])
    walked(nursery, dense, [90, 95, 100, 90, 95, 100])
    before, source = (of_unit(nursery, unit) for unit in (clean, dense))
    moved(nursery, dense, clean, 50, DAY - LATE)
    held = found(nursery, DAY)
    mine = held.result.series == list(held.ahead).index(before.key)
    # a third of the plants has about fifty times as many: some 16 times in all
    rise = held.result.ahead_mean[mine][-1] - held.result.now_mean[mine][-2]
    assert np.log(3) < rise < np.log(30)
    assert of_unit(nursery, clean).now.high > before.now.high
    assert of_unit(nursery, dense).now == source.now


def test_a_unit_that_got_none_is_not_touched_by_a_movement_out_of_it(nursery):
    first, second = nursery.unit("A", "poinsettia", 50), nursery.unit("B", "poinsettia", 50)
    for unit in (first, second):
        walked(nursery, unit, RISING)
    before = of_unit(nursery, first).now
    moved(nursery, first, second, 10, DAY - LATE)
    assert of_unit(nursery, first).now == before


def test_plants_from_outside_make_a_counted_level_less_sure_and_an_uncounted_one_not(nursery):
    unit = nursery.unit("A", "poinsettia")
    walked(nursery, unit, RISING)
    before = of_unit(nursery, unit)
    moved(nursery, None, unit, 30, MONDAY - 3 * WEEK)
    assert of_unit(nursery, unit).now == before.now
    assert of_unit(nursery, unit).days == before.days
    moved(nursery, None, unit, 30, DAY - LATE)
    assert spread(of_unit(nursery, unit)) > 1.02 * spread(before)


def test_a_planting_that_changes_its_phase_may_jump(nursery):
    unit = nursery.unit("A", "poinsettia")
    walked(nursery, unit, RISING)
    before = spread(of_unit(nursery, unit))
    with writing(nursery.engine, nursery.n) as s:
        held = s.scalars(sa.select(r.Planting)).one()
        held.phases.append(r.Phase(from_on=DAY - LATE, phase="flowering"))
    assert spread(of_unit(nursery, unit)) > 1.02 * before


@pytest.mark.parametrize("moves", [False, True])
def test_a_card_at_a_station_that_had_none_before_may_jump(nursery, moves):
    unit = nursery.unit("A", "poinsettia")
    for n in range(4):
        on = MONDAY + n * WEEK
        station = "other" if moves and n == 3 else "same"
        if n in (0, 3) and (moves or n == 0):
            card = nursery.card(unit, 14, on=on, hung=on - WEEK, station=station)
        else:
            nursery.card(unit, 14 * (n + 1), on=on, reuse=card)
    flags = found(nursery, MONDAY + 3 * WEEK).series.flags
    assert flags.tolist() == [0, 0, 0, int(moves)]


def test_a_unit_that_succeeds_another_may_jump(nursery):
    old = nursery.unit("Bay 1")
    walked(nursery, old, RISING)
    with session(nursery.engine, nursery.n) as s:
        s.get_one(r.Unit, (nursery.n, old.id)).closed_on = DAY + LATE
        s.commit()
    new = r.Unit(
        id=r.uuid7(), house_id=nursery.house.id, name="Bay 1 wide", opened_on=DAY + LATE,
        predecessor_id=old.id,
    )  # fmt: skip
    nursery.write(new)
    nursery.looks(new, [14], on=DAY + WEEK, plants=20)
    assert found(nursery, DAY + WEEK).series.flags.tolist() == [0] * 6 + [1]


def test_a_unit_nobody_looked_at_has_its_state_carried_on_and_it_is_said(nursery):
    unit, other = nursery.unit("A", "poinsettia"), nursery.unit("B", "poinsettia")
    walked(nursery, unit, RISING)
    nursery.looks(other, [1], on=DAY + 2 * WEEK, plants=20)
    ahead = of_unit(nursery, unit, DAY + 2 * WEEK)
    assert (ahead.last_on, ahead.today.on, ahead.today.days) == (DAY, DAY + 2 * WEEK, 14)
    carried = ahead.today.within(0.90)
    assert np.log(carried.high / carried.low) > spread(ahead)
    assert of_unit(nursery, other, DAY + 2 * WEEK).today is None
    with session(nursery.engine, nursery.n) as s:
        known = gather(s, DAY + 2 * WEEK, 7)
        words = forecast_words(known, forecasts(s, known))
    told = [any("carried on" in line for line in w.sentences) for w in words.without]
    assert sorted(told) == [False, True]


# what was learned


def learned_from(nursery, day=DAY):
    with session(nursery.engine, nursery.n) as s:
        made = refitted(s, gather(s, day, 7))
    with writing(nursery.engine, nursery.n) as s:
        s.add(made)
    return made


@pytest.fixture
def three_units(nursery):
    rng = np.random.default_rng(4)
    for n in range(3):
        unit = nursery.unit(f"Bay {n}", "poinsettia")
        walked(nursery, unit, rng.poisson(10 * 1.8 ** np.arange(6)).tolist())
    return nursery


def test_what_was_learned_is_kept_with_date_and_ledger_row_and_used(three_units):
    before = found(three_units, DAY)
    learned_from(three_units)
    after = found(three_units, DAY)
    assert (before.learned, after.learned.on, after.params.version) == (None, DAY, str(DAY))
    assert after.params.common.a > DEFAULTS.common.a  # a world of growth .6 a week
    with session(three_units.engine, three_units.n) as s:
        assert after.learned.until_seq == before_seq(s)
        plain = forecasts(s, gather(s, DAY, 7), DEFAULTS)
    last = plain.result.last
    np.testing.assert_allclose(plain.result.mean[last], before.result.mean[last])
    assert np.abs(after.result.mean[last] - before.result.mean[last]).max() > 0.01


def before_seq(s):
    """The ledger row before that of the refit."""
    newest = sa.select(sa.func.max(r.Ledger.seq)).where(r.Ledger.kind == "refit")
    return s.scalar(newest) - 1


def test_below_fifty_series_no_group_has_numbers_of_its_own(three_units):
    made = learned_from(three_units)
    assert made.numbers["groups"] == {}
    assert set(made.numbers["so2"]) == {"plant_count"}
    assert set(found(three_units, DAY).series.group) == {-1}


def test_of_two_refits_the_newer_is_used(three_units):
    learned_from(three_units, DAY - WEEK)
    learned_from(three_units, DAY)
    days = (DAY, DAY - dt.timedelta(days=1), DAY - 2 * WEEK)
    used = [found(three_units, day).learned for day in days]
    assert [None if held is None else held.on for held in used] == [DAY, DAY - WEEK, None]


def test_a_scouts_offset_is_used_from_the_day_it_was_learned(three_units):
    n = three_units
    person = r.Person(id=r.uuid7(), pseudonym="scout 1", role="scout")
    with session(n.engine, n.n) as s:
        person.operation_id = n.n
        s.add(person)
        s.commit()
    with writing(n.engine, n.n) as s:
        for walk in s.scalars(sa.select(r.Walk)):
            walk.scout_id = person.id
    made = learned_from(n, DAY - WEEK)
    plain = found(n, DAY).result
    with writing(n.engine, n.n) as s:
        held = s.get_one(r.Refit, (n.n, made.id))
        offset = ScoutOffset(-0.7, 0.1)
        said = {"mean": offset.mean, "sd": offset.sd, "looks": 9}
        held.numbers = held.numbers | {"scouts": {str(person.id): said}}
    shifted = found(n, DAY).result
    earlier = plain.day < -7
    np.testing.assert_allclose(shifted.now_mean[earlier], plain.now_mean[earlier], rtol=1e-12)
    assert (shifted.now_mean[~earlier] > plain.now_mean[~earlier] + 0.1).all()


def test_the_command_learns_says_of_how_many_and_shows_without(three_units, monkeypatch):
    url = three_units.engine.url.render_as_string(hide_password=False)
    monkeypatch.setenv("BENCHWALK_DATABASE", url)

    def said(*words):
        answer = CliRunner().invoke(app, ["forecast", *words])
        assert answer.exit_code == 0, answer.output
        return answer.output

    before = said()
    told = said("--refit")
    assert f"Learned from 3 series and 18 counts up to {DAY}" in told
    assert f"learned from your own records on {DAY} are in use" in said()
    assert said("--defaults") == before
    both = CliRunner().invoke(app, ["forecast", "--refit", "--defaults"])
    assert both.exit_code == 1
    assert "not both" in both.output


def test_nothing_counted_teaches_nothing(nursery):
    with session(nursery.engine, nursery.n) as s:
        assert refitted(s, gather(s, DAY, 7)) is None


def test_a_refit_is_a_record_of_the_ledger(three_units):
    made = learned_from(three_units)
    with session(three_units.engine, three_units.n) as s:
        row = s.scalars(sa.select(r.Ledger).where(r.Ledger.id == made.id)).one()
    assert (row.kind, row.rev) == ("refit", 1)
