"""The rows that were not taken, in a file that a spreadsheet opens beside the original."""

from __future__ import annotations

import csv
from pathlib import Path

from benchwalk.catalogue import say
from benchwalk.records.sheets.found import Reading, Reject
from benchwalk.records.sheets.values import hostile


def guarded(cell: str) -> str:
    """A cell that a spreadsheet shows as text and does not run."""
    return "'" + cell if hostile(cell) else cell


def rejects_csv(reading: Reading, path: Path, locale: str = "en") -> None:
    """Write what was not taken: where, why, what to do, and the whole row as it stood.

    One line a place; the columns of the sheet follow in its own order, so that a mended row can be
    copied back. UTF-8 with a mark at the front, which spreadsheets need to read it as that.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    own = [say(f"sheet.column.{c}", locale) for c in ("row", "column", "written", "why", "to_do")]
    with path.open("w", encoding="utf-8-sig", newline="") as handle:
        writer = csv.writer(handle)
        writer.writerow([*own, *(guarded(h) for h in reading.headings)])
        for reject in reading.rejects:
            row = reading.row(reject.at)
            writer.writerow([*_said(reject, locale), *(guarded(cell) for cell in row)])


def _said(r: Reject, locale: str) -> list[str]:
    why = say(f"sheet.reason.{r.reason}", locale)
    if r.conflicts_with is not None:
        why = f"{why} ({say('sheet.column.row', locale)} {r.conflicts_with.row})"
    to_do = say(f"sheet.to_do.{r.reason}", locale)
    if r.question is not None:
        to_do = say("sheet.to_do.answer", locale, question=r.question)
    return [str(r.at.row), guarded(r.at.col or ""), guarded(r.raw), guarded(why), guarded(to_do)]
