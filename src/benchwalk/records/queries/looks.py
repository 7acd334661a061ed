"""The looks and readings behind a number: who, when, which plant, and what was corrected."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from sqlalchemy import and_, literal, or_, select
from sqlalchemy.orm import Session, aliased

from benchwalk.records.joins import Units, in_effort, of, person_name
from benchwalk.records.operations import Device, Ledger, Person
from benchwalk.records.places import Station
from benchwalk.records.plants import Planting
from benchwalk.records.seen import Card, Examined, Observation, Tally, Walk


@dataclass(frozen=True)
class Look:
    """One look or reading, and what it says of one pest and stage.

    `how` is None where the look found nothing at all and so holds no tally: looked, none. `rev`
    over 1 says that it was corrected. `typed_by` keyed it for somebody else.
    """

    id: uuid.UUID
    rev: int
    kind: str
    walk_id: uuid.UUID
    unit_id: uuid.UUID
    card_id: uuid.UUID | None
    walk_on: dt.date
    seen_at: dt.datetime
    received_at: dt.datetime
    by: str | None
    typed_by: str | None
    device: str | None
    why: str
    why_assumed: bool
    plants: int | None
    position: str | None
    crop: str | None
    card: str | None
    card_state: str | None
    counted: str | None
    note: str | None
    method: str
    items: int | None
    of_items: int | None
    how: str | None
    number: int | None
    mean: float | None
    infested: int | None


def looks(
    session: Session,
    units: Units,
    on: dt.date,
    *,
    taxon: str,
    stage: str,
    method: str,
    why: str,
) -> list[Look]:
    """Looks of a day that a number rests on: with a tally of the pest and stage, or with none.

    A look that found nothing at all counts as none of every pest that was looked for in that way;
    only *sample* looks do. A reading of a card that says of no pest anything is part of no number.
    """
    typed = aliased(Person)
    tally = and_(in_effort(), Tally.taxon == taxon, Tally.stage == stage)
    query = (
        _columns(typed)
        .select_from(Walk)
        .join(Observation, of(Walk, Observation, "walk_id"))
        .join(Examined, of(Observation, Examined, "observation_id"))
        .join(
            Ledger,
            and_(
                Ledger.operation_id == Observation.operation_id,
                Ledger.id == Observation.id,
                Ledger.rev == Observation.rev,
            ),
        )
        .outerjoin(Tally, tally)
        .outerjoin(Planting, of(Planting, Observation, "planting_id"))
        .outerjoin(Card, of(Card, Observation, "card_id"))
        .outerjoin(Station, of(Station, Card, "station_id"))
        .outerjoin(Person, of(Person, Ledger, "by_id"))
        .outerjoin(typed, of(typed, Ledger, "typed_by_id"))
        .outerjoin(Device, of(Device, Ledger, "device_id"))
        .where(
            Walk.walk_on == on,
            Observation.unit_id.in_(units),
            Observation.why == why,
            Examined.method == method,
            _counts(why),
            or_(Station.role.is_(None), Station.role == "interior"),
        )
        .order_by(Observation.seen_at, Observation.id)
    )
    return [Look(*row) for row in session.execute(query)]


def _columns(typed: Any) -> Any:
    return select(
        Observation.id,
        Observation.rev,
        Observation.kind,
        Observation.walk_id,
        Observation.unit_id,
        Observation.card_id,
        Walk.walk_on,
        Observation.seen_at,
        Ledger.received_at,
        person_name(Person),
        person_name(typed),
        Device.label,
        Observation.why,
        Observation.why_assumed,
        Observation.plants,
        Observation.position,
        Planting.crop,
        Station.code,
        Observation.state,
        Observation.counted,
        Observation.note,
        Examined.method,
        Examined.items,
        Examined.of_items,
        Tally.how,
        Tally.number,
        Tally.mean,
        Tally.infested,
    )


def _counts(why: str) -> Any:
    has_tally = Tally.taxon.is_not(None)
    nothing = and_(Observation.kind == "look", ~_any_tally())
    return or_(has_tally, nothing) if why == "sample" else has_tally


def _any_tally() -> Any:
    other = aliased(Tally)
    return (
        select(literal(1))
        .where(
            other.operation_id == Examined.operation_id,
            other.observation_id == Examined.observation_id,
        )
        .correlate(Examined)
        .exists()
    )


@dataclass(frozen=True)
class Said:
    """One rev of a record as the ledger has it; ``void_reason`` voids the record."""

    seq: int
    kind: str
    id: uuid.UUID
    rev: int
    void_reason: str | None
    by: str | None
    typed_by: str | None
    device: str | None
    seen_at: dt.datetime
    received_at: dt.datetime
    body: str


def history(session: Session, record: uuid.UUID) -> list[Said]:
    """Every rev of a record, the first first; none where nobody ever said anything of it."""
    return _said(session, saying().where(Ledger.id == record).order_by(Ledger.rev))


def voided_looks(session: Session) -> list[Said]:
    """Looks and readings that were taken back, the newest first."""
    query = saying().where(Ledger.kind == "observation", Ledger.void_reason.is_not(None))
    return _said(session, query.order_by(Ledger.seq.desc()))


def days_of(session: Session, walks: Collection[uuid.UUID]) -> dict[uuid.UUID, dt.date]:
    """The day of each of some walks; of one that was taken back there is none."""
    if not walks:
        return {}
    found = session.execute(select(Walk.id, Walk.walk_on).where(Walk.id.in_(walks)))
    return {walk: on for walk, on in found}


def saying() -> Any:
    """Columns of :class:`Said`, of every rev there is."""
    typed = aliased(Person)
    return (
        select(
            Ledger.seq,
            Ledger.kind,
            Ledger.id,
            Ledger.rev,
            Ledger.void_reason,
            person_name(Person),
            person_name(typed),
            Device.label,
            Ledger.seen_at,
            Ledger.received_at,
            Ledger.body,
        )
        .select_from(Ledger)
        .outerjoin(Person, of(Person, Ledger, "by_id"))
        .outerjoin(typed, of(typed, Ledger, "typed_by_id"))
        .outerjoin(Device, of(Device, Ledger, "device_id"))
    )


def _said(session: Session, query: Any) -> list[Said]:
    return [Said(*row) for row in session.execute(query)]
