"""Ten weeks of one pest as a small picture: the strips' axis upright, the threshold a hairline."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape
from itertools import groupby

from benchwalk.catalogue import say
from benchwalk.report.strip import diamond_at, position
from benchwalk.report.targets import number

WIDTH, HEIGHT = 108.0, 24.0  # [px]
FIRST, APART = 4.0, 11.0  # of the weeks [px]
FOOT, NONE = 22.5, 21.5  # lines of weeks without a count, and of "looked, none" [px]
RING, DISC, DIAMOND = 2.0, 2.4, 3.0  # radii and half-width [px]


def spark(weeks: Sequence[float | None], locale: str = "en") -> str:
    """The weeks as an SVG element with its sentence; "" where there is nothing to compare with.

    Parameters
    ----------
    weeks : density in units of the threshold, the newest last; 0 is looked, none; None: no count.
    """
    if not weeks:
        return ""
    said = escape(spark_sentence(weeks, locale), quote=True)
    box = f'viewBox="0 0 {number(WIDTH)} {number(HEIGHT)}"'
    return f'<svg role="img" aria-label="{said}" {box}>{"".join(_parts(weeks))}</svg>'


def spark_sentence(weeks: Sequence[float | None], locale: str) -> str:
    """How many of the weeks were counted, over the threshold, and without any."""
    counted = [m for m in weeks if m is not None]
    return say(
        "page.spark",
        locale,
        weeks=len(weeks),
        counted=len(counted),
        over=sum(m >= 1 for m in counted),
        none=sum(m == 0 for m in counted),
    )


def _x(week: int) -> float:
    return FIRST + APART * week


def _y(times: float) -> float:
    if times == 0:
        return NONE
    return min(22.0, HEIGHT - min(100.0, max(0.0, position(times))) * HEIGHT / 100)


def _parts(weeks: Sequence[float | None]) -> Iterator[str]:
    """One path a kind of mark; the threshold is the stylesheet's, behind every picture."""
    held: dict[str, list[str]] = {kind: [] for kind in ("path", "gap", "zero", "now-over", "now")}
    held["path"] += _lines(weeks)
    for week, times in enumerate(weeks):
        kind = _kind(times, is_newest=week == len(weeks) - 1)
        if kind:
            held[kind].append(_outline(kind, _x(week), times))
    for kind, outlines in held.items():
        if outlines:
            yield f'<path class="{kind}" d="{"".join(outlines)}"/>'


def _lines(weeks: Sequence[float | None]) -> Iterator[str]:
    """A line through weeks in a row; it breaks where one was not counted."""
    for is_counted, run in groupby(enumerate(weeks), key=lambda pair: pair[1] is not None):
        points = [f"{number(_x(i))} {number(_y(m))}" for i, m in run if m is not None]
        if is_counted and len(points) > 1:
            yield f"M{'L'.join(points)}"


def _kind(times: float | None, *, is_newest: bool) -> str:
    """The mark of a week; "" for one under the threshold that the line alone shows."""
    if times is None:
        return "gap"
    if times == 0:
        return "zero"
    if times >= 1:
        return "now-over"
    return "now" if is_newest else ""


def _outline(kind: str, x: float, times: float | None) -> str:
    if times is None:
        return f"M{number(x - 2)} {number(FOOT)}h4"
    if kind == "now-over":
        return diamond_at(x, _y(times), DIAMOND)
    radius = RING if kind == "zero" else DISC
    return _round(x, _y(times), radius)


def _round(x: float, y: float, radius: float) -> str:
    """A circle as an outline: two half circles from its left to its right end and back."""
    r, wide = number(radius), number(2 * radius)
    return f"M{number(x - radius)} {number(y)}a{r} {r} 0 1 0 {wide} 0a{r} {r} 0 1 0 -{wide} 0"
