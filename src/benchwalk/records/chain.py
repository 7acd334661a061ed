"""The ledger's chain: its head goes outside with each copy and report, and is compared later.

Each row's digest covers the row and the digest before it. Whoever changes a row has to change
every digest after it; whoever does that, or cuts the end off, is found by a head that was written
down elsewhere. Without one, the chain speaks only up to the last row held.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import re
import uuid
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

from sqlalchemy import Connection, select
from sqlalchemy.orm import Session

from benchwalk.catalogue import Refusal
from benchwalk.records.ledger import HASHED, as_hashed
from benchwalk.records.operations import Ledger, Operation

HEAD = re.compile(r"\b([0-9a-f-]{36}):(\d+):\s*((?:[0-9a-f]{8}\s*){8})(?![0-9a-f])")
EMPTY = ""  # digest of a chain without rows
FETCH = 2000  # own choice: rows asked for at a time


class HeadRefusedError(Refusal):
    """What was given as a head is none, or is that of another operation."""


@dataclass(frozen=True)
class Head:
    """The end of a chain: how many rows it has, and the digest that covers them all.

    Parameters
    ----------
    operation : global name of the operation.
    count : rows of the ledger.
    digest : sha256 of the last row, hexadecimal; empty where there is none.
    """

    operation: uuid.UUID
    count: int
    digest: str

    def __str__(self) -> str:
        return f"{self.operation}:{self.count}:{self.digest}"

    @property
    def on_paper(self) -> str:
        """The same in groups of eight, which fit a column and can be typed in."""
        groups = (self.digest[n : n + 8] for n in range(0, len(self.digest), 8))
        return f"{self.operation}:{self.count}: {' '.join(groups)}"


class Fault(NamedTuple):
    """Rows that are not as they were said: ``first`` to ``last``, and how that shows.

    ``changed``: the digest does not follow; ``missing``: there is no such row; ``rewritten``: the
    rows agree with each other, not with the outside head, so some were changed and all behind made
    to fit; ``short``: fewer rows than the outside head counts, cut off or closed up.
    """

    how: str
    first: int
    last: int


@dataclass(frozen=True)
class Checked:
    """What a chain shows.

    Parameters
    ----------
    head : as it is held now.
    faults : in the order of the rows; none where all is as it was said.
    outside : the furthest outside head that was compared; None: only up to the last row held.
    past : rows held past that head, which nothing outside speaks for.
    """

    head: Head
    faults: tuple[Fault, ...]
    outside: Head | None

    @property
    def past(self) -> int:
        return max(0, self.head.count - (self.outside.count if self.outside else 0))


def head(session: Session) -> Head:
    """The head of the session's operation, to be written down outside."""
    operation: int = session.info["operation_id"]
    uid = session.execute(select(Operation.uid).where(Operation.id == operation)).scalar_one()
    return _head(session.connection(), operation, uid)


def heads(connection: Connection) -> list[Head]:
    """The head of every operation that the connection sees."""
    held = connection.execute(select(Operation.id, Operation.uid).order_by(Operation.id))
    return [_head(connection, row.id, row.uid) for row in held]


def _head(connection: Connection, operation: int, uid: uuid.UUID) -> Head:
    last = connection.execute(
        select(Ledger.__table__.c.seq, Ledger.__table__.c.digest)
        .where(Ledger.__table__.c.operation_id == operation)
        .order_by(Ledger.__table__.c.seq.desc())
        .limit(1)
    ).one_or_none()
    return Head(uid, 0, EMPTY) if last is None else Head(uid, last.seq, last.digest.hex())


def read_heads(text: str) -> list[Head]:
    """Every head in a text: a proof, a printed report, or one typed in.

    Raises
    ------
    HeadRefusedError
        if there is none.
    """
    found = [Head(uuid.UUID(u), int(n), "".join(d.split())) for u, n, d in HEAD.findall(text)]
    if not found:
        raise HeadRefusedError("keep.no_head", given=text.strip()[:80])
    return found


def check(connection: Connection, operation: int, outside: Iterable[Head] = ()) -> Checked:
    """Follow one operation's chain from its first row, and compare it with outside heads.

    Every fault is named: a digest is compared with what follows from the one *held* before it, so
    one changed row is one fault, not all the rows behind it.

    Raises
    ------
    HeadRefusedError
        if an outside head is of another operation.
    """
    uid = connection.execute(select(Operation.uid).where(Operation.id == operation)).scalar_one()
    known = sorted(outside, key=lambda h: h.count)
    for other in known:
        if other.operation != uid:
            raise HeadRefusedError("keep.other_head", given=other.operation, here=uid)
    wanted = {h.count for h in known}
    passed, faults = _follow(connection, operation, wanted)
    now = _head(connection, operation, uid)
    faults += _against(known, passed, now)
    return Checked(now, tuple(sorted(faults, key=lambda f: f.first)), known[-1] if known else None)


def _follow(
    connection: Connection, operation: int, wanted: set[int]
) -> tuple[dict[int, str], list[Fault]]:
    """Digests at the wanted rows, and faults within the chain."""
    faults: list[Fault] = []
    passed: dict[int, str] = {0: EMPTY}
    before, last, after_gap = b"", 0, False
    sha = hashlib.sha256
    for seq, held, said in spoken(connection, operation):
        if seq != last + 1:
            faults.append(Fault("missing", last + 1, seq - 1))
            after_gap = True  # what this row stood on is gone: only its own digest is left
        if not after_gap and sha(before + said).digest() != held:
            faults.append(Fault("changed", seq, seq))
        if seq in wanted:
            passed[seq] = held.hex()
        before, last, after_gap = held, seq, False
    return passed, faults


def _against(known: Sequence[Head], passed: dict[int, str], now: Head) -> list[Fault]:
    """Where the outside heads and the rows part; between two heads, as they tell no more."""
    faults: list[Fault] = []
    agreed = 0
    for outside in known:
        if outside.count > now.count:
            return [*faults, Fault("short", agreed + 1, known[-1].count)]
        if passed.get(outside.count) == outside.digest:
            agreed = outside.count
        elif outside.count in passed:
            return [*faults, Fault("rewritten", agreed + 1, outside.count)]
    return faults


def spoken(connection: Connection, operation: int) -> Iterator[tuple[int, bytes, bytes]]:
    """(seq, digest, the text that was hashed) of each row, in order, few at a time."""
    if connection.dialect.name == "sqlite":
        return _spoken_sqlite(connection, operation)
    return _spoken(connection, operation)


def _spoken(connection: Connection, operation: int) -> Iterator[tuple[int, bytes, bytes]]:
    ledger = Ledger.__table__.c
    wanted = select(*(ledger[name] for name in (*HASHED, "digest")))
    wanted = wanted.where(ledger.operation_id == operation).order_by(ledger.seq)
    for row in connection.execute(wanted.execution_options(yield_per=FETCH)):
        yield row.seq, bytes(row.digest), "\0".join(map(as_hashed, row[: len(HASHED)])).encode()


def _spoken_sqlite(connection: Connection, operation: int) -> Iterator[tuple[int, bytes, bytes]]:
    """The same text from the columns as SQLite keeps them: a third of the time.

    A million rows pass here; types made for each of them and let go again are most of the cost.
    """
    driver = connection.connection.dbapi_connection
    assert driver is not None  # an open connection has one
    cursor = driver.cursor()
    cursor.arraysize = FETCH
    cursor.execute(
        f"SELECT {', '.join(HASHED)}, digest FROM ledger WHERE operation_id = ? ORDER BY seq",
        (operation,),
    )
    for batch in iter(cursor.fetchmany, []):
        for row in batch:
            yield row[0], row[-1], _as_hashed(row)


def _as_hashed(row: tuple[Any, ...]) -> bytes:
    """The text of a row; empty, which no digest follows from, where a type is not its column's."""
    seq, epoch, kind, i, rev, void, by, typed, device, seen, offset, received, body, _ = row
    try:
        x = i.hex()
        return (
            f"{seq}\0{epoch}\0{kind}\0{x[:8]}-{x[8:12]}-{x[12:16]}-{x[16:20]}-{x[20:]}\0{rev}\0"
            f"{_given(void)}\0{_id(by)}\0{_id(typed)}\0{_id(device)}\0{_instant(seen)}\0"
            f"{_given(offset)}\0{_instant(received)}\0{body}"
        ).encode()
    except (AttributeError, TypeError, ValueError):
        return b""


def _given(value: Any) -> Any:
    return "\1" if value is None else value


@lru_cache(maxsize=4096)
def _id(held: bytes | None) -> str:
    return "\1" if held is None else str(uuid.UUID(bytes=held))


@lru_cache(maxsize=4096)
def _instant(held: str) -> str:
    """SQLite keeps `2026-03-10 09:00:00.000000`, in UTC."""
    return dt.datetime.fromisoformat(held).replace(tzinfo=dt.UTC).isoformat()
