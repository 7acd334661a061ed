"""Looks at plants, added up by walk and unit."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Collection
from typing import NamedTuple

from sqlalchemy import ColumnElement, and_, case, func, literal, null, or_, select
from sqlalchemy.orm import Session

from benchwalk.records.joins import Units, in_effort, of, one_of
from benchwalk.records.seen import Examined, Observation, Tally, Walk


class Round(NamedTuple):
    """The looks of one walk at one unit for one pest, stage and method, added up.

    Attributes
    ----------
    plants : plants inspected; None when any look does not say how many.
    items : leaves, flowers ... inspected; None when any look does not say.
    total : individuals; None when nothing was counted (present only, or means only).
    infested : plants with any; None when a pooled look does not say how many of its plants.
    capped, present, means : looks that say "at least", "present" or only a mean.
    singles, singles_total, singles_squares : looks at one plant with an exact count, the sum of
        those counts and of their squares: what a dispersion is learned from.
    assumed : looks whose way of choosing the plant was assumed, not said.
    """

    walk_id: uuid.UUID
    walk_on: dt.date
    unit_id: uuid.UUID
    taxon: str
    stage: str
    method: str
    why: str
    looks: int
    plants: int | None
    items: int | None
    total: int | None
    infested: int | None
    capped: int
    present: int
    means: int
    weighted_mean: float | None
    singles: int
    singles_total: int
    singles_squares: int
    assumed: int


def rounds(
    session: Session,
    since: dt.date,
    until: dt.date,
    units: Units | None = None,
    walks: Collection[uuid.UUID] | None = None,
) -> list[Round]:
    """Every round from ``since`` to ``until`` (both included), cards and traps left out.

    ``units`` and ``walks``, here and in the other questions, keep to some of them; None is all.
    """
    exact_single = and_(Observation.plants == 1, Tally.how == "counted")
    unsaid_infested = and_(
        or_(Observation.plants.is_(None), Observation.plants > 1),
        Tally.infested.is_(None),
        or_(Tally.how != "counted", Tally.number > 0),
    )
    found = or_(Tally.how == "present", Tally.number > 0, Tally.mean > 0)
    query = (
        select(
            Walk.id,
            Walk.walk_on,
            Observation.unit_id,
            Tally.taxon,
            Tally.stage,
            Tally.method,
            Observation.why,
            func.count(),
            case((func.count() == func.count(Observation.plants), func.sum(Observation.plants))),
            case((func.count() == func.count(Examined.items), func.sum(Examined.items))),
            func.sum(Tally.number),
            case(
                (
                    _how_many(unsaid_infested) == 0,
                    func.sum(func.coalesce(Tally.infested, case((found, 1), else_=0))),
                ),
                else_=null(),
            ),
            _how_many(Tally.how == "at_least"),
            _how_many(Tally.how == "present"),
            _how_many(Tally.how == "density"),
            func.sum(Tally.mean * Observation.plants),
            _how_many(exact_single),
            func.sum(case((exact_single, Tally.number), else_=0)),
            func.sum(case((exact_single, Tally.number * Tally.number), else_=0)),
            _how_many(Observation.why_assumed.is_(True)),
        )
        .select_from(Walk)
        .join(Observation, of(Walk, Observation, "walk_id"))
        .join(Examined, of(Observation, Examined, "observation_id"))
        .join(Tally, in_effort())
        .where(
            Walk.walk_on.between(since, until),
            Observation.kind == "look",
            one_of(Observation.unit_id, units),
            one_of(Observation.walk_id, walks),
        )
        .group_by(
            Walk.id,
            Walk.walk_on,
            Observation.unit_id,
            Tally.taxon,
            Tally.stage,
            Tally.method,
            Observation.why,
        )
    )
    return [Round._make(row) for row in session.execute(query)]


def _how_many(condition: ColumnElement[bool]) -> ColumnElement[int]:
    return func.sum(case((condition, 1), else_=0))


class Effort(NamedTuple):
    """What was looked at on one visit, whatever was looked for.

    `plants` counts each plant once; `empty` those of looks that found nothing at all and so hold
    no tally: looked, none, of every pest that the visit counted in that way.
    """

    walk_id: uuid.UUID
    walk_on: dt.date
    unit_id: uuid.UUID
    method: str
    looks: int
    plants: int | None
    empty_looks: int
    empty_plants: int | None
    empty_items: int | None


def efforts(
    session: Session,
    since: dt.date,
    until: dt.date,
    units: Units | None = None,
    walks: Collection[uuid.UUID] | None = None,
) -> list[Effort]:
    """Sample looks per walk, unit and method, empty ones one_of them."""
    tallied = (
        select(literal(1))
        .where(
            Tally.operation_id == Examined.operation_id,
            Tally.observation_id == Examined.observation_id,
        )
        .exists()
    )
    empty = case((~tallied, 1), else_=0)
    query = (
        select(
            Walk.id,
            Walk.walk_on,
            Observation.unit_id,
            Examined.method,
            func.count(),
            case((func.count() == func.count(Observation.plants), func.sum(Observation.plants))),
            func.sum(empty),
            func.sum(case((~tallied, Observation.plants), else_=0)),
            func.sum(case((~tallied, Examined.items), else_=0)),
        )
        .select_from(Walk)
        .join(Observation, of(Walk, Observation, "walk_id"))
        .join(Examined, of(Observation, Examined, "observation_id"))
        .where(
            Walk.walk_on.between(since, until),
            Observation.kind == "look",
            Observation.why == "sample",
            one_of(Observation.unit_id, units),
            one_of(Observation.walk_id, walks),
        )
        .group_by(Walk.id, Walk.walk_on, Observation.unit_id, Examined.method)
    )
    return [Effort._make(row) for row in session.execute(query)]


def first_found(
    session: Session, until: dt.date, walks: Collection[uuid.UUID] | None = None
) -> dict[tuple[uuid.UUID, str], dt.date]:
    """The first day each taxon was ever found in each unit, in any way of looking."""
    found = or_(Tally.how == "present", Tally.number > 0, Tally.mean > 0)
    query = (
        select(Observation.unit_id, Tally.taxon, func.min(Walk.walk_on))
        .join(Observation, of(Walk, Observation, "walk_id"))
        .join(Tally, of(Observation, Tally, "observation_id"))
        .where(Walk.walk_on <= until, found, one_of(Observation.walk_id, walks))
        .group_by(Observation.unit_id, Tally.taxon)
    )
    return {(unit, taxon): on for unit, taxon, on in session.execute(query)}
