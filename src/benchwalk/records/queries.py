"""Named questions to the records. Only current rows live in these tables; none filters by rev.

Each returns frozen rows; sums are made in SQL, so that a season comes back as hundreds of rows
and not as every plant that was looked at.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, and_, case, func, literal, null, or_, select
from sqlalchemy.orm import Session

from benchwalk.records.base import Record, Scoped
from benchwalk.records.compared import Threshold, threshold_key
from benchwalk.records.places import House, Station, Unit
from benchwalk.records.plants import Movement, Phase, Planting
from benchwalk.records.seen import Card, Examined, Observation, Route, Tally, Visit, Walk

_DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class Round:
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


def rounds(session: Session, since: dt.date, until: dt.date) -> list[Round]:
    """Every round from ``since`` to ``until`` (both included), cards and traps left out."""
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
        .join(Observation, _of(Walk, Observation, "walk_id"))
        .join(Examined, _of(Observation, Examined, "observation_id"))
        .join(
            Tally,
            and_(
                Tally.operation_id == Examined.operation_id,
                Tally.observation_id == Examined.observation_id,
                Tally.method == Examined.method,
            ),
        )
        .where(Walk.walk_on.between(since, until), Observation.kind == "look")
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
    return [Round(*row) for row in session.execute(query)]


def _how_many(condition: ColumnElement[bool]) -> ColumnElement[int]:
    return func.sum(case((condition, 1), else_=0))


def _of(parent: type[Record], child: type[Scoped], column: str) -> ColumnElement[bool]:
    return and_(child.operation_id == parent.operation_id, getattr(child, column) == parent.id)


@dataclass(frozen=True)
class Effort:
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


def efforts(session: Session, since: dt.date, until: dt.date) -> list[Effort]:
    """Sample looks per walk, unit and method, empty ones among them."""
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
        .join(Observation, _of(Walk, Observation, "walk_id"))
        .join(Examined, _of(Observation, Examined, "observation_id"))
        .where(
            Walk.walk_on.between(since, until),
            Observation.kind == "look",
            Observation.why == "sample",
        )
        .group_by(Walk.id, Walk.walk_on, Observation.unit_id, Examined.method)
    )
    return [Effort(*row) for row in session.execute(query)]


@dataclass(frozen=True)
class Caught:
    """One pest and stage on one card (disc, trap) at one reading: what is new on it.

    `fresh` is None when a count since hanging fell below the one before: for a person to settle.
    `days` is None when the card's day out was never said.
    """

    walk_id: uuid.UUID
    walk_on: dt.date
    unit_id: uuid.UUID
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


def catches(session: Session, since: dt.date, until: dt.date, zone: dt.tzinfo) -> list[Caught]:
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
        .join(Observation, _of(Walk, Observation, "walk_id"))
        .join(Examined, _of(Observation, Examined, "observation_id"))
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
        .where(Walk.walk_on <= until)
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


@dataclass(frozen=True)
class Called:
    """One unit on one walk's route or among its visits: the scout's word, or none."""

    walk_on: dt.date
    unit_id: uuid.UUID
    routed: bool
    state: str | None
    reason: str | None


def called(session: Session, since: dt.date, until: dt.date) -> list[Called]:
    """Every unit that a walk was to pass or did pass. No visit: no word."""
    planned = (
        select(Walk.walk_on, Route.unit_id, literal(True), Visit.state, Visit.reason)
        .select_from(Walk)
        .join(Route, _of(Walk, Route, "walk_id"))
        .outerjoin(
            Visit,
            and_(
                Visit.operation_id == Route.operation_id,
                Visit.walk_id == Route.walk_id,
                Visit.unit_id == Route.unit_id,
            ),
        )
        .where(Walk.walk_on.between(since, until))
    )
    unplanned = (
        select(Walk.walk_on, Visit.unit_id, literal(False), Visit.state, Visit.reason)
        .select_from(Walk)
        .join(Visit, _of(Walk, Visit, "walk_id"))
        .outerjoin(
            Route,
            and_(
                Route.operation_id == Visit.operation_id,
                Route.walk_id == Visit.walk_id,
                Route.unit_id == Visit.unit_id,
            ),
        )
        .where(Walk.walk_on.between(since, until), Route.unit_id.is_(None))
    )
    return [Called(*row) for query in (planned, unplanned) for row in session.execute(query)]


@dataclass(frozen=True)
class Place:
    """A unit with its house's name and air space; canonical name "House / Unit"."""

    id: uuid.UUID
    name: str
    house: str | None
    air_space_id: uuid.UUID | None
    on_plan: bool
    opened_on: dt.date
    closed_on: dt.date | None

    @property
    def full_name(self) -> str:
        return self.name if self.house is None else f"{self.house} / {self.name}"


def units(session: Session, day: dt.date | None = None) -> list[Place]:
    """Units (not places) alive on a day, or ever, by house and name."""
    query = (
        select(
            Unit.id,
            Unit.name,
            House.name,
            House.air_space_id,
            Unit.x_m.is_not(None),
            Unit.opened_on,
            Unit.closed_on,
        )
        .select_from(Unit)
        .outerjoin(House, and_(House.operation_id == Unit.operation_id, House.id == Unit.house_id))
        .where(Unit.kind == "unit")
        .order_by(House.name, Unit.name)
    )
    if day is not None:
        alive = or_(Unit.closed_on.is_(None), Unit.closed_on > day)
        query = query.where(Unit.opened_on <= day, alive)
    return [Place(*row) for row in session.execute(query)]


@dataclass(frozen=True)
class Standing:
    """A planting that stands in a unit on a day, in its phase then.

    A `provisional` planting has a first day that was only assumed, so its age is not known.
    """

    id: uuid.UUID
    unit_id: uuid.UUID
    crop: str
    phase: str
    since: dt.date
    provisional: bool
    came: int | None
    left: int | None

    @property
    def plants(self) -> int | None:
        """Plants that came less those that left; None when none ever came: not known."""
        if self.came is None:
            return None
        return self.came if self.left is None else self.came - self.left


def plantings(session: Session, day: dt.date) -> list[Standing]:
    """Plantings standing on a day, with the plants in them (sum of movements up to then)."""
    newest = (
        select(func.max(Phase.from_on))
        .where(
            Phase.operation_id == Planting.operation_id,
            Phase.planting_id == Planting.id,
            Phase.from_on <= day,
        )
        .correlate(Planting)
        .scalar_subquery()
    )
    first = (
        select(func.min(Phase.from_on))
        .where(Phase.operation_id == Planting.operation_id, Phase.planting_id == Planting.id)
        .correlate(Planting)
        .scalar_subquery()
    )
    query = (
        select(
            Planting.id,
            Planting.unit_id,
            Planting.crop,
            Phase.phase,
            first,
            Planting.provisional,
            _moved(Movement.to_id, day),
            _moved(Movement.from_id, day),
        )
        .join(Phase, _of(Planting, Phase, "planting_id"))
        .where(Phase.from_on == newest, Phase.phase != "gone")
    )
    return [Standing(*row) for row in session.execute(query)]


def _moved(end: Any, day: dt.date) -> Any:
    return (
        select(func.sum(Movement.plants))
        .where(
            Movement.operation_id == Planting.operation_id,
            end == Planting.id,
            Movement.moved_on <= day,
        )
        .correlate(Planting)
        .scalar_subquery()
    )


def thresholds(session: Session, day: dt.date) -> Sequence[Threshold]:
    """Thresholds begun by a day: of each key only the latest, ended ones (sense none) kept out."""
    begun = session.scalars(
        select(Threshold).where(Threshold.from_on <= day).order_by(Threshold.from_on)
    )
    latest = {threshold_key(t): t for t in begun}
    return [t for t in latest.values() if t.sense != "none"]


def first_found(session: Session, until: dt.date) -> dict[tuple[uuid.UUID, str], dt.date]:
    """The first day each taxon was ever found in each unit, in any way of looking."""
    found = or_(Tally.how == "present", Tally.number > 0, Tally.mean > 0)
    query = (
        select(Observation.unit_id, Tally.taxon, func.min(Walk.walk_on))
        .join(Observation, _of(Walk, Observation, "walk_id"))
        .join(Tally, _of(Observation, Tally, "observation_id"))
        .where(Walk.walk_on <= until, found)
        .group_by(Observation.unit_id, Tally.taxon)
    )
    return {(unit, taxon): on for unit, taxon, on in session.execute(query)}


def last_walk_on(session: Session) -> dt.date | None:
    """Day of the newest walk with a visit; None when nobody has walked yet."""
    newest: dt.date | None = session.execute(
        select(func.max(Walk.walk_on)).join(Visit, _of(Walk, Visit, "walk_id"))
    ).scalar()
    return newest
