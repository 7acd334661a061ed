"""A file as pages of text cells: what every reader of sheets stands on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

Row = tuple[str, ...]
Spot = tuple[int, int]  # row number from 1, column index from 0


@dataclass(frozen=True)
class Page:
    """A sheet of a workbook, or all of a text file; ``rows[0]`` is row 1, cells are as written.

    Parameters
    ----------
    name : none for a text file.
    formulas : the formula of a cell whose row holds what it came to when it was last worked out.
    without_value : cells of a formula that was never worked out; the row holds the formula.
    merged : cells that were made one: (first row, first column, last row, last column).
    far : cells that stand alone, far from all others; they are not in ``rows``.
    """

    rows: tuple[Row, ...]
    name: str | None = None
    hidden: bool = False
    formulas: Mapping[Spot, str] = field(default_factory=dict)
    without_value: frozenset[Spot] = frozenset()
    merged: tuple[tuple[int, int, int, int], ...] = ()
    far: tuple[tuple[Spot, str], ...] = ()


@dataclass(frozen=True)
class Table:
    """A file taken apart into its pages; a text file has one."""

    file: str
    sha256: str
    encoding: str | None
    delimiter: str | None
    pages: tuple[Page, ...]
    from_1904: bool = False

    @property
    def rows(self) -> tuple[Row, ...]:
        """The rows of the first page."""
        return self.pages[0].rows


def cell_at(row: Sequence[str], index: int) -> str:
    """A cell as written; a row that ends before it has nothing there."""
    return row[index] if index < len(row) else ""


def text_at(row: Sequence[str], index: int) -> str:
    """A cell without the blanks around it."""
    return cell_at(row, index).strip()


def cell_name(row: int, index: int) -> str:
    """A cell as spreadsheets name it: row 6 and index 1 are "B6"."""
    letters = ""
    number = index + 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return f"{letters}{row}"
