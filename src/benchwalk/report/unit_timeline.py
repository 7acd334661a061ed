"""One pest in one unit over half a year: densities by stage, the threshold's steps, treatments.

The axis is logarithmic, in the natural unit of the counts, whole tenfolds. "Looked, none" has a
line of its own under it, and a week without a count a dash under that. What stands there is a band
below, the air's daily lowest and highest temperature a panel at the foot.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from benchwalk.catalogue import say
from benchwalk.report.strip import diamond_at
from benchwalk.report.targets import number, svg_line, svg_text

WIDTH, LEFT, RIGHT = 960.0, 58.0, 850.0  # [px]
TOP = 40.0  # first line of the axis; treatments stand above it [px]
TENFOLD = 52.0  # [px]
FEWEST, MOST = 2, 4  # tenfolds of an axis
STAMP, DISC, DIAMOND, RING, SQUARE = 8.0, 4.2, 5.6, 3.8, 3.4  # radii and half-widths [px]
ASIDE = 7.0  # a further stage, to the right of the one before [px]
NONE, GAP, BAND, AIR, WEEK = 16.0, 26.0, 36.0, 72.0, 52.0  # under the axis, then under another [px]
WEEK_DAYS = 7
LABEL = 14.0  # height of a line of labels [px]


@dataclass(frozen=True)
class Dot:
    """A day's density; `mean` None: seen, not measured. `over` its threshold of that day."""

    on: dt.date
    mean: float | None
    low: float | None
    high: float | None
    over: bool


@dataclass(frozen=True)
class Stage:
    """The days of one stage."""

    name: str
    dots: tuple[Dot, ...]


@dataclass(frozen=True)
class Rule:
    """The threshold from a day until another; None: nothing to compare with."""

    from_on: dt.date
    until: dt.date
    value: float | None
    text: str


@dataclass(frozen=True)
class Treated:
    """The treatments of a day, by the number they have in the list."""

    n: int
    on: dt.date
    cultural: bool


@dataclass(frozen=True)
class Band:
    """What stood there from a day until another."""

    from_on: dt.date
    until: dt.date
    text: str


@dataclass(frozen=True)
class Air:
    """A day's lowest and highest temperature [degC]."""

    on: dt.date
    low: float
    high: float


@dataclass(frozen=True)
class FanDay:
    """What is expected on a day: its middle, and ends of intervals from the widest inwards."""

    on: dt.date
    middle: float
    ends: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Timeline:
    """All that one picture draws, between two days; the axis goes on to ``end``.

    ``fan`` is what is ahead of the first stage, () where nothing is said of it.
    """

    since: dt.date
    until: dt.date
    per: str
    stages: tuple[Stage, ...]
    rules: tuple[Rule, ...]
    treated: tuple[Treated, ...]
    bands: tuple[Band, ...]
    air: tuple[Air, ...]
    end: dt.date
    fan: tuple[FanDay, ...]


@dataclass(frozen=True)
class _Frame:
    """Where days and densities stand."""

    since: dt.date
    until: dt.date
    end: dt.date
    low: int  # the axis begins at ten to this
    high: int

    @property
    def foot(self) -> float:
        return TOP + TENFOLD * (self.high - self.low)

    def x(self, on: dt.date) -> float:
        days = (self.end - self.since).days
        return LEFT + (on - self.since).days / days * (RIGHT - LEFT)

    def y(self, value: float) -> float:
        at = min(float(self.high), max(float(self.low), math.log10(value)))
        return self.foot - TENFOLD * (at - self.low)

    def level(self, value: float) -> float:
        """Where a density stands; none has its own line under the axis."""
        return self.y(value) if value > 0 else self.foot + NONE

    def week(self, on: dt.date) -> int:
        return (on - self.since).days // WEEK_DAYS


def unit_timeline(shown: Timeline, sentence: str, locale: str = "en") -> str:
    """The picture as an SVG element; ``sentence`` is its accessible name."""
    frame = _frame(shown)
    parts = [
        *_axis(frame, shown, locale),
        *_rules(frame, shown.rules),
        *_treated(frame, shown.treated),
        *_fan(frame, shown.fan),
        *_gaps(frame, shown.stages),
        *(part for i, stage in enumerate(shown.stages) for part in _stage(frame, stage, i)),
        *_names(frame, shown),
        *_bands(frame, shown.bands),
        *_weeks(frame, bool(shown.air)),
        *_air(frame, shown.air, locale),
    ]
    high = number(_foot(frame, bool(shown.air)) + 8)
    said = escape(sentence, quote=True)
    box = f'viewBox="0 0 {number(WIDTH)} {high}" width="{number(WIDTH)}" height="{high}"'
    return f'<svg role="img" aria-label="{said}" class="days" {box}>{"".join(parts)}</svg>'


def _frame(shown: Timeline) -> _Frame:
    """Whole tenfolds around what is drawn; four at most, the highest ones."""
    values = [rule.value for rule in shown.rules if rule.value]
    for dot in (dot for stage in shown.stages for dot in stage.dots):
        values += [v for v in (dot.mean, dot.high) if v and math.isfinite(v)]
    values += [on.middle for on in shown.fan]
    high = math.ceil(math.log10(max(values, default=1.0)) + 1e-9)
    low = math.floor(math.log10(min(values, default=0.1)))
    low = max(min(low, high - FEWEST), high - MOST)
    return _Frame(shown.since, shown.until, shown.end, low, high)


def _axis(frame: _Frame, shown: Timeline, locale: str) -> Iterator[str]:
    yield svg_text("tick", LEFT - 50, TOP - 26, say("page.axis_found", locale, per=shown.per))
    for power in range(frame.low, frame.high + 1):
        y = frame.y(10.0**power)
        yield svg_line("grid", LEFT, y, RIGHT, y)
        yield svg_text("tick", LEFT - 6, y + 4, f"{10.0**power:g}", "end")
    y = frame.foot + NONE
    yield svg_line("base", LEFT, y, RIGHT, y)
    yield svg_text("tick", LEFT - 6, y + 4, say("page.axis_none", locale), "end")


def _rules(frame: _Frame, rules: Sequence[Rule]) -> Iterator[str]:
    """Steps joined by dotted risers; each says its value where it begins."""
    before: Rule | None = None
    for rule in rules:
        if rule.value:
            y, start = frame.y(rule.value), frame.x(rule.from_on)
            yield svg_line("one", start, y, frame.x(rule.until), y)
            if before is not None and before.value:
                yield svg_line("riser", start, frame.y(before.value), start, y)
            yield svg_text("tick-act", start + 4, y - 5, rule.text)
        before = rule


def _treated(frame: _Frame, treated: Sequence[Treated]) -> Iterator[str]:
    """Numbered discs over their days; one that would lie on another moves aside."""
    aside = LEFT - 3 * STAMP
    for mark in treated:
        x, y = frame.x(mark.on), TOP - 14
        aside = max(x, aside + 2 * STAMP + 1)
        kind = "treated-cultural" if mark.cultural else "treated"
        lead = f"M{number(aside)} {number(y)}L{number(x)} {number(TOP)}V{number(frame.foot)}"
        yield f'<path class="{kind}" d="{lead}"/>'
        disc = f'cx="{number(aside)}" cy="{number(y)}" r="{number(STAMP)}"'
        yield f'<circle class="disc" {disc}/>'
        yield svg_text("on-disc", aside, y + 4, str(mark.n), "middle")


def _fan(frame: _Frame, fan: Sequence[FanDay]) -> Iterator[str]:
    """Bands of intervals, one on another, and their middle; the first day is the last walk's."""
    if not fan:
        return
    top, xs = frame.y(10.0**frame.high), [number(frame.x(on.on)) for on in fan]
    yield svg_line("today", frame.x(fan[0].on), top, frame.x(fan[0].on), frame.foot)
    for level in range(len(fan[0].ends)):
        low, high = ([frame.y(on.ends[level][side]) for on in fan] for side in (0, 1))
        points = [*zip(xs, high, strict=True), *reversed(list(zip(xs, low, strict=True)))]
        outline = "L".join(f"{x} {number(y)}" for x, y in points)
        yield f'<path class="fan" d="M{outline}Z"/>'
    middle = (f"{x} {number(frame.y(on.middle))}" for x, on in zip(xs, fan, strict=True))
    yield f'<path class="fan-middle" d="M{"L".join(middle)}"/>'


def _gaps(frame: _Frame, stages: Sequence[Stage]) -> Iterator[str]:
    """A dash for every week without a count, from the first count on."""
    days = [dot.on for stage in stages for dot in stage.dots]
    if not days:
        return
    counted = {frame.week(on) for on in days}
    for week in range(frame.week(min(days)), frame.week(frame.until) + 1):
        if week not in counted:
            start = frame.since + dt.timedelta(days=WEEK_DAYS * week)
            end = min(frame.until, start + dt.timedelta(days=WEEK_DAYS - 1))
            y = frame.foot + GAP
            yield svg_line("gap", frame.x(start), y, frame.x(end), y)


def _stage(frame: _Frame, stage: Stage, place: int) -> Iterator[str]:
    """The first stage as discs and a full line, the others open and dashed, a little aside."""
    aside = ASIDE * place
    for run in _runs(frame, stage.dots):
        if len(run) > 1:
            points = (f"{number(frame.x(d.on) + aside)} {number(_at(frame, d))}" for d in run)
            yield f'<path class="path{_second(place)}" d="M{"L".join(points)}"/>'
    for dot in stage.dots:
        yield from _dot(frame, dot, place, aside)


def _second(place: int) -> str:
    """What the class of a further stage ends in."""
    return " second" if place else ""


def _at(frame: _Frame, dot: Dot) -> float:
    assert dot.mean is not None  # a run is made of days with a figure
    return frame.level(dot.mean)


def _runs(frame: _Frame, dots: Sequence[Dot]) -> Iterator[list[Dot]]:
    """Days with a figure in weeks that follow one another."""
    run: list[Dot] = []
    for dot in dots:
        apart = bool(run) and frame.week(dot.on) - frame.week(run[-1].on) > 1
        if apart or dot.mean is None:
            yield run
            run = []
        if dot.mean is not None:
            run.append(dot)
    yield run


def _dot(frame: _Frame, dot: Dot, place: int, aside: float) -> Iterator[str]:
    x = frame.x(dot.on) + aside
    if dot.mean is None:
        y = frame.foot + NONE
        yield svg_line("unmeasured", x, y - 5, x, y + 5)
        return
    if dot.low is not None and dot.high is not None:
        ends = [frame.foot if end <= 0 else frame.y(end) for end in (dot.low, dot.high)]
        yield svg_line(f"whisker{_second(place)}", x, ends[0], x, ends[1])
    y = frame.level(dot.mean)
    if dot.mean > 0 and math.log10(dot.mean) < frame.low:
        yield svg_line("below", x, y, x, y + 7)
    yield _mark(x, y, dot, place)


def _mark(x: float, y: float, dot: Dot, place: int) -> str:
    if dot.mean == 0:
        return f'<circle class="zero" cx="{number(x)}" cy="{number(y)}" r="{number(RING)}"/>'
    if dot.over:
        return f'<path class="now-over" d="{diamond_at(x, y, DIAMOND)}"/>'
    if place == 0:
        return f'<circle class="now" cx="{number(x)}" cy="{number(y)}" r="{number(DISC)}"/>'
    return f'<path class="second-mark" d="{_OPEN[min(place, len(_OPEN)) - 1](x, y)}"/>'


def _square(x: float, y: float) -> str:
    return f"M{number(x - SQUARE)} {number(y - SQUARE)}h{2 * SQUARE}v{2 * SQUARE}h{-2 * SQUARE}Z"


def _triangle(x: float, y: float) -> str:
    return f"M{number(x)} {number(y - 4)}L{number(x + 4)} {number(y + 3)}H{number(x - 4)}Z"


def _fallen(x: float, y: float) -> str:
    return f"M{number(x)} {number(y + 4)}L{number(x + 4)} {number(y - 3)}H{number(x - 4)}Z"


_OPEN = (_square, _triangle, _fallen)


def _names(frame: _Frame, shown: Timeline) -> Iterator[str]:
    """Each stage beside its last day; one that would lie on another moves down."""
    held = [
        (frame.level(stage.dots[-1].mean), i, stage)
        for i, stage in enumerate(shown.stages)
        if stage.dots and stage.dots[-1].mean is not None
    ]
    below = -math.inf
    for y, i, stage in sorted(held, key=lambda kept: kept[:2]):
        below = max(y, below + LABEL)
        x = RIGHT + 10 + ASIDE * (len(shown.stages) - 1)
        yield svg_text(f"name{_second(i)}", x, below + 4, stage.name)


def _bands(frame: _Frame, bands: Sequence[Band]) -> Iterator[str]:
    """What stood there; a band too short for its words has none."""
    y, last = frame.foot + BAND, -math.inf
    for band in bands:
        x1, x2 = frame.x(band.from_on), frame.x(band.until)
        size = f'width="{number(max(1, x2 - x1 - 2))}" height="18"'
        yield f'<rect class="band" x="{number(x1)}" y="{number(y)}" {size}/>'
        if x1 >= last and x2 - x1 > 6.2 * len(band.text) + 8:
            yield svg_text("tick", x1 + 4, y + 13, band.text)
            last = x2


def _weeks(frame: _Frame, has_air: bool) -> Iterator[str]:
    y = _foot(frame, has_air)
    monday = frame.since + dt.timedelta(days=-frame.since.weekday() % WEEK_DAYS)
    while monday <= frame.end:
        x, week = frame.x(monday), monday.isocalendar().week
        yield svg_line("base", x, y - 16, x, y - 12)
        if week % 2 == 0:
            yield svg_text("tick", x + 2, y, str(week))
        monday += dt.timedelta(days=WEEK_DAYS)


def _foot(frame: _Frame, has_air: bool) -> float:
    return frame.foot + (AIR + WEEK + 30 if has_air else AIR)


def _air(frame: _Frame, air: Sequence[Air], locale: str) -> Iterator[str]:
    """Bars from each day's lowest to its highest, on an axis of whole tens."""
    if not air:
        return
    low = 10 * math.floor(min(day.low for day in air) / 10)
    high = 10 * math.ceil(max(day.high for day in air) / 10)
    top = frame.foot + AIR

    def y(degrees: float) -> float:
        return top + WEEK * (high - degrees) / (high - low)

    for degrees in range(low, high + 1, 10):
        yield svg_line("grid", LEFT, y(degrees), RIGHT, y(degrees))
        yield svg_text("tick", LEFT - 6, y(degrees) + 4, f"{degrees}\N{NO-BREAK SPACE}°C", "end")
    for day in air:
        x = frame.x(day.on)
        yield svg_line("air", x, y(day.low), x, y(day.high))
    for n, words in enumerate(say("page.axis_air", locale).split("; ")):
        yield svg_text("tick", RIGHT + 10, top + 16 + LABEL * n, words)
