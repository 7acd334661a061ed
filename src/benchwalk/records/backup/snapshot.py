"""A copy of the records as they stood at one moment, while others go on writing."""

from __future__ import annotations

import sqlite3
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import sqlalchemy as sa

from benchwalk.records.backup.proof import Held, held_in
from benchwalk.records.base import Base
from benchwalk.records.chain import Head
from benchwalk.records.database import migrate, open_database
from benchwalk.records.disk import sync_file
from benchwalk.records.lock import open_lock, write_lock
from benchwalk.records.operations import Operation
from benchwalk.records.walls import see

CHUNK = 2000  # own choice: rows held at a time


def snapshot(engine: sa.Engine, into: Path) -> Held:
    """Copy all records into one SQLite file; what they held at that moment."""
    held = _online(engine, into) if engine.dialect.name == "sqlite" else _dumped(engine, into)
    sync_file(into)
    return held


def _online(engine: sa.Engine, into: Path) -> Held:
    """SQLite's own online copy, within the read transaction that counts the rows.

    A copy of the file alone would lack what still stands in its journal.
    """
    target = sqlite3.connect(into)
    try:
        with engine.connect() as connection:
            held = held_in(connection)
            driver = connection.connection.dbapi_connection
            assert isinstance(driver, sqlite3.Connection)  # of the dialect asked for above
            driver.backup(target)
        target.execute("PRAGMA journal_mode=DELETE")  # one file that opens alone
    finally:
        target.close()
    return held


def _dumped(engine: sa.Engine, into: Path) -> Held:
    """Every row of every table of ours, in one transaction that sees one moment."""
    with engine.connect().execution_options(isolation_level="REPEATABLE READ") as source:
        numbers = source.execute(sa.select(Operation.id).order_by(Operation.id)).scalars().all()
        see(source, numbers[0] if numbers else 0)
        stands_at = source.exec_driver_sql("SELECT version_num FROM alembic_version").scalar_one()
        target = open_database(f"sqlite:///{into}")
        migrate(target, str(stands_at))
        with loading(target) as connection:
            for table in tables_of(source):
                for rows in _rows(source, table, list(numbers)):
                    connection.execute(sa.insert(table), rows)
        held = _held_across(source, str(stands_at), list(numbers))
        _alone(target, into)
    return held


def tables_of(connection: sa.Connection) -> list[sa.Table]:
    """Our tables that are there, what is referred to first; an older schema has fewer columns."""
    there = sa.inspect(connection)
    names = set(there.get_table_names())
    return [_as_held(t, there) for t in Base.metadata.sorted_tables if t.name in names]


def _as_held(table: sa.Table, there: sa.Inspector) -> sa.Table:
    names = {c["name"] for c in there.get_columns(table.name)}
    columns = [sa.Column(c.name, c.type) for c in table.columns if c.name in names]
    return sa.Table(table.name, sa.MetaData(), *columns)


def _rows(
    source: sa.Connection, table: sa.Table, numbers: list[int]
) -> Iterator[list[dict[str, object]]]:
    everything = sa.select(table).execution_options(yield_per=CHUNK)
    if "operation_id" not in table.c:
        yield from _chunks(source, everything)
        return
    for n in numbers:
        see(source, n)
        yield from _chunks(source, everything.where(table.c.operation_id == n))


def _chunks(
    source: sa.Connection, wanted: sa.Select[tuple[object]]
) -> Iterator[list[dict[str, object]]]:
    for rows in source.execute(wanted).mappings().partitions(CHUNK):
        yield [dict(row) for row in rows]


def _held_across(source: sa.Connection, schema: str, numbers: list[int]) -> Held:
    """Counts and heads: an owner whom the policies bind sees one operation at a time."""
    counts: dict[str, int] = {}
    ends: dict[uuid.UUID, Head] = {}
    for n in numbers or [0]:
        see(source, n)
        held = held_in(source)
        ends |= {h.operation: h for h in held.heads if h.count or h.operation not in ends}
        if not _bound(source):
            return held
        for table, rows in held.counts.items():
            shared = "operation_id" not in Base.metadata.tables[table].c
            counts[table] = rows if shared or table not in counts else counts[table] + rows
    return Held(schema, counts, list(ends.values()))


def _bound(source: sa.Connection) -> bool:
    """Whether the policies bind who is connected: neither a superuser nor let past them."""
    bound = "SELECT NOT (rolsuper OR rolbypassrls) FROM pg_roles WHERE rolname = current_user"
    return bool(source.exec_driver_sql(bound).scalar_one())


@contextmanager
def loading(engine: sa.Engine) -> Iterator[sa.Connection]:
    """A SQLite file that takes rows as they stand: its rules and keys are off meanwhile.

    What is loaded obeyed them where it was written; keys are checked when it is proved.
    """
    writes = engine.execution_options(benchwalk_writes=True)
    with writes.connect() as connection:
        found = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        rules = connection.exec_driver_sql(found).all()
        for name, _ in rules:
            connection.exec_driver_sql(f'DROP TRIGGER "{name}"')
        connection.exec_driver_sql("PRAGMA defer_foreign_keys=ON")
        yield connection
        for _, statement in rules:
            connection.exec_driver_sql(statement.replace("%", "%%"))
        connection.commit()


def _alone(engine: sa.Engine, file: Path) -> None:
    """Nothing is left beside the file: no journal, and no locks, as nobody else knew of it."""
    with engine.connect() as connection:
        connection.exec_driver_sql("ROLLBACK")
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.exec_driver_sql("PRAGMA journal_mode=DELETE")
        connection.exec_driver_sql("BEGIN")
    engine.dispose()
    for lock in (write_lock(file), open_lock(file)):
        lock.path.unlink(missing_ok=True)
