"""What a forecast asks beside counts: air, movements, phases, refits, in one question.

From these, plants that came in, and days on which the level of a series may have jumped.
"""

from __future__ import annotations

import datetime as dt
import uuid
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

import numpy as np
from sqlalchemy import JSON, Date, Float, and_, cast, literal, null, select, type_coerce, union_all
from sqlalchemy.orm import Session, aliased

from benchwalk.records import Movement, Phase, Planting, Refit
from benchwalk.records.base import Uid
from benchwalk.science import forecast
from benchwalk.summarise.forecasts.air import daily_means
from benchwalk.summarise.forecasts.seen import Population
from benchwalk.summarise.gathered import Gathered
from benchwalk.summarise.series import Key

PHASE, MOVED, AIR, REFIT = "phase", "moved", "air", "refit"
#: of the day, where only the day is known: scouts go first. Common practice, no source
LATE = 0.75


@dataclass(frozen=True)
class Came:
    """Plants that came into a unit; ``resident`` were in it then. ``origin`` none: from outside."""

    on: dt.date
    unit_id: uuid.UUID
    origin: uuid.UUID | None
    plants: int
    resident: int


@dataclass(frozen=True)
class Moves:
    """What moved into each unit, and the days on which a planting in it began or changed.

    ``air`` is the mean temperature [degC] by air space and day; ``refits`` what was learned:
    day, id, ledger row and numbers.
    """

    came: Mapping[uuid.UUID, Sequence[Came]] = field(default_factory=dict)
    changed: Mapping[uuid.UUID, frozenset[dt.date]] = field(default_factory=dict)
    air: Mapping[uuid.UUID, Mapping[dt.date, float]] = field(default_factory=dict)
    refits: Sequence[tuple[dt.date, int, str, Mapping[str, Any]]] = ()


def moves_of(session: Session, since: dt.date, day: dt.date) -> Moves:
    """Every movement, phase and refit up to a day, and the air since another, in one question."""
    changed: dict[uuid.UUID, set[dt.date]] = defaultdict(set)
    air: dict[uuid.UUID, dict[dt.date, float]] = defaultdict(dict)
    moved: list[tuple[dt.date, uuid.UUID | None, uuid.UUID | None, int]] = []
    refits = []
    for what, on, to, origin, number, numbers in session.execute(_asked(since, day)):
        if what == PHASE:
            changed[to].add(on)
        elif what == MOVED:
            moved.append((on, to, origin, int(number)))
        elif what == REFIT:
            refits.append((on, int(number), str(to), numbers))
        elif number is not None:
            air[to][on] = float(number)
    moved.sort(key=lambda m: m[0])
    days = {unit: frozenset(held) for unit, held in changed.items()}
    return Moves(_came(moved), days, air, refits)


def _asked(since: dt.date, day: dt.date) -> Any:
    nobody, none, nothing = (cast(null(), t) for t in (Uid(), Float(), JSON()))
    phases = (
        select(
            literal(PHASE),
            type_coerce(Phase.from_on, Date),
            Planting.unit_id,
            nobody,
            none,
            nothing,
        )
        .join(
            Phase,
            and_(Phase.operation_id == Planting.operation_id, Phase.planting_id == Planting.id),
        )
        .where(Phase.from_on <= day)
    )
    there, here = aliased(Planting), aliased(Planting)
    ends = (literal(MOVED), Movement.moved_on, here.unit_id, there.unit_id, Movement.plants)
    moved = (
        select(*ends, nothing)
        .select_from(Movement)
        .outerjoin(
            here, and_(here.operation_id == Movement.operation_id, here.id == Movement.to_id)
        )
        .outerjoin(
            there, and_(there.operation_id == Movement.operation_id, there.id == Movement.from_id)
        )
        .where(Movement.moved_on <= day)
    )
    means = daily_means(since, day).subquery()
    air = select(literal(AIR), means.c[0], means.c[1], nobody, means.c[2], nothing)
    learned = select(
        literal(REFIT), Refit.fitted_on, Refit.id, nobody, Refit.until_seq, Refit.numbers
    ).where(Refit.fitted_on <= day)
    return union_all(phases, moved, air, learned)


def _came(
    moved: Iterable[tuple[dt.date, uuid.UUID | None, uuid.UUID | None, int]],
) -> dict[uuid.UUID, list[Came]]:
    """Movements between units, with the plants that were there when they came."""
    came: dict[uuid.UUID, list[Came]] = defaultdict(list)
    plants: dict[uuid.UUID, int] = defaultdict(int)
    for on, to, origin, number in moved:
        if to == origin:
            continue
        if to is not None:
            came[to].append(Came(on, to, origin, number, max(plants[to], 0)))
            plants[to] += number
        if origin is not None:
            plants[origin] -= number
    return came


def movements(
    known: Gathered, populations: Sequence[Population], moves: Moves
) -> forecast.Movements:
    """Movements into each series after its first walk, or from a series that says what came.

    The origin is the series of the same pest, stage and method where the plants stood. Plants of
    which nothing is known make a level less sure, once it has been counted.
    """
    number = {p.key: n for n, p in enumerate(populations)}
    rows = []
    for n, p in enumerate(populations):
        line = known.unit_line(p.key.unit_id)
        for c in (c for unit in line for c in moves.came.get(unit, ()) if c.origin not in line):
            origin = _origin(p, c, populations, number)
            if origin >= 0 or c.on >= p.days[0].on:
                rows.append((n, (c.on - known.day).days + LATE, c.plants, c.resident, origin))
    of, day, plants, resident, origins = zip(*rows, strict=True) if rows else ((),) * 5
    nan = np.full(len(rows), np.nan)
    return forecast.Movements(
        np.array(of, np.int64),
        np.array(day, float),
        np.array(plants, float),
        np.array(resident, float),
        np.array(origins, np.int64),
        nan,
        nan,
    )


def _origin(
    p: Population, c: Came, populations: Sequence[Population], number: Mapping[Key, int]
) -> int:
    """The series that the plants were counted in before they left; -1: nobody counted them."""
    if c.origin is None:
        return -1
    at = number.get(replace(p.key, unit_id=c.origin), -1)
    return at if at >= 0 and populations[at].days[0].on <= c.on else -1


def jumped(
    known: Gathered, populations: Sequence[Population], moves: Moves
) -> list[frozenset[dt.date]]:
    """For each series the days of counting before which its level may have jumped.

    A planting began or changed its phase since the count before; the unit was succeeded by
    another; a card was read at a station that had none at the reading before.
    """
    stations: dict[Key, dict[dt.date, set[str]]] = defaultdict(lambda: defaultdict(set))
    for c in known.catches:
        stations[Key(c.unit_id, c.taxon, c.stage, c.method)][c.walk_on].add(c.station)
    lines = [known.unit_line(p.key.unit_id) for p in populations]
    return [
        frozenset({*_begun(p, line, moves), *_succeeded(p, line), *_elsewhere(p, line, stations)})
        for p, line in zip(populations, lines, strict=True)
    ]


def _begun(p: Population, line: Sequence[uuid.UUID], moves: Moves) -> Iterable[dt.date]:
    """The first count after each day on which a planting began or changed in its unit."""
    days = [s.on for s in p.days]
    for unit in line:
        for on in moves.changed.get(unit, ()):
            at = bisect_left(days, on)
            if 0 < at < len(days) and p.days[at].key.unit_id == unit:
                yield days[at]


def _succeeded(p: Population, line: Sequence[uuid.UUID]) -> Iterable[dt.date]:
    if len(line) > 1:
        yield from (b.on for a, b in pairwise(p.days) if a.key.unit_id != b.key.unit_id)


def _elsewhere(
    p: Population,
    line: Sequence[uuid.UUID],
    stations: Mapping[Key, Mapping[dt.date, set[str]]],
) -> Iterable[dt.date]:
    """Readings at a station that had no card at the reading before."""
    if not any(replace(p.key, unit_id=unit) in stations for unit in line):
        return
    for before, after in pairwise(p.days):
        had, has = (stations.get(s.key, {}).get(s.on, set()) for s in (before, after))
        if had and has - had:
            yield after.on
