"""Readings of cards, discs and traps: what is new on each."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, and_, case, func, select
from sqlalchemy.orm import Session

from benchwalk.records.places import Station
from benchwalk.records.queries.joins import Units, of, one_of
from benchwalk.records.seen import Card, Examined, Observation, Tally, Walk

_DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class Caught:
    """One pest and stage on one card (disc, trap) at one reading: what is new on it.

    `fresh` is None when a count since hanging fell below the one before: for a person to settle.
    `days` is None when the card's day out was never said.
    """

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
    the difference from the reading before, when that counted all as well. Days are those of the
    clock on the wall: a card out from noon to noon hung seven days, also when the clocks change.
    """
    whole = case((Observation.counted == "all", Tally.number))
    readings = (
        select(
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
            _before(whole).label("before"),
            _before(Observation.seen_at).label("before_at"),
        )
        .select_from(Walk)
        .join(Observation, of(Walk, Observation, "walk_id"))
        .join(Examined, of(Observation, Examined, "observation_id"))
        .join(
            Tally,
            and_(
                Tally.operation_id == Examined.operation_id,
                Tally.observation_id == Examined.observation_id,
                Tally.method == Examined.method,
            ),
        )
        .join(
            Card,
            and_(Card.operation_id == Observation.operation_id, Card.id == Observation.card_id),
        )
        .join(
            Station,
            and_(Station.operation_id == Card.operation_id, Station.id == Card.station_id),
        )
        .where(
            Walk.walk_on <= until,
            one_of(Observation.unit_id, units),
            one_of(Observation.card_id, cards),
        )
    )
    return [_caught(row, zone) for row in session.execute(readings) if row.walk_on >= since]


def _wall(at: dt.datetime, zone: dt.tzinfo) -> dt.datetime:
    return at.astimezone(zone).replace(tzinfo=None)


def _before(column: Any) -> ColumnElement[Any]:
    """The same column at the card's reading before."""
    card = [Observation.card_id, Tally.taxon, Tally.stage]
    return func.lag(column, type_=column.type).over(partition_by=card, order_by=Observation.seen_at)


def _caught(row: Any, zone: dt.tzinfo) -> Caught:
    begun = row.before_at if row.before_at is not None else row.hung_at
    fresh = row.number
    if row.counted == "all" and row.before is not None and row.number is not None:
        fresh = row.number - row.before if row.number >= row.before else None
    days = None if begun is None else (_wall(row.seen_at, zone) - _wall(begun, zone)) / _DAY
    return Caught(
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
