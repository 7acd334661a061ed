"""Walks, and what was seen on them. Effort (examined) is the parent of every count (tally)."""

from __future__ import annotations

import datetime as dt
import uuid

from sqlalchemy import (
    ForeignKeyConstraint,
    Index,
    SmallInteger,
    String,
    UniqueConstraint,
    text,
)
from sqlalchemy.orm import Mapped, mapped_column, relationship

from benchwalk.records.base import Line, Record, among, check, key, ref


def _where(name: str, *columns: str, sql: str, unique: bool = False) -> Index:
    return Index(name, *columns, unique=unique, sqlite_where=text(sql), postgresql_where=text(sql))


class Card(Record):
    """One physical card, disc or trap at a station."""

    __tablename__ = "card"
    station_id: Mapped[uuid.UUID]
    method: Mapped[str] = mapped_column(String(48))
    hung_at: Mapped[dt.datetime | None]  # none: the sheet it came from never says
    taken_at: Mapped[dt.datetime | None]  # none: it hangs
    constraints = (
        ref("station_id", "station"),
        ref("method", "method", "code"),
        check("days", "taken_at IS NULL OR hung_at IS NULL OR taken_at > hung_at"),
        check("hung", "taken_at IS NOT NULL OR hung_at IS NOT NULL"),
        _where(
            "uq_card_hanging",
            "operation_id",
            "station_id",
            "method",
            sql="taken_at IS NULL",
            unique=True,
        ),
    )


class Walk(Record):
    """One round of one scout on one day. Its route is the office's word; its visits the scout's."""

    __tablename__ = "walk"
    walk_on: Mapped[dt.date]
    scout_id: Mapped[uuid.UUID | None]  # none: the sheet it came from never says
    device_id: Mapped[uuid.UUID | None]
    constraints = (
        ref("scout_id", "person"),
        ref("device_id", "device"),
        Index("ix_walk_day", "operation_id", "walk_on"),
    )
    route: Mapped[list[Route]] = relationship(
        cascade="all, delete-orphan", order_by="Route.place", lazy="selectin"
    )


class Route(Line):
    __tablename__ = "route"
    walk_id: Mapped[uuid.UUID] = key()
    unit_id: Mapped[uuid.UUID] = key()
    place: Mapped[int] = mapped_column(SmallInteger)  # order of walking
    depth: Mapped[str] = mapped_column(default="full")
    plants: Mapped[int | None] = mapped_column(SmallInteger)
    owner = ("walk", "walk_id")
    constraints = (
        ref("walk_id", "walk"),
        ref("unit_id", "unit"),
        among("depth", "full", "cards", "glance"),
    )


class Visit(Record):
    """What a walk says of one unit: looked, cut short, or not looked and why. None: no word."""

    __tablename__ = "visit"
    walk_id: Mapped[uuid.UUID]
    unit_id: Mapped[uuid.UUID]
    state: Mapped[str]
    reason: Mapped[str | None]
    started_at: Mapped[dt.datetime | None]
    ended_at: Mapped[dt.datetime | None]
    fast: Mapped[bool] = mapped_column(default=False)
    note: Mapped[str | None]
    constraints = (
        ref("walk_id", "walk"),
        ref("unit_id", "unit"),
        UniqueConstraint("operation_id", "walk_id", "unit_id"),
        Index("ix_visit_unit", "operation_id", "unit_id"),
        among("state", "open", "done", "cut_short", "skipped"),
        check("reason", "state IN ('open', 'done') OR reason IS NOT NULL"),
        check("times", "ended_at IS NULL OR ended_at >= started_at"),
    )


class Flag(Record):
    """A coloured flag at a plant. Set, confirmed and cleared by looks."""

    __tablename__ = "flag"
    unit_id: Mapped[uuid.UUID]
    colour: Mapped[str]
    reason: Mapped[str]
    position: Mapped[str | None]
    constraints = (ref("unit_id", "unit"), Index("ix_flag_unit", "operation_id", "unit_id"))


class Observation(Record):
    """A look (plants) or a reading (a card): what a tally hangs on. It belongs to a visit."""

    __tablename__ = "observation"
    kind: Mapped[str] = mapped_column(String(8))
    walk_id: Mapped[uuid.UUID]
    unit_id: Mapped[uuid.UUID]
    seen_at: Mapped[dt.datetime]
    why: Mapped[str] = mapped_column(String(9))
    why_assumed: Mapped[bool] = mapped_column(
        default=False
    )  # sheets do not say how plants were chosen
    # one plant; n pooled ("clean x5"); 0 a reading; none: how many was not said
    plants: Mapped[int | None] = mapped_column(SmallInteger)
    planting_id: Mapped[uuid.UUID | None]
    position: Mapped[str | None]  # bench.row.plant, or the plant's number on a sheet
    station_id: Mapped[uuid.UUID | None]  # an indicator plant
    card_id: Mapped[uuid.UUID | None]
    since: Mapped[str | None] = mapped_column(String(6))  # reading: hung, or the last reading
    counted: Mapped[str | None] = mapped_column(String(4))  # reading: all insects, or new ones only
    state: Mapped[str | None] = mapped_column(String(10))  # reading: state of the card
    flag_id: Mapped[uuid.UUID | None]
    flag_mark: Mapped[str | None] = mapped_column(String(9))
    note: Mapped[str | None]
    constraints = (
        ForeignKeyConstraint(
            ["operation_id", "walk_id", "unit_id"],
            ["visit.operation_id", "visit.walk_id", "visit.unit_id"],
        ),
        ref("planting_id", "planting"),
        ref("station_id", "station"),
        ref("card_id", "card"),
        ref("flag_id", "flag"),
        among("kind", "look", "reading"),
        among("why", "sample", "flagged", "edge", "indicator", "recheck", "search"),
        among("state", "ok", "wet", "full", "missing", "fallen", "unreadable"),
        among("since", "hung", "last"),
        among("counted", "all", "new"),
        among("flag_mark", "set", "confirmed", "cleared"),
        check("flag", "(flag_id IS NULL) = (flag_mark IS NULL)"),
        check(
            "look",
            "kind <> 'look' OR (coalesce(plants, 1) > 0 AND card_id IS NULL AND state IS NULL"
            " AND since IS NULL AND counted IS NULL)",
        ),
        check(
            "reading",
            "kind <> 'reading' OR (coalesce(plants, -1) = 0 AND card_id IS NOT NULL"
            " AND state IS NOT NULL AND planting_id IS NULL"
            " AND (state IN ('missing', 'fallen', 'unreadable')) = (since IS NULL)"
            " AND (since IS NULL) = (counted IS NULL)"
            " AND NOT (since = 'last' AND counted = 'all'))",
        ),
        Index("ix_observation_visit", "operation_id", "walk_id", "unit_id"),
        _where(
            "ix_observation_card",
            "operation_id",
            "card_id",
            "seen_at",
            sql="card_id IS NOT NULL",
        ),
        _where(
            "ix_observation_planting",
            "operation_id",
            "planting_id",
            sql="planting_id IS NOT NULL",
        ),
    )
    examined: Mapped[list[Examined]] = relationship(cascade="all, delete-orphan", lazy="selectin")


class Examined(Line):
    """Effort: this part was examined, in this way. No row here, no tally and so no zero."""

    __tablename__ = "examined"
    observation_id: Mapped[uuid.UUID] = key()
    method: Mapped[str] = key(String(48))
    items: Mapped[int | None] = mapped_column(SmallInteger)  # leaves, flowers, squares counted
    of_items: Mapped[int | None] = mapped_column(SmallInteger)  # squares printed
    owner = ("observation", "observation_id")
    constraints = (
        ref("observation_id", "observation"),
        ref("method", "method", "code"),
        check("items", "items > 0 AND (of_items IS NULL OR items <= of_items)"),
    )
    tallies: Mapped[list[Tally]] = relationship(cascade="all, delete-orphan", lazy="selectin")


class Tally(Line):
    """The number of one taxon at one stage, where it was examined."""

    __tablename__ = "tally"
    observation_id: Mapped[uuid.UUID] = key()
    method: Mapped[str] = key(String(48))
    taxon: Mapped[str] = key(String(48))
    stage: Mapped[str] = key(String(48))
    how: Mapped[str] = mapped_column(String(8), default="counted")
    number: Mapped[int | None]
    mean: Mapped[float | None]  # how = density: the sheet gives only a mean per plant or card
    infested: Mapped[int | None] = mapped_column(SmallInteger)  # plants of a batch with any
    rating: Mapped[int | None] = mapped_column(SmallInteger)  # severity, on the method's scale
    owner = ("observation", "observation_id")
    constraints = (
        ForeignKeyConstraint(
            ["operation_id", "observation_id", "method"],
            ["examined.operation_id", "examined.observation_id", "examined.method"],
        ),
        ref("taxon", "taxon", "code"),
        ref("stage", "stage", "code"),
        among("how", "counted", "at_least", "present", "density"),
        check("number", "(how IN ('present', 'density')) = (number IS NULL)"),
        check("mean", "(how = 'density') = (mean IS NOT NULL) AND (mean IS NULL OR mean >= 0)"),
        check("sign", "number >= 0 AND (how <> 'at_least' OR number > 0)"),
        check(
            "infested",
            "infested >= 0 AND (how <> 'present' OR infested > 0)"
            " AND (number IS NULL OR infested <= number)",
        ),
    )


class Sighting(Record):
    """Something unlooked-for, in words."""

    __tablename__ = "sighting"
    unit_id: Mapped[uuid.UUID]
    walk_id: Mapped[uuid.UUID | None]
    seen_at: Mapped[dt.datetime]
    cause: Mapped[str]
    taxon: Mapped[str | None] = mapped_column(String(48))
    pattern: Mapped[str | None]
    position: Mapped[str | None]
    words: Mapped[str | None]
    photo_sha256: Mapped[str | None] = mapped_column(String(64))
    constraints = (
        ref("unit_id", "unit"),
        ref("walk_id", "walk"),
        ref("taxon", "taxon", "code"),
        among("cause", "pest", "disease", "abiotic", "spray_injury", "not_known"),
    )


class Identification(Record):
    """An opinion with a date: what was called `was` there and then is `taxon`.

    An overlay read by queries; no tally is rewritten.
    """

    __tablename__ = "identification"
    was: Mapped[str] = mapped_column(String(48))
    taxon: Mapped[str] = mapped_column(String(48))
    air_space_id: Mapped[uuid.UUID | None]
    unit_id: Mapped[uuid.UUID | None]
    from_on: Mapped[dt.date]
    until_on: Mapped[dt.date | None]
    by_id: Mapped[uuid.UUID]
    confidence: Mapped[str]
    constraints = (
        ref("was", "taxon", "code"),
        ref("taxon", "taxon", "code"),
        ref("air_space_id", "air_space"),
        ref("unit_id", "unit"),
        ref("by_id", "person"),
        among("confidence", "sure", "likely", "guess"),
        check("changes", "was <> taxon"),
        check("days", "until_on IS NULL OR until_on > from_on"),
    )
