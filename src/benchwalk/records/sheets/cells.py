"""The cells of one sheet of a workbook, as its part is streamed (ECMA-376 part 1, 18.3.1)."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from itertools import pairwise
from sys import intern

from benchwalk.records.sheets.numbers import day_text, number_text
from benchwalk.records.sheets.page import Row, Spot

# own choices: cells behind so wide a gap were typed by mistake or to harm
ROWS_APART, COLUMNS_APART = 1_000, 100
MOST_CELLS = 2_000_000
MOST_MERGED = 20_000
Attributes = Mapping[str, str]
ESCAPED = re.compile("_x([0-9A-Fa-f]{4})_")
DIGITS = "0123456789"
REFERENCE = re.compile(r"([A-Z]{1,3})([0-9]{1,7})")


class Cells:
    """Cells as they were found: row number -> column index -> text."""

    def __init__(self) -> None:
        self.rows: dict[int, dict[int, str]] = {}
        self.formulas: dict[Spot, str] = {}
        self.without_value: set[Spot] = set()
        self.merged: list[tuple[int, int, int, int]] = []
        self.number = 0

    def put(self, spot: Spot, text: str) -> None:
        """Keep a cell that holds anything."""
        self.number += 1
        row = self.rows.get(spot[0])
        if row is None:
            row = self.rows[spot[0]] = {}
        row[spot[1]] = intern(text)

    def near(self) -> tuple[tuple[Row, ...], tuple[tuple[Spot, str], ...]]:
        """The rows from the first on, and the cells that stand far from all others."""
        last_row = _before_gap(sorted(self.rows), ROWS_APART)
        columns = {c for n, row in self.rows.items() if n <= last_row for c in row}
        last_column = _before_gap(sorted(columns), COLUMNS_APART)
        rows, far = [], []
        for number in range(1, last_row + 1):
            rows.append(_dense(self.rows.get(number, {}), last_column))
        for number in sorted(
            n for n, r in self.rows.items() if n > last_row or max(r) > last_column
        ):
            row = self.rows[number]
            far += [
                ((number, c), t)
                for c, t in sorted(row.items())
                if number > last_row or c > last_column
            ]
        return tuple(rows), tuple(far)


def _before_gap(places: list[int], gap: int) -> int:
    """The last place before the first gap that is wider than `gap`."""
    for one, other in pairwise(places):
        if other - one > gap:
            return one
    return places[-1] if places else 0


def _dense(row: Mapping[int, str], last: int) -> Row:
    if len(row) <= last + 1 and all(map(int.__eq__, row, range(len(row)))):
        return tuple(row.values())  # nothing is left out, as in most rows
    width = max((c for c in row if c <= last), default=-1) + 1
    return tuple(row.get(c, "") for c in range(width))


class Elements:
    """What a part of a workbook is read into: nothing, unless a kind of part does more."""

    @property
    def too_many(self) -> bool:
        """Whether more was found than can be held."""
        return False

    def start(self, tag: str, attributes: Attributes) -> None:
        """An element begins."""

    def end(self, tag: str) -> None:
        """An element ends."""

    def text(self, data: str) -> None:
        """Text inside the innermost element."""


class SheetCells(Elements):
    """Takes the part of a sheet element by element."""

    def __init__(self, shared: list[str], dates: frozenset[int], from_1904: bool) -> None:
        self.cells = Cells()
        self.shared, self.dates, self.from_1904 = shared, dates, from_1904
        self._row = self._index = 0
        self._row_text = ""  # of the last cell that had a name, with the columns known by now
        self._columns: dict[str, int] = {}
        self._kind = "n"
        self._style: str | None = None
        self._value: list[str] = []
        self._formula: list[str] | None = None
        self._texts: list[str] = []
        self._into: list[str] | None = None
        self._spoken = False

    @property
    def too_many(self) -> bool:
        """Whether there are more cells than can be held."""
        return self.cells.number > MOST_CELLS

    def start(self, tag: str, attributes: Attributes) -> None:
        """An element begins."""
        if tag == "c":
            self._cell(attributes)
        elif tag == "v":
            self._into = self._value
        elif tag == "t":
            self._into = None if self._spoken else self._texts
        elif tag == "row":
            self._row = _whole(attributes.get("r"), self._row + 1)
            self._index, self._row_text = -1, ""
        elif tag == "f":
            self._into = self._formula = []
        elif tag == "rPh":
            self._spoken = True
        elif tag == "mergeCell" and len(self.cells.merged) < MOST_MERGED:
            self._merged(attributes.get("ref", ""))

    def end(self, tag: str) -> None:
        """An element ends."""
        self._into = None
        if tag == "c":
            self._close()
        elif tag == "rPh":
            self._spoken = False

    def text(self, data: str) -> None:
        """Text inside an element."""
        if self._into is not None:
            self._into.append(data)

    def _cell(self, attributes: Attributes) -> None:
        reference = attributes.get("r", "")
        letters = reference.rstrip(DIGITS)
        same_row = self._row_text and reference[len(letters) :] == self._row_text
        if same_row and letters in self._columns:
            self._index = self._columns[letters]  # in the row of the cell before it, as most are
        elif spot := spot_of(reference):
            self._row, self._index = spot
            self._row_text, self._columns[letters] = reference[len(letters) :], spot[1]
        else:
            self._index += 1
        self._kind = attributes.get("t", "n")
        self._style = attributes.get("s")
        self._value, self._formula, self._texts = [], None, []

    def _close(self) -> None:
        value = "".join(self._value)
        text = self._said(value)
        if self._formula is not None:
            text = self._worked_out(self._formula, value, text)
        if text:
            self.cells.put((self._row, self._index), text)

    def _worked_out(self, parts: list[str], value: str, text: str) -> str:
        """What a cell of a formula holds: what it came to, or else the formula."""
        spot, formula = (self._row, self._index), "=" + ("".join(parts) or "…")
        # a formula that can come to an empty text says so; any other was never worked out
        if not value and '""' not in formula:
            self.cells.without_value.add(spot)
            return formula
        if text:
            self.cells.formulas[spot] = formula
        return text

    def _said(self, value: str) -> str:
        if self._kind == "s":
            number = _whole(value, -1)
            return self.shared[number] if 0 <= number < len(self.shared) else f"#{value}"
        if self._kind == "inlineStr":
            return unescaped("".join(self._texts))
        if self._kind == "b":
            return "TRUE" if value == "1" else "FALSE"
        if self._kind == "n" and value:
            day = _whole(self._style, 0) in self.dates
            return day_text(value, self.from_1904) if day else number_text(value)
        return value

    def _merged(self, reference: str) -> None:
        spots = [spot_of(part) for part in reference.split(":")]
        if len(spots) == 2 and spots[0] and spots[1]:
            self.cells.merged.append((*spots[0], *spots[1]))


def unescaped(text: str) -> str:
    """Text with the signs that a part can only name ("_x000D_", ECMA-376 part 1, 22.9.2.19)."""
    return ESCAPED.sub(lambda found: chr(int(found[1], 16)), text) if "_x" in text else text


def spot_of(reference: str) -> Spot | None:
    """Row number and column index of a cell's name: "B6" is row 6, index 1."""
    found = REFERENCE.fullmatch(reference)
    return (int(found[2]), _index(found[1])) if found else None


@cache
def _index(letters: str) -> int:
    """The index of a column of at most three letters."""
    index = 0
    for letter in letters:
        index = index * 26 + ord(letter) - ord("A") + 1
    return index - 1


def _whole(text: str | None, other: int) -> int:
    return int(text) if text and text.isdecimal() else other
