"""Whether the server lives and is ready: it writes and reads, and says what is missing."""

from __future__ import annotations

import datetime as dt

import pytest
import sqlalchemy as sa

from benchwalk.records.database import writing
from benchwalk.web import Served, create_app, health
from tests.records.small_operation import SmallOperation
from tests.web.conftest import asking, listening


def answer(engine, operation, **kw):
    with listening(create_app(Served(engine, operation, **kw))) as url, asking(url) as client:
        return client.get("/health/ready")


def test_live_says_that_the_process_answers_and_nothing_else(signed_in):
    assert signed_in("scout").get("/health/live").json() == {"live": True}


def test_ready_writes_a_word_and_reads_it_again_on_both_databases(engine, operation):
    before = dt.datetime.now(dt.UTC)
    said = answer(engine, operation)
    assert said.status_code == 200
    assert said.json()["ready"] is True
    assert said.json()["newest_walk_on"] is None
    with writing(engine, operation) as s:
        assert s.scalars(sa.select(health.Canary.said_at)).one() >= before


def test_records_that_take_nothing_in_are_not_ready(engine, operation):
    """A trigger stands for a disk that is full or read-only: the word is refused."""
    refusing = {
        "sqlite": [
            "CREATE TRIGGER full_disk BEFORE INSERT ON canary"
            " BEGIN SELECT RAISE(ABORT, 'disk full'); END"
        ],
        "postgresql": [
            "CREATE FUNCTION full_disk() RETURNS trigger LANGUAGE plpgsql AS"
            " $$ BEGIN RAISE EXCEPTION 'disk full'; END $$",
            "CREATE TRIGGER full_disk BEFORE INSERT ON canary"
            " FOR EACH ROW EXECUTE FUNCTION full_disk()",
        ],
    }
    with engine.begin() as c:
        for statement in refusing[engine.dialect.name]:
            c.exec_driver_sql(statement)
    said = answer(engine, operation)
    assert said.status_code == 503
    assert said.json()["records_take_a_word"] is False
    assert said.json()["ready"] is False


def test_a_word_that_is_taken_and_lost_is_not_ready(engine, operation):
    """A trigger stands for a disk that says yes and keeps nothing."""
    losing = {
        "sqlite": ["CREATE TRIGGER lost BEFORE INSERT ON canary BEGIN SELECT RAISE(IGNORE); END"],
        "postgresql": [
            "CREATE FUNCTION lost() RETURNS trigger LANGUAGE plpgsql AS"
            " $$ BEGIN RETURN NULL; END $$",
            "CREATE TRIGGER lost BEFORE INSERT ON canary FOR EACH ROW EXECUTE FUNCTION lost()",
        ],
    }
    with engine.begin() as c:
        for statement in losing[engine.dialect.name]:
            c.exec_driver_sql(statement)
    assert answer(engine, operation).json()["records_take_a_word"] is False


def test_a_schema_of_another_version_is_not_ready(engine, operation):
    with engine.begin() as c:
        c.exec_driver_sql("UPDATE alembic_version SET version_num = '0001'")
    said = answer(engine, operation)
    assert said.status_code == 503
    assert said.json()["schema"] == "0001"
    assert said.json()["schema"] != said.json()["schema_expected"]


def test_a_disk_without_room_is_not_ready(engine, operation, monkeypatch):
    monkeypatch.setattr(health, "LEAST_FREE_BYTES", 2**62)
    assert answer(engine, operation).status_code == 503


@pytest.mark.parametrize(
    ("proven", "old"), [(None, True), (dt.timedelta(days=3), True), (dt.timedelta(hours=9), False)]
)
def test_a_missing_or_old_copy_is_said_and_stops_nothing(engine, operation, proven, old):
    at = proven and dt.datetime.now(dt.UTC) - proven
    said = answer(engine, operation, last_proven=lambda: at)
    assert said.status_code == 200
    assert said.json()["copy_proven_at"] == (at and at.isoformat())
    assert said.json()["copy_is_old"] is old


def test_the_newest_day_walked_is_said(engine):
    small = SmallOperation(engine)
    small.walk()
    said = answer(engine, small.n).json()
    assert said["newest_walk_on"] is not None
    small.s.close()


def test_whoever_asks_often_does_not_make_the_disk_work_each_time(engine, operation):
    with listening(create_app(Served(engine, operation))) as url, asking(url) as client:
        client.get("/health/ready")
        with writing(engine, operation) as s:
            first = s.scalars(sa.select(health.Canary.said_at)).one()
        for _ in range(3):
            client.get("/health/ready")
        with writing(engine, operation) as s:
            assert s.scalars(sa.select(health.Canary.said_at)).one() == first
