"""A record written at the rev its phone gave it: the ledger first, then what holds now."""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Mapping
from typing import Any

from sqlalchemy import Table, delete, insert, inspect, update
from sqlalchemy.orm import Session

from benchwalk.records.base import Base, Line
from benchwalk.records.ledger import Head, body
from benchwalk.records.plain import Plain, shape_of
from benchwalk.records.sync.reading import Item

Rows = list[tuple[Table, dict[str, Any]]]


def write(session: Session, head: Head, item: Item, device: uuid.UUID, *, held: bool) -> None:
    """Say the item in the ledger and bring its record up to date.

    Parameters
    ----------
    held : whether a current row of this record is there.
    """
    head.info = {
        **session.info,
        "by_id": item.by,
        "typed_by_id": None,
        "device_id": device,
        "seen_at": item.seen_at,
        "clock_offset_s": item.offset_s,
    }
    said = head.say(item.kind, item.id, item.rev, item.void, body(item.record))
    session.execute(insert(Base.metadata.tables["ledger"]), said)
    rows = list(_rows(item.record, {"operation_id": head.operation, "rev": item.rev}))
    if held:
        _take_lines(session, item, head.operation)
    if item.void is not None:
        if held:
            session.execute(delete(rows[0][0]).where(*_this(rows[0][0], item, head.operation)))
        return
    _put(session, rows, item, head.operation, held=held)


def _put(session: Session, rows: Rows, item: Item, operation: int, *, held: bool) -> None:
    (table, record), *parts = rows
    if held:
        session.execute(update(table).where(*_this(table, item, operation)), record)
    else:
        session.execute(insert(table), record)
    for part, row in parts:
        session.execute(insert(part), row)


def _this(table: Table, item: Item, operation: int) -> tuple[Any, ...]:
    return (table.c.operation_id == operation, table.c.id == item.id)


def _take_lines(session: Session, item: Item, operation: int) -> None:
    """Lines of the rev before go, the parts of parts first."""
    for line in reversed(list(_parts(item.record.model))):
        column = shape_of(line).table.c[line.owner[1]]
        mine = (shape_of(line).table.c.operation_id == operation, column == item.id)
        session.execute(delete(shape_of(line).table).where(*mine))


def _parts(model: type[Base]) -> Iterator[type[Line]]:
    for name in shape_of(model).lines:
        line = inspect(model).relationships[name].mapper.class_
        yield line
        yield from _parts(line)


def _rows(row: Plain, keys: Mapping[str, Any]) -> Iterator[tuple[Table, dict[str, Any]]]:
    """The row and those of its lines, each line with the key of what it is a part of."""
    shape, scope = shape_of(row.model), {k: keys[k] for k in ("operation_id", "rev")}
    mine = {**row.columns(), **keys}
    yield shape.table, mine
    for name, parts in row.lines.items():
        passed = {there: mine[here] for there, here in shape.lines[name]}
        for part in parts:
            yield from _rows(part, scope | passed)
