"""A table inside a page: a row of headings and the rows below it, each cell with its place."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from benchwalk.records.sheets.found import At
from benchwalk.records.sheets.page import Page, Row, Spot, cell_name


@dataclass(frozen=True)
class Blanks:
    """Blank cells of a column of which it is open whether they are as the cell above.

    ``spot`` is the first of them, by its row in the table from 1 and its column.
    """

    heading: str
    spot: Spot

    @property
    def question(self) -> str:
        """The id of the question about them."""
        return f"blank:{self.heading}"


@dataclass(frozen=True)
class Block:
    """A table as upright rows; ``rows[0]`` holds the headings.

    Where the page has its days across, the table is turned: a row here is a column there.

    Parameters
    ----------
    lines : the page's row of each row here; of a turned table, the page's column.
    columns : the page's column of each column here; of a turned table, the page's row.
        A column that is `added` has none: -1.
    headed : the page's row of headings, which names a column of a text file.
    added : columns that no heading has, said once in a title or the page's name: index -> place.
    year : of days without one, where the page's name says it.
    method : how it was counted, where a title or the page's name says it.
    spread : the page's columns of counts of which this table has one; the tables of the others
        share all its other columns.
    pests : columns whose heading stood under a word for pests, whatever it says.
    ditto : the first mark that was read as what stands above it; none where there is none.
    filled : the first blank cell that was read as what stands above it, by row and column here.
    open_blanks : columns of which it is open whether their blanks are as the cell above.
    """

    page: Page
    file: str
    delimiter: str
    rows: tuple[Row, ...]
    lines: Sequence[int]
    columns: Sequence[int]
    headed: Row
    turned: bool = False
    added: Mapping[int, At] = field(default_factory=dict)
    method: str | None = None
    year: int | None = None
    number: int = 0
    spread: tuple[int, ...] = ()
    pests: frozenset[int] = frozenset()
    ditto: At | None = None
    filled: Spot | None = None
    open_blanks: tuple[Blanks, ...] = ()

    def shares(self, index: int) -> bool:
        """Whether a column stands in other tables too, or in none: said once for several cells."""
        return index in self.added or (bool(self.spread) and self.columns[index] not in self.spread)

    def left_to_first(self, number: int) -> bool:
        """Whether a row without any count is told of by the first of several such tables."""
        if not self.spread or self.spread[0] in self.columns:
            return False
        row = self.page.rows[self.lines[number - 1] - 1]
        return not any(row[n].strip() for n in self.spread if n < len(row))

    def spot(self, number: int, index: int) -> Spot:
        """The page's row and column of a cell, by its row here (from 1) and its column."""
        line, column = self.lines[number - 1], self.columns[index]
        return (column, line) if self.turned else (line, column)

    def at(self, number: int, index: int) -> At:
        """The place of a cell."""
        if index in self.added:
            return self.added[index]
        return self.place(self.spot(number, index), self.line(number))

    def place(self, spot: Spot, line: tuple[int, int] | None = None) -> At:
        """The place of a spot of the page."""
        row, column = spot
        if self.page.name is not None:
            return At(row, sheet=self.page.name, cell=cell_name(row, column), line=line)
        heading = self.headed[column] if column < len(self.headed) else cell_name(row, column)
        # two columns of one heading are told apart by their cells
        cell = cell_name(row, column) if heading in self._twice else None
        return At(row, heading, cell=cell, line=line)

    @cached_property
    def _twice(self) -> frozenset[str]:
        return frozenset(h for h, n in Counter(self.headed).items() if n > 1)

    @staticmethod
    def name(spot: Spot) -> str:
        """A spot as spreadsheets name it."""
        return cell_name(*spot)

    def row_at(self, number: int) -> At:
        """The place of a whole row; of a turned table, the day that heads the column."""
        if self.turned:
            return self.at(number, 0)
        return At(self.lines[number - 1], sheet=self.page.name, line=self.line(number))

    def written(self, number: int) -> Row:
        """A row as the page has it; of a turned table, as it stands here."""
        return self.rows[number - 1] if self.turned else self.page.rows[self.lines[number - 1] - 1]

    def line(self, number: int) -> tuple[int, int]:
        """What tells a row of this table from all rows of the file."""
        return self.number, number
