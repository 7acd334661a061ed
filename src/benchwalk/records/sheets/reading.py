"""Reading a scouting sheet: every cell and row of it ends in exactly one outcome."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from benchwalk.records.sheets.context import Sheet, why_skipped
from benchwalk.records.sheets.found import (
    Assumed,
    At,
    Count,
    Duplicate,
    IgnoredColumn,
    Note,
    NothingSeen,
    NotLooked,
    Outcome,
    Question,
    Reading,
    Reject,
    Rename,
    SheetRefused,
    Skip,
    Treatment,
)
from benchwalk.records.sheets.gathering import Gathering
from benchwalk.records.sheets.layout import Columns, MappingError, layout_of, propose_mapping
from benchwalk.records.sheets.long import LongRows
from benchwalk.records.sheets.repeats import without_repeats
from benchwalk.records.sheets.table import Table, read_table
from benchwalk.records.sheets.units import renamed
from benchwalk.records.sheets.wide import WideRows

__all__ = [
    "Assumed",
    "At",
    "Count",
    "Duplicate",
    "IgnoredColumn",
    "MappingError",
    "NotLooked",
    "Note",
    "NothingSeen",
    "Question",
    "Reading",
    "Reject",
    "Rename",
    "SheetRefused",
    "Skip",
    "Treatment",
    "propose_mapping",
    "read",
    "read_rows",
]

NONE: Mapping[str, str] = {}


def read(
    path: Path,
    *,
    answers: Mapping[str, str] = NONE,
    mapping: Columns | None = None,
    own_names: Mapping[str, str] = NONE,
) -> Reading:
    """What a scouting sheet says. Pure: nothing is recorded.

    Parameters
    ----------
    answers : what a person answered: question id -> choice.
    mapping : heading -> meaning, as a person agreed to it; see :func:`propose_mapping`.
    own_names : the operation's own words for pests: word -> taxon.

    Returns
    -------
    Reading
        An empty cell is never 0, and a pest without a row has no count.

    Raises
    ------
    SheetRefused
        if the file is no table, breaks off, or names no date and counts.
    MappingError
        if the mapping gives a column a meaning that there is not.
    OSError
        if the file cannot be opened.
    """
    return read_rows(read_table(path), answers=answers, mapping=mapping, own_names=own_names)


def read_rows(
    table: Table,
    *,
    answers: Mapping[str, str] = NONE,
    mapping: Columns | None = None,
    own_names: Mapping[str, str] = NONE,
) -> Reading:
    """What the rows of a table say; see :func:`read`."""
    layout = layout_of(table, mapping, own_names)
    sheet = Sheet(table, layout, answers)
    gathering = Gathering(sheet, answers, own_names)
    for number in range(1, layout.row):
        title = "title" if any(c.strip() for c in table.rows[number - 1]) else "blank"
        gathering.skip(number, title)
    rows = WideRows(sheet, gathering) if layout.wide else LongRows(sheet, gathering)
    gathering.learn_keys()
    for number, row in sheet.numbered():
        why = why_skipped(sheet, row)
        if why is not None:
            gathering.skip(number, why)
        elif not gathering.took_whole(number, row):
            rows.take(number, row)
    gathering.ask_date_order()
    return _reading(sheet, without_repeats(renamed(gathering)), mapping is None)


def _reading(sheet: Sheet, found: Gathering, proposed: bool) -> Reading:
    table, layout = sheet.table, sheet.layout
    return Reading(
        file=table.file,
        sha256=table.sha256,
        encoding=table.encoding,
        delimiter=table.delimiter,
        mapping=layout.mapping(),
        headings=tuple(table.rows[layout.row - 1]),
        records=tuple(found.records),
        nothing_seen=tuple(found.nothing_seen),
        not_looked=tuple(found.not_looked),
        rejects=tuple(found.rejects),
        duplicates=tuple(found.duplicates),
        treatments=tuple(found.treatments),
        renames=tuple(found.renames),
        notes=tuple(found.notes),
        skips=tuple(found.skipped),
        ignored_columns=layout.ignored(),
        asked=tuple(found.questions.asked.values()),
        assumed=(
            *sheet.assumed(),
            *(layout.assumed() if proposed else ()),
            *found.assumed.values(),
        ),
        ends=_ends(found),
        read=found.read,
        rows={At(n): tuple(row) for n, row in enumerate(table.rows, start=1)},
    )


def _ends(found: Gathering) -> tuple[tuple[At, Outcome], ...]:
    """Where each cell and row ended; a remark with two treatments is one cell."""
    asked = found.questions.ids()
    ends: list[tuple[At, Outcome]] = [
        *((c.at, "recorded") for c in found.records),
        *((n.at, "nothing_seen") for n in found.nothing_seen),
        *((n.at, "not_looked") for n in found.not_looked),
        *((r.at, "asked" if r.question in asked else "rejected") for r in found.rejects),
        *((d.at, "duplicate") for d in found.duplicates),
        *((at, "treatment") for at in dict.fromkeys(t.at for t in found.treatments)),
        *((n.at, "note") for n in found.notes),
        *((s.at, "skipped") for s in found.skipped),
    ]
    return tuple(ends)
