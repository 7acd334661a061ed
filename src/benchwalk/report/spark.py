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


def spark(weeks: Sequence[float | None], locale: str = "en") -> str:
    """The weeks as an SVG element with its sentence; "" where there is nothing to compare with.

    Parameters
    ----------
    weeks : density in units of the threshold, the newest last; 0 is looked, none; None: no count.
    """
    if not weeks:
        return ""
    parts = "".join((*_lines(weeks), *(_mark(i, m, weeks) for i, m in enumerate(weeks))))
    one = number(_y(1.0))
    ground = f'<path class="one" d="M0 {one}H{number(WIDTH)}"/>'
    said = escape(spark_sentence(weeks, locale), quote=True)
    box = f'viewBox="0 0 {number(WIDTH)} {number(HEIGHT)}"'
    return f'<svg role="img" aria-label="{said}" {box}>{ground}{parts}</svg>'


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


def _lines(weeks: Sequence[float | None]) -> Iterator[str]:
    """A line through weeks in a row; it breaks where one was not counted."""
    for is_counted, run in groupby(enumerate(weeks), key=lambda pair: pair[1] is not None):
        points = [f"{number(_x(i))} {number(_y(m))}" for i, m in run if m is not None]
        if is_counted and len(points) > 1:
            yield f'<path class="path" d="M{"L".join(points)}"/>'


def _mark(week: int, times: float | None, weeks: Sequence[float | None]) -> str:
    x = _x(week)
    if times is None:
        return f'<path class="gap" d="M{number(x - 2)} {number(FOOT)}h4"/>'
    if times == 0:
        return f'<circle class="zero" cx="{number(x)}" cy="{number(NONE)}" r="2"/>'
    if times >= 1:
        return f'<path class="now-over" d="{diamond_at(x, _y(times), 3)}"/>'
    if week < len(weeks) - 1:
        return ""
    return f'<circle class="now" cx="{number(x)}" cy="{number(_y(times))}" r="2.4"/>'
