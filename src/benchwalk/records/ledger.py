"""The one way in: whatever changes is first written to the ledger, then to the current tables.

Two ways through the same door: a session of this class for edits (ordinary attribute changes,
`add`, `delete`), and `write_new` for many new records at once (an import). Either takes the row
lock of the operation first, so that the ledger has one writer at a time and no gaps.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

from sqlalchemy import Connection, event, func, insert, inspect, select
from sqlalchemy.orm import ORMExecuteState, Session, with_loader_criteria
from sqlalchemy.orm.exc import StaleDataError

from benchwalk.records.base import Base, Line, Record, Scoped, uuid7
from benchwalk.records.operations import Ledger, Operation

HASHED = (
    "seq",
    "epoch",
    "kind",
    "id",
    "rev",
    "void_reason",
    "by_id",
    "typed_by_id",
    "device_id",
    "seen_at",
    "clock_offset_s",
    "received_at",
    "body",
)


class Ledgered(Session):
    """A session that writes the ledger.

    ``session.info`` holds operation_id and by_id, and optionally typed_by_id, device_id, seen_at
    and void_reason.
    """


def canonical(value: Any) -> str:
    """One text for one content: sorted keys, no spaces, ids and days as text."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, default=str)


def lines(record: Base) -> list[tuple[str, list[Any]]]:
    """The parts of a record, by the name they have on it."""
    held = inspect(type(record)).relationships
    return [
        (r.key, list(getattr(record, r.key))) for r in held if issubclass(r.mapper.class_, Line)
    ]


def columns(row: Base) -> dict[str, Any]:
    """Every column of a row, scope and rev left out, as it stands or by its default."""
    out = {}
    for column in type(row).__table__.columns:
        value = getattr(row, column.key)
        if value is None and column.default is not None and column.default.is_scalar:
            value = column.default.arg
        elif value is None and column.default is not None and column.key != "id":
            value = column.default.arg(None)
        out[column.key] = value
    return {k: v for k, v in out.items() if k not in ("operation_id", "rev")}


def body(row: Base) -> dict[str, Any]:
    """What a person said: the columns and the lines, empty ones left out."""
    said = {k: v for k, v in columns(row).items() if v is not None}
    return said | {name: [body(line) for line in held] for name, held in lines(row) if held}


def digest(before: bytes, said: Mapping[str, Any]) -> bytes:
    """sha256 of the digest before and the fields as text, parted by a character none can hold."""
    return hashlib.sha256(before + "\0".join(_text(said[k]) for k in HASHED).encode()).digest()


def _text(value: Any) -> str:
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat()
    return "\1" if value is None else str(value)


class Head:
    """The end of one operation's chain while a transaction adds to it."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.info = session.info
        self.operation: int = session.info["operation_id"]
        self.now = dt.datetime.now(dt.UTC)
        locked = select(Operation.epoch).where(Operation.id == self.operation).with_for_update()
        self.epoch = session.execute(locked).scalar_one()
        last = session.execute(
            select(Ledger.seq, Ledger.digest)
            .where(Ledger.operation_id == self.operation)
            .order_by(Ledger.seq.desc())
            .limit(1)
        ).one_or_none()
        self.seq: int = 0 if last is None else last.seq
        self.digest: bytes = b"" if last is None else last.digest

    def say(self, record: Record, rev: int, void_reason: str | None) -> dict[str, Any]:
        """The next ledger row, chained; not yet written."""
        self.seq += 1
        said = {
            "operation_id": self.operation,
            "seq": self.seq,
            "epoch": self.epoch,
            "kind": type(record).__tablename__,
            "id": record.id,
            "rev": rev,
            "void_reason": void_reason,
            "by_id": self.info.get("by_id"),
            "typed_by_id": self.info.get("typed_by_id"),
            "device_id": self.info.get("device_id"),
            "seen_at": self.info.get("seen_at", self.now),
            "clock_offset_s": self.info.get("clock_offset_s"),
            "received_at": self.now,
            "body": canonical(body(record)),
        }
        self.digest = digest(self.digest, said)
        return said | {"digest": self.digest}


@event.listens_for(Ledgered, "before_flush")
def _write_ledger(session: Ledgered, *_: Any) -> None:
    changed, voided = _changed(session), [r for r in session.deleted if isinstance(r, Record)]
    if not changed and not voided:
        return
    head = Head(session)
    for record in changed + voided:
        record.operation_id = head.operation
        record.id = record.id or uuid7()
        void = session.info.get("void_reason", "voided") if record in voided else None
        rev = _next_rev(session, record, head.operation)
        if void is None:
            _number(record, rev, head.operation)
        session.execute(insert(Ledger), head.say(record, rev, void))


def _changed(session: Session) -> list[Record]:
    """Records that are new, changed, or had a line changed, in the order they were made."""
    records: dict[int, Record] = {}
    for row in session.new:
        if isinstance(row, Record):
            records[id(row)] = row
    for row in session.dirty:
        owner = _record_of(session, row)
        if owner is not None and session.is_modified(row):
            records[id(owner)] = owner
    for row in session.deleted:
        if isinstance(row, Line) and (owner := _record_of(session, row)) is not None:
            records[id(owner)] = owner
    return [r for r in records.values() if r not in session.deleted]


def _record_of(session: Session, row: object) -> Record | None:
    """The record itself, or that of a line; read again where the session let go of it."""
    if isinstance(row, Record):
        return row
    if not isinstance(row, Line):
        return None
    table, column = row.owner
    owner = session.get(_RECORDS[table], (row.operation_id, getattr(row, column)))
    return owner if isinstance(owner, Record) else None


def _next_rev(session: Session, record: Record, operation: int) -> int:
    newest = session.execute(
        select(func.max(Ledger.rev)).where(Ledger.operation_id == operation, Ledger.id == record.id)
    ).scalar()
    rev = 1 if newest is None else newest + 1
    if inspect(record).persistent and record.rev != rev - 1:
        raise StaleDataError(
            f"{record.__tablename__} {record.id}: you read rev {record.rev},"
            f" rev {rev - 1} is in the ledger; read it again before you change it"
        )
    return rev


def _number(row: Any, rev: int, operation: int) -> None:
    """Give the record and all its lines the new rev (a line cannot change alone)."""
    row.rev, row.operation_id = rev, operation
    for _, held in lines(row):
        for line in held:
            _number(line, rev, operation)


@event.listens_for(Ledgered, "do_orm_execute")
def _keep_to_operation(state: ORMExecuteState) -> None:
    """The one place that adds the operation to every query."""
    if state.is_select and not state.is_column_load and not state.is_relationship_load:
        operation = state.session.info["operation_id"]
        state.statement = state.statement.options(
            with_loader_criteria(
                Scoped, lambda cls: cls.operation_id == operation, include_aliases=True
            )
        )


def write_new(session: Session, records: Iterable[Record]) -> int:
    """Write many records that nobody has said before; how many they were.

    The bulk way in: ledger rows and table rows go in as whole lists, records of one kind in the
    order given, kinds in the order of their references. Every rule of the database holds.
    """
    head, said = Head(session), []
    rows: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for record in sorted(records, key=lambda r: _ORDER[type(r).__tablename__]):
        record.id = record.id or uuid7()
        _collect(record, {}, head.operation, rows)
        said.append(head.say(record, 1, None))
    if said:
        session.execute(insert(Ledger.__table__), said)  # type: ignore[arg-type]  # a declared Table
    for table in Base.metadata.sorted_tables:
        if rows[table.name]:
            session.execute(insert(table), rows[table.name])
    return len(said)


_RECORDS = {
    mapper.class_.__tablename__: mapper.class_
    for mapper in Base.registry.mappers
    if issubclass(mapper.class_, Record)
}
_ORDER = {table.name: n for n, table in enumerate(Base.metadata.sorted_tables)}


def _collect(
    row: Base, keys: Mapping[str, Any], operation: int, rows: dict[str, list[dict[str, Any]]]
) -> None:
    """The row and its lines as dictionaries; a line takes the key of what it is a part of."""
    mine = columns(row) | dict(keys)
    rows[row.__tablename__].append(mine | {"operation_id": operation, "rev": 1})
    for r in inspect(type(row)).relationships:
        if not issubclass(r.mapper.class_, Line):
            continue
        pairs = [(str(a.key), str(b.key)) for a, b in r.local_remote_pairs]
        passed = {there: mine[here] for here, there in pairs if here != "operation_id"}
        for line in getattr(row, r.key):
            _collect(line, passed, operation, rows)


def verify(session: Session | Connection, operation: int) -> int | None:
    """First seq whose digest does not follow from what stands before it; None: whole."""
    head = b""
    held = [Ledger.__table__.c[name] for name in HASHED]
    found = session.execute(
        select(*held, Ledger.__table__.c.digest)
        .where(Ledger.__table__.c.operation_id == operation)
        .order_by(Ledger.__table__.c.seq)
    )
    for row in found:
        head = digest(head, row._asdict())
        if head != row.digest:
            seq: int = row.seq
            return seq
    return None


def said_ids(session: Session, kind: str) -> set[uuid.UUID]:
    """Ids of every record of a kind that was ever said, void ones too."""
    found = session.execute(
        select(Ledger.id).where(
            Ledger.operation_id == session.info["operation_id"], Ledger.kind == kind
        )
    )
    return set(found.scalars())
