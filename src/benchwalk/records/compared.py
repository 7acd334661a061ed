"""What counts are compared with, what is looked for, and the climate beside them."""

from __future__ import annotations

import datetime as dt
import uuid

from sqlalchemy import Index, SmallInteger, String, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from benchwalk.records.base import Line, Record, among, check, key, ref

_THRESHOLD_KEY = (
    "operation_id",
    "taxon",
    "stage",
    "method",
    "kind",
    "rule",
    "crop",
    "phase",
    "age_from_weeks",
    "from_on",
)


class Threshold(Record):
    """In force from a day until the next of the same key. Sense `none` ends one.

    `crop` and `phase` always say something: `any_crop` and `any` where the rule is general, so
    that the key needs no blanks. `value` is where acting begins (1 on the threshold scale);
    `high` the other end of a printed range. A ceiling whose source gives only "below high" is
    entered with value = high and `below` set.
    """

    __tablename__ = "threshold"
    taxon: Mapped[str] = mapped_column(String(48))
    stage: Mapped[str] = mapped_column(String(48))
    method: Mapped[str] = mapped_column(String(48))
    kind: Mapped[str]
    rule: Mapped[str]
    crop: Mapped[str] = mapped_column(String(48))
    phase: Mapped[str] = mapped_column(String(32), default="any")
    age_from_weeks: Mapped[int] = mapped_column(SmallInteger, default=0)  # age of the planting
    age_until_weeks: Mapped[int | None] = mapped_column(SmallInteger)
    air_space_id: Mapped[uuid.UUID | None]  # a virus override binds one air space
    from_on: Mapped[dt.date]
    sense: Mapped[str]
    value: Mapped[float | None]
    high: Mapped[float | None]
    below: Mapped[bool] = mapped_column(default=False)  # the source says "below high", no more
    per: Mapped[str | None]  # quantity kind of the reference: per_plant, per_card_per_week ...
    enemy: Mapped[str | None] = mapped_column(String(48))  # for sense ratio
    source: Mapped[str]
    status: Mapped[str] = mapped_column(default="own")  # how well the source is known
    reason: Mapped[str | None]
    constraints = (
        ref("taxon", "taxon", "code"),
        ref("stage", "stage", "code"),
        ref("method", "method", "code"),
        ref("crop", "crop", "code"),
        ref("enemy", "taxon", "code"),
        ref("air_space_id", "air_space"),
        among("kind", "action", "economic", "start_biocontrol", "inspect", "ship"),
        among("rule", "regulated", "virus", "ship", "phase", "crop", "general"),
        among("sense", "ceiling", "floor", "ratio", "any_find", "none"),
        check(
            "value",
            "(sense IN ('any_find', 'none')) = (value IS NULL)"
            " AND (value IS NULL OR value > 0) AND (value IS NULL) = (per IS NULL)"
            " AND (high IS NULL OR high >= value)",
        ),
        check(
            "rule_scope",
            "(rule <> 'phase' OR phase <> 'any')"
            " AND (rule <> 'crop' OR (crop <> 'any_crop' AND phase = 'any'))"
            " AND (rule <> 'general' OR phase = 'any')",
        ),
        check("ratio", "(sense = 'ratio') = (enemy IS NOT NULL)"),
        check("age", "age_from_weeks >= 0 AND age_until_weeks > age_from_weeks"),
        UniqueConstraint(*_THRESHOLD_KEY, "air_space_id", name="uq_threshold_key_of_air_space"),
        Index(
            "uq_threshold_key",
            *_THRESHOLD_KEY,
            unique=True,
            sqlite_where=text("air_space_id IS NULL"),
            postgresql_where=text("air_space_id IS NULL"),
        ),
    )


def threshold_key(t: Threshold) -> tuple[object, ...]:
    """What tells one threshold from another; two with the same key follow each other in time."""
    return (
        t.taxon,
        t.stage,
        t.method,
        t.kind,
        t.rule,
        t.crop,
        t.phase,
        t.age_from_weeks,
        t.air_space_id,
    )


class Target(Record):
    """What a unit's (or a crop's) plan looks for."""

    __tablename__ = "target"
    unit_id: Mapped[uuid.UUID | None]
    crop: Mapped[str | None] = mapped_column(String(48))
    phase: Mapped[str | None] = mapped_column(String(32))
    taxon: Mapped[str] = mapped_column(String(48))
    stage: Mapped[str] = mapped_column(String(48))
    method: Mapped[str] = mapped_column(String(48))
    plants_min: Mapped[int | None] = mapped_column(SmallInteger)  # the floor
    every_days: Mapped[int | None] = mapped_column(SmallInteger)
    from_on: Mapped[dt.date]
    until_on: Mapped[dt.date | None]
    constraints = (
        ref("unit_id", "unit"),
        ref("crop", "crop", "code"),
        ref("taxon", "taxon", "code"),
        ref("stage", "stage", "code"),
        ref("method", "method", "code"),
        check("scope", "(unit_id IS NULL) <> (crop IS NULL)"),
        Index("ix_target_unit", "operation_id", "unit_id"),
    )


class ClimateLog(Record):
    """A logger file or a day of thermometer readings: one document, many lines."""

    __tablename__ = "climate_log"
    station_id: Mapped[uuid.UUID]
    source: Mapped[str]
    constraints = (ref("station_id", "station"),)
    # loaded only when asked for: a log of a year has some 35,000
    lines: Mapped[list[Climate]] = relationship(cascade="all, delete-orphan", order_by="Climate.at")


class Climate(Line):
    __tablename__ = "climate"
    station_id: Mapped[uuid.UUID] = key()
    at: Mapped[dt.datetime] = key()
    log_id: Mapped[uuid.UUID]
    span_s: Mapped[int] = mapped_column(default=0)  # 0 an instant; 86400 a day's low and high
    temp_c: Mapped[float | None]
    temp_min_c: Mapped[float | None]
    temp_max_c: Mapped[float | None]
    rh_percent: Mapped[float | None]
    implausible: Mapped[bool] = mapped_column(default=False)
    owner = ("climate_log", "log_id")
    constraints = (
        ref("log_id", "climate_log"),
        ref("station_id", "station"),
        check("rh", "rh_percent BETWEEN 0 AND 100"),
        Index("ix_climate_log", "operation_id", "log_id"),
    )
