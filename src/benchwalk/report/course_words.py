"""One pest of a unit over half a year in words: its picture, and the same numbers as a table."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from benchwalk.catalogue import say
from benchwalk.report.figures import capital, chance, day, figure, interval
from benchwalk.report.keys import looks_of, number_key
from benchwalk.report.names import Names
from benchwalk.report.row_words import Figure
from benchwalk.report.timeline import CULTURAL
from benchwalk.report.unit_timeline import (
    Air,
    Band,
    Dot,
    FanDay,
    Rule,
    Stage,
    Timeline,
    Treated,
    unit_timeline,
)
from benchwalk.science.forecast import normal_quantile
from benchwalk.summarise import Key, Point
from benchwalk.summarise.forecasts import Ahead, Forecasts, Interval
from benchwalk.summarise.unit import PestCourse, StageCourse, Step, UnitCourse
from benchwalk.summarise.week import LEVEL

AHEAD_DAYS = 14  # what is drawn ahead; the farthest that is forecast
FAN_LEVELS = (0.95, 0.80, 0.50)  # of a fan, the widest first


@dataclass(frozen=True)
class Cell:
    """A day's density of one stage; `figure` None where there is none, `text` then says why.

    `chance` is that of being over the threshold, of a day to come.
    """

    figure: Figure | None
    text: str
    chance: Figure | None = None


@dataclass(frozen=True)
class DayRow:
    """One day of the table, a cell for each stage; `air` the house's since the day before it.

    `expected` says that the day is to come.
    """

    day: str
    cells: tuple[Cell, ...]
    air: str = ""
    expected: bool = False


@dataclass(frozen=True)
class CourseWords:
    """A picture with its title and sentence, and its numbers."""

    title: str
    method: str
    per: str
    picture: str
    stages: tuple[str, ...]
    rows: tuple[DayRow, ...]

    @property
    def has_air(self) -> bool:
        """Whether a sensor said anything of the house's air."""
        return any(row.air for row in self.rows)


def course_words(
    names: Names, course: UnitCourse, pest: PestCourse, found: Forecasts | None
) -> CourseWords:
    """One pest by one method in words; with ``found`` its first stage has what is ahead."""
    per = names.per(pest.per)
    title = capital(names.taxon(pest.taxon))
    drawn = _timeline(names, course, pest, per)
    if found is not None:
        end = course.day + dt.timedelta(days=AHEAD_DAYS)
        drawn = replace(drawn, end=end, fan=tuple(_fan(pest, found)))
    sentence = say(
        "page.course",
        names.locale,
        pest=title,
        method=names.method(pest.method),
        n=len({p.on for stage in pest.stages for p in stage.points}),
        since=day(course.since, names.locale),
    )
    return CourseWords(
        title=title,
        method=names.method(pest.method),
        per=per,
        picture=unit_timeline(drawn, sentence, names.locale),
        stages=tuple(names.stage(stage.key.stage) for stage in pest.stages),
        rows=(*_expected(names, course, pest, found), *_rows(names, course, pest)),
    )


def numbers_of(course: UnitCourse) -> dict[dt.date, int]:
    """Days of treatments, numbered from the oldest on: the same in every picture and list."""
    days = sorted({course.on(put.at) for put in course.put})
    return {on: n for n, on in enumerate(days, start=1)}


def _fan(pest: PestCourse, found: Forecasts) -> Iterator[FanDay]:
    """What is ahead of the stage that is drawn first, where it is in the same quantity."""
    ahead = _ahead_of(found, pest, pest.stages[0])
    if ahead is None:
        return
    yield FanDay(ahead.last_on, _middle(ahead.now), tuple(_widened(ahead.now)))
    for d in ahead.days:
        if d.days <= AHEAD_DAYS:
            ends = (d.within(level) for level in FAN_LEVELS)
            yield FanDay(d.on, d.middle, tuple((end.low, end.high) for end in ends))


def _middle(held: Interval) -> float:
    """Of a density whose logarithm is normal: half way on the logarithmic axis."""
    return math.sqrt(held.low * held.high)


def _widened(held: Interval) -> Iterator[tuple[float, float]]:
    """The same density within the levels of the fan."""
    half = math.log(held.high / held.low) / 2 / normal_quantile((1 + held.level) / 2)
    for level in FAN_LEVELS:
        factor = math.exp(half * normal_quantile((1 + level) / 2))
        yield _middle(held) / factor, _middle(held) * factor


def _timeline(names: Names, course: UnitCourse, pest: PestCourse, per: str) -> Timeline:
    return Timeline(
        since=course.since,
        until=course.day,
        per=per,
        stages=tuple(
            Stage(names.stage(stage.key.stage), tuple(_dots(stage))) for stage in pest.stages
        ),
        rules=tuple(_rules(names, course, pest.stages[0])),
        treated=tuple(_treated(course, pest)),
        bands=tuple(_bands(names, course)),
        air=tuple(Air(d.on, d.low_c, d.high_c) for d in course.degrees),
        end=course.day,
        fan=(),
    )


def _dots(stage: StageCourse) -> Iterator[Dot]:
    for point in stage.points:
        d = point.density
        mean, low, high = (None if math.isnan(x) else x for x in (d.mean, d.low, d.high))
        value = _value(stage.steps, point.on)
        over = mean is not None and value is not None and mean >= value
        yield Dot(point.on, mean, low, high, over)


def _value(steps: tuple[Step, ...], on: dt.date) -> float | None:
    """The threshold's value on a day; None where there was none or one find was enough."""
    rule = None
    for step in steps:
        if step.from_on <= on:
            rule = step.rule
    return None if rule is None else rule.threshold.value


def _rules(names: Names, course: UnitCourse, stage: StageCourse) -> Iterator[Rule]:
    ends = [step.from_on for step in stage.steps[1:]] + [course.day]
    for step, end in zip(stage.steps, ends, strict=True):
        value = None if step.rule is None else step.rule.threshold.value
        text = "" if value is None else say("page.act_at", names.locale, value=f"{value:g}")
        yield Rule(step.from_on, end, value, text)


def _treated(course: UnitCourse, pest: PestCourse) -> Iterator[Treated]:
    """Treatments against the pest (or its group, or its species), and those against none said."""
    line, numbers = course.known.taxon_line(pest.taxon), numbers_of(course)
    days: dict[dt.date, list[str]] = {}
    for put in course.put:
        related = put.against is None or put.against in line
        if related or pest.taxon in course.known.taxon_line(str(put.against)):
            days.setdefault(course.on(put.at), []).append(put.kind)
    for on, kinds in days.items():
        yield Treated(numbers[on], on, all(kind in CULTURAL for kind in kinds))


def _bands(names: Names, course: UnitCourse) -> Iterator[Band]:
    for row in course.phases:
        later = [p.from_on for p in course.phases if p.planting_id == row.planting_id]
        end = min((on for on in later if on > row.from_on), default=course.day)
        if row.phase != "gone" and end > course.since:
            words = [names.crop(row.crop)]
            words += [] if row.phase == "not_said" else [names.phase(row.phase)]
            yield Band(max(row.from_on, course.since), end, ", ".join(words))


def _expected(
    names: Names, course: UnitCourse, pest: PestCourse, found: Forecasts | None
) -> Iterator[DayRow]:
    """Days to come, the farthest first: the next walk, and those that are always forecast."""
    ahead = [None if found is None else _ahead_of(found, pest, stage) for stage in pest.stages]
    days = {d.on for a in ahead if a is not None for d in (a.next_walk, *a.days)}
    for on in sorted((on for on in days if on > course.day), reverse=True):
        cells = (
            _cell_ahead(names, stage, a, on) for stage, a in zip(pest.stages, ahead, strict=True)
        )
        said = say("page.expected_on", names.locale, date=day(on, names.locale))
        yield DayRow(said, tuple(cells), expected=True)


def _ahead_of(found: Forecasts, pest: PestCourse, stage: StageCourse) -> Ahead | None:
    """What is ahead of a stage, where it is in the quantity that is shown."""
    ahead = found.of(stage.key)
    return None if ahead is None or ahead.population.per != pest.per else ahead


def _cell_ahead(names: Names, stage: StageCourse, ahead: Ahead | None, on: dt.date) -> Cell:
    days = () if ahead is None else (ahead.next_walk, *ahead.days)
    held = next((d for d in days if d.on == on), None)
    if held is None or not stage.points:
        return Cell(None, say("page.nothing_expected", names.locale))
    where, newest = held.within(LEVEL), looks_of(_key(stage, stage.points[-1]), stage.points[-1].on)
    middle = Figure(number_key(stage.key, "ahead", on), figure(held.middle), newest)
    over = None
    if held.over is not None:
        over = Figure(number_key(stage.key, "over", on), chance(held.over, names.locale), newest)
    return Cell(middle, interval(where.low, where.high, names.locale), over)


def _rows(names: Names, course: UnitCourse, pest: PestCourse) -> Iterator[DayRow]:
    """The newest day first; a stage that was not counted that day has a word and no figure."""
    days = sorted({p.on for stage in pest.stages for p in stage.points})
    before = [course.since - dt.timedelta(days=1), *days[:-1]]
    for on, last in reversed(list(zip(days, before, strict=True))):
        cells = tuple(_cell(names, stage, on) for stage in pest.stages)
        yield DayRow(day(on, names.locale), cells, _air(names, course, last, on))


def _air(names: Names, course: UnitCourse, last: dt.date, on: dt.date) -> str:
    """Lowest and highest of the days after one until another; "" where no sensor said any."""
    held = [d for d in course.degrees if last < d.on <= on]
    if not held:
        return ""
    low, high = min(d.low_c for d in held), max(d.high_c for d in held)
    return say("page.air_between", names.locale, low=f"{low:.0f}", high=f"{high:.0f}")


def _cell(names: Names, stage: StageCourse, on: dt.date) -> Cell:
    point = next((p for p in stage.points if p.on == on), None)
    if point is None:
        return Cell(None, say("week.no_count", names.locale))
    if math.isnan(point.density.mean):
        return Cell(None, say("state.no_density", names.locale))
    return Cell(
        _figure(stage, point), interval(point.density.low, point.density.high, names.locale)
    )


def _figure(stage: StageCourse, point: Point) -> Figure:
    key = _key(stage, point)
    return Figure(
        number_key(key, "density", point.on), figure(point.density.mean), looks_of(key, point.on)
    )


def _key(stage: StageCourse, point: Point) -> Key:
    """Of the unit that stood there then: a look belongs to that one."""
    return replace(stage.key, unit_id=point.unit_id)
