"""Bringing the current tables to what ledger rows say, in the order they were once written in.

A flush of the records writes new records, then changed ones, then takes void ones away, table by
table in the order of references; rows said at one time are brought to the tables in that order
again, so what the rules of the database once let pass they let pass now.
"""

from __future__ import annotations

import datetime as dt
import json
import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import ColumnElement, Table, delete, insert, select, update
from sqlalchemy.orm import Session

from benchwalk.records.base import Base, Line, Record, Uid, Utc
from benchwalk.records.ledger import batches
from benchwalk.records.plain import shape_of

_MODELS = {mapper.local_table: mapper.class_ for mapper in Base.registry.mappers}
_TABLES = [t for t in Base.metadata.sorted_tables if t.info.get("kind")]
_RECORDS = {t.name: t for t in _TABLES if issubclass(_MODELS[t], Record)}
_LINES = [t for t in _TABLES if issubclass(_MODELS[t], Line)]
# a share of a unit is checked from its day on, so the last phase comes first
_LATEST_FIRST = {"phase": "from_on"}

Rows = dict[str, list[dict[str, Any]]]


def value_of(column: ColumnElement[Any], said: Any) -> Any:
    """What a column holds, from what JSON says."""
    if said is None:
        return None
    if isinstance(column.type, Uid):
        return uuid.UUID(said)
    if isinstance(column.type, Utc):
        return dt.datetime.fromisoformat(said)
    if column.type.python_type is dt.date:
        return dt.date.fromisoformat(said)
    return said


def replay(session: Session, operation: int, said: Sequence[Mapping[str, Any]]) -> None:
    """Bring the tables to ledger rows that were said at one time and are in the ledger already."""
    there = _there(session, operation, said)
    kept = [row for row in said if row["void_reason"] is None]
    void = [row for row in said if row["void_reason"] is not None]
    _without_lines(session, operation, [row for row in said if row["id"] in there])
    new, changed, lines = Rows(), Rows(), defaultdict[str, list[dict[str, Any]]](list)
    for row in kept:
        records = changed if row["id"] in there else new
        records.setdefault(row["kind"], []).append(_record(row, operation, lines))
    for table in _RECORDS.values():
        _insert(session, table, new.get(table.name, []))
        for record in sorted(changed.get(table.name, []), key=lambda r: str(r["id"])):
            _update(session, table, record)
    for table in _LINES:
        _insert(session, table, _ordered(table, lines[table.name]))
    for table in reversed(_RECORDS.values()):
        for row in sorted((r for r in void if r["kind"] == table.name), key=lambda r: str(r["id"])):
            session.execute(delete(table).where(*_of(table, operation, "id", [row["id"]])))


def _there(session: Session, operation: int, said: Iterable[Mapping[str, Any]]) -> set[uuid.UUID]:
    """Which of these records stand in the tables: a first rev never does."""
    asked = defaultdict[str, list[uuid.UUID]](list)
    for row in said:
        if row["rev"] > 1:
            asked[row["kind"]].append(row["id"])
    found = set[uuid.UUID]()
    for kind, ids in asked.items():
        table = _RECORDS[kind]
        for some in batches(ids):
            held = select(table.c.id).where(*_of(table, operation, "id", some))
            found.update(session.execute(held).scalars())
    return found


def _of(table: Table, operation: int, column: str, ids: Sequence[uuid.UUID]) -> tuple[Any, Any]:
    return table.c.operation_id == operation, table.c[column].in_(ids)


def _without_lines(session: Session, operation: int, said: Sequence[Mapping[str, Any]]) -> None:
    """Take away the lines of records that have a newer rev now, what refers first."""
    for table in reversed(_LINES):
        owner, column = table.info["owner"]
        ids = [row["id"] for row in said if row["kind"] == owner]
        for some in batches(ids):
            session.execute(delete(table).where(*_of(table, operation, column, some)))


def _record(row: Mapping[str, Any], operation: int, lines: Rows) -> dict[str, Any]:
    """The record's own row; those of its lines are filed."""
    scope = {"operation_id": operation, "rev": row["rev"]}
    model = _MODELS[_RECORDS[row["kind"]]]
    return _collect(model, json.loads(row["body"]), scope, {}, lines, first=True)


def _collect(
    model: type[Base],
    said: Mapping[str, Any],
    scope: Mapping[str, Any],
    keys: Mapping[str, Any],
    lines: Rows,
    *,
    first: bool = False,
) -> dict[str, Any]:
    """One row as columns, by the defaults of the class where nothing was said."""
    shape = shape_of(model)
    columns = shape.table.c
    known = {n: value_of(columns[n], v) for n, v in said.items() if n not in shape.lines}
    made = {name: make(None) for name, make in shape.made.items() if name not in known}
    row = {**shape.blank, **made, **known, **keys, **scope}
    if not first:
        lines[shape.table.name].append(row)
    for name, pairs in shape.lines.items():
        passed = {there: row[here] for there, here in pairs}
        part = _line_model(model, name)
        for line in said.get(name, ()):
            _collect(part, line, scope, passed, lines)
    return row


def _line_model(model: type[Base], name: str) -> type[Base]:
    found: type[Base] = model.__mapper__.relationships[name].mapper.class_
    return found


def _insert(session: Session, table: Table, rows: list[dict[str, Any]]) -> None:
    if rows:
        session.execute(insert(table), rows)


def _update(session: Session, table: Table, record: Mapping[str, Any]) -> None:
    where = _of(table, record["operation_id"], "id", [record["id"]])
    session.execute(update(table).where(*where).values(record))


def _ordered(table: Table, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    by = _LATEST_FIRST.get(table.name)
    return rows if by is None else sorted(rows, key=lambda row: row[by], reverse=True)
