"""What a picture is drawn for: a page, where classes say what a part is, or paper.

On a page horizontal places are per cents, so that a picture stretches, and a stylesheet has the
looks. Where hundreds of strips stand under one another the stylesheet has their ground too, drawn
behind each picture: what is the same in every row is not written into every row. On paper nothing
stretches and there is no stylesheet: places are pixels, and colours, sizes and fades are
attributes. Both take their looks from one table.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from typing import ClassVar, Protocol

INK, INK_2, INK_3 = "#17222b", "#3f4c57", "#5a6772"  # seen; second text; notes, intervals
RUBRIC, RECKON = "#b01e2b", "#1d5ba4"  # the threshold and what is over it; what is reckoned ahead
RULE, HAIR, SHEET, TINT = "#b9c3ca", "#dde3e6", "#ffffff", "#fbefec"
# one typeface: print knows the width as a property of it, browsers as another name
FACE = "'Sofia Sans Semi Condensed', 'Sofia Sans', sans-serif"

Look = Mapping[str, str]


def _stroke(colour: str, width: str, dashes: str = "") -> dict[str, str]:
    drawn = {"fill": "none", "stroke": colour, "stroke-width": width}
    return drawn | ({"stroke-dasharray": dashes} if dashes else {})


def _text(colour: str, weight: str, size: str = "12.5px") -> dict[str, str]:
    return {"font-family": FACE, "font-size": size, "font-weight": weight, "fill": colour}


LOOKS: Mapping[str, Look] = {
    "tint": {"fill": TINT},
    "grid": _stroke(HAIR, "1"),
    "one": _stroke(RUBRIC, "1.5"),
    "base": _stroke(RULE, "1"),
    "base dotted": _stroke(INK_3, "1.5", "2 4"),
    "move": _stroke(INK_3, "1"),
    "interval": {"fill": INK_3},
    "beyond": {"fill": INK_3},
    "before": _stroke(INK_2, "1.5") | {"fill": SHEET},
    "before dotted": _stroke(INK_2, "1.5", "2 2") | {"fill": SHEET},
    "now": _stroke(SHEET, "1.5") | {"fill": INK},
    "now-over": _stroke(SHEET, "1.5") | {"fill": RUBRIC},
    "zero": _stroke(INK, "2") | {"fill": SHEET},
    "ahead-beyond": {"fill": RECKON},
    "ahead-median": _stroke(RECKON, "2"),
    "tick": _text(INK_3, "400"),
    "tick tick-title": _text(INK_3, "400"),
    "tick-act": _text(RUBRIC, "700"),
    "whisker": _stroke(INK_3, "2.5"),
    "path": _stroke(INK_3, "1.25"),
    "treated": _stroke(INK, "1"),
    "treated cultural": _stroke(INK, "1", "3 3"),
    "disc": {"fill": INK},
    "number": _text(SHEET, "700", "11px"),
    "gap": _stroke(INK_3, "1.5", "1.5 1"),
    "unmeasured": _stroke(INK, "1.5"),
}
GUTTER = 14.0  # left and right of an axis, for arrowheads [px]
PALE, FULL = "0.04", "0.75"  # opacity of a forecast at its ends and at its median
ALIKE = 0.02  # halves of a band that differ by less are drawn as one [% of the width]


def number(x: float) -> str:
    """At most two decimals, and none that say nothing."""
    return f"{x:.2f}".rstrip("0").rstrip(".")


class Target(Protocol):
    """How a target writes a place, a look, a small viewport and the whole picture."""

    @property
    def height(self) -> str:
        """The full height of a row."""
        ...

    @property
    def narrow(self) -> bool:
        """Whether the axis has no room for all of its labels."""
        ...

    @property
    def grounded(self) -> bool:
        """Whether a strip draws its own ground: tint, lines of the axis, threshold."""
        ...

    def x(self, per_cent: float) -> str: ...

    def look(self, kind: str) -> str: ...

    def placed(self, per_cent: float, inner: str) -> str:
        """A part of fixed size, at a place on the axis."""
        ...

    def band(self, ends: tuple[float, float, float], y: float, high: float) -> str:
        """A band, pale at its ends and full at its median, cut off where the axis ends."""
        ...

    def lane(self, inner: str) -> str:
        """Parts whose vertical places are counted from the row's middle."""
        ...

    def picture(self, inner: str, sentence: str) -> str: ...


@dataclass(frozen=True)
class Page:
    """Classes and per cents, for a document with the looks of :func:`stylesheet`.

    Parameters
    ----------
    grounded : False where the stylesheet draws the ground behind the picture.
    """

    grounded: bool = True
    height: ClassVar[str] = "100%"
    narrow: ClassVar[bool] = False

    def x(self, per_cent: float) -> str:
        return f"{number(per_cent)}%"

    def look(self, kind: str) -> str:
        return f'class="{kind}"'

    def placed(self, per_cent: float, inner: str) -> str:
        return f'<svg x="{self.x(per_cent)}" overflow="visible">{inner}</svg>'

    def band(self, ends: tuple[float, float, float], y: float, high: float) -> str:
        start, median, stop = ends
        lane = f'y="{number(y)}" height="{number(high)}"'
        if abs(start + stop - 2 * median) < ALIKE:
            return self._faded(start, stop, "band", lane)
        rising = self._faded(start, median, "rising", lane)
        return rising + self._faded(median, stop, "falling", lane)

    def _faded(self, start: float, stop: float, name: str, lane: str) -> str:
        if start >= 100 or stop <= 0:
            return ""
        place = f'x="{self.x(start)}" width="{self.x(stop - start)}"'
        if start >= 0 and stop <= 100:
            return f'<rect {place} {lane} fill="url(#{name})"/>'
        return f'<svg {lane}><rect {place} height="100%" fill="url(#{name})"/></svg>'

    def lane(self, inner: str) -> str:
        return f'<svg y="50%" height="1" overflow="visible">{inner}</svg>'

    def picture(self, inner: str, sentence: str) -> str:
        said = f'role="img" aria-label="{escape(sentence, quote=True)}"'
        return f"<svg {said if sentence else HIDDEN}>{inner}</svg>"


HIDDEN = 'aria-hidden="true" focusable="false"'
PAGE = Page()


def svg_line(kind: str, x1: float, y1: float, x2: float, y2: float, target: Target = PAGE) -> str:
    """A line between two places of a picture [px]."""
    start, end = f'x1="{number(x1)}" y1="{number(y1)}"', f'x2="{number(x2)}" y2="{number(y2)}"'
    return f"<line {target.look(kind)} {start} {end}/>"


def svg_text(
    kind: str, x: float, y: float, said: str, anchor: str = "start", target: Target = PAGE
) -> str:
    """Words at a place of a picture [px]."""
    place = f'x="{number(x)}" y="{number(y)}" text-anchor="{anchor}"'
    return f"<text {target.look(kind)} {place}>{escape(said)}</text>"


ROWS = Page(grounded=False)


@dataclass(frozen=True)
class Paper:
    """Attributes and pixels, for a picture that stands alone.

    Parameters
    ----------
    width : of the axis, gutters left out [px].
    row : height of the picture [px].
    """

    width: float
    row: float
    grounded: ClassVar[bool] = True

    @property
    def height(self) -> str:
        return number(self.row)

    @property
    def narrow(self) -> bool:
        return self.width < 180

    def x(self, per_cent: float) -> str:
        return number(per_cent * self.width / 100)

    def look(self, kind: str) -> str:
        return " ".join(f'{name}="{value}"' for name, value in LOOKS[kind].items())

    def placed(self, per_cent: float, inner: str) -> str:
        return f'<g transform="translate({self.x(per_cent)} 0)">{inner}</g>'

    def band(self, ends: tuple[float, float, float], y: float, high: float) -> str:
        low, median, top = ends
        return self._fade(low, median, y, high) + self._fade(top, median, y, high)

    def _fade(self, pale: float, full: float, y: float, high: float) -> str:
        start, stop = sorted(min(100.0, max(0.0, end)) for end in (pale, full))
        name = "rising" if pale < full else "falling"
        # in the axis' own pixels: a band that is cut off is not faded anew over what is left
        ends = f'gradientUnits="userSpaceOnUse" x1="{self.x(pale)}" x2="{self.x(full)}"'
        stops = _stops((("0", PALE), ("1", FULL)))
        fade = f'<linearGradient id="{name}" {ends} y1="0" y2="0">{stops}</linearGradient>'
        place = f'x="{self.x(start)}" y="{number(y)}" width="{self.x(stop - start)}"'
        return f'{fade}<rect {place} height="{number(high)}" fill="url(#{name})"/>'

    def lane(self, inner: str) -> str:
        return f'<g transform="translate(0 {number(self.row / 2)})">{inner}</g>'

    def picture(self, inner: str, sentence: str) -> str:
        del sentence  # print has it beside the picture, as its alternative text
        full = number(self.width + 2 * GUTTER)
        box = f'viewBox="{number(-GUTTER)} 0 {full} {self.height}"'
        size = f'width="{full}" height="{self.height}"'
        return f'<svg xmlns="http://www.w3.org/2000/svg" {size} {box}>{inner}</svg>'


def _stops(stops: tuple[tuple[str, str], ...]) -> str:
    return "".join(
        f'<stop offset="{at}" stop-color="{RECKON}" stop-opacity="{opacity}"/>'
        for at, opacity in stops
    )


FADES = {
    "rising": (("0", PALE), ("1", FULL)),
    "falling": (("0", FULL), ("1", PALE)),
    "band": (("0", PALE), (".5", FULL), ("1", PALE)),
}


def fades() -> str:
    """The fades of a forecast, its halves and both in one, to stand once in a page with any."""
    held = "".join(
        f'<linearGradient id="{name}">{_stops(stops)}</linearGradient>'
        for name, stops in FADES.items()
    )
    return f'<svg width="0" height="0" {HIDDEN}><defs>{held}</defs></svg>'


def stylesheet() -> str:
    """The looks as rules of a stylesheet, one a kind."""
    return "\n".join(
        f".{kind.replace(' ', '.')} {{ {_rules(look)} }}" for kind, look in LOOKS.items()
    )


def _rules(look: Look) -> str:
    return " ".join(f"{name}: {value};" for name, value in look.items())
