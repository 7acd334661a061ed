"""kill -9 in the middle of an import: what was recorded before is there, nothing of the file is."""

import datetime as dt
import subprocess
import sys
import textwrap
import time

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.database import session, writing
from benchwalk.records.ledger import BATCH, verify
from benchwalk.records.setup import set_up
from benchwalk.records.sheets.found import At, Count, Reading
from benchwalk.records.sheets.landing import land
from tests.patience import killed, line_of

DAY = dt.date(2026, 3, 2)


def sheet(plants, first=1):
    def count(n):
        return Count(
            at=At(n + 1, "Count"),
            on=DAY,
            house=None,
            unit="Bay 1",
            unit_raw="Bay 1",
            method="plant_count",
            sampling_unit="plant",
            taxon="whitefly",
            taxon_raw="whitefly",
            stage="nymph",
            how="counted",
            value=n,
            raw=str(n),
            plant=str(n),
            plants=1,
        )

    records = tuple(count(n) for n in range(first, first + plants))
    return Reading("sheet.csv", "0" * 64, "utf-8", ",", {}, records=records)


WRITER = """
    import sys, time
    import sqlalchemy as sa
    from benchwalk.records.database import open_database, writing
    from benchwalk.records.sheets.landing import land
    from tests.records.test_kill import sheet

    seen = 0
    engine = open_database(sys.argv[1])

    @sa.event.listens_for(engine, "after_cursor_execute")
    def pause(connection, cursor, statement, parameters, context, executemany):
        global seen
        seen += statement.startswith(f"INSERT INTO {sys.argv[2]}")
        if seen == int(sys.argv[3]):
            print("half", flush=True)
            time.sleep(60)

    with writing(engine, 1) as s:
        land(s, sheet(int(sys.argv[4]), first=100))
    print("done", flush=True)
"""


@pytest.mark.kills
@pytest.mark.parametrize("table", ["ledger", "unit", "observation", "tally"])
def test_a_killed_import_leaves_what_was_before_and_nothing_of_the_file(
    engine, database_url, table
):
    kept_from_before(engine, database_url, table, batch=1, plants=400)


@pytest.mark.kills
def test_an_import_killed_after_some_of_its_batches_leaves_nothing_of_them(engine, database_url):
    kept_from_before(engine, database_url, "tally", batch=2, plants=BATCH + 100)


def kept_from_before(engine, database_url, table, *, batch, plants):
    operation = set_up(engine, "Test nursery (invented)", "UTC").operation
    with writing(engine, operation) as s:
        land(s, sheet(3) if table != "unit" else Reading("", "", "", "", {}))
    before = everything(engine, operation)
    engine.dispose()
    script = textwrap.dedent(WRITER)
    said = [database_url, table, str(batch), str(plants)]
    child = subprocess.Popen(
        [sys.executable, "-c", script, *said], stdout=subprocess.PIPE, text=True
    )
    assert line_of(child) == "half"
    killed(child)
    assert everything(engine, operation) == before
    with session(engine, operation) as s:
        assert verify(s, operation) is None
    landed_afterwards(engine, operation, plants)


def everything(engine, operation):
    """Rows of every table; PostgreSQL may take a moment to notice that its client is gone."""
    with session(engine, operation) as s:
        return {
            name: s.execute(sa.select(sa.func.count()).select_from(table)).scalar_one()
            for name, table in r.Base.metadata.tables.items()
        }


def landed_afterwards(engine, operation, plants):
    """The lock is free again, and the same file goes in whole."""
    for _ in range(50):
        try:
            with writing(engine, operation) as s:
                assert land(s, sheet(plants, first=100)).counts == plants
        except sa.exc.OperationalError:
            time.sleep(0.1)
        else:
            return
    raise AssertionError("the killed writer still holds the lock")
