"""Forbidden states are refused by the database itself, whoever asks and by whatever way.

The states are this project's own rules (docs/nomenclature.md); each test sends one past every
application check, by plain SQL or by the session, on both databases.
"""

import datetime as dt
import threading

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy.exc import DBAPIError, StatementError
from sqlalchemy.orm.exc import StaleDataError

import benchwalk.records as r
from benchwalk.records import rules
from benchwalk.records.database import session, writing
from benchwalk.records.ledger import verify
from tests.patience import PATIENCE_S, all_ended
from tests.records.small_operation import NINE, SmallOperation

D = dt.date
WFT = "western_flower_thrips"
FOREIGN_KEY = r"(?i)foreign key"
CHECK = r"(?i)check"
UNIQUE = r"(?i)unique"


def tally(look, **values):
    """Plain SQL for a tally of a look, past the session."""
    known = {"operation_id": look.operation_id, "observation_id": look.id, "rev": look.rev}
    said = {"method": "leaf_count", "taxon": WFT, "stage": "egg", "how": "counted", "number": 0}
    return sa.insert(r.Tally.__table__).values(**known | said | values)


def card_reading(o, **values):
    card = {"plants": 0, "card_id": o.card.id, "state": "ok", "since": "hung", "counted": "all"}
    known = {"kind": "reading", "unit_id": o.unit.id, "seen_at": NINE, "why": "sample"}
    return r.Observation(**known | card | values)


def nine_on_the_card(**values):
    counted = r.Tally(**{"taxon": WFT, "stage": "adult", "number": 9} | values)
    return [r.Examined(method="yellow_card", items=40, of_items=40, tallies=[counted])]


def planting(o, share, start, end=None, unit=None):
    phases = [r.Phase(from_on=start, phase="growing", area_percent=share)]
    if end:
        phases.append(r.Phase(from_on=end, phase="gone", area_percent=0))
    return o.add(r.Planting(unit_id=(unit or o.unit).id, crop="pansy", phases=phases))


def threshold(**values):
    known = {"taxon": WFT, "stage": "adult", "method": "yellow_card", "kind": "action"}
    rule = {"rule": "general", "crop": "any_crop", "from_on": D(2026, 1, 1), "source": "own"}
    value = {"sense": "ceiling", "value": 15, "per": "per_card_per_week"}
    return r.Threshold(**known | rule | value | values)


def commit_refused(o, match, error=DBAPIError):
    with pytest.raises(error, match=match):
        o.s.commit()
    o.s.rollback()


def test_a_look_and_its_correction_leave_one_current_row_and_two_in_the_ledger(o):
    look = o.look(o.walk()[0])
    look.examined[0].tallies[0].number = 4
    o.s.commit()
    now = o.s.scalar(sa.select(r.Tally.number).where(r.Tally.observation_id == look.id))
    said = sa.select(r.Ledger.rev).where(r.Ledger.id == look.id).order_by(r.Ledger.rev)
    assert (look.rev, now) == (2, 4)
    assert list(o.s.scalars(said)) == [1, 2]
    assert verify(o.s, o.n) is None


def test_a_correction_may_take_a_tally_away_and_put_one_in(o):
    look = o.look(o.walk()[0], tallies=((WFT, "adult", 3), (WFT, "larva", 1)))
    look.examined[0].tallies.pop(0)
    look.examined[0].tallies.append(r.Tally(taxon="thrips", stage="adult", number=3))
    o.s.commit()
    held = o.s.scalars(sa.select(r.Tally).where(r.Tally.observation_id == look.id))
    assert {(t.taxon, t.stage, t.rev) for t in held} == {("thrips", "adult", 2), (WFT, "larva", 2)}


def test_a_voided_look_leaves_the_current_tables_and_stays_readable(o):
    look = o.look(o.walk()[0])
    o.s.info["void_reason"] = "wrong bench"
    o.s.delete(look)
    o.s.commit()
    assert o.s.scalars(sa.select(r.Tally)).all() == []
    said = sa.select(r.Ledger.rev, r.Ledger.void_reason).where(r.Ledger.id == look.id)
    assert o.s.execute(said.order_by(r.Ledger.rev)).all() == [(1, None), (2, "wrong bench")]


def test_a_zero_for_a_part_not_examined_is_refused(o):
    look = o.look(o.walk()[0])
    o.refused(tally(look, method="root_inspection", stage="adult"), match=FOREIGN_KEY)


def test_a_tally_without_a_look_is_refused(o):
    look = o.look(o.walk()[0])
    o.refused(tally(look, observation_id=r.uuid7()), match=FOREIGN_KEY)


@pytest.mark.parametrize(
    "values",
    [
        {"how": "present", "number": 3},
        {"how": "counted", "number": None},
        {"how": "at_least", "number": 0},
        {"how": "counted", "number": -1},
        {"how": "about", "number": 3},
        {"how": "counted", "number": 2, "infested": 3},
        {"how": "present", "number": None, "infested": 0},
        {"how": "density", "number": None, "mean": None},
        {"how": "density", "number": 3, "mean": 1.5},
        {"how": "density", "number": None, "mean": -0.5},
        {"how": "counted", "number": 3, "mean": 1.5},
    ],
    ids=lambda v: "-".join(f"{k}={x}" for k, x in v.items()),
)
def test_a_tally_that_says_two_things_is_refused(o, values):
    look = o.look(o.walk()[0])
    o.refused(tally(look, **values), match=r"(?i)check|more plants")


def test_overlapping_stage_sets_in_one_look_are_refused(o):
    look = o.look(o.walk()[0])
    o.refused(tally(look, stage="motile", number=1), match="overlaps")


def test_more_infested_than_inspected_is_refused(o):
    walk, _ = o.walk()
    found = r.Tally(taxon=WFT, stage="adult", how="present", infested=26)
    row = r.Observation(
        kind="look",
        walk_id=walk.id,
        unit_id=o.unit.id,
        seen_at=NINE,
        why="sample",
        plants=25,
        examined=[r.Examined(method="leaf_count", items=1, tallies=[found])],
    )
    o.refused(row, match="more plants infested")


def test_a_missing_card_has_no_counts_and_a_full_one_only_at_least(o):
    w = {"walk_id": o.walk()[0].id}
    lost = {"state": "missing", "since": None, "counted": None}
    o.refused(card_reading(o, **w | lost, examined=nine_on_the_card()), match="no counts")
    o.refused(card_reading(o, **w, state="full", examined=nine_on_the_card()), match="at least")
    o.refused(card_reading(o, **w, since="last"), match=CHECK)
    o.refused(card_reading(o, **w, since=None, counted=None), match=CHECK)
    o.refused(card_reading(o, **w, plants=None), match=CHECK)
    o.add(card_reading(o, **w, examined=nine_on_the_card()))
    o.add(card_reading(o, **w, state="full", examined=nine_on_the_card(how="at_least")))


def test_a_card_of_which_nothing_is_known_is_refused(o):
    o.refused(r.Card(station_id=o.station.id, method="yellow_card"), match=CHECK)


def test_a_look_with_a_cards_method_is_refused(o):
    walk, _ = o.walk()
    o.refused(
        r.Observation(
            kind="look",
            walk_id=walk.id,
            unit_id=o.unit.id,
            seen_at=NINE,
            why="sample",
            plants=1,
            examined=[r.Examined(method="yellow_card", items=40)],
        ),
        match="a plant's method",
    )


def test_a_look_at_no_plants_is_refused_and_one_at_nobody_knows_how_many_is_kept(o):
    walk, _ = o.walk()
    look = {"kind": "look", "walk_id": walk.id, "unit_id": o.unit.id, "seen_at": NINE}
    o.refused(r.Observation(**look, why="sample", plants=0), match=CHECK)
    assert o.add(r.Observation(**look, why="sample", plants=None)).plants is None


def test_two_cards_hanging_at_one_station_are_refused(o):
    hung = dt.datetime(2026, 3, 5, tzinfo=dt.UTC)
    o.refused(r.Card(station_id=o.station.id, method="yellow_card", hung_at=hung), match=UNIQUE)


def test_a_walk_outside_a_units_life_is_refused_from_both_sides(o):
    with pytest.raises(DBAPIError, match="did not live"):
        o.walk(on=D(2025, 12, 31))
    o.s.rollback()
    o.walk(on=D(2026, 3, 10))
    o.unit.closed_on = D(2026, 3, 10)
    commit_refused(o, "outside this life")
    o.unit.closed_on = D(2026, 3, 11)
    o.s.commit()
    with pytest.raises(DBAPIError, match="did not live"):
        o.walk(on=D(2026, 3, 11))
    o.s.rollback()


def test_a_unit_is_never_redrawn_and_succeeds_only_a_closed_one(o):
    o.walk()
    o.unit.width_m = 3
    commit_refused(o, "never redrawn")
    rectangle = ("x_m", "y_m", "width_m", "length_m")
    for name in rectangle:
        setattr(o.unit, name, None)
    commit_refused(o, "never redrawn")
    with pytest.raises(DBAPIError, match="predecessor is closed"):
        o.new_unit("U1b", predecessor_id=o.unit.id)
    o.s.rollback()


def test_a_unit_that_is_not_on_the_plan_yet_may_be_drawn_once(o):
    nowhere = dict.fromkeys(("x_m", "y_m", "width_m", "length_m", "house_id"))
    unit = o.new_unit("U3", **nowhere)
    o.walk(unit=unit)
    unit.x_m, unit.y_m, unit.width_m, unit.length_m = 0, 5, 2, 20
    unit.house_id = o.house.id
    o.s.commit()
    unit.x_m = 1
    commit_refused(o, "never redrawn")


def test_half_a_rectangle_and_two_units_of_one_name_are_refused(o):
    nowhere = dict.fromkeys(("x_m", "y_m", "width_m", "length_m", "house_id"))
    life = {"kind": "unit", "opened_on": D(2026, 1, 1)}
    o.refused(r.Unit(**nowhere | {"x_m": 1}, **life, name="half"), match=CHECK)
    o.refused(r.Unit(**nowhere | {"house_id": o.house.id}, **life, name="U1"), match=UNIQUE)
    o.new_unit("U1", **nowhere)
    o.refused(r.Unit(**nowhere, **life, name="U1"), match=UNIQUE)


def test_a_skip_needs_its_reason_and_has_no_looks(o):
    with pytest.raises(DBAPIError, match=CHECK):
        o.walk(state="skipped")
    o.s.rollback()
    walk, _ = o.walk(state="skipped", reason="sign is up")
    with pytest.raises(DBAPIError, match="no looks"):
        o.look(walk)
    o.s.rollback()


def test_a_unit_with_looks_cannot_become_skipped(o):
    walk, visit = o.walk()
    o.look(walk)
    visit.state, visit.reason = "skipped", "out of time"
    commit_refused(o, "was not skipped")


def test_a_look_without_a_visit_is_refused(o):
    walk, _ = o.walk()
    with pytest.raises(DBAPIError, match=FOREIGN_KEY):
        o.look(walk, unit=o.unit2)
    o.s.rollback()


def test_plantings_over_100_percent_are_refused_at_any_day(o):
    planting(o, 60, D(2026, 2, 1), D(2026, 4, 1))
    b = planting(o, 40, D(2026, 3, 1))
    with pytest.raises(DBAPIError, match="more than 100"):
        planting(o, 10, D(2026, 3, 15))
    o.s.rollback()
    planting(o, 60, D(2026, 4, 1))
    b.phases[0].area_percent = 41
    commit_refused(o, "more than 100")


def test_a_planting_of_unknown_area_takes_no_share_and_gone_is_no_share(o):
    planting(o, 100, D(2026, 2, 1))
    planting(o, None, D(2026, 2, 1))
    gone = r.Phase(from_on=D(2026, 3, 1), phase="gone", area_percent=None)
    o.refused(r.Planting(unit_id=o.unit.id, crop="pansy", phases=[gone]), match=CHECK)


def test_taking_away_the_end_of_a_planting_is_refused_when_another_stands_there(o):
    a = planting(o, 100, D(2026, 2, 1), D(2026, 4, 1))
    planting(o, 100, D(2026, 4, 1))
    a.phases.pop()
    commit_refused(o, "more than 100")


def test_a_place_has_no_plantings_and_a_planting_stays_in_its_unit(o):
    place = o.new_unit("door", kind="place")
    with pytest.raises(DBAPIError, match="no plantings"):
        planting(o, 10, D(2026, 2, 1), unit=place)
    o.s.rollback()
    planting(o, 10, D(2026, 2, 1)).unit_id = o.unit2.id
    commit_refused(o, "by a movement")


def test_a_look_at_another_units_planting_or_card_is_refused(o):
    elsewhere = planting(o, 10, D(2026, 2, 1), unit=o.unit2)
    walk, _ = o.walk()
    with pytest.raises(DBAPIError, match="planting is in another unit"):
        o.look(walk, planting_id=elsewhere.id)
    o.s.rollback()
    other, _ = o.walk(unit=o.unit2)
    o.refused(card_reading(o, walk_id=other.id, unit_id=o.unit2.id), match="card hangs in another")
    before = dt.datetime(2026, 2, 1, tzinfo=dt.UTC)
    o.refused(card_reading(o, walk_id=walk.id, seen_at=before), match="did not hang then")


def test_plants_never_go_below_zero_on_any_day_whatever_is_corrected(o):
    a, b = planting(o, 50, D(2026, 2, 1)), planting(o, 100, D(2026, 2, 1), unit=o.unit2)
    first = {"kind": "receive", "moved_on": D(2026, 2, 1), "to_id": a.id}
    arrive = o.add(r.Movement(**first, plants=4000))
    between = {"from_id": a.id, "to_id": b.id, "plants": 3000}
    o.add(r.Movement(kind="move", moved_on=D(2026, 3, 1), **between))
    ship = r.Movement(kind="ship", moved_on=D(2026, 3, 5), from_id=b.id, plants=3000)
    o.add(ship)
    short = "more plants leave"
    for day in (D(2026, 3, 6), D(2026, 2, 2)):
        dump = r.Movement(kind="dump", moved_on=day, from_id=a.id, plants=1001)
        o.refused(dump, match=short)
    o.refused(r.Movement(kind="ship", moved_on=D(2026, 3, 5), plants=1), match=CHECK)
    arrive.plants = 2999
    commit_refused(o, short)
    ship.moved_on = D(2026, 2, 28)
    commit_refused(o, short)
    o.s.delete(arrive)
    commit_refused(o, short)


moves = st.tuples(
    st.sampled_from(["receive", "move", "ship"]),
    st.integers(0, 2),
    st.integers(0, 2),
    st.integers(1, 9),
    st.integers(1, 5),
)


@settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(wanted=st.lists(moves, max_size=10))
def test_every_accepted_history_conserves_plants(o, wanted):
    units = [o.new_unit(f"V{r.uuid7()}") for _ in range(3)]
    plantings = [planting(o, 100, D(2026, 2, 1), unit=u) for u in units]
    taken = []
    for kind, a, b, n, day in wanted:
        source = None if kind == "receive" else plantings[a].id
        goal = None if kind == "ship" else plantings[b].id
        move = {"kind": kind, "moved_on": D(2026, 3, day), "plants": n}
        try:
            o.add(r.Movement(**move, from_id=source, to_id=goal))
        except DBAPIError:
            o.s.rollback()
        else:
            taken.append((kind, a, b, n, day))
    for day in range(1, 6):
        so_far = [t for t in taken if t[4] <= day]
        into = [sum(n for k, _, y, n, _ in so_far if k != "ship" and y == i) for i in range(3)]
        out = [sum(n for k, x, _, n, _ in so_far if k != "receive" and x == i) for i in range(3)]
        received = sum(n for k, *_, n, _ in so_far if k == "receive")
        shipped = sum(n for k, *_, n, _ in so_far if k == "ship")
        assert min(i - o for i, o in zip(into, out, strict=True)) >= 0
        assert sum(into) - sum(out) == received - shipped


def test_no_row_points_into_another_operation(o, engine):
    other = SmallOperation(engine)
    walk, _ = o.walk()
    o.refused(r.Walk(walk_on=D(2026, 3, 1), scout_id=other.person), match=FOREIGN_KEY)
    o.refused(r.Visit(walk_id=walk.id, unit_id=other.unit.id, state="done"), match=FOREIGN_KEY)
    o.refused(r.Planting(unit_id=other.unit.id, crop="pansy"), match=FOREIGN_KEY)
    other.s.close()


def test_every_reference_between_tables_of_an_operation_carries_the_operation():
    for table in r.Base.metadata.sorted_tables:
        for fk in table.foreign_key_constraints:
            if "operation_id" in fk.referred_table.c:
                pairs = dict(zip(fk.column_keys, [e.column.name for e in fk.elements], strict=True))
                assert pairs.get("operation_id") == "operation_id", (table.name, fk.column_keys)


@pytest.mark.parametrize("sql", ["UPDATE ledger SET body = '{}'", "DELETE FROM ledger"])
def test_the_ledger_is_never_changed(o, sql):
    o.refused(sa.text(sql), match="never changed")


def test_a_current_row_changes_only_behind_the_ledger(o):
    look = o.look(o.walk()[0])
    look_row, unit = r.Observation.__table__, r.Unit.__table__
    row = sa.update(look_row).where(look_row.c.id == look.id)
    line = sa.update(r.Tally.__table__).where(r.Tally.__table__.c.observation_id == look.id)
    gone = sa.delete(r.Tally.__table__).where(r.Tally.__table__.c.observation_id == look.id)
    o.refused(row.values(why="edge"), match="higher rev")
    o.refused(row.values(why="edge", rev=2), match=f"{FOREIGN_KEY}|newest word")
    o.refused(line.values(number=0), match="only with its record")
    o.refused(line.values(number=0, rev=2), match="rev of its record")
    o.refused(gone, match="newer rev")
    o.refused(sa.delete(unit).where(unit.c.id == o.unit2.id), match="voided in the ledger")
    fresh = {"operation_id": o.n, "id": r.uuid7(), "rev": 1, "name": "unheard of"}
    unheard = sa.insert(r.AirSpace.__table__).values(**fresh)
    o.refused(unheard, match=f"{FOREIGN_KEY}|newest word")


def test_two_current_revs_and_a_rev_that_is_not_the_newest_are_refused(o):
    o.air.name = "B"
    o.s.commit()
    old = {"operation_id": o.n, "id": o.air.id, "rev": 1, "name": "A"}
    again = sa.insert(r.AirSpace.__table__).values(**old)
    o.refused(again, match="(?i)unique|newest word")
    table = r.Ledger.__table__
    last = sa.select(table).where(table.c.operation_id == o.n).order_by(table.c.seq.desc()).limit(1)
    said = o.s.execute(last).one()._asdict()
    repeated = said | {"seq": said["seq"] + 1, "id": o.air.id, "rev": 2}
    o.refused(sa.insert(table).values(**repeated), match="already in the ledger")
    gap = repeated | {"seq": said["seq"] + 2, "rev": 3}
    o.refused(sa.insert(table).values(**gap), match="no gaps")


def test_two_thresholds_in_force_for_one_key_are_refused(o):
    o.add(threshold())
    o.refused(threshold(value=10), match=UNIQUE)
    o.add(threshold(value=10, from_on=D(2026, 2, 1)))
    o.add(threshold(value=10, age_from_weeks=5))
    in_air = {"air_space_id": o.air.id, "rule": "virus"}
    o.add(threshold(**in_air))
    o.refused(threshold(**in_air, value=1), match=UNIQUE)


@pytest.mark.parametrize(
    "values",
    [
        {"sense": "any_find"},
        {"value": None, "per": None},
        {"rule": "phase"},
        {"rule": "crop"},
        {"rule": "general", "phase": "shipping"},
        {"high": 10.0},
        {"sense": "ratio"},
        {"age_until_weeks": 0},
        {"value": 0.0},
    ],
    ids=lambda v: "-".join(f"{k}={x}" for k, x in v.items()),
)
def test_a_threshold_that_contradicts_itself_is_refused(o, values):
    o.refused(threshold(**values), match=CHECK)


def test_a_changed_byte_in_the_ledger_is_found_by_row(o, engine):
    assert verify(o.s, o.n) is None
    o.s.rollback()
    on = " ON ledger" if engine.dialect.name == "postgresql" else ""
    table = r.Ledger.__table__
    with engine.connect() as c:
        transaction = c.begin()
        c.exec_driver_sql(f"DROP TRIGGER ledger_ledger_kept_update{on}")
        row = sa.and_(table.c.operation_id == o.n, table.c.seq == 3)
        c.execute(sa.update(table).where(row).values(body="{}"))
        assert verify(c, o.n) == 3
        transaction.rollback()


def test_a_naive_time_is_refused(o):
    with pytest.raises(StatementError, match="give it a zone"):
        o.add(
            r.Card(station_id=o.station.id, method="yellow_card", hung_at=dt.datetime(2026, 3, 5))
        )
    o.s.rollback()


def test_models_and_migrations_agree(engine):
    with engine.connect() as c:
        assert compare_metadata(MigrationContext.configure(c), r.Base.metadata) == []


def test_the_rules_in_the_database_are_those_of_the_models(engine):
    """The migration holds a frozen copy; a rule changed in the models needs a new migration."""
    of = {
        "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger'",
        "postgresql": "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal",
    }
    wanted = {s.split()[2] for s in rules.statements(engine.dialect.name) if "CREATE TRIGGER" in s}
    with engine.connect() as c:
        assert set(c.exec_driver_sql(of[engine.dialect.name]).scalars()) == wanted


def test_the_session_adds_the_operation_to_every_query(o, engine):
    other = SmallOperation(engine)
    assert {u.operation_id for u in o.s.scalars(sa.select(r.Unit))} == {o.n}
    other.s.close()


def test_a_stale_office_edit_is_told_and_not_merged(o, engine):
    second = session(engine, o.n, o.person)
    mine = second.get(r.AirSpace, (o.n, o.air.id))
    second.commit()
    o.air.name = "first"
    o.s.commit()
    mine.name = "second"
    with pytest.raises(StaleDataError, match="read it again"):
        second.commit()
    second.close()


def test_six_writers_at_once_cannot_ship_more_plants_than_there_are(o, engine):
    """The row lock (or SQLite's write lock) puts writers in order, so sums have no race."""
    a = planting(o, 50, D(2026, 2, 1))
    o.add(r.Movement(kind="receive", moved_on=D(2026, 2, 1), to_id=a.id, plants=10))
    outcome, start = [], threading.Barrier(6)

    def ship():
        start.wait(PATIENCE_S)
        four = {"kind": "ship", "moved_on": D(2026, 2, 2), "from_id": a.id, "plants": 4}
        try:
            with writing(engine, o.n, o.person) as s:
                s.add(r.Movement(**four))
        except DBAPIError as refusal:
            outcome.append("refused" if "more plants leave" in str(refusal) else str(refusal))
        else:
            outcome.append("shipped")

    threads = [threading.Thread(target=ship, daemon=True) for _ in range(6)]
    for t in threads:
        t.start()
    all_ended(threads)
    assert sorted(outcome) == ["refused"] * 4 + ["shipped"] * 2
    assert verify(o.s, o.n) is None
