"""Items taken one by one under one write lock; the answers are for after the commit."""

from __future__ import annotations

import json
import uuid
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from itertools import groupby
from operator import itemgetter
from typing import Any

from sqlalchemy import Engine, select, update
from sqlalchemy.exc import DataError, IntegrityError

from benchwalk.records.base import Base
from benchwalk.records.database import writing
from benchwalk.records.ledger import Head, Ledgered, batches, body, canonical
from benchwalk.records.operations import Device, Ledger, Person
from benchwalk.records.refused import sentence_of
from benchwalk.records.sync.aside import put_aside
from benchwalk.records.sync.reading import Item, NotAnItemError, read_item, read_record
from benchwalk.records.sync.writing import write, write_new_items

APPLIED, DUPLICATE, STALE, CONFLICT, REJECTED = (
    "applied",
    "duplicate",
    "stale",
    "conflict",
    "rejected",
)
LETS_GO = frozenset((APPLIED, DUPLICATE, STALE))
THE_OFFICES = frozenset(("walk", "planting", "flag"))  # one writer a row: not changed by a phone
Placed = tuple[int, Item]  # its place in what was sent
_ORDER = {table.name: n for n, table in enumerate(Base.metadata.sorted_tables)}


@dataclass(frozen=True)
class Answer:
    """What became of one item. Its id and rev are as they were sent."""

    id: str | None
    rev: int | None
    answer: str
    reason: str | None = None


@dataclass(frozen=True)
class Told:
    """What a phone says of itself: the version of its pages, its clock less the server's [s]."""

    app_version: str | None
    clock_error_s: float | None


@dataclass(frozen=True)
class Said:
    """A rev of a record as the ledger has it."""

    rev: int
    void: str | None
    by: uuid.UUID | None
    device: uuid.UUID | None
    body: str


def take(
    engine: Engine,
    operation: int,
    device: uuid.UUID | None,
    items: Sequence[Any],
    *,
    unsent: int | None = None,
    told: Told | None = None,
) -> list[Answer]:
    """Take what a phone sent; an answer for each item, in the order given.

    All is committed when this returns; an exception means that nothing was taken.

    Parameters
    ----------
    device : the phone; None where it is none of this operation's, and then nothing is recorded.
    items : as parsed from JSON, whatever they are.
    unsent : how many items the phone had when it sent these; None: it did not say.
    told : what the phone said of itself beside them.
    """
    with writing(engine, operation) as s:
        batch = Batch(s, device)
        answers = batch.take(items)
        if device is not None and unsent is not None:
            let_go = sum(a.answer in LETS_GO for a in answers)
            left = max(unsent - let_go, 0)
            heard: dict[str, Any] = {"last_heard_at": batch.head.now, "unsent": left}
            heard |= {} if told is None else asdict(told)
            mine = (Device.operation_id == operation, Device.id == device)
            s.execute(update(Device).where(*mine).values(heard))
    return answers


class Batch:
    """The items of one request while they are taken."""

    def __init__(self, session: Ledgered, device: uuid.UUID | None) -> None:
        self.session, self.device = session, device
        self.head = Head(session)
        self.stopped = self._stopped()
        self.people = set(session.scalars(select(Person.id)))
        self.said: dict[uuid.UUID, list[Said]] = {}

    def _stopped(self) -> str | None:
        """Why nothing of this phone is recorded; None: it is."""
        if self.device is None:
            return "unknown_phone"
        found = select(Device.revoked_at).where(Device.id == self.device)
        return None if self.session.execute(found).scalar_one() is None else "revoked"

    def take(self, items: Sequence[Any]) -> list[Answer]:
        """What others refer to first, a record's revs as they rise; answers as given."""
        answers: dict[int, Answer] = {}
        good: list[Placed] = []
        for place, sent in enumerate(items):
            try:
                good.append((place, read_item(sent)))
            except NotAnItemError as no:
                answers[place] = self._aside(sent, REJECTED, no.reason, str(no))
        self._look_up(item.id for _, item in good)
        good.sort(key=lambda p: (_ORDER[p[1].kind], p[1].rev, p[0]))
        for first, run in groupby(self._marked(good), key=itemgetter(0)):
            some = [placed for _, placed in run]
            if first and self._write_first(some):
                answers |= {place: _answer(items[place], APPLIED) for place, _ in some}
                continue
            for place, item in some:
                answers[place] = self._one(item, items[place])
        return [answers[place] for place in range(len(items))]

    def _marked(self, good: list[Placed]) -> Iterator[tuple[bool, Placed]]:
        """Whether nothing stands against taking an item with its neighbours, and the item."""
        times = Counter(item.id for _, item in good)
        for placed in good:
            item = placed[1]
            first = item.id not in self.said and times[item.id] == 1 and item.void is None
            yield first and self.stopped is None and item.by in self.people, placed

    def _write_first(self, some: list[Placed]) -> bool:
        """Write the first word of many records at once; False, and nothing is, if one is refused.

        Which one it is comes out when they are taken one by one.
        """
        assert self.device is not None  # a batch of nobody's phone is stopped
        items, before = [item for _, item in some], (self.head.seq, self.head.digest)
        try:
            with self.session.begin_nested():
                write_new_items(self.session, self.head, items, self.device)
        except (IntegrityError, DataError):
            self.head.seq, self.head.digest = before
            return False
        return True

    def _look_up(self, ids: Iterable[uuid.UUID]) -> None:
        columns = (Ledger.id, Ledger.rev, Ledger.void_reason, Ledger.by_id, Ledger.device_id)
        for some in batches(set(ids)):
            found = select(*columns, Ledger.body).where(
                Ledger.operation_id == self.head.operation, Ledger.id.in_(some)
            )
            for row in self.session.execute(found.order_by(Ledger.rev)):
                self.said.setdefault(row[0], []).append(Said(*row[1:]))

    def _one(self, item: Item, sent: Any) -> Answer:
        said = self.said.get(item.id, [])
        there = next((s for s in said if s.rev == item.rev), None)
        if there is not None:
            same = _same(item, there)
            return _answer(sent, DUPLICATE) if same else self._aside(sent, CONFLICT, None)
        if said and said[-1].rev > item.rev:
            return _answer(sent, STALE)
        if self.stopped is not None:
            return self._aside(sent, REJECTED, self.stopped)
        return self._new(item, sent, said)

    def _new(self, item: Item, sent: Any, said: list[Said]) -> Answer:
        """A rev above any the ledger has."""
        if item.by not in self.people:
            return self._aside(sent, REJECTED, "unknown_person")
        if said and item.kind in THE_OFFICES and said[0].device is None:
            return self._aside(sent, REJECTED, "not_yours")
        if said and said[-1].device != self.device and said[-1].rev > item.base:
            return self._aside(sent, CONFLICT, None)
        return self._write(item, sent, held=bool(said) and said[-1].void is None)

    def _write(self, item: Item, sent: Any, *, held: bool) -> Answer:
        assert self.device is not None  # a batch of nobody's phone is stopped
        before = self.head.seq, self.head.digest
        try:
            with self.session.begin_nested():
                write(self.session, self.head, item, self.device, held=held)
        except (IntegrityError, DataError) as refused:
            self.head.seq, self.head.digest = before
            if item.void is None and _refers_nowhere(refused):
                return _answer(sent, REJECTED, "missing_reference")
            return self._aside(sent, REJECTED, "broken_rule", sentence_of(refused))
        new = Said(item.rev, item.void, item.by, self.device, canonical(body(item.record)))
        self.said.setdefault(item.id, []).append(new)
        return _answer(sent, APPLIED)

    def _aside(self, sent: Any, answer: str, reason: str | None, detail: str = "") -> Answer:
        why = f"{reason or answer}: {detail}" if detail else reason or answer
        put_aside(self.session, self.head, sent, self.device, why)
        return _answer(sent, answer, reason)


def _answer(sent: Any, answer: str, reason: str | None = None) -> Answer:
    """Names the id and the rev as they were given; neither where they are of another kind."""
    id_ = sent.get("id") if isinstance(sent, dict) else None
    rev = sent.get("rev") if isinstance(sent, dict) else None
    whole = type(rev) is int and abs(rev) < 2**53  # a phone reads no larger number exactly
    return Answer(id_ if isinstance(id_, str) else None, rev if whole else None, answer, reason)


def _same(item: Item, there: Said) -> bool:
    """Whether the ledger has this content; both are read by the columns there are now."""
    if (item.void, item.by) != (there.void, there.by):
        return False
    try:
        held = read_record(item.kind, str(item.id), json.loads(there.body))
    except NotAnItemError:
        return False
    return canonical(body(held)) == canonical(body(item.record))


def _refers_nowhere(refused: IntegrityError | DataError) -> bool:
    state = getattr(refused.orig, "sqlstate", None)
    return state == "23503" or "FOREIGN KEY" in str(refused.orig)
