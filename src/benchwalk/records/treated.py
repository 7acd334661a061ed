"""What was really done to the crop. Its times and reach are those of its loads."""

from __future__ import annotations

import datetime as dt
import uuid

from sqlalchemy import ForeignKeyConstraint, Index, SmallInteger, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from benchwalk.records.base import Line, Record, among, check, key, ref


class Application(Record):
    __tablename__ = "application"
    kind: Mapped[str]
    what: Mapped[str]  # as written
    active: Mapped[str | None]
    moa_group: Mapped[str | None]  # with the scheme: "IRAC 4A"
    effect: Mapped[str | None]  # contact, systemic, growth_regulator, nematode, ...
    taxon: Mapped[str | None] = mapped_column(String(48))  # against
    applicator_id: Mapped[uuid.UUID | None]
    note: Mapped[str | None]
    constraints = (
        ref("taxon", "taxon", "code"),
        ref("applicator_id", "person"),
        among("kind", "spray", "drench", "fog", "release", "wash", "rogue", "weed", "clean"),
    )
    loads: Mapped[list[Load]] = relationship(
        cascade="all, delete-orphan", order_by="Load.n", lazy="selectin"
    )


class Load(Line):
    """One tank, or one simple treatment."""

    __tablename__ = "load"
    application_id: Mapped[uuid.UUID] = key()
    n: Mapped[int] = key(SmallInteger)
    started_at: Mapped[dt.datetime]
    ended_at: Mapped[dt.datetime | None]  # none: still running
    precision: Mapped[str] = mapped_column(default="minute")  # "day": only the day is known
    water_ml: Mapped[int | None]
    owner = ("application", "application_id")
    constraints = (
        ref("application_id", "application"),
        among("precision", "minute", "day"),
        check("times", "ended_at IS NULL OR ended_at >= started_at"),
        Index("ix_load_start", "operation_id", "started_at"),
    )
    treated: Mapped[list[Treated]] = relationship(cascade="all, delete-orphan", lazy="selectin")


class Treated(Line):
    __tablename__ = "treated"
    application_id: Mapped[uuid.UUID] = key()
    n: Mapped[int] = key(SmallInteger)
    unit_id: Mapped[uuid.UUID] = key()
    share_percent: Mapped[int] = mapped_column(SmallInteger, default=100)
    owner = ("application", "application_id")
    constraints = (
        ForeignKeyConstraint(
            ["operation_id", "application_id", "n"],
            ["load.operation_id", "load.application_id", "load.n"],
        ),
        ref("unit_id", "unit"),
        check("share", "share_percent BETWEEN 1 AND 100"),
        Index("ix_treated_unit", "operation_id", "unit_id"),
    )
