"""What became of one cell of a sheet, or of one row, and why."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from benchwalk.catalogue import Refusal
from benchwalk.records.sheets.block import Block
from benchwalk.records.sheets.cells import spot_of
from benchwalk.records.sheets.found import (
    At,
    Count,
    Duplicate,
    Note,
    NothingSeen,
    NotLooked,
    Reading,
    Reject,
    Skip,
    Treatment,
)
from benchwalk.records.sheets.headings import heading_key
from benchwalk.records.sheets.layout import Column, Layout
from benchwalk.records.sheets.page import Page, Spot, cell_at

Ended = Count | NothingSeen | NotLooked | Reject | Duplicate | Treatment | Note | Skip
WITH_HEADING = re.compile(r"([0-9]+)\s*:\s*(.+)", re.DOTALL)


class PlaceNotThereError(Refusal):
    """The place that was asked about is not in the file."""


@dataclass(frozen=True)
class Explained:
    """What became of a cell, or of a row.

    Parameters
    ----------
    cell : "B6", or none for a row.
    text : the cell as written; of a row, its cells.
    column : what its column holds; none outside every table.
    heading : whether the cell is a heading.
    ended : what the cell itself ended as.
    leans : what ended elsewhere on its row and leans on it.
    """

    sheet: str | None
    row: int
    cell: str | None
    text: str
    column: Column | None
    heading: bool
    ended: tuple[Ended, ...]
    leans: tuple[Ended, ...]


def explain(reading: Reading, place: str) -> Explained:
    """What became of a place: "B6", "Sheet!B6", "12:Count" (row and heading), or "12" (a row).

    Raises
    ------
    PlaceNotThereError
        if the file has no such sheet, row or column.
    """
    name, _, rest = place.rpartition("!")
    page = _page(reading, name.strip("'"), place)
    rest = rest.strip()
    if rest.isascii() and rest.isdigit():
        return _row(reading, page, int(rest), place)
    spot = spot_of(rest.upper()) or _headed(reading, page, rest)
    if spot is None or not 0 < spot[0] <= len(page.rows):
        raise PlaceNotThereError("refused.place", place=place, rows=len(page.rows))
    return _cell(reading, page, spot)


def _page(reading: Reading, name: str, place: str) -> Page:
    for page in reading.pages:
        if not name or (page.name or "").casefold() == name.casefold():
            return page
    names = ", ".join(p.name or "" for p in reading.pages)
    raise PlaceNotThereError("refused.place_sheet", place=place, names=names)


def _headed(reading: Reading, page: Page, text: str) -> Spot | None:
    """The spot that a row and a heading name."""
    found = WITH_HEADING.fullmatch(text)
    if found is None:
        return None
    for block, _ in reading.tables:
        for index, heading in enumerate(block.headed):
            if block.page is page and heading_key(heading) == heading_key(found[2]):
                return int(found[1]), index
    return None


def _row(reading: Reading, page: Page, number: int, place: str) -> Explained:
    if not 0 < number <= len(page.rows):
        raise PlaceNotThereError("refused.place", place=place, rows=len(page.rows))
    ended = [e for e in _all(reading) if e.at.sheet == page.name and e.at.row in (number, 0)]
    text = " | ".join(c for c in page.rows[number - 1] if c.strip())
    return Explained(page.name, number, None, text, None, False, tuple(ended), ())


def _cell(reading: Reading, page: Page, spot: Spot) -> Explained:
    row = page.rows[spot[0] - 1]
    text = cell_at(row, spot[1])
    headed = next((b.headed for b, _ in reading.tables if b.page is page), ())
    shell = Block(page, reading.file, "", (), (), (), headed)
    at = shell.place(spot)
    column, heading, line = None, False, None
    for block, layout in reading.tables:
        inside = _inside(block, page, spot)
        if inside is not None:
            number, index = inside
            column, heading = _column(layout, index), number == 1
            at, line = block.at(number, index), block.line(number)
    everything = list(_all(reading))
    ended = [e for e in everything if e.at == at or _whole(e.at, spot, page)]
    leans = [e for e in everything if line and not heading and e.at.line == line and e.at != at]
    return Explained(
        sheet=page.name,
        row=spot[0],
        cell=shell.name(spot),
        text=text,
        column=column,
        heading=heading,
        ended=tuple(ended),
        leans=() if ended else tuple(leans),
    )


def _inside(block: Block, page: Page, spot: Spot) -> tuple[int, int] | None:
    """The row and column of a table that a spot of its page is; none where it is outside."""
    line, column = (spot[1], spot[0]) if block.turned else spot
    if block.page is not page or line not in block.lines:
        return None
    own = [n for n in range(len(block.columns)) if n not in block.added]
    index = next((n for n in own if block.columns[n] == column), None)
    return None if index is None else (list(block.lines).index(line) + 1, index)


def _column(layout: Layout, index: int) -> Column | None:
    return next((c for c in layout.columns if c.index == index), None)


def _whole(at: At, spot: Spot, page: Page) -> bool:
    """Whether a place is the whole row, or the whole page, of a spot."""
    whole_row = at.row == spot[0] and at.col is None and at.cell is None
    return at.sheet == page.name and (whole_row or (at.row == 0 and at.sheet is not None))


def _all(reading: Reading) -> Iterable[Ended]:
    yield from reading.records
    yield from reading.nothing_seen
    yield from reading.not_looked
    yield from reading.rejects
    yield from reading.duplicates
    yield from reading.treatments
    yield from reading.notes
    yield from reading.skips
