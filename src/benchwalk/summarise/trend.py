"""One pest, stage and method over the walks of a unit and of those it succeeded."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from sqlalchemy import ColumnElement, and_, select
from sqlalchemy.orm import Session

from benchwalk.records import Application, Load, Treated
from benchwalk.summarise.dispersion import learned
from benchwalk.summarise.gathered import Gathered
from benchwalk.summarise.series import SAMPLE, Key, Series, all_series
from benchwalk.summarise.week import Density, densities_of


@dataclass(frozen=True)
class Point:
    """One day's density, in the unit that stood there then.

    A day on which nobody looked has no point; a point whose mean is NaN says why in its density.
    """

    on: dt.date
    unit_id: uuid.UUID
    density: Density
    at_least: bool


@dataclass(frozen=True)
class Marked:
    """A treatment of the unit, or of one it succeeded, to be marked in the trend."""

    on: dt.date
    unit_id: uuid.UUID
    kind: str
    what: str
    active: str | None
    against: str | None
    share_percent: int


@dataclass(frozen=True)
class Trend:
    """Densities of one quantity by day, oldest first, and the treatments among them."""

    key: Key
    per: str
    points: tuple[Point, ...]
    treatments: tuple[Marked, ...]


def trend(session: Session, known: Gathered, key: Key) -> Trend | None:
    """The trend of a key up to the day of what was gathered; None when it was never counted.

    Only days counted in the quantity of the newest one are in it: a card whose days out are not
    said has no place among catches a week.
    """
    keys = {replace(key, unit_id=unit) for unit in known.unit_line(key.unit_id)}
    sample = [s for s in all_series(known) if s.why == SAMPLE]
    mine = sorted((s for s in sample if s.key in keys), key=lambda s: s.on)
    if not mine:
        return None
    per = mine[-1].per
    alike = [s for s in mine if s.per == per]
    points = points_of(known, alike, sample)
    return Trend(key, per, points, tuple(treatments(session, known, {k.unit_id for k in keys})))


def points_of(
    known: Gathered, series: Sequence[Series], sample: Sequence[Series]
) -> tuple[Point, ...]:
    """The densities of some series, each with the spread that rounds before it taught."""
    densities = densities_of(series, learned(known, series, sample))
    return tuple(
        Point(s.on, s.key.unit_id, d, s.at_least) for s, d in zip(series, densities, strict=True)
    )


def treatments(session: Session, known: Gathered, units: set[uuid.UUID]) -> list[Marked]:
    """Loads put out on some units up to the day, by day of the operation's own zone."""
    found = (
        select(
            Load.started_at,
            Treated.unit_id,
            Application.kind,
            Application.what,
            Application.active,
            Application.taxon,
            Treated.share_percent,
        )
        .select_from(Application)
        .join(Load, _part(Load))
        .join(Treated, and_(_part(Treated), Treated.n == Load.n))
        .where(Treated.unit_id.in_(units))
        .order_by(Load.started_at)
    )
    zone = ZoneInfo(known.zone)
    marked = [Marked(row[0].astimezone(zone).date(), *row[1:]) for row in session.execute(found)]
    return [m for m in marked if m.on <= known.day]


def _part(line: type[Load] | type[Treated]) -> ColumnElement[bool]:
    return and_(
        line.operation_id == Application.operation_id, line.application_id == Application.id
    )
