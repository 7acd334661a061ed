"""The week as one row a unit, those that need somebody first, and what is asked to be shown."""

from __future__ import annotations

import datetime as dt
import uuid
from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from benchwalk.records import queries
from benchwalk.summarise.checks import Check, checks_of
from benchwalk.summarise.forecasts import Ahead
from benchwalk.summarise.gathered import Gathered
from benchwalk.summarise.series import Key, Series
from benchwalk.summarise.thresholds import InForce, in_force
from benchwalk.summarise.week import Line, NotLooked, Summary, UnitSummary, worst

WEEKS = 10  # of a sparkline
WEEK = dt.timedelta(days=7)
Times = tuple[float | None, ...]


@dataclass(frozen=True)
class Wanted:
    """What of the week is asked for: one house, pest or person by name; "" is all of them."""

    house: str = ""
    pest: str = ""
    person: str = ""

    @property
    def everything(self) -> bool:
        return not (self.house or self.pest or self.person)


@dataclass(frozen=True)
class Row:
    """A unit with the line that needs somebody most, or why nobody looked.

    Attributes
    ----------
    others : further lines of the unit over their threshold.
    weeks : ten weeks of that line in units of its threshold, the newest last; None: not counted.
        () where there is no threshold to compare with.
    last, last_key, last_on : of a unit not looked at: its newest count, in units of its threshold.
    over : chance of being over by the next walk; None where there is no forecast of that.
    due_on : when the plan asks for the next walk; None where no plan says.
    check : the soonest looking-again after a treatment that is due; None where none is.
    """

    place: queries.Place
    state: str
    unit: UnitSummary | None
    missing: NotLooked | None
    line: Line | None
    others: tuple[Line, ...]
    weeks: Times
    last: float | None
    last_key: Key | None
    last_on: dt.date | None
    standing: tuple[queries.Standing, ...]
    due_on: dt.date | None
    silent: queries.Called | None
    over: float | None = None
    check: Check | None = None

    @property
    def first_due(self) -> dt.date | None:
        """The day of whatever comes first: the check or the walk."""
        days = [self.due_on, None if self.check is None else self.check.due_on]
        return min((on for on in days if on is not None), default=None)


@dataclass(frozen=True)
class WeekRows:
    """The rows that were asked for, and what can be asked for."""

    summary: Summary
    wanted: Wanted
    rows: tuple[Row, ...]
    counts: Mapping[str, int]
    houses: tuple[str, ...]
    pests: tuple[str, ...]
    people: tuple[str, ...]
    minutes: float | None


def week_rows(summary: Summary, wanted: Wanted | None = None) -> WeekRows:
    """The rows of a week; ``wanted`` keeps to a house, a pest (its code) or who walked there."""
    wanted = Wanted() if wanted is None else wanted
    known = summary.known
    rows = tuple(_rows(summary, wanted))
    walked = [c.minutes for c in known.called if c.minutes is not None]
    return WeekRows(
        summary=summary,
        wanted=wanted,
        rows=rows,
        counts=dict(Counter(row.state for row in rows)),
        houses=tuple(dict.fromkeys(u.house for u in known.units if u.house is not None)),
        pests=tuple(sorted({x.taxon for u in summary.units for x in _pests(u.lines)})),
        people=tuple(sorted({c.scout for c in known.called if c.scout is not None})),
        minutes=sum(walked) if walked else None,
    )


def _rows(summary: Summary, wanted: Wanted) -> Iterator[Row]:
    known = summary.known
    walked = _walked_by(known, wanted.person)
    standing: dict[uuid.UUID, list[queries.Standing]] = defaultdict(list)
    for planting in known.plantings:
        standing[planting.unit_id].append(planting)
    history = _History(summary)
    checks = {c.place.id: c for c in reversed(checks_of(summary))}  # the soonest of each unit
    for unit in summary.units:
        kept = _kept(unit, wanted.pest)
        if kept is not None and _here(unit.unit, wanted, walked):
            row = _looked(history, kept, tuple(standing[unit.unit.id]))
            yield replace(row, check=checks.get(unit.unit.id))
    for miss in summary.not_looked:
        if _here(miss.unit, wanted, walked):
            row = _missing(history, miss, tuple(standing[miss.unit.id]), wanted.pest)
            yield replace(row, check=checks.get(miss.unit.id))


def _walked_by(known: Gathered, person: str) -> set[uuid.UUID]:
    return {c.unit_id for c in known.called if c.scout == person}


def _here(place: queries.Place, wanted: Wanted, walked: set[uuid.UUID]) -> bool:
    house = not wanted.house or place.house == wanted.house
    return house and (not wanted.person or place.id in walked)


def _kept(unit: UnitSummary, pest: str) -> UnitSummary | None:
    """The unit as one pest alone makes it; None where that was not counted there."""
    if not pest:
        return unit
    lines = tuple(line for line in unit.lines if line.taxon == pest)
    apart = tuple(a for a in unit.apart if a.series.key.taxon == pest)
    if not lines and not apart:
        return None
    return replace(unit, lines=lines, apart=apart, state=worst(lines, apart))


def _pests(lines: Iterable[Line]) -> list[Line]:
    return [line for line in lines if line.state != "enemy"]


def _looked(history: _History, unit: UnitSummary, standing: tuple[queries.Standing, ...]) -> Row:
    lines = _pests(unit.lines)
    first = next((x for x in lines if x.state == unit.state), lines[0] if lines else None)
    rule = None if first is None else first.rule
    key = None if first is None else first.series.key
    return Row(
        place=unit.unit,
        state=unit.state,
        unit=unit,
        missing=None,
        line=first,
        others=tuple(x for x in lines if x.state == "over" and x is not first),
        weeks=history.weeks(key, rule),
        last=None,
        last_key=None,
        last_on=None,
        standing=standing,
        due_on=_due(unit.on, standing),
        silent=None,
        over=None if first is None else chance_over(first.ahead),
    )


def chance_over(ahead: Ahead | None) -> float | None:
    """Chance of being over by the next walk; None without a threshold or after too few walks."""
    return None if ahead is None or ahead.few else ahead.next_walk.over


def _missing(
    history: _History, miss: NotLooked, standing: tuple[queries.Standing, ...], pest: str
) -> Row:
    newest, rule = history.newest_compared(miss.unit.id, pest)
    weeks = () if newest is None else history.weeks(newest.key, rule)
    calls = [c for c in history.known.called if c.unit_id == miss.unit.id and c.state is None]
    return Row(
        place=miss.unit,
        state="not_looked",
        unit=None,
        missing=miss,
        line=None,
        others=(),
        weeks=weeks,
        last=None if newest is None else _times(newest, rule),
        last_key=None if newest is None else newest.key,
        last_on=None if newest is None else newest.on,
        standing=standing,
        due_on=None if miss.last_on is None else _due(miss.last_on, standing),
        silent=max(calls, key=lambda c: c.walk_on, default=None),
        over=None if newest is None else chance_over(history.ahead(newest.key)),
    )


def _due(last: dt.date, standing: Sequence[queries.Standing]) -> dt.date | None:
    every = [p.every_days for p in standing if p.every_days is not None]
    return last + dt.timedelta(days=min(every)) if every else None


def _times(s: Series, rule: InForce | None) -> float | None:
    """The density in units of the threshold; None where it is not in the same quantity."""
    if rule is None or rule.threshold.value is None or rule.threshold.per != s.per:
        return None
    if s.counts is None:
        return None
    total, _, effort = s.counts
    return total / effort / rule.threshold.value


@dataclass(frozen=True)
class Due:
    """A unit and the day its next walk is due by the plan."""

    place: queries.Place
    on: dt.date


def due_walks(summary: Summary) -> list[Due]:
    """The next walk of every unit that a plan asks one of, the soonest first.

    A unit that nobody ever looked at has no day to count from.
    """
    rows = week_rows(summary).rows
    due = [Due(row.place, row.due_on) for row in rows if row.due_on is not None]
    return sorted(due, key=lambda one: (one.on, one.place.full_name))


class _History:
    """The samples of the ten weeks up to the day."""

    def __init__(self, summary: Summary) -> None:
        self.known, self.forecasts = summary.known, summary.forecasts
        self.first = summary.day - WEEKS * WEEK
        self.history = summary.history

    def weeks(self, key: Key | None, rule: InForce | None) -> Times:
        """The newest count of each of the ten weeks that can be compared with the rule.

        Of a unit that was succeeded too.
        """
        if key is None or rule is None or rule.threshold.value is None:
            return ()
        held: list[float | None] = [None] * WEEKS
        for unit in reversed(self.known.unit_line(key.unit_id)):
            for s in self._recent(replace(key, unit_id=unit)):
                if (times := _times(s, rule)) is not None:
                    held[((s.on - self.first).days - 1) // 7] = times
        return tuple(held)

    def ahead(self, key: Key) -> Ahead | None:
        """Where a series is heading, once that was reckoned."""
        return None if self.forecasts is None else self.forecasts.of(key)

    def _recent(self, key: Key) -> Sequence[Series]:
        held = self.history.of(key)
        return held[bisect_right(held, self.first, key=lambda s: s.on) :]

    def newest_compared(self, unit: uuid.UUID, pest: str) -> tuple[Series | None, InForce | None]:
        """Of a unit's newest counts the one nearest to its threshold, or over it."""
        found = [
            (s, rule)
            for key in self.history.keys.get(unit, ())
            if pest in ("", key.taxon)
            for s in self._recent(key)[-1:]
            for rule in [in_force(self.known, s)[0]]
            if _times(s, rule) is not None
        ]
        return max(found, key=lambda kept: _known(_times(*kept)), default=(None, None))


def _known(times: float | None) -> float:
    assert times is not None  # those without a figure were left out
    return times
