"""One pest, stage and method over the walks of a unit and of those it succeeded."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from benchwalk.records import queries
from benchwalk.summarise.dispersion import learned
from benchwalk.summarise.gathered import Gathered
from benchwalk.summarise.series import History, Key, Series, all_series
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
    done = treatments(session, known, set(known.unit_line(key.unit_id)))
    return trend_of(known, key, all_series(known), done)


def trend_of(known: Gathered, key: Key, history: History, done: Sequence[Marked]) -> Trend | None:
    """The same out of series and treatments at hand, which may be of more units than the key's."""
    units = set(known.unit_line(key.unit_id))
    keys = [replace(key, unit_id=unit) for unit in units]
    mine = sorted((s for k in keys for s in history.of(k)), key=lambda s: s.on)
    if not mine:
        return None
    per = mine[-1].per
    alike = [s for s in mine if s.per == per]
    here = tuple(m for m in done if m.unit_id in units)
    return Trend(key, per, points_of(known, alike, history), here)


def points_of(known: Gathered, series: Sequence[Series], history: History) -> tuple[Point, ...]:
    """The densities of some series, each with the spread that rounds before it taught."""
    densities = densities_of(series, learned(known, series, history))
    return tuple(
        Point(s.on, s.key.unit_id, d, s.at_least) for s, d in zip(series, densities, strict=True)
    )


def treatments(session: Session, known: Gathered, units: set[uuid.UUID]) -> list[Marked]:
    """Loads put out on some units up to the day, by day of the operation's own zone."""
    end = dt.datetime.combine(known.day + dt.timedelta(days=1), dt.time(), known.clock)
    begin = dt.datetime(1900, 1, 1, tzinfo=dt.UTC)
    return marked(queries.happened(session, begin, end, units), known.clock)


def marked(held: queries.Happened, zone: ZoneInfo) -> list[Marked]:
    """Treatments as marks of a trend, in order of their time."""
    return [
        Marked(
            on=p.at.astimezone(zone).date(),
            unit_id=p.unit_id,
            kind=p.kind,
            what=p.what,
            active=p.active,
            against=p.against,
            share_percent=p.share_percent,
        )
        for p in held.put
    ]
