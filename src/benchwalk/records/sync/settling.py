"""A person settles what a phone said and the records could not take by themselves.

Nothing is deleted: what was put aside stays, with who settled it and how. What a person lets in
is a new rev, or a record of its own, said by the scout at the time of the count and typed by the
person who let it in.
"""

from __future__ import annotations

import datetime as dt
import json
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import select
from sqlalchemy.exc import DataError, IntegrityError

from benchwalk.catalogue import Refusal, Sentence
from benchwalk.records.base import Base, Record, uuid7
from benchwalk.records.ledger import Head, Ledgered, body, canonical
from benchwalk.records.operations import Aside, Ledger, Person
from benchwalk.records.refused import sentence_of, words_of
from benchwalk.records.sync.reading import KINDS, SMALL, Item, NotAnItemError, read_item
from benchwalk.records.sync.taking import CONFLICT
from benchwalk.records.sync.writing import write

HELD, SENT, BOTH, LEFT, RELEASED = "held", "sent", "both", "left", "released"
#: why a whole item could not be taken, where a person may let it in all the same
RELEASABLE = ("revoked", "unknown_phone", "broken_rule", "not_yours", "missing_reference")
ORDER = {table.name: n for n, table in enumerate(Base.metadata.sorted_tables)}


class NotSettledError(Refusal):
    """It was settled already, it cannot be settled so, or the records forbid it."""


@dataclass(frozen=True)
class Waiting:
    """One thing put aside, with the ways it can be settled.

    Attributes
    ----------
    why : conflict, or why it was rejected: malformed, unknown_kind, unknown_person, not_yours,
        broken_rule, revoked, unknown_phone.
    detail : the sentence that came with it; "" where none did.
    item : what was sent, read; None where it is no item.
    there : the newest rev that the ledger has of the record; 0: none.
    """

    row: Aside
    why: str
    detail: str
    item: Item | None
    there: int
    ways: tuple[str, ...]

    @property
    def said(self) -> dict[str, Any]:
        """What it says, as the ledger would keep it; nothing where it cannot be read."""
        if self.item is None:
            return {}
        held: dict[str, Any] = json.loads(canonical(body(self.item.record)))
        return held


def waiting(session: Ledgered, n: int) -> Waiting | None:
    """What was put aside under a number; None where there is none."""
    row = session.get(Aside, (session.info["operation_id"], n))
    return None if row is None else _read(row, _newest(session, [row]))


def all_waiting(session: Ledgered, rows: Sequence[Aside]) -> list[Waiting]:
    """Each of these with its ways."""
    newest = _newest(session, rows)
    return [_read(row, newest) for row in rows]


def settled_lately(session: Ledgered, most: int) -> list[Aside]:
    """What persons settled, the newest first."""
    found = select(Aside).where(Aside.settled_at.is_not(None)).order_by(Aside.settled_at.desc())
    return list(session.scalars(found.limit(most)))


def _newest(session: Ledgered, rows: Sequence[Aside]) -> dict[uuid.UUID, int]:
    ids = {row.id for row in rows if row.id is not None}
    said = select(Ledger.id, Ledger.rev).where(Ledger.id.in_(ids)).order_by(Ledger.rev)
    return {id_: rev for id_, rev in session.execute(said)}


def _read(row: Aside, newest: dict[uuid.UUID, int]) -> Waiting:
    why, _, detail = row.reason.partition(":")
    try:
        item = read_item(json.loads(row.body))
    except (NotAnItemError, ValueError):
        item = None
    there = 0 if row.id is None or row.id not in newest else newest[row.id]  # revs begin at 1
    ways = () if row.settled_at is not None else _ways(why.strip(), item, there)
    return Waiting(row, why.strip(), detail.strip(), item, there, ways)


def _ways(why: str, item: Item | None, there: int) -> tuple[str, ...]:
    """How it can be settled; the first is the one that changes least."""
    if item is None:
        return (LEFT,)
    if why == CONFLICT and there:
        return (HELD, SENT, BOTH) if _is_look(item) else (HELD, SENT)
    if why in RELEASABLE:
        return (LEFT, RELEASED)
    return (LEFT,)


def _is_look(item: Item) -> bool:
    """Only looks can both be true: two scouts on one plant are two looks."""
    return item.record.said.get("kind") == "look" and item.void is None


def settle(session: Ledgered, n: int, how: str) -> uuid.UUID | None:
    """Settle what was put aside; the record it is told in, None where it is told in none.

    ``held``: what the records say stays. ``sent``: what the phone said is the newest rev.
    ``both``: what the phone said is a look of its own. ``left``: nothing of it is recorded.
    ``released``: it is taken as it would have been.

    Raises
    ------
    NotSettledError
        where it is settled already, cannot be settled so, or the records refuse it.
    """
    held = waiting(session, n)
    if held is None or held.row.settled_at is not None:
        raise NotSettledError("conflict.settled_already")
    if how not in held.ways:
        raise NotSettledError("conflict.no_such_way")
    record = held.row.id
    if how in (SENT, BOTH, RELEASED):
        assert held.item is not None  # what cannot be read has no such way
        record = _say(session, held, held.item, how)
    held.row.settled_at = dt.datetime.now(dt.UTC)
    held.row.settled_by_id = session.info["by_id"]
    held.row.settled_how = how
    session.flush()
    return record


def _say(session: Ledgered, held: Waiting, item: Item, how: str) -> uuid.UUID:
    """Write what the phone said, at a rev above any there is, or as a record of its own."""
    rev = max(item.rev, held.there + 1) if how == RELEASED else held.there + 1
    if rev > SMALL:
        raise NotSettledError("conflict.refused", why=Sentence("rule.rev_over", rev=rev))
    known = select(Person.id).where(Person.id == item.by)
    if session.scalars(known).first() is None:
        raise NotSettledError("conflict.nobody")
    if how == BOTH:
        item, rev = _as_its_own(held), 1
    said = replace(item, rev=rev, typed_by=session.info["by_id"])
    current = how != BOTH and _is_current(session, said)
    try:
        with session.begin_nested():
            write(session, Head(session), said, held.row.device_id, held=current)
    except (IntegrityError, DataError) as refused:
        why = words_of(sentence_of(refused))
        raise NotSettledError("conflict.refused", why=why) from refused
    session.expire_all()
    return said.id


def _as_its_own(held: Waiting) -> Item:
    """What was sent, as a record nobody has said before."""
    return read_item(json.loads(held.row.body) | {"id": str(uuid7()), "rev": 1, "base": 0})


def release_all(session: Ledgered, device: uuid.UUID | None) -> tuple[int, int]:
    """Take everything put aside of a phone that may be let in; how many were, and were not.

    What others refer to goes first; what the records still refuse waits on.
    """
    mine = Aside.device_id.is_(None) if device is None else Aside.device_id == device
    found = select(Aside).where(Aside.settled_at.is_(None), mine).order_by(Aside.n)
    held = [w for w in all_waiting(session, session.scalars(found).all()) if RELEASED in w.ways]
    held.sort(key=_referred_to_first)
    refused = 0
    for one in held:
        try:
            settle(session, one.row.n, RELEASED)
        except NotSettledError:
            refused += 1
    return len(held) - refused, refused


def _referred_to_first(held: Waiting) -> tuple[int, int, int]:
    assert held.item is not None  # only what can be read is let in
    return ORDER[held.item.kind], held.item.rev, held.row.n


def _is_current(session: Ledgered, item: Item) -> bool:
    model: type[Record] = KINDS[item.kind]
    return session.scalars(select(model.id).where(model.id == item.id)).first() is not None
