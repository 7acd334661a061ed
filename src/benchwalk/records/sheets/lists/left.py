"""The rows of a list that were not taken, in a file for a spreadsheet beside the original."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

from benchwalk.catalogue import say
from benchwalk.records.sheets.found import Reject
from benchwalk.records.sheets.lists.found import ListReading
from benchwalk.records.sheets.rejects import guarded

PLACES = ("row", "column", "written", "why", "to_do")


def left_csv(reading: ListReading, left: Sequence[Reject], path: Path, locale: str = "en") -> None:
    """Write what was not taken: where, why, what to do, and the whole row as it stood.

    In the form of the file that a scouting sheet leaves: a mended row can be copied back, and what
    a spreadsheet would run is guarded.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    own = [say(f"sheet.column.{c}", locale) for c in PLACES]
    with path.open("w", encoding="utf-8-sig", newline="") as handle:
        writer = csv.writer(handle, delimiter=reading.delimiter or ",")
        writer.writerow([*own, *(guarded(h) for h in reading.headings)])
        for reject in sorted(left, key=lambda r: r.at):
            row = reading.rows[reject.at.row - 1]
            writer.writerow([*_said(reject, locale), *(guarded(cell) for cell in row)])


def _said(r: Reject, locale: str) -> list[str]:
    why = say(f"sheet.reason.{r.reason}", locale)
    if r.conflicts_with is not None:
        why = f"{why} ({say('sheet.column.row', locale)} {r.conflicts_with.row})"
    to_do = say(f"sheet.to_do.{r.reason}", locale)
    if r.question is not None:
        to_do = say("sheet.to_do.answer", locale, question=r.question)
    return [guarded(text) for text in (str(r.at.row), r.at.col or "", r.raw, why, to_do)]
