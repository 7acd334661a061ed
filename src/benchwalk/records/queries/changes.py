"""Corrections and voids: what took something back that was said before, as it is asked for."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import Any

from sqlalchemy import and_, func, or_, select
from sqlalchemy.orm import Session, aliased

from benchwalk.records.joins import of, person_name
from benchwalk.records.operations import Ledger, Person
from benchwalk.records.queries.looks import Said, saying

CORRECTED, VOID = "corrected", "void"


@dataclass(frozen=True)
class Change:
    """A rev that corrects or voids, and the body of the rev before it."""

    said: Said
    before: str | None


@dataclass(frozen=True)
class Asked:
    """Which changes: of a kind of record, by a person, corrections or voids alone; "" is all."""

    kind: str = ""
    by: uuid.UUID | None = None
    what: str = ""


@dataclass(frozen=True)
class Asking:
    """What can be asked for: kinds of record that were changed, and who changed any."""

    kinds: tuple[str, ...]
    people: tuple[tuple[uuid.UUID, str], ...]


def changes(
    session: Session, asked: Asked, before: int | None = None, limit: int = 100
) -> list[Change]:
    """Corrections and voids, the newest first.

    Parameters
    ----------
    before : seq in the ledger to go on from; the newest when not given.
    """
    last, one = aliased(Ledger), aliased(Ledger)
    # a phone that was away may leave numbers out
    before_it = (
        select(func.max(one.rev))
        .where(one.operation_id == Ledger.operation_id, one.id == Ledger.id)
        .where(one.rev < Ledger.rev)
        .correlate(Ledger)
        .scalar_subquery()
    )
    earlier = and_(
        last.operation_id == Ledger.operation_id,
        last.id == Ledger.id,
        last.rev == before_it,
    )
    query = saying().add_columns(last.body).outerjoin(last, earlier).where(*_wanted(asked))
    if before is not None:
        query = query.where(Ledger.seq < before)
    found = session.execute(query.order_by(Ledger.seq.desc()).limit(limit))
    return [Change(Said(*row[:-1]), row[-1]) for row in found]


def _wanted(asked: Asked) -> list[Any]:
    void = Ledger.void_reason.is_not(None)
    which = {CORRECTED: and_(Ledger.rev > 1, ~void), VOID: void}
    held = [which.get(asked.what, or_(Ledger.rev > 1, void))]
    if asked.kind:
        held.append(Ledger.kind == asked.kind)
    if asked.by is not None:
        held.append(Ledger.by_id == asked.by)
    return held


def asking(session: Session) -> Asking:
    """What of the changes can be asked for, in one question."""
    name = person_name(Person)
    person = of(Person, Ledger, "by_id")
    found = session.execute(
        select(Ledger.kind, Person.id, name)
        .select_from(Ledger)
        .outerjoin(Person, person)
        .where(*_wanted(Asked()))
        .distinct()
    ).all()
    people = {(row[1], str(row[2])) for row in found if row[1] is not None}
    return Asking(
        tuple(sorted({row[0] for row in found})),
        tuple(sorted(people, key=lambda one: one[1])),
    )
