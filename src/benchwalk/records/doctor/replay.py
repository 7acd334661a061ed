"""The tables as the ledger alone gives them, beside the tables as they are: every row that differs.

The rules of the database see to it that a row and its ledger agree when they are written by the
one way in. A line added by hand at the current rev passes them; it does not pass this.
"""

from __future__ import annotations

import datetime as dt
import json
import sqlite3
import uuid
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import sqlalchemy as sa

from benchwalk.records.base import Base, Line, Record, Uid, Utc
from benchwalk.records.plain import shape_of

BATCH = 2000  # own choice: ledger rows taken apart at a time
MODELS = {
    mapper.class_.__tablename__: mapper.class_
    for mapper in Base.registry.mappers
    if issubclass(mapper.class_, Record)
}
NEWEST = """
    SELECT l.kind, l.operation_id, l.rev, l.body FROM records.ledger l
    JOIN (SELECT operation_id AS o, id AS i, max(rev) AS r FROM records.ledger GROUP BY 1, 2)
      ON o = l.operation_id AND i = l.id AND r = l.rev
    WHERE l.void_reason IS NULL
    ORDER BY l.operation_id, l.seq"""


class Differs(NamedTuple):
    """A row that is not as the ledger says.

    ``how``: ``added`` stands in the table only, ``lacking`` in the ledger only, ``changed`` in
    both with other values; ``key`` is its primary key, operation left out; ``columns`` those that
    differ.
    """

    table: str
    how: str
    key: tuple[str, ...]
    columns: tuple[str, ...] = ()


def replay(records: Path, scratch: Path) -> list[Differs]:
    """Rebuild a scratch database from the ledger of a SQLite file; what differs in each table.

    Parameters
    ----------
    records : the file; only read. Records in PostgreSQL are copied into one first.
    scratch : a file to be made.
    """
    connection = sqlite3.connect(scratch, isolation_level=None)
    try:
        connection.execute("PRAGMA synchronous=OFF")
        connection.execute("ATTACH ? AS records", (f"file:{records}?mode=ro",))
        for table in _tables():
            connection.execute(f"CREATE TABLE main.{table.name} AS {_empty(connection, table)}")
        connection.execute("BEGIN")
        _rebuild(connection)
        connection.execute("COMMIT")
        return [d for table in _tables() for d in _compared(connection, table)]
    finally:
        connection.close()


def _tables() -> list[sa.Table]:
    return [t for t in Base.metadata.sorted_tables if t.info.get("kind") in ("record", "line")]


def _empty(connection: sqlite3.Connection, table: sa.Table) -> str:
    return f"SELECT {', '.join(_columns(connection, table))} FROM records.{table.name} WHERE 0"


def _columns(connection: sqlite3.Connection, table: sa.Table) -> list[str]:
    there = connection.execute(f"PRAGMA records.table_info({table.name})")
    return [f'"{row[1]}"' for row in there]


def _rebuild(connection: sqlite3.Connection) -> None:
    found = connection.execute(NEWEST)
    while batch := found.fetchmany(BATCH):
        rows: dict[str, list[dict[str, Any]]] = defaultdict(list)
        for kind, operation, rev, body in batch:
            scope = {"operation_id": operation, "rev": rev}
            _file(MODELS[kind], json.loads(body), {}, scope, rows)
        for table, held in rows.items():
            names = ", ".join(f'"{n}"' for n in held[0])
            places = ", ".join(f":{n}" for n in held[0])
            connection.executemany(f"INSERT INTO main.{table} ({names}) VALUES ({places})", held)


def _file(
    model: type[Base],
    said: Mapping[str, Any],
    keys: Mapping[str, Any],
    scope: Mapping[str, Any],
    rows: dict[str, list[dict[str, Any]]],
) -> None:
    """File a row and its lines as SQLite keeps them."""
    shape, into = shape_of(model), _kept(model)
    row = {**{name: keep(said.get(name)) for name, keep in into.items()}, **keys, **scope}
    rows[shape.table.name].append(row)
    for name, pairs in shape.lines.items():
        if parts := said.get(name):
            line = _line(model, name)
            passed = {there: row[here] for there, here in pairs}
            for part in parts:
                _file(line, part, passed, scope, rows)


@cache
def _line(model: type[Base], name: str) -> type[Line]:
    found: type[Line] = sa.inspect(model).relationships[name].mapper.class_
    return found


@cache
def _kept(model: type[Base]) -> dict[str, Callable[[Any], Any]]:
    """How each column of a class is kept by SQLite, from what JSON says."""
    shape = shape_of(model)
    return {name: _keeper(shape.table.c[name]) for name in shape.blank}


def _keeper(column: sa.Column[Any]) -> Callable[[Any], Any]:
    if isinstance(column.type, Uid):
        return lambda v: None if v is None else uuid.UUID(v).bytes
    if isinstance(column.type, Utc):
        return lambda v: None if v is None else _instant(v)
    if isinstance(column.type, sa.JSON):
        return lambda v: None if v is None else json.dumps(v)
    return lambda v: v


def _instant(said: str) -> str:
    at = dt.datetime.fromisoformat(said).astimezone(dt.UTC).replace(tzinfo=None)
    return at.isoformat(sep=" ", timespec="microseconds")


def _compared(connection: sqlite3.Connection, table: sa.Table) -> Iterator[Differs]:
    """Rows of one side that the other lacks; two of one key are one row that was changed."""
    keys = [c.name for c in table.primary_key if c.name != "operation_id"]
    names = [n.strip('"') for n in _columns(connection, table)]
    held = _only(connection, table, names, "records", "main")
    said = _only(connection, table, names, "main", "records")
    for key in sorted(held.keys() | said.keys(), key=repr):
        shown = tuple(_shown(v) for v, n in zip(key, ["", *keys], strict=True) if n)
        if key not in said:
            yield Differs(table.name, "added", shown)
        elif key not in held:
            yield Differs(table.name, "lacking", shown)
        else:
            both = zip(names, held[key], said[key], strict=True)
            yield Differs(table.name, "changed", shown, tuple(n for n, a, b in both if a != b))


def _only(
    connection: sqlite3.Connection, table: sa.Table, names: list[str], here: str, there: str
) -> dict[tuple[Any, ...], tuple[Any, ...]]:
    """Rows of ``here`` that ``there`` has not, by their key; JSON is compared as one text."""
    json_ = {c.name for c in table.columns if isinstance(c.type, sa.JSON)}
    shown = ", ".join(f'json("{n}")' if n in json_ else f'"{n}"' for n in names)
    asked = (
        f"SELECT {shown} FROM {here}.{table.name} EXCEPT SELECT {shown} FROM {there}.{table.name}"
    )
    key = [names.index(n) for n in _key(table)]
    return {tuple(row[i] for i in key): row for row in connection.execute(asked)}


def _key(table: sa.Table) -> list[str]:
    return ["operation_id", *(c.name for c in table.primary_key if c.name != "operation_id")]


def _shown(value: Any) -> str:
    return str(uuid.UUID(bytes=value)) if isinstance(value, bytes) else str(value)
