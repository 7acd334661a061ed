"""The rows that were not taken, in a file that a spreadsheet opens beside the original."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from pathlib import Path

from benchwalk.catalogue import say
from benchwalk.records.sheets.found import Reading, Reject
from benchwalk.records.sheets.page import Row, cell_name
from benchwalk.records.sheets.values import hostile


def guarded(cell: str) -> str:
    """A cell that a spreadsheet shows as text and does not run."""
    return "'" + cell if hostile(cell) else cell


def rejects_csv(reading: Reading, path: Path, locale: str = "en") -> None:
    """Write what was not taken: where, why, what to do, and the whole row as it stood.

    One line a place; the columns of the sheet follow in its own order, so that a mended row can be
    copied back. UTF-8 with a mark at the front, which spreadsheets need to read it as that, and
    divided as the sheet is.
    """
    rows = [(r, reading.row(r.at)) for r in reading.rejects]
    write_left(path, reading.delimiter, _places(reading), _headings(reading), rows, locale)


def write_left(
    path: Path,
    delimiter: str | None,
    places: Sequence[str],
    headings: Sequence[str],
    rows: Iterable[tuple[Reject, Row]],
    locale: str,
) -> None:
    """Write rows that were not taken, of a sheet or a list, what a spreadsheet would run guarded.

    Parameters
    ----------
    places : the two columns that tell a place.
    headings : those of the sheet itself.
    rows : what was wrong, and the row as it stood.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    own = [say(f"sheet.column.{c}", locale) for c in (*places, "written", "why", "to_do")]
    with path.open("w", encoding="utf-8-sig", newline="") as handle:
        writer = csv.writer(handle, delimiter=delimiter or ",")
        writer.writerow([*own, *(guarded(h) for h in headings)])
        for reject, row in rows:
            writer.writerow([*_said(reject, locale), *(guarded(cell) for cell in row)])


def _places(reading: Reading) -> tuple[str, str]:
    """What tells a place: a row and its heading, or of a workbook a sheet and a cell."""
    return ("row", "column") if reading.pages[0].name is None else ("sheet", "cell")


def _headings(reading: Reading) -> Sequence[str]:
    """The headings of a text file; sheets of a workbook have their own, so its columns' letters."""
    if reading.pages[0].name is None:
        return reading.tables[0][0].headed
    width = max(len(row) for page in reading.pages for row in page.rows)
    return [cell_name(1, n).rstrip("1") for n in range(width)]


def _said(r: Reject, locale: str) -> list[str]:
    why = say(f"sheet.reason.{r.reason}", locale)
    if r.conflicts_with is not None:
        other = r.conflicts_with
        why = f"{why} ({other.cell or say('explain.row', locale, row=other.row)})"
    to_do = say(f"sheet.to_do.{r.reason}", locale)
    if r.question is not None:
        to_do = say("sheet.to_do.answer", locale, question=r.question)
    place = (r.at.sheet, r.at.cell or str(r.at.row)) if r.at.sheet else (str(r.at.row), r.at.col)
    return [guarded(text or "") for text in (*place, r.raw, why, to_do)]
