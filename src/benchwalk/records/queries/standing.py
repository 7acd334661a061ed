"""Units, what stands in them on a day, and the thresholds of that day."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import and_, func, select
from sqlalchemy.orm import Session

from benchwalk.records.compared import Threshold, threshold_key
from benchwalk.records.places import House, Unit
from benchwalk.records.plants import Movement, Phase, Planting
from benchwalk.records.queries.joins import of


@dataclass(frozen=True)
class Place:
    """A unit with its house's name and air space; canonical name "House / Unit"."""

    id: uuid.UUID
    name: str
    house: str | None
    air_space_id: uuid.UUID | None
    on_plan: bool
    opened_on: dt.date
    closed_on: dt.date | None
    predecessor_id: uuid.UUID | None = None

    def alive_on(self, day: dt.date) -> bool:
        """Whether it is a unit on the day: its last is the one before ``closed_on``."""
        return self.opened_on <= day and (self.closed_on is None or self.closed_on > day)

    @property
    def full_name(self) -> str:
        return self.name if self.house is None else f"{self.house} / {self.name}"


def units(session: Session, day: dt.date | None = None) -> list[Place]:
    """Units (not places) alive on a day, or ever, by house and name."""
    query = (
        select(
            Unit.id,
            Unit.name,
            House.name,
            House.air_space_id,
            Unit.x_m.is_not(None),
            Unit.opened_on,
            Unit.closed_on,
            Unit.predecessor_id,
        )
        .select_from(Unit)
        .outerjoin(House, and_(House.operation_id == Unit.operation_id, House.id == Unit.house_id))
        .where(Unit.kind == "unit")
        .order_by(House.name, Unit.name)
    )
    found = [Place(*row) for row in session.execute(query)]
    return found if day is None else [place for place in found if place.alive_on(day)]


@dataclass(frozen=True)
class Standing:
    """A planting that stands in a unit on a day, in its phase then.

    A `provisional` planting has a first day that was only assumed, so its age is not known.
    """

    id: uuid.UUID
    unit_id: uuid.UUID
    crop: str
    phase: str
    since: dt.date
    provisional: bool
    came: int | None
    left: int | None

    @property
    def plants(self) -> int | None:
        """Plants that came less those that left; None when none ever came: not known."""
        if self.came is None:
            return None
        return self.came if self.left is None else self.came - self.left


def plantings(session: Session, day: dt.date) -> list[Standing]:
    """Plantings standing on a day, with the plants in them (sum of movements up to then)."""
    newest = (
        select(func.max(Phase.from_on))
        .where(
            Phase.operation_id == Planting.operation_id,
            Phase.planting_id == Planting.id,
            Phase.from_on <= day,
        )
        .correlate(Planting)
        .scalar_subquery()
    )
    first = (
        select(func.min(Phase.from_on))
        .where(Phase.operation_id == Planting.operation_id, Phase.planting_id == Planting.id)
        .correlate(Planting)
        .scalar_subquery()
    )
    query = (
        select(
            Planting.id,
            Planting.unit_id,
            Planting.crop,
            Phase.phase,
            first,
            Planting.provisional,
            _moved(Movement.to_id, day),
            _moved(Movement.from_id, day),
        )
        .join(Phase, of(Planting, Phase, "planting_id"))
        .where(Phase.from_on == newest, Phase.phase != "gone")
    )
    return [Standing(*row) for row in session.execute(query)]


def _moved(end: Any, day: dt.date) -> Any:
    return (
        select(func.sum(Movement.plants))
        .where(
            Movement.operation_id == Planting.operation_id,
            end == Planting.id,
            Movement.moved_on <= day,
        )
        .correlate(Planting)
        .scalar_subquery()
    )


def thresholds(session: Session, day: dt.date) -> Sequence[Threshold]:
    """Thresholds begun by a day: of each key only the latest, ended ones (sense none) kept out."""
    begun = session.scalars(
        select(Threshold).where(Threshold.from_on <= day).order_by(Threshold.from_on)
    )
    latest = {threshold_key(t): t for t in begun}
    return [t for t in latest.values() if t.sense != "none"]
