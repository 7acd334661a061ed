"""Blank cells below a day or place that is written once, for all rows down to the next."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from benchwalk.records.sheets.block import Blanks, Block
from benchwalk.records.sheets.dates import parts, serial
from benchwalk.records.sheets.layout import Column, Layout
from benchwalk.records.sheets.page import text_at
from benchwalk.records.sheets.words import fold, means, tidy

GROUPED = ("date", "house", "unit")  # from the outer to the inner
SOME_YEAR = 2024  # of days without one: whether a cell is a day does not hang on it
AS_ABOVE = "as_above"
LEFT_BLANK = "left_blank"


def without_blanks(block: Block, layout: Layout, agreed: frozenset[str]) -> Block:
    """The table with days and places written once filled down, and what is open about others.

    A column is filled where at least as many cells are blank as filled and no value stands twice in
    a row: who writes a day in two rows running writes it in each. Who writes the day once writes
    the house and unit after it so, too. Else few blanks are open, and a single one was forgotten.
    A value holds down to the next one, to a new one of a column before it, or to an empty row.

    Parameters
    ----------
    agreed : headings, folded, of columns that a person said are as the cell above.
    """
    columns = [] if block.turned else list(_grouped(block, layout))
    if not any(not text_at(row, c.index) for c in columns for row in block.rows[1:]):
        return block
    open_: list[Blanks] = []
    rows = [list(row) for row in block.rows]
    outer: list[int] = []
    habit = False
    for column in columns:
        runs = _runs(block.rows, column, outer)
        blank = [n for run in runs for n in run[1:]]
        if blank and not _repeats(block.rows, column):
            habit = habit or len(blank) >= len(runs) or fold(column.heading) in agreed
            if habit:
                _fill(rows, runs, column.index)
            elif len(blank) > 1:
                open_.append(Blanks(tidy(column.heading), (blank[0] + 1, column.index)))
        outer.append(column.index)
    filled = _first(block, rows)
    if filled is None:
        return replace(block, open_blanks=tuple(open_))
    return replace(block, rows=tuple(map(tuple, rows)), filled=filled, open_blanks=tuple(open_))


def _grouped(block: Block, layout: Layout) -> Iterator[Column]:
    """Columns of days and places that the table itself has, if it has more than one of them."""
    found = [c for m in GROUPED if (c := layout.column(m)) and c.index not in block.added]
    yield from found if len(found) > 1 or layout.column("plant") else ()


def _runs(rows: Sequence[Sequence[str]], column: Column, outer: Sequence[int]) -> list[list[int]]:
    """Rows that go together: one with a value, and those below it that have none."""
    runs: list[list[int]] = []
    stands = False
    for n, row in enumerate(rows[1:], start=1):
        text = text_at(row, column.index)
        if text or not any(c.strip() for c in row) or any(text_at(row, o) for o in outer):
            stands = bool(text) and _names(text, row, column)
            if stands:
                runs.append([n])
        elif stands and _goes_on(row, column):
            runs[-1].append(n)
    return runs


def _names(text: str, row: Sequence[str], column: Column) -> bool:
    """Whether a cell is a value that can hold for the rows below it."""
    if any(means(word) == "totals" for word in text.split()):
        return False
    beside = any(c.strip() for n, c in enumerate(row) if n != column.index)
    return beside and (column.meaning != "date" or _is_day(text))


def _is_day(text: str) -> bool:
    return not isinstance(parts(text, SOME_YEAR), str | None) or serial(text) is not None


def _goes_on(row: Sequence[str], column: Column) -> bool:
    """Whether a row without the value has something further to its right than one remark."""
    filled = [c for n, c in enumerate(row) if n > column.index and c.strip()]
    totals = any(means(c.strip().rstrip(":")) == "totals" for c in row)
    return len(filled) > 1 and not totals


def _repeats(rows: Sequence[Sequence[str]], column: Column) -> bool:
    """Whether a value stands in two rows running."""
    texts = [tidy(text_at(row, column.index)).casefold() for row in rows[1:]]
    return any(a and a == b for a, b in pairwise(texts))


def _fill(rows: list[list[str]], runs: Sequence[Sequence[int]], index: int) -> None:
    for first, *below in runs:
        for n in below:
            rows[n] += [""] * (index + 1 - len(rows[n]))
            rows[n][index] = rows[first][index]


def _first(block: Block, rows: Sequence[Sequence[str]]) -> tuple[int, int] | None:
    """The first cell that was filled; none where none was."""
    filled = (
        (n, i)
        for n, (old, new) in enumerate(zip(block.rows, rows, strict=True), start=1)
        for i, text in enumerate(new)
        if text_at(old, i) != text.strip()
    )
    return next(filled, None)
