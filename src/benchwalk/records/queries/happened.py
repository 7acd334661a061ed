"""What happened to some units besides counts, all of it in one question.

A page may ask only a few questions, so treatments, sightings, flags and temperatures come as rows
of one shape and are told apart here.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Float,
    String,
    and_,
    cast,
    func,
    literal,
    null,
    or_,
    select,
    union_all,
)
from sqlalchemy.orm import Session

from benchwalk.records.compared import Climate
from benchwalk.records.joins import Units, of, one_of, person_name
from benchwalk.records.operations import Ledger, Person
from benchwalk.records.places import House, Station, Unit
from benchwalk.records.seen import Flag, Observation, Sighting, Walk
from benchwalk.records.treated import Application, Load, Treated


@dataclass(frozen=True)
class Put:
    """One load of a treatment, put out on a unit."""

    application_id: uuid.UUID
    at: dt.datetime
    unit_id: uuid.UUID
    kind: str
    what: str
    active: str | None
    moa_group: str | None
    effect: str | None
    against: str | None
    share_percent: int


@dataclass(frozen=True)
class Sighted:
    """Something unlooked-for, as it was written down; ``photo`` is the name of its picture."""

    id: uuid.UUID
    at: dt.datetime
    unit_id: uuid.UUID
    cause: str
    taxon: str | None
    pattern: str | None
    position: str | None
    words: str | None
    photo: str | None
    by: str | None


@dataclass(frozen=True)
class Marking:
    """A flag, and one mark that a look gave it: set, confirmed or cleared; None: no look did."""

    id: uuid.UUID
    at: dt.datetime | None
    unit_id: uuid.UUID
    colour: str
    reason: str
    position: str | None
    mark: str | None
    by: str | None


@dataclass(frozen=True)
class Degrees:
    """Air temperature at a station: a day's low and high, or one reading (both the same) [degC]."""

    at: dt.datetime
    low_c: float
    high_c: float


@dataclass
class Happened:
    """What there is of some units, each kind in order of its time."""

    put: list[Put] = field(default_factory=list)
    sighted: list[Sighted] = field(default_factory=list)
    markings: list[Marking] = field(default_factory=list)
    degrees: list[Degrees] = field(default_factory=list)


def happened(
    session: Session,
    since: dt.datetime,
    until: dt.datetime,
    units: Units | None = None,
    here: uuid.UUID | None = None,
) -> Happened:
    """Treatments, sightings, flags and temperatures of some units from an instant to another.

    Flags are those with any mark up to then, and those that no look ever named. Temperatures are
    of the sensors in the air space of the unit ``here``, or in the unit itself where it has no
    house; without ``here`` there are none.
    """
    asked = [_put(units), _sighted(units), _markings(units)]
    asked += [] if here is None else [_degrees(here)]
    found = union_all(*asked).subquery()
    begun = or_(found.c.what == "flag", found.c.at >= since)
    wanted = or_(found.c.at.is_(None), and_(begun, found.c.at < until))
    held = Happened()
    for row in session.execute(select(found).where(wanted).order_by(found.c.at, found.c.record)):
        _file(held, row)
    return held


_TEXTS = ("a", "b", "c", "d", "e", "f", "g")


def _row(
    what: str,
    at: Any,
    record: Any,
    unit: Any,
    *,
    texts: Sequence[Any] = (),
    numbers: Sequence[Any] = (),
) -> Any:
    padded = [*texts, *[null()] * (len(_TEXTS) - len(texts))]
    low, high = numbers or (null(), null())
    return select(
        literal(what).label("what"),
        at.label("at"),
        record.label("record"),
        unit.label("unit"),
        *(cast(text, String).label(name) for name, text in zip(_TEXTS, padded, strict=True)),
        cast(low, Float).label("low"),
        cast(high, Float).label("high"),
    )


def _put(units: Units | None) -> Any:
    a = Application
    texts = (a.kind, a.what, a.active, a.moa_group, a.effect, a.taxon)
    numbers = (Treated.share_percent, null())
    return (
        _row("put", Load.started_at, a.id, Treated.unit_id, texts=texts, numbers=numbers)
        .select_from(a)
        .join(Load, _part(Load))
        .join(Treated, and_(_part(Treated), Treated.n == Load.n))
        .where(one_of(Treated.unit_id, units))
    )


def _part(line: type[Load] | type[Treated]) -> ColumnElement[bool]:
    return of(Application, line, "application_id")


def _sighted(units: Units | None) -> Any:
    s, said = Sighting, Ledger
    by = person_name(Person)
    texts = (s.cause, s.taxon, s.pattern, s.position, s.words, s.photo_sha256, by)
    first = and_(said.operation_id == s.operation_id, said.id == s.id, said.rev == 1)
    person = of(Person, said, "by_id")
    return (
        _row("sighting", s.seen_at, s.id, s.unit_id, texts=texts)
        .select_from(s)
        .outerjoin(said, first)
        .outerjoin(Person, person)
        .where(one_of(s.unit_id, units))
    )


def _markings(units: Units | None) -> Any:
    by = person_name(Person)
    texts = (Flag.colour, Flag.reason, Flag.position, Observation.flag_mark, by)
    person = of(Person, Walk, "scout_id")
    return (
        _row("flag", Observation.seen_at, Flag.id, Flag.unit_id, texts=texts)
        .select_from(Flag)
        .outerjoin(Observation, of(Flag, Observation, "flag_id"))
        .outerjoin(Walk, of(Walk, Observation, "walk_id"))
        .outerjoin(Person, person)
        .where(one_of(Flag.unit_id, units))
    )


def _degrees(here: uuid.UUID) -> Any:
    air = (
        select(House.air_space_id)
        .join(Unit, of(House, Unit, "house_id"))
        .where(Unit.id == here)
        .scalar_subquery()
    )
    low = func.coalesce(Climate.temp_min_c, Climate.temp_c)
    high = func.coalesce(Climate.temp_max_c, Climate.temp_c)
    return (
        _row("degrees", Climate.at, Climate.station_id, Station.unit_id, numbers=(low, high))
        .select_from(Climate)
        .join(Station, of(Station, Climate, "station_id"))
        .join(Unit, of(Unit, Station, "unit_id"))
        .outerjoin(House, of(House, Unit, "house_id"))
        .where(
            (House.air_space_id == air) | (Unit.id == here),
            Climate.implausible.is_(False),
            low.is_not(None),
            high.is_not(None),
        )
    )


def _file(held: Happened, row: Any) -> None:
    texts = [getattr(row, name) for name in _TEXTS]
    if row.what == "put":
        held.put.append(Put(row.record, row.at, row.unit, *[*texts[:6], int(row.low)]))
    elif row.what == "sighting":
        held.sighted.append(Sighted(row.record, row.at, row.unit, *texts))
    elif row.what == "flag":
        held.markings.append(Marking(row.record, row.at, row.unit, *texts[:5]))
    else:
        held.degrees.append(Degrees(row.at, row.low, row.high))
