"""A record written at the rev its phone gave it: the ledger first, then what holds now."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from sqlalchemy import Table, delete, insert, inspect, update
from sqlalchemy.orm import Session

from benchwalk.records.base import Base, Line
from benchwalk.records.ledger import Head, body
from benchwalk.records.plain import Plain, shape_of
from benchwalk.records.rows import insert_rows
from benchwalk.records.sync.reading import Item

Rows = list[tuple[Table, dict[str, Any]]]
_TABLES = Base.metadata.sorted_tables
_LEDGER = Base.metadata.tables["ledger"]


def write(
    session: Session, head: Head, item: Item, device: uuid.UUID | None, *, held: bool
) -> None:
    """Say the item in the ledger and bring its record up to date.

    Parameters
    ----------
    held : whether a current row of this record is there.
    """
    session.execute(insert(_LEDGER), _said(session, head, item, device))
    rows = list(_rows(item.record, {"operation_id": head.operation, "rev": item.rev}))
    if held:
        _take_lines(session, item, head.operation)
    if item.void is not None:
        if held:
            session.execute(delete(rows[0][0]).where(*_this(rows[0][0], item, head.operation)))
        return
    _put(session, rows, item, head.operation, held=held)


def write_new_items(session: Session, head: Head, items: Sequence[Item], device: uuid.UUID) -> None:
    """Say many items that are the first of their records; kinds in the order of references.

    The same rows as `write` one by one, a table at a time.
    """
    insert_rows(session, _LEDGER, [_said(session, head, item, device) for item in items])
    filed: dict[Table, list[dict[str, Any]]] = defaultdict(list)
    for item in items:
        for table, row in _rows(item.record, {"operation_id": head.operation, "rev": item.rev}):
            filed[table].append(row)
    for table in sorted(filed, key=_TABLES.index):
        insert_rows(session, table, filed[table])


def _said(session: Session, head: Head, item: Item, device: uuid.UUID | None) -> dict[str, Any]:
    """The ledger row of an item."""
    head.info = {
        **session.info,
        "by_id": item.by,
        "typed_by_id": item.typed_by,
        "device_id": device,
        "seen_at": item.seen_at,
        "clock_offset_s": item.offset_s,
    }
    return head.say(item.kind, item.id, item.rev, item.void, body(item.record))


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
