"""One unit: how it stands this week, and how it came there in half a year."""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from benchwalk.records import Threshold, queries
from benchwalk.summarise.checks import Check, checks_due
from benchwalk.summarise.gathered import (
    LEARN_DAYS,
    Counts,
    Gathered,
    gathered,
    predecessors,
    upwards,
)
from benchwalk.summarise.series import History, Key, Series, all_series
from benchwalk.summarise.thresholds import InForce, in_force
from benchwalk.summarise.trend import Point, points_of
from benchwalk.summarise.week import ORDER, NotLooked, UnitSummary, of_gathered

WEEKS = 26  # of a timeline: half a year, as in the report
CLEARED = "cleared"


@dataclass(frozen=True)
class Step:
    """The rule in force from a day until the day before the next step; None: no threshold."""

    from_on: dt.date
    rule: InForce | None


@dataclass(frozen=True)
class StageCourse:
    """One stage: a density for each day it was counted, and the thresholds it was compared with."""

    key: Key
    points: tuple[Point, ...]
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class PestCourse:
    """One pest by one method, in one quantity: its stages, the one that needs somebody first."""

    taxon: str
    method: str
    per: str
    stages: tuple[StageCourse, ...]


@dataclass(frozen=True)
class DayDegrees:
    """A day's lowest and highest air temperature [degC]."""

    on: dt.date
    low_c: float
    high_c: float


@dataclass(frozen=True)
class MarkOf:
    """A mark that a look gave a flag: set, confirmed or cleared."""

    what: str
    on: dt.date
    by: str | None


@dataclass(frozen=True)
class FlagOf:
    """A flag of the unit with its marks, the oldest first; none where no look ever named it."""

    id: uuid.UUID
    colour: str
    reason: str
    position: str | None
    marks: tuple[MarkOf, ...]

    @property
    def cleared(self) -> bool:
        """Whether the newest look took it away."""
        return bool(self.marks) and self.marks[-1].what == CLEARED


@dataclass(frozen=True)
class UnitCourse:
    """One unit, ready to be rendered.

    Either `now` or `missing` is there: what this week's walk saw, or why there is none. Of a unit
    that was closed it is the last week it lived; `successors` are the units that came after it.
    """

    known: Gathered
    since: dt.date
    unit: queries.Place
    now: UnitSummary | None
    missing: NotLooked | None
    courses: tuple[PestCourse, ...]
    put: tuple[queries.Put, ...]
    checks: tuple[Check, ...]
    phases: tuple[queries.PhaseOf, ...]
    walks: tuple[queries.Called, ...]
    flags: tuple[FlagOf, ...]
    sightings: tuple[queries.Sighted, ...]
    degrees: tuple[DayDegrees, ...]
    successors: tuple[queries.Place, ...] = ()

    @property
    def day(self) -> dt.date:
        return self.known.day

    def on(self, at: dt.datetime) -> dt.date:
        """The day of an instant where the operation is."""
        return at.astimezone(ZoneInfo(self.known.zone)).date()


@dataclass(frozen=True)
class _Past:
    """What a unit's course is made of, besides what a week's summary is."""

    places: tuple[queries.Place, ...]
    phases: tuple[queries.PhaseOf, ...]
    begun: Sequence[Threshold]
    walks: tuple[queries.Called, ...]
    happened: queries.Happened


def unit_course(
    session: Session, unit: uuid.UUID, day: dt.date | None = None, days: int = 7
) -> UnitCourse | None:
    """One unit up to and with ``day``, or its last day; by default the newest walk's day.

    Of a unit that opened since the newest walk it is its first day. None where nobody has walked
    anything yet, or no unit of that id was there by the day.
    """
    ground = queries.ground(session)
    place = next((u for u in ground.units if u.id == unit), None)
    if place is None or ground.last_walk_on is None:
        return None
    asked = max(ground.last_walk_on, place.opened_on) if day is None else day
    if place.opened_on > asked:
        return None
    known, past = _gather(session, unit, _last_day(place, asked), days, ground)
    after = tuple(u for u in ground.units if u.predecessor_id == unit)
    return replace(_course(known, past, unit), successors=after)


def _last_day(place: queries.Place, day: dt.date) -> dt.date:
    """The day, or the last one on which the unit lived."""
    closed = place.closed_on
    return day if closed is None or closed > day else closed - dt.timedelta(days=1)


def _gather(
    session: Session, unit: uuid.UUID, day: dt.date, days: int, ground: queries.Ground
) -> tuple[Gathered, _Past]:
    zone, learn = ZoneInfo(ground.zone), day - dt.timedelta(days=LEARN_DAYS)
    week = day - dt.timedelta(days=days - 1)
    line = upwards(unit, predecessors(ground.units))
    begun, phases = queries.begun(session, day), queries.phases(session, day, line)
    walks = queries.called(session, _since(day), day, line)
    counts = Counts(
        queries.rounds(session, learn, day, line),
        queries.efforts(session, learn, day, line),
        queries.catches(session, learn, day, zone, line),
        queries.first_found(session, day),
    )
    known = gathered(
        ground,
        (week, day),
        counts,
        queries.vocabulary(session),
        units=[u for u in ground.units if u.id == unit],
        called=[c for c in walks if c.walk_on >= week],
        plantings=queries.standing_on(phases, day),
        thresholds=queries.latest(begun, day),
    )
    ends = (_midnight(_since(day), zone), _midnight(day + dt.timedelta(days=1), zone))
    past = _Past(
        places=tuple(u for u in ground.units if u.id in line),
        phases=tuple(phases),
        begun=begun,
        walks=tuple(sorted(walks, key=lambda c: c.walk_on, reverse=True)),
        happened=queries.happened(session, *ends, line, unit),
    )
    return known, past


def _since(day: dt.date) -> dt.date:
    return day - dt.timedelta(days=7 * WEEKS - 1)


def _midnight(day: dt.date, zone: ZoneInfo) -> dt.datetime:
    return dt.datetime.combine(day, dt.time(), zone)


def _course(known: Gathered, past: _Past, unit: uuid.UUID) -> UnitCourse:
    history = all_series(known)
    week = of_gathered(known, history)
    now, missing = next(iter(week.units), None), next(iter(week.not_looked), None)
    zone = ZoneInfo(known.zone)
    return UnitCourse(
        known=known,
        since=_since(known.day),
        unit=next(u for u in past.places if u.id == unit),
        now=now,
        missing=missing,
        courses=tuple(_courses(known, past, history, now)),
        put=tuple(past.happened.put),
        checks=tuple(checks_due(known, history, past.happened.put)),
        phases=past.phases,
        walks=past.walks,
        flags=tuple(_flags(past.happened.markings, zone)),
        sightings=tuple(past.happened.sighted),
        degrees=tuple(_degrees(past.happened.degrees, zone)),
    )


def _courses(
    known: Gathered, past: _Past, history: History, now: UnitSummary | None
) -> Iterator[PestCourse]:
    """A course for each pest and method counted in the half year, the week's worst first."""
    states = {} if now is None else {x.series.key: ORDER.index(x.state) for x in now.lines}
    by_pest: dict[tuple[str, str], dict[Key, list[Series]]] = defaultdict(dict)
    here = past.places[0].id if len(past.places) == 1 else known.units[0].id
    for s in sorted(history.of_units(history.keys), key=lambda s: s.on):
        key = replace(s.key, unit_id=here)
        by_pest[key.taxon, key.method].setdefault(key, []).append(s)
    found = [
        _pest(known, past, history, sorted(stages.items(), key=lambda kept: _first(kept, states)))
        for stages in by_pest.values()
    ]
    last = len(ORDER)
    shown = [course for course in found if any(stage.points for stage in course.stages)]
    yield from sorted(shown, key=lambda c: states.get(c.stages[0].key, last))


def _first(kept: tuple[Key, list[Series]], states: Mapping[Key, int]) -> tuple[bool, int, str]:
    """Stages that are compared with a threshold before those that are not."""
    state = states.get(kept[0], len(ORDER))
    return state == ORDER.index("no_threshold"), state, kept[0].stage


def _pest(
    known: Gathered,
    past: _Past,
    history: History,
    stages: Sequence[tuple[Key, list[Series]]],
) -> PestCourse:
    """The stages of one pest by one method, in the quantity that the newest count is in."""
    per = max((series[-1] for _, series in stages), key=lambda s: s.on).per
    since = _since(known.day)
    held = tuple(
        StageCourse(
            key=key,
            points=points_of(known, [s for s in series if s.per == per and s.on >= since], history),
            steps=tuple(_steps(known, past, series[-1]._replace(key=key))),
        )
        for key, series in stages
    )
    return PestCourse(stages[0][0].taxon, stages[0][0].method, per, held)


def _steps(known: Gathered, past: _Past, series: Series) -> Iterator[Step]:
    """The rule on each day on which a phase or a threshold began, repeats left out."""
    since = _since(known.day)
    begun = {p.from_on for p in past.phases} | {t.from_on for t in past.begun}
    days = [since, *sorted(on for on in begun if since < on <= known.day)]
    steps = [Step(on, _rule(known, past, series, on)) for on in days]
    yield from steps[:1]
    yield from (b for a, b in pairwise(steps) if _said(a.rule) != _said(b.rule))


def _rule(known: Gathered, past: _Past, series: Series, on: dt.date) -> InForce | None:
    place = next((p for p in past.places if p.alive_on(on)), None)
    if place is None:
        return None
    then = replace(
        known,
        units=past.places,
        plantings=queries.standing_on(past.phases, on),
        thresholds=queries.latest(past.begun, on),
    )
    return in_force(then, series._replace(key=replace(series.key, unit_id=place.id), on=on))[0]


def _said(rule: InForce | None) -> tuple[object, ...]:
    return () if rule is None else (rule.threshold.id, rule.crop)


def _flags(markings: Sequence[queries.Marking], zone: ZoneInfo) -> Iterator[FlagOf]:
    """Each flag once with all its marks, those that stand first."""
    held: dict[uuid.UUID, list[queries.Marking]] = defaultdict(list)
    for marking in markings:
        held[marking.id].append(marking)
    yield from sorted((_flag(marked, zone) for marked in held.values()), key=lambda f: f.cleared)


def _flag(marked: Sequence[queries.Marking], zone: ZoneInfo) -> FlagOf:
    of = marked[0]
    marks = tuple(
        MarkOf(m.mark, m.at.astimezone(zone).date(), m.by)
        for m in marked
        if m.mark is not None and m.at is not None
    )
    return FlagOf(of.id, of.colour, of.reason, of.position, marks)


def _degrees(readings: Sequence[queries.Degrees], zone: ZoneInfo) -> Iterator[DayDegrees]:
    """The lowest and highest of each local day, whatever the readings' spacing."""
    days: dict[dt.date, list[queries.Degrees]] = defaultdict(list)
    for reading in readings:
        days[reading.at.astimezone(zone).date()].append(reading)
    for on, of_day in sorted(days.items()):
        yield DayDegrees(on, min(r.low_c for r in of_day), max(r.high_c for r in of_day))
