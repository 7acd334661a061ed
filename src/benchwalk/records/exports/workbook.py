"""The records as one workbook: figures as numbers, absences as words, text that cannot run.

A page a table, the counts first. Text that a spreadsheet would run is written as text and marked
to stay text when somebody edits the cell; nothing is put in front of it, so it reads back as it
was. Rows are written as they come.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from itertools import chain, islice
from pathlib import Path
from typing import Any

import xlsxwriter  # type: ignore[import-untyped]  # the library ships no types
from sqlalchemy.orm import Session
from xlsxwriter.worksheet import Worksheet  # type: ignore[import-untyped]  # as above

from benchwalk.records.exports.cells import cell, runs
from benchwalk.records.exports.package import Leaving, description, leaving

# Microsoft: Excel specifications and limits (total characters in a cell; rows of a worksheet)
CELL_HOLDS = 32_767
PAGE_HOLDS = 1_048_576
FIRST_DAY = dt.date(1900, 3, 1)  # before it the day numbers of spreadsheets are not those of all
CUT = " [...]"


def write_workbook(session: Session, path: Path) -> list[str]:
    """Write the workbook; the places of texts too long for a cell, which were cut there."""
    book = xlsxwriter.Workbook(str(path), {"constant_memory": True})
    book.set_properties({"title": description(session)["title"], "created": _made(session)})
    pages = _Pages(book)
    for table in leaving(session):
        pages.add(table)
    book.close()
    return pages.cut


def _made(session: Session) -> dt.datetime:
    """The file's clock stands at the newest record, so that the same records give it again."""
    said = description(session).get("created")
    return dt.datetime(2000, 1, 1) if said is None else dt.datetime.fromisoformat(said)


class _Pages:
    """The pages of a workbook, in the order they are written."""

    def __init__(self, book: xlsxwriter.Workbook) -> None:
        self.book, self.cut = book, list[str]()
        self.bold = book.add_format({"bold": True})
        self.day = book.add_format({"num_format": "yyyy-mm-dd"})
        self.guarded = book.add_format({"quote_prefix": True})

    def add(self, table: Leaving) -> None:
        """A page of a table, and as many more as its rows need."""
        names = [field.name for field in table.fields]
        for n, rows in enumerate(_paged(table.rows), start=1):
            sheet = self.book.add_worksheet(table.name if n == 1 else f"{table.name} {n}")
            sheet.freeze_panes(1, 0)
            for at, name in enumerate(names):
                sheet.write_string(0, at, name, self.bold)
            for row, cells in enumerate(rows, start=1):
                self._row(sheet, row, cells)

    def _row(self, sheet: Worksheet, row: int, cells: tuple[Any, ...]) -> None:
        for at, value in enumerate(cells):
            if value is not None:
                self._cell(sheet, row, at, value)

    def _cell(self, sheet: Worksheet, row: int, at: int, value: object) -> None:
        if isinstance(value, str):
            self._text(sheet, row, at, value)
        elif isinstance(value, bool):
            sheet.write_boolean(row, at, value)
        elif isinstance(value, int | float):
            sheet.write_number(row, at, value)
        elif isinstance(value, dt.date) and not isinstance(value, dt.datetime):
            self._day(sheet, row, at, value)
        else:
            self._text(sheet, row, at, cell(value))

    def _text(self, sheet: Worksheet, row: int, at: int, text: str) -> None:
        if len(text) > CELL_HOLDS:
            self.cut.append(f"{sheet.name} {row + 1}:{at + 1}")
            text = text[: CELL_HOLDS - len(CUT)] + CUT
        sheet.write_string(row, at, text, self.guarded if runs(text) else None)

    def _day(self, sheet: Worksheet, row: int, at: int, day: dt.date) -> None:
        if day < FIRST_DAY:
            sheet.write_string(row, at, day.isoformat())
        else:
            sheet.write_datetime(row, at, dt.datetime.combine(day, dt.time()), self.day)


def _paged(rows: Iterable[tuple[Any, ...]]) -> Iterator[Iterator[tuple[Any, ...]]]:
    """Rows by the page that holds them; the first page is there without any."""
    rest = iter(rows)
    yield islice(rest, PAGE_HOLDS - 1)
    for row in rest:
        yield islice(chain([row], rest), PAGE_HOLDS - 1)
