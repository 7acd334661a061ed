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
from collections.abc import Iterable, Iterator, Mapping
from itertools import islice
from typing import Any, TypeVar

from sqlalchemy import Connection, bindparam, event, func, inspect, select
from sqlalchemy.orm import ORMExecuteState, Session, with_loader_criteria
from sqlalchemy.orm.exc import StaleDataError

from benchwalk.records.base import Base, Line, Record, Scoped, uuid7
from benchwalk.records.operations import Ledger, Operation
from benchwalk.records.plain import Plain, plain, shape_of
from benchwalk.records.rows import insert_rows

T = TypeVar("T")
BATCH = 500  # own choice: records (and their lines) held as rows at a time; more is no quicker
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


_OPERATION, _LEDGER = (Base.metadata.tables[c.__tablename__] for c in (Operation, Ledger))
_EPOCH_LOCKED = (
    select(_OPERATION.c.epoch).where(_OPERATION.c.id == bindparam("mine")).with_for_update()
)
_NEWEST = (
    select(_LEDGER.c.seq, _LEDGER.c.digest)
    .where(_LEDGER.c.operation_id == bindparam("mine"))
    .order_by(_LEDGER.c.seq.desc())
    .limit(1)
)
_CANONICAL = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), ensure_ascii=False, default=str
)


def canonical(value: Any) -> str:
    """One text for one content: sorted keys, no spaces, ids and days as text."""
    return _CANONICAL.encode(value)


def lines(record: Base) -> list[tuple[str, list[Any]]]:
    """The parts of a record, by the name they have on it."""
    return [(name, list(getattr(record, name))) for name in shape_of(type(record)).lines]


def columns(row: Base) -> dict[str, Any]:
    """Every column of a row, scope and rev left out, as it stands or by its default."""
    return plain(row).columns()


def body(row: Plain) -> dict[str, Any]:
    """What a person said: the columns and the lines, empty ones left out."""
    said = {k: v for k, v in row.columns().items() if v is not None}
    return said | {name: [body(line) for line in held] for name, held in row.lines.items() if held}


def digest(before: bytes, said: Mapping[str, Any]) -> bytes:
    """sha256 of the digest before and the fields as text, parted by a character none can hold."""
    return hashlib.sha256(before + "\0".join(as_hashed(said[k]) for k in HASHED).encode()).digest()


def as_hashed(value: Any) -> str:
    """A field as the chain reads it: an instant in UTC, and a mark for what was not said."""
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat()
    return "\1" if value is None else str(value)


def hold(connection: Connection, operation: int) -> int | None:
    """Hold the write lock of an operation until the transaction ends; its epoch.

    On PostgreSQL the lock is that of the operation's row; on SQLite it is held already. None of an
    operation that is about to be made: nobody else knows of it yet.
    """
    epoch: int | None
    epoch = connection.execute(_EPOCH_LOCKED, {"mine": operation}).scalar_one_or_none()
    return epoch


class Head:
    """The end of one operation's chain while a transaction adds to it."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.info = session.info
        self.operation: int = session.info["operation_id"]
        self.now = dt.datetime.now(dt.UTC)
        connection = session.connection()
        epoch = hold(connection, self.operation)
        assert epoch is not None  # a chain is that of an operation
        self.epoch: int = epoch
        last = connection.execute(_NEWEST, {"mine": self.operation}).one_or_none()
        self.seq: int = 0 if last is None else last.seq
        self.digest: bytes = b"" if last is None else last.digest

    def say(
        self, kind: str, record: uuid.UUID, rev: int, void_reason: str | None, said: dict[str, Any]
    ) -> dict[str, Any]:
        """The next ledger row, chained; not yet written."""
        self.seq += 1
        row = {
            "operation_id": self.operation,
            "seq": self.seq,
            "epoch": self.epoch,
            "kind": kind,
            "id": record,
            "rev": rev,
            "void_reason": void_reason,
            "by_id": self.info.get("by_id"),
            "typed_by_id": self.info.get("typed_by_id"),
            "device_id": self.info.get("device_id"),
            "seen_at": self.info.get("seen_at", self.now),
            "clock_offset_s": self.info.get("clock_offset_s"),
            "received_at": self.now,
            "body": canonical(said),
        }
        self.digest = digest(self.digest, row)
        return row | {"digest": self.digest}


@event.listens_for(Ledgered, "before_flush")
def _write_ledger(session: Ledgered, *_: Any) -> None:
    changed, voided = _changed(session), [r for r in session.deleted if isinstance(r, Record)]
    if not changed and not voided:
        return
    head = Head(session)
    for record in changed + voided:
        record.operation_id = head.operation
        record.id = record.id or uuid7()
    revs = _next_revs(session, changed + voided, head.operation)
    rows = []
    for record in changed + voided:
        void, rev = None, revs[record.id]
        if record in voided:
            void = session.info.get("void_reason", "voided")
        else:
            _number(record, rev, head.operation)
        rows.append(head.say(_kind(record), record.id, rev, void, body(plain(record))))
    _insert(session, Ledger.__tablename__, rows)


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


def _next_revs(session: Session, records: Iterable[Record], operation: int) -> dict[uuid.UUID, int]:
    """The rev that each record gets now, by its id.

    Raises
    ------
    StaleDataError
        if somebody else changed a record after it was read here.
    """
    held = {r.id: r for r in records}
    newest: dict[uuid.UUID, int] = {}
    for ids in batches(held):
        found = select(Ledger.id, func.max(Ledger.rev)).group_by(Ledger.id)
        found = found.where(Ledger.operation_id == operation, Ledger.id.in_(ids))
        newest.update((row[0], row[1]) for row in session.execute(found))
    for record in held.values():
        there = newest.get(record.id)
        if inspect(record).persistent and record.rev != there:
            raise StaleDataError(
                f"{record.__tablename__} {record.id}: you read rev {record.rev},"
                f" rev {there} is in the ledger; read it again before you change it"
            )
    return {i: newest[i] + 1 if i in newest else 1 for i in held}


def batches(items: Iterable[T], size: int = BATCH) -> Iterator[list[T]]:
    """A few at a time, as they come."""
    rest = iter(items)
    while batch := list(islice(rest, size)):
        yield batch


def _number(row: Any, rev: int, operation: int) -> None:
    """Give the record and all its lines the new rev (a line cannot change alone).

    Defaults are said too: a line that takes the key of the one before it is an update of that row,
    which would keep what stood there, while the ledger says the default.
    """
    row.rev, row.operation_id = rev, operation
    kind: type[Base] = type(row)
    for name, default in shape_of(kind).blank.items():
        if default is not None and getattr(row, name) is None:
            setattr(row, name, default)
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


def write_new(session: Session, records: Iterable[Record | Plain]) -> int:
    """Write many records that nobody has said before; how many they were.

    The bulk way in: ledger rows and table rows go in as whole lists, records of one kind in the
    order given, kinds in the order of their references. Every rule of the database holds.
    """
    return write_in_order(session, sorted(records, key=lambda r: _ORDER[_kind(r)]))


def write_in_order(session: Session, records: Iterable[Record | Plain]) -> int:
    """Write many new records as they come, what is referred to first; how many they were.

    Only a batch of them is held at a time. Nothing else may write to the operation meanwhile, so
    nothing that waits in the session may be changed by what makes the records.
    """
    session.flush()
    head = Head(session)
    return sum(_write(session, head, batch) for batch in batches(records))


def _write(session: Session, head: Head, records: Iterable[Record | Plain]) -> int:
    rows: dict[str, list[dict[str, Any]]] = defaultdict(list)
    said = [_say_new(head, r if isinstance(r, Plain) else plain(r), rows) for r in records]
    _insert(session, Ledger.__tablename__, said)
    for table in sorted(rows, key=lambda name: _ORDER[name]):
        _insert(session, table, rows[table])
    return len(said)


def _say_new(head: Head, record: Plain, rows: dict[str, list[dict[str, Any]]]) -> dict[str, Any]:
    """The ledger row of a new record; its own rows and those of its lines are filed."""
    record.said.setdefault("id", uuid7())
    said = _collect(record, {}, head.operation, rows)
    return head.say(_kind(record), record.said["id"], 1, None, said)


def _insert(session: Session, table: str, rows: list[dict[str, Any]]) -> None:
    insert_rows(session, Base.metadata.tables[table], rows)


def _kind(record: Record | Plain) -> str:
    model = record.model if isinstance(record, Plain) else type(record)
    return str(model.__tablename__)


_RECORDS = {
    mapper.class_.__tablename__: mapper.class_
    for mapper in Base.registry.mappers
    if issubclass(mapper.class_, Record)
}
_ORDER = {table.name: n for n, table in enumerate(Base.metadata.sorted_tables)}


def _collect(
    row: Plain, keys: Mapping[str, Any], operation: int, rows: dict[str, list[dict[str, Any]]]
) -> dict[str, Any]:
    """File the row and its lines; a line takes the key of what it is a part of.

    Returned is what a person said, the same as `body`, of columns made once.
    """
    held, shape = row.columns(), shape_of(row.model)
    said = {k: v for k, v in held.items() if v is not None}
    mine = {**held, **keys, "operation_id": operation, "rev": 1}
    rows[shape.table.name].append(mine)
    for name, lines in row.lines.items():
        if lines:
            passed = {there: mine[here] for there, here in shape.lines[name]}
            said[name] = [_collect(line, passed, operation, rows) for line in lines]
    return said


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
