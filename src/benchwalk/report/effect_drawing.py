"""What a treatment left, as a picture: two ends on a logarithmic axis, and nothing between them.

A middle value of one treatment says little and would be read as a result; the truth lies between
the ends. Right is fewer. A hollow wedge from above is what its class is expected to do, before
anything was counted.
"""

from __future__ import annotations

import math
from html import escape

from benchwalk.catalogue import say
from benchwalk.report.targets import number

WIDTH, HEIGHT = 180.0, 26.0  # [px]
FIRST, LAST = 8.0, 172.0  # of the axis [px]
MOST, LEAST = 4.0, 0.03  # left of what was there before: the ends of the axis
AT = (
    (2.0, "page.left_twice"),
    (1.0, "page.left_same"),
    (0.5, "page.left_half"),
    (0.1, "page.left_tenth"),
)


def _x(left: float) -> float:
    share = (math.log10(MOST) - math.log10(left)) / (math.log10(MOST) - math.log10(LEAST))
    return FIRST + min(1.0, max(0.0, share)) * (LAST - FIRST)


def effect_axis(locale: str = "en") -> str:
    """The axis, to stand once over all of them; hidden from screen readers."""
    words = "".join(_word(at, say(key, locale)) for at, key in AT)
    return f'<svg viewBox="0 0 180 28" width="180" height="28" aria-hidden="true">{words}</svg>'


def _word(at: float, text: str) -> str:
    """A label of the axis; every second one stands lower, so that none meets its neighbour."""
    kind, y = ("tick-same" if at == 1 else "tick"), (12 if at in (1.0, 0.1) else 24)
    place = f'x="{number(_x(at))}" y="{y}" text-anchor="middle"'
    return f'<text class="{kind}" {place}>{escape(text)}</text>'


def effect_drawing(
    fewer_low: float, fewer_high: float, sentence: str, *, expected: float | None = None
) -> str:
    """Both ends of an interval [% fewer than without it] as an SVG element with its sentence.

    ``expected`` is what the treatment's class is expected to do [% fewer]; None: no wedge.
    """
    right, left = (1 - fewer_low / 100, 1 - fewer_high / 100)
    x1, x2 = _x(max(right, LEAST)), _x(max(left, LEAST))
    middle = HEIGHT / 2
    parts = [
        *(f'<path class="grid" d="M{number(_x(at))} 0V26"/>' for at in (2.0, 0.5, 0.1)),
        f'<path class="same-line" d="M{number(_x(1))} 0V26"/>',
        f'<path class="between" d="M{number(x1)} {middle}H{number(x2)}"/>',
        *([] if expected is None else [_wedge(_x(max(1 - expected / 100, LEAST)))]),
        _end(x1, beyond=right > MOST, way=-1),
        _end(x2, beyond=left < LEAST, way=1),
    ]
    said = escape(sentence, quote=True)
    box = f'viewBox="0 0 {number(WIDTH)} {number(HEIGHT)}" width="180" height="26"'
    return f'<svg role="img" aria-label="{said}" {box}>{"".join(parts)}</svg>'


def _wedge(x: float) -> str:
    return (
        f'<path class="class-expected" d="M{number(x - 5)} 0.5H{number(x + 5)}L{number(x)} 8.5Z"/>'
    )


def _end(x: float, *, beyond: bool, way: int) -> str:
    """A bar at an end; an arrowhead where it lies beyond the axis."""
    if beyond:
        head = f"M{number(x)} 8L{number(x + 7 * way)} 13L{number(x)} 18Z"
        return f'<path class="end-beyond" d="{head}"/>'
    return f'<path class="end" d="M{number(x)} 6V20"/>'
