"""The threshold strip: where a density stands on the one axis, as a picture with a sentence.

One tenfold is 40 % of the width and the threshold stands at 60 %, on every strip; horizontal places
are per cents, vertical ones pixels from the row's middle, so a strip stretches without bending its
marks. No style is written into the picture: classes say what a part is.
"""

from __future__ import annotations

import math
from html import escape

from benchwalk.catalogue import say
from benchwalk.report.figures import interval, times_figure

AT_ONE = 60.0  # [% of the width]
TENFOLD = 40.0  # [% of the width]
LANE = -6.0  # of the marks, from the row's middle [px]
BAR = 5.0  # height of an interval [px]
DISC, DIAMOND, RING, BEFORE = 4.6, 6.2, 4.0, 3.4  # radii and half-width [px]
PAST_THE_END = 6.0  # an arrowhead beside a mark on the end [px]
TICKS = ((0, "0.03"), (20, "0.1"), (40, "0.3"), (60, "1"), (80, "3"), (100, "10"))


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
    locale: str = "en",
) -> str:
    """One row's strip as an SVG element, with its sentence as the accessible name.

    Parameters
    ----------
    times, low, high : density and its interval in units of the threshold; None where unknown, a
        ``high`` of infinity where there is no upper end. With ``state`` "none" ``times`` is 0.
    state : "not_looked" draws a dotted line and no mark; "none" the ring at the left end; anything
        else a disc under 1 and a diamond at or above 1.
    before : the walk before, in the same units; None leaves ring and movement out.
    """
    marks = [_base(state)]
    if state != "not_looked":
        marks += [_movement(times, before), _bar(low, high), *_arrows(times, low, high)]
    marks += [_before(before, state), _mark(times, state)]
    lane = f'<svg x="0" y="50%" width="100%" height="1" overflow="visible">{"".join(marks)}</svg>'
    sentence = escape(_sentence(times, low, high, state, before, locale), quote=True)
    return f'<svg role="img" aria-label="{sentence}">{_ground()}{lane}</svg>'


def axis(locale: str = "en") -> str:
    """The axis of all strips of a page, to stand once above them; hidden from screen readers."""
    act = _text(60, 16, say("week.axis_act", locale), "tick-act")
    title = f'<text x="0" y="16" class="tick tick-title">{escape(say("week.axis", locale))}</text>'
    ticks = "".join(_text(at, 36, n, "tick-act" if n == "1" else "tick") for at, n in TICKS)
    return f'<svg aria-hidden="true" focusable="false">{title}{act}{ticks}</svg>'


def _text(at: float, y: float, text: str, kind: str) -> str:
    return f'<text x="{at}%" y="{y}" text-anchor="middle" class="{kind}">{escape(text)}</text>'


def _ground() -> str:
    return (
        '<rect class="tint" x="60%" y="0" width="40%" height="100%"/>'
        '<line class="grid" x1="20%" x2="20%" y1="0" y2="100%"/>'
        '<line class="grid" x1="100%" x2="100%" y1="0" y2="100%"/>'
        '<line class="one" x1="60%" x2="60%" y1="0" y2="100%"/>'
    )


def _base(state: str) -> str:
    kind = "base dotted" if state == "not_looked" else "base"
    return f'<line class="{kind}" x1="0" x2="100%" y1="{_n(LANE)}" y2="{_n(LANE)}"/>'


def _movement(times: float | None, before: float | None) -> str:
    if not times or not before:
        return ""
    a, b = sorted((_on_axis(times), _on_axis(before)))
    return f'<line class="move" x1="{_n(a)}%" x2="{_n(b)}%" y1="{_n(LANE)}" y2="{_n(LANE)}"/>'


def _bar(low: float | None, high: float | None) -> str:
    if low is None or high is None:
        return ""
    a, b = _on_axis(low), _on_axis(high)
    top = LANE - BAR / 2
    place = f'x="{_n(a)}%" y="{_n(top)}" width="{_n(b - a)}%" height="{_n(BAR)}"'
    return f'<rect class="interval" {place}/>'


def _arrows(times: float | None, low: float | None, high: float | None) -> list[str]:
    """Arrowheads in the gutters, where an interval or an estimate goes on beyond the axis."""
    ends = [x for x in (times, low, high) if x]
    above = any(position(x) > 100 for x in ends)
    below = any(position(x) < 0 for x in ends)
    return [
        _arrow(100, 1, aside=bool(times) and _place(times) > 98) if above else "",
        _arrow(0, -1, aside=bool(times) and _place(times) < 2) if below else "",
    ]


def _place(times: float | None) -> float:
    return position(times) if times else math.nan


def _arrow(at: float, way: int, *, aside: bool) -> str:
    near = way * (1 + (PAST_THE_END if aside else 0))
    far = near + way * 7
    points = f"M{_n(near)} {_n(LANE - 4.5)}L{_n(far)} {_n(LANE)}L{_n(near)} {_n(LANE + 4.5)}Z"
    return _at(at, f'<path class="beyond" d="{points}"/>')


def _before(before: float | None, state: str) -> str:
    if before is None:
        return ""
    kind = "before dotted" if state == "not_looked" else "before"
    return f'<circle class="{kind}" cx="{_n(_on_axis(before))}%" cy="{_n(LANE)}" r="{BEFORE}"/>'


def _mark(times: float | None, state: str) -> str:
    if state == "none":
        return f'<circle class="zero" cx="0" cy="{_n(LANE)}" r="{RING:g}"/>'
    if state == "not_looked" or times is None:
        return ""
    if times < 1:
        return f'<circle class="now" cx="{_n(_on_axis(times))}%" cy="{_n(LANE)}" r="{DISC}"/>'
    corners = (
        f"M0 {_n(LANE - DIAMOND)}L{DIAMOND} {_n(LANE)}"
        f"L0 {_n(LANE + DIAMOND)}L-{DIAMOND} {_n(LANE)}Z"
    )
    return _at(_on_axis(times), f'<path class="now-over" d="{corners}"/>')


def _at(x: float, inner: str) -> str:
    return f'<svg x="{_n(x)}%" y="0" width="1" height="1" overflow="visible">{inner}</svg>'


def _on_axis(times: float) -> float:
    """On the axis, at its end where the value lies beyond; 0 at the left end."""
    return min(100.0, max(0.0, position(times))) if times > 0 else 0.0


def _n(x: float) -> str:
    return f"{x:.2f}".rstrip("0").rstrip(".")


def _sentence(
    times: float | None,
    low: float | None,
    high: float | None,
    state: str,
    before: float | None,
    locale: str,
) -> str:
    now = _said(times, low, high, state, locale)
    if before is None:
        return now
    return f"{now}; {say('week.strip_before', locale, m=times_figure(before))}"


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
