"""Units, what stands in them on a day, and the thresholds of that day."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import and_, func, or_, select
from sqlalchemy.orm import Session

from benchwalk.records.compared import Target, Threshold, threshold_key
from benchwalk.records.joins import Units, of, one_of
from benchwalk.records.operations import Ledger, Operation
from benchwalk.records.places import House, Unit
from benchwalk.records.plants import Movement, Phase, Planting
from benchwalk.records.queries.walked import newest_walk


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


@dataclass(frozen=True)
class Ground:
    """The operation, the day of its newest walk (None: nobody has walked), its units ever.

    ``newest_seq`` is that of the newest ledger row: while it stands, so do all records.
    """

    operation: str
    zone: str
    practice: bool
    last_walk_on: dt.date | None
    newest_seq: int | None
    units: tuple[Place, ...]


def ground(session: Session) -> Ground:
    """What every page begins with, in one question; units by house and name."""
    house = of(House, Unit, "house_id")
    newest_row = (
        select(func.max(Ledger.seq)).where(Ledger.operation_id == Operation.id).scalar_subquery()
    )
    query = (
        select(
            Operation.name,
            Operation.zone,
            Operation.practice,
            newest_walk().scalar_subquery(),
            newest_row,
            Unit.id,
            Unit.name,
            House.name,
            House.air_space_id,
            Unit.x_m.is_not(None),
            Unit.opened_on,
            Unit.closed_on,
            Unit.predecessor_id,
        )
        .select_from(Operation)
        .outerjoin(Unit, and_(Unit.operation_id == Operation.id, Unit.kind == "unit"))
        .outerjoin(House, house)
        .where(Operation.id == session.info["operation_id"])
        .order_by(House.name, Unit.name)
    )
    rows = session.execute(query).all()
    places = tuple(Place(*row[5:]) for row in rows if row[5] is not None)
    name, zone, practice, newest, seq = rows[0][:5]
    return Ground(name, zone, practice, newest, seq, places)


def units(session: Session, day: dt.date | None = None) -> list[Place]:
    """Units (not places) alive on a day, or ever, by house and name."""
    found = ground(session).units
    return [place for place in found if day is None or place.alive_on(day)]


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
    every_days: int | None = None  # the plan's shortest time from walk to walk

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
        .where(of(Planting, Phase, "planting_id"))
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
            _every_days(day),
        )
        .join(Phase, of(Planting, Phase, "planting_id"))
        .where(Phase.from_on == newest, Phase.phase != "gone")
    )
    return [Standing(*row) for row in session.execute(query)]


def _every_days(day: dt.date) -> Any:
    """The shortest time between walks that the plan asks for in the planting's unit or crop."""
    asked = or_(Target.unit_id == Planting.unit_id, Target.crop == Planting.crop)
    holds = and_(Target.from_on <= day, or_(Target.until_on.is_(None), Target.until_on > day))
    return (
        select(func.min(Target.every_days))
        .where(Target.operation_id == Planting.operation_id, asked, holds)
        .correlate(Planting)
        .scalar_subquery()
    )


@dataclass(frozen=True)
class PhaseOf:
    """A planting's phase from a day on; the next row of the planting ends it."""

    planting_id: uuid.UUID
    unit_id: uuid.UUID
    crop: str
    cultivar: str | None
    provisional: bool
    phase: str
    from_on: dt.date
    area_percent: int | None
    came: int | None
    left: int | None
    every_days: int | None


def phases(session: Session, day: dt.date, units: Units) -> list[PhaseOf]:
    """Every phase that plantings of some units have had up to a day, in order of their days.

    Plants that came and left are those up to the day.
    """
    query = (
        select(
            Planting.id,
            Planting.unit_id,
            Planting.crop,
            Planting.cultivar,
            Planting.provisional,
            Phase.phase,
            Phase.from_on,
            Phase.area_percent,
            _moved(Movement.to_id, day),
            _moved(Movement.from_id, day),
            _every_days(day),
        )
        .join(Phase, of(Planting, Phase, "planting_id"))
        .where(Phase.from_on <= day, one_of(Planting.unit_id, units))
        .order_by(Phase.from_on, Planting.id)
    )
    return [PhaseOf(*row) for row in session.execute(query)]


def standing_on(phases: Iterable[PhaseOf], day: dt.date) -> list[Standing]:
    """What stood there on a day, out of phases in order of their days."""
    first: dict[uuid.UUID, dt.date] = {}
    now: dict[uuid.UUID, PhaseOf] = {}
    for row in phases:
        if row.from_on <= day:
            first.setdefault(row.planting_id, row.from_on)
            now[row.planting_id] = row
    return [
        Standing(
            id=row.planting_id,
            unit_id=row.unit_id,
            crop=row.crop,
            phase=row.phase,
            since=first[row.planting_id],
            provisional=row.provisional,
            came=row.came,
            left=row.left,
            every_days=row.every_days,
        )
        for row in now.values()
        if row.phase != "gone"
    ]


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


def thresholds(session: Session, day: dt.date) -> list[Threshold]:
    """Thresholds begun by a day: of each key only the latest, ended ones (sense none) kept out."""
    return latest(begun(session, day), day)


def begun(session: Session, day: dt.date) -> Sequence[Threshold]:
    """Every threshold begun by a day, those that others have followed too, in their order."""
    found = select(Threshold).where(Threshold.from_on <= day).order_by(Threshold.from_on)
    return session.scalars(found).all()


def latest(thresholds: Iterable[Threshold], day: dt.date) -> list[Threshold]:
    """Of each key the last that had begun by a day, unless that ended it."""
    held = {threshold_key(t): t for t in thresholds if t.from_on <= day}
    return [t for t in held.values() if t.sense != "none"]
