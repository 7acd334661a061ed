"""Where: air spaces, houses, what the plan shows, units, stations."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from sqlalchemy import Index, SmallInteger, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from benchwalk.records.base import Record, among, check, ref

RECTANGLE = (
    "(x_m IS NULL) = (y_m IS NULL) AND (x_m IS NULL) = (width_m IS NULL)"
    " AND (x_m IS NULL) = (length_m IS NULL)"
    " AND (width_m IS NULL OR (width_m > 0 AND length_m > 0))"
)


class AirSpace(Record):
    """The connected volume that shares sprays, closures and flying pests."""

    __tablename__ = "air_space"
    name: Mapped[str]
    constraints = (UniqueConstraint("operation_id", "name"),)


class House(Record):
    """A structure. Without a size it is not on the plan yet."""

    __tablename__ = "house"
    air_space_id: Mapped[uuid.UUID]
    name: Mapped[str]
    width_m: Mapped[float | None]
    length_m: Mapped[float | None]
    height_m: Mapped[float | None]
    constraints = (
        ref("air_space_id", "air_space"),
        UniqueConstraint("operation_id", "name"),
        check(
            "size",
            "(width_m IS NULL) = (length_m IS NULL)"
            " AND (width_m IS NULL OR (width_m > 0 AND length_m > 0))",
        ),
    )


class Fixture(Record):
    """What the plan shows and nobody scouts: benches, gutters, doors, vents, drains."""

    __tablename__ = "fixture"
    house_id: Mapped[uuid.UUID]
    kind: Mapped[str]
    level: Mapped[int] = mapped_column(SmallInteger, default=0)
    name: Mapped[str | None]
    x_m: Mapped[float]
    y_m: Mapped[float]
    width_m: Mapped[float]
    length_m: Mapped[float]
    constraints = (
        ref("house_id", "house"),
        among("kind", "bench", "gutter", "floor", "door", "vent", "drain", "heater", "post"),
        check("size", "width_m > 0 AND length_m > 0"),
    )


class Unit(Record):
    """A pest management unit, or a place (walked, without crop).

    Never redrawn: closed, and succeeded by another. Without a rectangle it is not on the plan
    yet, and may be put on it once.
    """

    __tablename__ = "unit"
    house_id: Mapped[uuid.UUID | None]  # none: outdoors, or not said
    kind: Mapped[str] = mapped_column(default="unit")
    name: Mapped[str]
    # {"North 3": "2024-06-03"}: called so until that day; old sheets still find the unit
    former_names: Mapped[dict[str, Any]] = mapped_column(default=dict)
    level: Mapped[int] = mapped_column(SmallInteger, default=0)  # -1 under, 0, 1.. shelf, 9 hanging
    x_m: Mapped[float | None]
    y_m: Mapped[float | None]
    width_m: Mapped[float | None]
    length_m: Mapped[float | None]
    cleanliness: Mapped[str | None]  # walking class, when a person set it
    opened_on: Mapped[dt.date]
    closed_on: Mapped[dt.date | None]  # first day it no longer is
    predecessor_id: Mapped[uuid.UUID | None]
    constraints = (
        ref("house_id", "house"),
        ref("predecessor_id", "unit"),
        UniqueConstraint("operation_id", "house_id", "name"),
        Index(
            "uq_unit_name_without_house",
            "operation_id",
            "name",
            unique=True,
            sqlite_where=text("house_id IS NULL"),
            postgresql_where=text("house_id IS NULL"),
        ),
        among("kind", "unit", "place"),
        check("life", "closed_on IS NULL OR closed_on > opened_on"),
        check("rectangle", RECTANGLE),
        check("predecessor", "predecessor_id IS NULL OR predecessor_id <> id"),
    )


class Station(Record):
    """A fixed sampling place."""

    __tablename__ = "station"
    unit_id: Mapped[uuid.UUID]
    code: Mapped[str]  # short, on its label
    kind: Mapped[str]
    role: Mapped[str] = mapped_column(default="interior")
    x_m: Mapped[float | None]
    y_m: Mapped[float | None]
    opened_on: Mapped[dt.date]
    closed_on: Mapped[dt.date | None]
    constraints = (
        ref("unit_id", "unit"),
        UniqueConstraint("operation_id", "code"),
        among("kind", "card", "disc", "trap", "indicator", "sensor", "hive"),
        among("role", "interior", "door", "vent", "outside", "under_bench"),
        check("life", "closed_on IS NULL OR closed_on > opened_on"),
    )
