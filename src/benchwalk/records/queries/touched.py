"""What was recorded after a row of the ledger, as far as counts go."""

from __future__ import annotations

import json
import uuid
from dataclasses import dataclass
from typing import Any

from sqlalchemy import and_, case, null, select, union_all
from sqlalchemy.orm import Session, aliased

from benchwalk.records.operations import Ledger


@dataclass(frozen=True)
class Touched:
    """Kinds of records that were written, and the counts they may have changed.

    Attributes
    ----------
    walks : every walk that was written, or that a written look or reading was ever of.
    cards : every card that was written, or that a written reading was ever of.
    moved : walks that were said anew, so that their day may be another.
    taken_back : whether something was said anew or voided that had been said of a walk before.
    """

    kinds: frozenset[str]
    walks: frozenset[uuid.UUID]
    cards: frozenset[uuid.UUID]
    moved: frozenset[uuid.UUID]
    taken_back: bool


def touched(session: Session, after: int) -> Touched:
    """What was recorded after the ledger's row of that seq, with all that was said of it before."""
    kinds: set[str] = set()
    walks, cards, moved = set[uuid.UUID](), set[uuid.UUID](), set[uuid.UUID]()
    taken_back = False
    for kind, record, rev, body in session.execute(_revs(after)):
        kinds.add(kind)
        if kind == "walk":
            walks.add(record)
            moved.update([record] if rev > 1 else [])
        elif kind == "card":
            cards.add(record)
        elif kind == "observation":
            said = json.loads(body)
            walks.add(uuid.UUID(said["walk_id"]))
            cards.update([uuid.UUID(said["card_id"])] if "card_id" in said else [])
            taken_back = taken_back or rev > 1
    held = frozenset(walks), frozenset(cards), frozenset(moved)
    return Touched(frozenset(kinds), *held, taken_back=taken_back or bool(moved))


def _revs(after: int) -> Any:
    """Revs after the row, and the earlier ones of records that were not new then."""
    newer = aliased(Ledger)
    said_anew = and_(
        newer.operation_id == Ledger.operation_id, newer.id == Ledger.id, newer.rev > Ledger.rev
    )
    body = case((Ledger.kind == "observation", Ledger.body), else_=null())
    columns = (Ledger.kind, Ledger.id, Ledger.rev, body)
    return union_all(
        select(*columns).where(Ledger.seq > after),
        select(*columns).select_from(newer).join(Ledger, said_anew).where(newer.seq > after),
    )
