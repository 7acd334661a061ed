"""Reading a scouting sheet: every cell and row of it ends in exactly one outcome."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path

from benchwalk.records.sheets import beside
from benchwalk.records.sheets.blanks import AS_ABOVE, LEFT_BLANK
from benchwalk.records.sheets.block import Block
from benchwalk.records.sheets.context import Sheet, ways_of
from benchwalk.records.sheets.cutting import NO_COUNTS, READ_HIDDEN, Cut, cut
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
from benchwalk.records.sheets.layout import Columns, MappingError, meanings_of
from benchwalk.records.sheets.lists.found import ListReading
from benchwalk.records.sheets.long import LongRows
from benchwalk.records.sheets.page import Page, Table, cell_name
from benchwalk.records.sheets.repeats import without_repeats
from benchwalk.records.sheets.skipping import why_skipped
from benchwalk.records.sheets.table import read_table
from benchwalk.records.sheets.units import renamed
from benchwalk.records.sheets.wide import WideRows
from benchwalk.records.sheets.words import fold

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
    "read",
    "read_rows",
]

NONE: Mapping[str, str] = {}
EVERY = 500  # rows between two words on progress
Progress = Callable[[int, int], None]


def read(
    path: Path,
    *,
    answers: Mapping[str, str] = NONE,
    mapping: Columns | None = None,
    own_names: Mapping[str, str] = NONE,
    progress: Progress | None = None,
) -> Reading:
    """What a scouting sheet says. Pure: nothing is recorded.

    Parameters
    ----------
    answers : what a person answered: question id -> choice.
    mapping : heading -> meaning, as a person agreed to it: one of ``words/headings.csv``,
        "ignored", or "tally" for a column of counts, with its taxon, stage and method.
    own_names : the operation's own words for pests: word -> taxon.
    progress : told now and then how many rows of how many are read.

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
    table = read_table(path)
    return read_rows(
        table, answers=answers, mapping=mapping, own_names=own_names, progress=progress
    )


def read_rows(
    table: Table,
    *,
    answers: Mapping[str, str] = NONE,
    mapping: Columns | None = None,
    own_names: Mapping[str, str] = NONE,
    progress: Progress | None = None,
) -> Reading:
    """What the pages of a file say; see :func:`read`."""
    parts = cut(table, meanings_of(mapping), own_names, _shown(answers), _as_above(answers))
    sheets = [Sheet(block, layout) for block, layout in parts.tables]
    ways = ways_of(sheets, answers, parts.year, table.from_1904)
    for sheet in sheets:
        sheet.learn(ways)
    gathering = Gathering(sheets, answers, own_names)
    gathering.learn_keys(row for page in table.pages for row in page.rows)
    lists = _lists(table, parts, answers, own_names)
    _ask_blanks(gathering)
    _around(gathering, parts, frozenset(page.name for page, _ in lists))
    for sheet in sheets:
        _rows(sheet, gathering, progress)
    for page, said in lists:
        beside.take(said, page, gathering)
    gathering.ask_date_order()
    for place, text in _outside(table, parts):
        gathering.renamed_by(place, text)
    found = without_repeats(renamed(gathering))
    return _with_formulas(_reading(table, sheets, found, mapping is None))


def _shown(answers: Mapping[str, str]) -> frozenset[str]:
    """Hidden pages that a person wants read."""
    asked = (id_.partition(":") for id_, answer in answers.items() if answer == READ_HIDDEN)
    return frozenset(name for kind, _, name in asked if kind == "sheet")


def _as_above(answers: Mapping[str, str]) -> frozenset[str]:
    """Headings of columns whose blank cells a person said to be as the cell above."""
    asked = (id_.partition(":") for id_, answer in answers.items() if answer == AS_ABOVE)
    return frozenset(fold(name) for kind, _, name in asked if kind == "blank")


def _ask_blanks(found: Gathering) -> None:
    for sheet in found.sheets:
        for blanks in sheet.block.open_blanks:
            if found.questions.answer(blanks.question) is None:
                found.questions.ask(
                    Question(
                        id=blanks.question,
                        at=sheet.block.at(*blanks.spot),
                        reason="blank_below",
                        question=f"Is a blank cell below {blanks.heading!r} as the cell above it?",
                        choices=(AS_ABOVE, LEFT_BLANK),
                        proposed=None,
                    )
                )


def _lists(
    table: Table, parts: Cut, answers: Mapping[str, str], own: Mapping[str, str]
) -> list[tuple[Page, ListReading]]:
    """Pages of treatments beside those of counts."""
    names = {at.sheet for at, why in parts.passed if at.row == 0 and why == NO_COUNTS}
    pages = [page for page in table.pages if page.name in names and page.rows]
    read_ = ((page, beside.treatments_on(page, table, answers, own)) for page in pages)
    return [(page, said) for page, said in read_ if said is not None]


def _around(found: Gathering, parts: Cut, taken: frozenset[str | None]) -> None:
    """What of the file stands in no table, and on no page that was taken as a list."""
    for place, why in parts.passed:
        if place.row or place.sheet not in taken:
            found.skip(place, why)
    for place, text in parts.alone:
        if found.key_of_signs(text):
            found.skip(place, "key of signs")
        else:
            found.stands_alone(place, text)
    for name in parts.hidden:
        found.questions.ask(
            Question(
                id=f"sheet:{name}",
                at=At(0, sheet=name),
                reason="hidden_sheet",
                question=f"The sheet {name!r} is hidden and holds counts; is it to be read?",
                choices=("leave_out", READ_HIDDEN),
                proposed="leave_out",
            )
        )


def _outside(table: Table, parts: Cut) -> Iterator[tuple[At, str]]:
    """The texts that stand outside every table, with their places."""
    whole = {at.sheet for at, _ in parts.passed if at.row == 0}
    rows = {(at.sheet, at.row) for at, why in parts.passed if why == "title" and at.cell is None}
    for page in table.pages:
        shell = Block(page, table.file, "", (), (), (), ())
        for number, row in enumerate(page.rows, start=1):
            if page.name in whole or (page.name, number) in rows:
                for index, text in enumerate(row):
                    yield shell.place((number, index)), text
    yield from parts.alone


def _rows(sheet: Sheet, gathering: Gathering, progress: Progress | None) -> None:
    gathering.sheet = sheet
    rows = WideRows(sheet, gathering) if sheet.layout.wide else LongRows(sheet, gathering)
    total = len(sheet.block.rows)
    for number, row in sheet.numbered():
        why = why_skipped(sheet, row)
        if why is not None:
            gathering.skip(sheet.block.row_at(number), why)
        elif not (sheet.block.left_to_first(number) or gathering.took_whole(number, row)):
            rows.take(number, row)
        if number % EVERY == 0:
            gathering.refuse_too_many()
            if progress:
                progress(number, total)


def _reading(table: Table, sheets: Iterable[Sheet], found: Gathering, proposed: bool) -> Reading:
    return Reading(
        file=table.file,
        sha256=table.sha256,
        encoding=table.encoding,
        delimiter=table.delimiter,
        mapping={k: v for s in sheets for k, v in s.layout.mapping().items()},
        headings=tuple(dict.fromkeys(h for s in sheets for h in s.block.rows[0])),
        records=tuple(found.records),
        nothing_seen=tuple(found.nothing_seen),
        not_looked=tuple(found.not_looked),
        rejects=tuple(found.rejects),
        duplicates=tuple(found.duplicates),
        treatments=tuple(found.treatments),
        renames=tuple(found.renames),
        notes=tuple(found.notes),
        skips=tuple(found.skipped),
        ignored_columns=tuple(dict.fromkeys(c for s in sheets for c in s.layout.ignored())),
        asked=tuple(found.questions.asked.values()),
        assumed=_assumed(sheets, found, proposed),
        ends=_ends(found),
        read=found.read,
        pages=table.pages,
        tables=tuple((s.block, s.layout) for s in sheets),
    )


def _assumed(sheets: Iterable[Sheet], found: Gathering, proposed: bool) -> tuple[Assumed, ...]:
    """What was taken for granted, each once, at the first place where it was."""
    said = [a for s in sheets for a in s.assumed()]
    said += [a for s in sheets if proposed for a in s.layout.assumed(s.block)]
    once = {(a.what, a.value): a for a in reversed([*said, *found.assumed.values()])}
    return tuple(reversed(once.values()))


def _with_formulas(reading: Reading) -> Reading:
    """Cells of formulas as they are written; one that was never worked out is no count."""
    written = {
        (page.name, cell_name(*spot)): f"{formula} [{page.rows[spot[0] - 1][spot[1]]}]"
        for page in reading.pages
        for spot, formula in page.formulas.items()
        if spot[0] <= len(page.rows) and spot[1] < len(page.rows[spot[0] - 1])
    }
    empty = {(p.name, cell_name(*spot)) for p in reading.pages for spot in p.without_value}
    if not written and not empty:
        return reading

    def key(at: At) -> tuple[str | None, str]:
        return at.sheet, at.cell or ""

    return replace(
        reading,
        records=tuple(replace(c, raw=written.get(key(c.at), c.raw)) for c in reading.records),
        rejects=tuple(
            replace(
                r,
                raw=written.get(key(r.at), r.raw),
                reason="formula_without_value" if key(r.at) in empty else r.reason,
            )
            for r in reading.rejects
        ),
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
