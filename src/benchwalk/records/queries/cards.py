"""Readings of cards, discs and traps: what is new on each."""

from __future__ import annotations

import datetime as dt
import uuid
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from benchwalk.records.joins import Units, in_effort, of, one_of
from benchwalk.records.places import Station
from benchwalk.records.seen import Card, Examined, Observation, Tally, Walk

_DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class Caught:
    """One pest and stage on one card (disc, trap) at one reading: what is new on it.

    `fresh` is None when a count since hanging fell below the one before: for a person to settle.
    `days` is None when the card's day out was never said.
    """

    reading_id: uuid.UUID
    walk_id: uuid.UUID
    walk_on: dt.date
    unit_id: uuid.UUID
    card_id: uuid.UUID
    station: str
    role: str
    taxon: str
    stage: str
    method: str
    how: str
    fresh: int | None
    mean: float | None
    days: float | None
    squares: int | None
    of_squares: int | None
    state: str
    assumed_why: bool


def catches(
    session: Session,
    since: dt.date,
    until: dt.date,
    zone: dt.tzinfo,
    units: Units | None = None,
    cards: Collection[uuid.UUID] | None = None,
) -> list[Caught]:
    """Every reading of a card from ``since`` to ``until``: fresh catch, days, squares.

    A reading of all insects since the card was hung holds the earlier ones too; what is fresh is
    the difference from the last reading before that counted all of it as well, and came since
    then. New ones since the last reading came since the card was last read, whatever of. Days are
    those of the clock on the wall: a card out from noon to noon hung seven days, also when the
    clocks change.
    """
    readings = (
        select(
            Observation.id.label("reading_id"),
            Walk.id.label("walk_id"),
            Walk.walk_on,
            Observation.unit_id,
            Observation.card_id,
            Station.code.label("station"),
            Station.role,
            Tally.taxon,
            Tally.stage,
            Tally.method,
            Tally.how,
            Tally.number,
            Tally.mean,
            Observation.counted,
            Observation.since,
            Observation.seen_at,
            Observation.state,
            Observation.why_assumed,
            Card.hung_at,
            Examined.items,
            Examined.of_items,
            _before(Tally.number).label("before"),
            _before(Observation.seen_at).label("before_at"),
        )
        .select_from(Walk)
        .join(Observation, of(Walk, Observation, "walk_id"))
        .join(Examined, of(Observation, Examined, "observation_id"))
        .join(Tally, in_effort())
        .join(Card, of(Card, Observation, "card_id"))
        .join(Station, of(Station, Card, "station_id"))
        .where(
            Walk.walk_on <= until,
            one_of(Observation.unit_id, units),
            one_of(Observation.card_id, cards),
        )
    )
    rows = session.execute(readings).all()
    read: dict[uuid.UUID, set[dt.datetime]] = defaultdict(set)
    for row in rows:
        read[row.card_id].add(row.seen_at)
    times = {card: sorted(at) for card, at in read.items()}
    return [_caught(row, zone, times[row.card_id]) for row in rows if row.walk_on >= since]


def _wall(at: dt.datetime, zone: dt.tzinfo) -> dt.datetime:
    return at.astimezone(zone).replace(tzinfo=None)


def _before(column: Any) -> ColumnElement[Any]:
    """The same column at the card's reading before that counted as this one does."""
    card = [Observation.card_id, Observation.counted, Tally.taxon, Tally.stage]
    return func.lag(column, type_=column.type).over(partition_by=card, order_by=Observation.seen_at)


def _begun(row: Any, times: Sequence[dt.datetime]) -> dt.datetime | None:
    """Since when what a reading counts has come; None where the card's day out is not said.

    ``times`` are those at which the card was read, in order.
    """
    hung: dt.datetime | None = row.hung_at
    if row.since == "last":
        earlier = bisect_left(times, row.seen_at)
        return times[earlier - 1] if earlier else hung
    whole = row.counted == "all" and row.before is not None and row.number is not None
    return row.before_at if whole else hung


def _caught(row: Any, zone: dt.tzinfo, times: Sequence[dt.datetime]) -> Caught:
    begun = _begun(row, times)
    fresh = row.number
    if row.counted == "all" and row.before is not None and row.number is not None:
        fresh = row.number - row.before if row.number >= row.before else None
    days = None if begun is None else (_wall(row.seen_at, zone) - _wall(begun, zone)) / _DAY
    return Caught(
        reading_id=row.reading_id,
        walk_id=row.walk_id,
        walk_on=row.walk_on,
        unit_id=row.unit_id,
        card_id=row.card_id,
        station=row.station,
        role=row.role,
        taxon=row.taxon,
        stage=row.stage,
        method=row.method,
        how=row.how,
        fresh=fresh,
        mean=row.mean,
        days=days,
        squares=row.items,
        of_squares=row.of_items,
        state=row.state,
        assumed_why=row.why_assumed,
    )
