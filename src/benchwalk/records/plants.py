"""Plantings, their phases, and every plant that comes, moves or goes."""

from __future__ import annotations

import datetime as dt
import uuid

from sqlalchemy import Index, SmallInteger, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from benchwalk.records.base import Line, Record, check, key, ref

NOT_SAID = "not_said"


class Planting(Record):
    """A crop in a unit. Its plants are the sum of its movements, its dates those of its phases."""

    __tablename__ = "planting"
    unit_id: Mapped[uuid.UUID]
    crop: Mapped[str] = mapped_column(String(48))
    cultivar: Mapped[str | None]
    provisional: Mapped[bool] = mapped_column(default=False)  # seen or imported, not yet confirmed
    constraints = (
        ref("unit_id", "unit"),
        ref("crop", "crop", "code"),
        Index("ix_planting_unit", "operation_id", "unit_id"),
    )
    phases: Mapped[list[Phase]] = relationship(
        cascade="all, delete-orphan", order_by="Phase.from_on", lazy="selectin"
    )


class Phase(Line):
    """What a planting is from a day until its next phase. `gone` ends it.

    `area_percent` none: the share of the unit is not known. Phase `not_said`: nor is the phase.
    """

    __tablename__ = "phase"
    planting_id: Mapped[uuid.UUID] = key()
    from_on: Mapped[dt.date] = key()
    phase: Mapped[str] = mapped_column(String(32))
    area_percent: Mapped[int | None] = mapped_column(SmallInteger)
    plants_per_m2: Mapped[float | None]
    owner = ("planting", "planting_id")
    constraints = (
        ref("planting_id", "planting"),
        check("gone", "(phase = 'gone') = (coalesce(area_percent, 100) = 0)"),
        check("area", "area_percent BETWEEN 0 AND 100"),
        check("density", "plants_per_m2 > 0"),
    )


class Movement(Record):
    """Plants out of one planting into another: double entry, so no plant is lost or made."""

    __tablename__ = "movement"
    kind: Mapped[str]
    moved_on: Mapped[dt.date]
    from_id: Mapped[uuid.UUID | None]  # none: from outside
    to_id: Mapped[uuid.UUID | None]  # none: left
    plants: Mapped[int]
    cause: Mapped[str | None]
    constraints = (
        ref("from_id", "planting"),
        ref("to_id", "planting"),
        check("plants", "plants > 0"),
        check(
            "ends",
            "(kind = 'receive' AND from_id IS NULL AND to_id IS NOT NULL)"
            " OR (kind IN ('ship', 'dump', 'rogue') AND from_id IS NOT NULL AND to_id IS NULL)"
            " OR (kind IN ('move', 'split', 'merge') AND from_id IS NOT NULL"
            " AND to_id IS NOT NULL AND from_id <> to_id)"
            " OR (kind = 'space' AND from_id IS NOT NULL AND to_id IS NOT NULL"
            " AND from_id = to_id)",
        ),
        Index("ix_movement_from", "operation_id", "from_id", "moved_on"),
        Index("ix_movement_to", "operation_id", "to_id", "moved_on"),
    )
