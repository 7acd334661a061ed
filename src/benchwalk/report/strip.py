"""The threshold strip: where a density stands on the one axis, as a picture with a sentence.

One tenfold is 40 % of the width and the threshold stands at 60 %, on every strip; horizontal places
are per cents, vertical ones pixels from the row's middle. One function draws it for a page and for
paper; how each of them writes a place and a look is in :mod:`benchwalk.report.targets`.
"""

from __future__ import annotations

import math
from html import escape

from benchwalk.catalogue import say
from benchwalk.report.figures import interval, times_figure
from benchwalk.report.targets import PAGE, Target, number

AT_ONE = 60.0  # [% of the width]
TENFOLD = 40.0  # [% of the width]
LANE = -6.0  # of the marks, from the row's middle [px]
BAR = 5.0  # height of an interval [px]
AHEAD = 7.0  # lane of the forecast [px]
DISC, DIAMOND, RING, BEFORE = 4.6, 6.2, 4.0, 3.4  # radii and half-width [px]
PAST_THE_END = 6.0  # an arrowhead beside a mark on the end [px]
TICKS = ((0, "0.03"), (20, "0.1"), (40, "0.3"), (60, "1"), (80, "3"), (100, "10"))
FEW_TICKS = ("0.03", "0.1", "1", "10")

Ahead = tuple[float, float, float]


def position(times: float) -> float:
    """Where ``times`` (density / threshold) stands [% of the axis]; it may lie outside.

    Raises
    ------
    ValueError
        for 0 and less, which a logarithmic axis does not have.
    """
    if not times > 0:
        raise ValueError(f"got {times!r}, expected more than 0; 0 has its own mark at the left end")
    return AT_ONE + TENFOLD * math.log10(times)


def strip(
    times: float | None,
    low: float | None,
    high: float | None,
    state: str,
    *,
    before: float | None = None,
    ahead: Ahead | None = None,
    locale: str = "en",
    target: Target = PAGE,
) -> str:
    """One row's strip as an SVG element; on a page its sentence is the accessible name.

    Parameters
    ----------
    times, low, high : density and its interval in units of the threshold; None where unknown, a
        ``high`` of infinity where there is no upper end. With ``state`` "none" ``times`` is 0.
    state : "not_looked" draws a dotted line and no mark; "none" the ring at the left end; anything
        else a disc under 1 and a diamond at or above 1.
    before : the walk before, in the same units; None leaves ring and movement out.
    ahead : low end, median and high end forecast for the next walk, in the same units.
    target : a page, one whose stylesheet draws the ground, or a paper with its width and height.
    """
    marks = [_base(state, target), _ahead(ahead, target)]
    if state != "not_looked":
        marks += [_movement(times, before, target), _bar(low, high, target)]
        marks += _arrows(times, low, high, target)
    marks += [_before(before, state, target), _mark(times, state, target)]
    sentence = strip_sentence(times, low, high, state, before=before, ahead=ahead, locale=locale)
    ground = _ground(target) if target.grounded else ""
    return target.picture(ground + target.lane("".join(marks)), sentence)


def axis(locale: str = "en", target: Target = PAGE) -> str:
    """The axis of all strips of a page, to stand once above them; hidden from screen readers."""
    shown = [(at, n) for at, n in TICKS if n in FEW_TICKS or not target.narrow]
    title = "" if target.narrow else _title(say("week.axis", locale), target)
    act = _text(AT_ONE, 16, say("week.axis_act", locale), "tick-act", target)
    ticks = "".join(_text(at, 36, n, _tick(n), target) for at, n in shown)
    return target.picture(title + act + ticks, "")


def _tick(label: str) -> str:
    return "tick-act" if label == "1" else "tick"


def _title(text: str, target: Target) -> str:
    return f'<text x="{target.x(0)}" y="16" {target.look("tick tick-title")}>{escape(text)}</text>'


def _text(at: float, y: float, text: str, kind: str, target: Target) -> str:
    place = f'x="{target.x(at)}" y="{y}" text-anchor="middle"'
    return f"<text {place} {target.look(kind)}>{escape(text)}</text>"


def _ground(target: Target) -> str:
    x, look, height = target.x, target.look, target.height
    tint = f'<rect {look("tint")} x="{x(AT_ONE)}" y="0" width="{x(100 - AT_ONE)}"'
    lines = ((AT_ONE - TENFOLD, "grid"), (100.0, "grid"), (AT_ONE, "one"))
    return f'{tint} height="{height}"/>' + "".join(
        f'<line {look(kind)} x1="{x(at)}" x2="{x(at)}" y1="0" y2="{height}"/>' for at, kind in lines
    )


def _base(state: str, target: Target) -> str:
    return _level("base dotted" if state == "not_looked" else "base", 0, 100, target)


def _level(kind: str, start: float, stop: float, target: Target) -> str:
    ends = f'x1="{target.x(start)}" x2="{target.x(stop)}" y1="{number(LANE)}" y2="{number(LANE)}"'
    return f"<line {target.look(kind)} {ends}/>"


def _movement(times: float | None, before: float | None, target: Target) -> str:
    if not times or not before:
        return ""
    start, stop = sorted((_on_axis(times), _on_axis(before)))
    return _level("move", start, stop, target) if start < stop else ""


def _bar(low: float | None, high: float | None, target: Target) -> str:
    if low is None or high is None:
        return ""
    start, stop = _on_axis(low), _on_axis(high)
    place = f'x="{target.x(start)}" y="{number(LANE - BAR / 2)}"'
    size = f'width="{target.x(stop - start)}" height="{number(BAR)}"'
    return f"<rect {target.look('interval')} {place} {size}/>"


def _arrows(
    times: float | None, low: float | None, high: float | None, target: Target
) -> list[str]:
    """Arrowheads in the gutters, where an interval or an estimate goes on beyond the axis."""
    ends = [x for x in (times, low, high) if x]
    above = any(position(x) > 100 for x in ends)
    below = any(position(x) < 0 for x in ends)
    return [
        _arrow(100, 1, target, aside=bool(times) and _place(times) > 98) if above else "",
        _arrow(0, -1, target, aside=bool(times) and _place(times) < 2) if below else "",
    ]


def _place(times: float | None) -> float:
    return position(times) if times else math.nan


def _arrow(at: float, way: int, target: Target, *, aside: bool) -> str:
    near = way * (1 + (PAST_THE_END if aside else 0))
    head = _head(near, near + way * 7, LANE, 4.5)
    return target.placed(at, f'<path {target.look("beyond")} d="{head}"/>')


def _head(near: float, tip: float, y: float, half: float) -> str:
    ends = ((near, y - half), (tip, y), (near, y + half))
    return "M" + "L".join(f"{number(x)} {number(at)}" for x, at in ends) + "Z"


def _ahead(ahead: Ahead | None, target: Target) -> str:
    """The forecast in its own lane: a band that is full at its median, cut where the axis ends."""
    if ahead is None:
        return ""
    low, median, high = (position(times) for times in ahead)
    parts = [target.band((low, median, high), AHEAD - BAR / 2, BAR)]
    for end, way, is_beyond in ((100, 1, high > 100), (0, -1, low < 0)):
        if is_beyond:
            head = _head(way, way * 6, AHEAD, 3)
            parts.append(target.placed(end, f'<path {target.look("ahead-beyond")} d="{head}"/>'))
    if 0 <= median <= 100:
        ends = f'y1="{number(AHEAD - 4)}" y2="{number(AHEAD + 4)}"'
        at = f'x1="{target.x(median)}" x2="{target.x(median)}"'
        parts.append(f"<line {target.look('ahead-median')} {at} {ends}/>")
    return "".join(parts)


def _before(before: float | None, state: str, target: Target) -> str:
    if before is None:
        return ""
    kind = "before dotted" if state == "not_looked" else "before"
    return _circle(kind, _on_axis(before), BEFORE, target)


def _circle(kind: str, at: float, radius: float, target: Target) -> str:
    place = f'cx="{target.x(at)}" cy="{number(LANE)}" r="{number(radius)}"'
    return f"<circle {target.look(kind)} {place}/>"


def _mark(times: float | None, state: str, target: Target) -> str:
    if state == "none":
        return _circle("zero", 0, RING, target)
    if state == "not_looked" or times is None:
        return ""
    if times < 1:
        return _circle("now", _on_axis(times), DISC, target)
    diamond = f'<path {target.look("now-over")} d="{diamond_at(0, LANE, DIAMOND)}"/>'
    return target.placed(_on_axis(times), diamond)


def diamond_at(x: float, y: float, half: float) -> str:
    """The mark of "over", as the path of an SVG."""
    corners = ((x, y - half), (x + half, y), (x, y + half), (x - half, y))
    return "M" + "L".join(f"{number(a)} {number(b)}" for a, b in corners) + "Z"


def _on_axis(times: float) -> float:
    """On the axis, at its end where the value lies beyond; 0 at the left end."""
    return min(100.0, max(0.0, position(times))) if times > 0 else 0.0


def strip_sentence(
    times: float | None,
    low: float | None,
    high: float | None,
    state: str,
    *,
    before: float | None = None,
    ahead: Ahead | None = None,
    locale: str = "en",
) -> str:
    """What the strip of the same values says to somebody who does not see it."""
    said = [_said(times, low, high, state, locale)]
    if before is not None:
        said.append(say("week.strip_before", locale, m=times_figure(before)))
    if ahead is not None:
        span = interval(ahead[0], ahead[2], locale, times=True)
        said.append(say("week.strip_ahead", locale, m=times_figure(ahead[1]), span=span))
    return "; ".join(said)


def _said(
    times: float | None, low: float | None, high: float | None, state: str, locale: str
) -> str:
    if state == "not_looked" or times is None:
        return say("week.no_count", locale)
    span = "" if low is None or high is None else interval(low, high, locale, times=True)
    if state == "none":
        return say("week.strip_none", locale, span=span) if span else say("abs.none", locale)
    m = times_figure(times)
    if not span:
        return say("week.strip_bare", locale, m=m)
    return say("week.strip_at_least" if high == math.inf else "week.strip", locale, m=m, span=span)
