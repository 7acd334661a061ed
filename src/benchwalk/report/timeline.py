"""One pest over half a year as a picture: its densities, its threshold, the treatments among them.

The axis is that of the strips, upright: one tenfold is 40 pixels, and 1 (act) is where the red line
stands. "Looked, none" has a line of its own under the axis and a week without a count a dash under
that, so that neither can be taken for a small value.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from babel.dates import format_date

from benchwalk.catalogue import say
from benchwalk.report.strip import TICKS, diamond_at, position
from benchwalk.report.targets import PAGE, Page, Target, number, svg_line, svg_text

WEEKS = 26
DAYS = 7 * WEEKS
WIDTH, HEIGHT = 470.0, 160.0  # [px]
LEFT, RIGHT = 30.0, 422.0  # of the axis of days [px]
TOP, FOOT = 25.0, 125.0  # 10 and 0.0316 times the threshold [px]
NONE, GAP, MONTH = 134.0, 142.0, 156.0  # lines under the axis [px]
DISC, DIAMOND, RING, STAMP = 3.2, 5.0, 3.0, 6.0  # radii and half-width [px]
CULTURAL = ("wash", "rogue", "weed", "clean")


@dataclass(frozen=True)
class Spot:
    """A day's density in units of the threshold; ``times`` None where it was seen, not measured."""

    on: dt.date
    times: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Stamp:
    """The treatments of one day, by the number that the list beside the picture repeats."""

    n: int
    on: dt.date
    cultural: bool


@dataclass(frozen=True)
class Course:
    """What a timeline draws: the last half year up to a day."""

    until: dt.date
    spots: tuple[Spot, ...]
    stamps: tuple[Stamp, ...]

    @property
    def since(self) -> dt.date:
        return self.until - dt.timedelta(days=DAYS - 1)


def timeline(course: Course, sentence: str, locale: str = "en", target: Target = PAGE) -> str:
    """The course as an SVG element; on a page ``sentence`` is its accessible name."""
    parts = [
        *_ground(course, locale, target),
        *_gaps(course, target),
        *_stamps(course, target),
        *_paths(course, target),
        *(part for spot in course.spots for part in _spot(course, spot, target)),
    ]
    size = f'width="{number(WIDTH)}" height="{number(HEIGHT)}"'
    box = f'viewBox="0 0 {number(WIDTH)} {number(HEIGHT)}"'
    said = ""
    if isinstance(target, Page):
        said = f' role="img" aria-label="{escape(sentence, quote=True)}" class="course"'
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" {size} {box}{said}>'
    return f"{svg}{''.join(parts)}</svg>"


def day_x(course: Course, on: dt.date) -> float:
    """Where a day stands [px]."""
    return LEFT + (on - course.since).days / (DAYS - 1) * (RIGHT - LEFT)


def times_y(times: float) -> float:
    """How high a density in units of the threshold stands, at an end where it lies beyond [px]."""
    return FOOT - min(100.0, max(0.0, position(times)))


def _ground(course: Course, locale: str, target: Target) -> Iterator[str]:
    one = times_y(1)
    box = f'x="{number(LEFT)}" y="{number(TOP)}" width="{number(RIGHT - LEFT)}"'
    yield f'<rect {target.look("tint")} {box} height="{number(one - TOP)}"/>'
    for at, label in TICKS:
        y = FOOT - at
        if label != "1":
            yield svg_line("grid", LEFT, y, RIGHT, y, target)
            yield svg_text("tick", LEFT - 5, y + 4, label, "end", target)
    yield from _months(course, locale, target)
    yield svg_line("one", LEFT, one, RIGHT, one, target)
    yield svg_text("tick-act", LEFT - 5, one + 4, "1", "end", target)
    yield svg_text("tick-act", RIGHT + 5, one + 4, say("week.axis_act", locale), "start", target)


def _months(course: Course, locale: str, target: Target) -> Iterator[str]:
    days = (course.since + dt.timedelta(days=n) for n in range(DAYS))
    for first in (day for day in days if day.day == 1):
        x = day_x(course, first)
        yield svg_line("grid", x, TOP, x, FOOT, target)
        if x < RIGHT - 14:
            name = format_date(first, "LLL", locale=locale).rstrip(".").replace("sept", "sep")
            yield svg_text("tick", x, MONTH, name, "start", target)


def _gaps(course: Course, target: Target) -> Iterator[str]:
    """A dash for every week without a count, from the first count on."""
    if not course.spots:
        return
    first = min(spot.on for spot in course.spots)
    counted = {_week(course, spot.on) for spot in course.spots}
    for n in range(WEEKS):
        start = course.since + dt.timedelta(days=7 * n)
        if n not in counted and start >= first:
            x = day_x(course, start)
            width = 7 / (DAYS - 1) * (RIGHT - LEFT)
            yield svg_line("gap", x + 3, GAP, x + width - 3, GAP, target)


def _week(course: Course, on: dt.date) -> int:
    return (on - course.since).days // 7


def _stamps(course: Course, target: Target) -> Iterator[str]:
    """Numbered discs in a row over their days; one that would lie on another moves aside."""
    aside = LEFT - STAMP
    for stamp in course.stamps:
        x, y = day_x(course, stamp.on), STAMP + 1
        aside = max(x, aside + 2 * STAMP + 1)
        look = target.look("treated cultural" if stamp.cultural else "treated")
        lead = f"M{number(aside)} {number(y)}L{number(x)} {number(TOP)}V{number(FOOT)}"
        yield f'<path {look} d="{lead}"/>'
        disc = f'cx="{number(aside)}" cy="{number(y)}" r="{number(STAMP)}"'
        yield f"<circle {target.look('disc')} {disc}/>"
        yield svg_text("number", aside, y + 4, str(stamp.n), "middle", target)


def _paths(course: Course, target: Target) -> Iterator[str]:
    """A line through counts of weeks in a row; it breaks where a week has none."""
    for run in _runs(course):
        if len(run) > 1:
            points = "L".join(f"{number(x)} {number(y)}" for x, y in run)
            yield f'<path {target.look("path")} d="M{points}"/>'


def _runs(course: Course) -> Iterator[list[tuple[float, float]]]:
    run: list[tuple[float, float]] = []
    last: Spot | None = None
    for spot in course.spots:
        apart = last is not None and _week(course, spot.on) - _week(course, last.on) > 1
        if apart or spot.times is None:
            yield run
            run = []
        if spot.times is not None:
            run.append((day_x(course, spot.on), _y(spot.times)))
        last = spot
    yield run


def _y(times: float) -> float:
    return times_y(times) if times > 0 else NONE


def _spot(course: Course, spot: Spot, target: Target) -> Sequence[str]:
    x = day_x(course, spot.on)
    if spot.times is None:
        return [svg_line("unmeasured", x, NONE - 4, x, NONE + 4, target)]
    bar = [] if spot.low is None or spot.high is None else [_whisker(x, spot, target)]
    if spot.times == 0:
        return [*bar, _circle("zero", x, NONE, RING, target)]
    y = times_y(spot.times)
    bar += _beyond(x, y, max(spot.times, spot.high or spot.times), target)
    bar += _below(x, spot.times, target)
    return [*bar, _over(x, y, target) if spot.times >= 1 else _circle("now", x, y, DISC, target)]


def _over(x: float, y: float, target: Target) -> str:
    return f'<path {target.look("now-over")} d="{diamond_at(x, y, DIAMOND)}"/>'


def _beyond(x: float, y: float, end: float, target: Target) -> list[str]:
    """An arrowhead where the interval or the mark goes on beyond the axis, clear of the mark."""
    if position(end) <= 100:
        return []
    return [_head(x, min(TOP, y - DIAMOND - 1) - 0.5, -5, target)]


def _below(x: float, times: float, target: Target) -> list[str]:
    """An arrowhead under a disc on the foot of the axis: less than what is drawn, and not none."""
    return [] if position(times) >= 0 else [_head(x, FOOT + DISC + 1.5, 5, target)]


def _head(x: float, foot: float, high: float, target: Target) -> str:
    tip = f"L{number(x)} {number(foot + high)}L{number(x + 3.5)} {number(foot)}Z"
    return f'<path {target.look("beyond")} d="M{number(x - 3.5)} {number(foot)}{tip}"/>'


def _whisker(x: float, spot: Spot, target: Target) -> str:
    ends = [FOOT if not end else times_y(end) for end in (spot.low, spot.high)]
    return svg_line("whisker", x, ends[0], x, ends[1], target)


def _circle(kind: str, x: float, y: float, radius: float, target: Target) -> str:
    place = f'cx="{number(x)}" cy="{number(y)}" r="{number(radius)}"'
    return f"<circle {target.look(kind)} {place}/>"
