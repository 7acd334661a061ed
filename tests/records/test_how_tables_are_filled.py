"""SQLite plans by how its tables are filled, once it was told (sqlite.org/lang_analyze.html)."""

from __future__ import annotations

import datetime as dt

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk import demo
from benchwalk.cli.records import opened
from benchwalk.records import queries
from benchwalk.records.database import (
    WRITTEN,
    address,
    measure,
    migrate,
    open_database,
    session,
    writing,
)
from benchwalk.records.setup import set_up

EVER = (dt.date.min, dt.date.max)


@pytest.fixture
def the_demo(data_of_the_demo):
    with demo.ready(data_of_the_demo()) as held:
        yield held


def plan(engine, what):
    """The steps by which SQLite answers the last question that something asks."""
    sent = []

    def note(_, __, statement, parameters, *___):
        sent.append((statement, parameters))

    sa.event.listen(engine, "before_cursor_execute", note)
    what()
    sa.event.remove(engine, "before_cursor_execute", note)
    statement, parameters = sent[-1]
    with engine.connect() as c:
        steps = c.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", parameters).all()
    return " | ".join(step[3] for step in steps)


def test_a_question_about_one_walk_goes_through_that_walks_looks_alone(the_demo):
    engine, operation = the_demo
    measure(engine)
    with session(engine, operation) as s:
        walk = s.scalars(sa.select(r.Walk.id)).first()
        for ask in (queries.rounds, queries.efforts):
            steps = plan(engine, lambda ask=ask: ask(s, *EVER, walks=[walk]))
            assert "ix_observation_visit (operation_id=? AND walk_id=?)" in steps, steps
            assert "SEARCH tally USING PRIMARY KEY (operation_id=?) " not in steps


def test_measuring_changes_no_record_and_no_answer(the_demo):
    engine, operation = the_demo
    with session(engine, operation) as s:
        before, seq = queries.rounds(s, *EVER), queries.ground(s).newest_seq
    measure(engine)
    measure(engine)
    with session(engine, operation) as s:
        assert sorted(queries.rounds(s, *EVER), key=str) == sorted(before, key=str)
        assert queries.ground(s).newest_seq == seq


def test_postgresql_measures_by_itself_and_is_not_even_connected_to():
    measure(sa.create_engine("postgresql+psycopg://nobody@nowhere.invalid/none"))


def test_a_command_that_wrote_measures_at_its_end_and_one_that_read_does_not(tmp_path):
    tables = "SELECT count(*) FROM sqlite_master WHERE name = 'sqlite_stat1'"
    engine = open_database(address(tmp_path))
    migrate(engine)
    set_up(engine, "Small (invented)", "UTC")
    WRITTEN.discard(engine.url)
    with opened(tmp_path) as (own, operation), session(own, operation) as s:
        assert s.scalars(sa.select(r.Taxon)).first() is not None
    with engine.connect() as c:
        assert c.exec_driver_sql(tables).scalar() == 0
    with opened(tmp_path) as (own, operation), writing(own, operation) as s:
        s.add(r.AirSpace(name="annex"))
    with engine.connect() as c:
        assert c.exec_driver_sql(tables).scalar() == 1
    engine.dispose()
