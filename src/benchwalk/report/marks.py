"""The key to the marks of strips and timelines, each drawn as it stands there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from benchwalk.catalogue import say
from benchwalk.report.strip import BAR, BEFORE, DIAMOND, DISC, RING, diamond_at
from benchwalk.report.targets import Paper, number

SIDE = 16.0  # of the box of a mark [px]
LONG = 26.0  # of the box of a bar [px]


@dataclass(frozen=True)
class Mark:
    """A mark as an SVG with its looks as attributes, and its word."""

    picture: str
    text: str


def marks(locale: str = "en") -> Iterator[Mark]:
    """Every mark that a report may show, those of strips first."""
    for key, kind, shape, width in _SHAPES:
        look = Paper(width, SIDE).look(kind)  # attributes suit a page as well
        size = f'width="{number(width)}" height="{number(SIDE)}"'
        box = f'viewBox="0 0 {number(width)} {number(SIDE)}"'
        svg = f'<svg xmlns="http://www.w3.org/2000/svg" {size} {box}>'
        yield Mark(f"{svg}{shape} {look}/></svg>", say(key, locale))


def _disc(radius: float) -> str:
    return f'<circle cx="8" cy="8" r="{number(radius)}"'


_BAR = f'<rect x="0" y="{number(8 - BAR / 2)}" width="26" height="{number(BAR)}"'
_LINE = '<line x1="0" x2="26" y1="8" y2="8"'
_SHAPES = (
    ("page.key_over", "now-over", f'<path d="{diamond_at(8, 8, DIAMOND)}"', SIDE),
    ("page.key_under", "now", _disc(DISC), SIDE),
    ("page.key_interval", "interval", _BAR, LONG),
    ("page.key_before", "before", _disc(BEFORE), SIDE),
    ("page.key_ahead", "ahead-median", '<line x1="8" x2="8" y1="3" y2="13"', SIDE),
    ("page.key_none", "zero", _disc(RING), SIDE),
    ("page.key_not_looked", "base dotted", _LINE, LONG),
    ("report.key_gap", "gap", '<line x1="4" x2="12" y1="8" y2="8"', SIDE),
    ("report.key_unmeasured", "unmeasured", '<line x1="8" x2="8" y1="4" y2="12"', SIDE),
    ("report.key_treated", "disc", _disc(7.0), SIDE),
)
