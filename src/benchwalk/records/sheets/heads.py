"""Rows of headings: where they stand on a page, in one row or two, upright or days across."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from benchwalk.records.sheets.dates import heading_day
from benchwalk.records.sheets.headings import Meant, heading_key, listed, tally_of
from benchwalk.records.sheets.page import Row, text_at
from benchwalk.records.sheets.spread import spread_columns
from benchwalk.records.sheets.titles import place_in
from benchwalk.records.sheets.words import means, tidy

FIRST_ROWS = 20  # own choice: titles above the headings fill no more rows
BARE_WEEK = re.compile("[1-9]|[1-4][0-9]|5[0-3]")
BARE_NUMBER = re.compile(r"[0-9]+([.,][0-9]+)?")
FRACTION = re.compile(r"([0-9]{1,3}) ?/ ?([0-9]{1,3})")
FEW = 3  # own choice: fewer known words than this can stand in a row of counts by chance


@dataclass(frozen=True)
class Head:
    """The headings of a table: the rows `first` to `last` of the page (from 0) put together.

    ``days`` are the columns that a day heads, where days stand across.
    """

    first: int
    last: int
    headings: Row
    score: int
    days: tuple[int, ...] = ()


class Heads:
    """Finds rows of headings by the words that are known."""

    def __init__(
        self, given: Mapping[str, Meant], own: Mapping[str, str], year: int | None
    ) -> None:
        @cache
        def known(cell: str) -> bool:
            return (
                heading_key(cell) in given
                or listed(cell) is not None
                or tally_of(cell, own, ()) is not None
            )

        @cache
        def dated(cell: str) -> bool:
            found = given.get(heading_key(cell))
            return (found.meaning if found else listed(cell)) == "date"

        @cache
        def day(cell: str) -> bool:
            return heading_day(cell, year) is not None

        self.known, self.dated, self.day = known, dated, day

    def best(self, rows: Sequence[Row]) -> Head:
        """The row, or pair of rows, near the top that has the most known headings."""
        found = [self._head(n, n, rows[n]) for n in range(min(len(rows), FIRST_ROWS))]
        for n in range(len(found) - 1):
            pair = self._head(n, n + 1, put_together(rows[n], rows[n + 1]))
            if any(c.strip() for c in rows[n]) and pair.score >= max(1, found[n + 1].score):
                found.append(pair)
        # of equals a pair says more than its lower row, and an upper row comes first
        return max(found, key=lambda h: (h.score, h.last > h.first, -h.first))

    def _head(self, first: int, last: int, headings: Row) -> Head:
        score = sum(self.known(c) for c in headings if c.strip())
        if 0 < score <= sum(1 for c in headings if BARE_NUMBER.fullmatch(c.strip())):
            return Head(first, last, headings, 0)  # a row of counts, and a name before them
        spread = spread_columns(headings) if any(map(self.dated, headings)) else None
        return Head(first, last, headings, score + (len(spread[1]) if spread else 0))

    def next(self, rows: Sequence[Row], start: int) -> Head | None:
        """The next row of headings below `start`: one that names a day and is mostly known."""
        for n in range(start, len(rows)):
            if any(map(self.dated, rows[n])) and self._stands(rows[n]):
                return self._head(n, n, rows[n])
        return None

    def _stands(self, row: Row) -> bool:
        filled = [c for c in row if c.strip()]
        known = sum(map(self.known, filled))
        return known >= min(FEW, len(filled)) and known * 5 >= len(filled) * 3 and known > 1

    def across(
        self, rows: Sequence[Row], start: int = 0, *, of_one_pest: bool = False
    ) -> Head | None:
        """The next row from `start` on that is headed by days, with known words below its first.

        Where the page is of one pest its rows are units, and name none.
        """
        for n in range(start, len(rows)):
            days = self._days(rows[n])
            if days and start and _are_fractions(rows[n], days):
                continue
            if days and of_one_pest and listed(rows[n][days[0] - 1]) in ("unit", "house"):
                return Head(n, n, rows[n], len(days), days)
            if days and any(self._names(row, days[0]) for row in rows[n + 1 : n + 41]):
                return Head(n, n, rows[n], len(days), days)
        return None

    def counts(self, row: Row) -> bool:
        """Whether a row is a pest and its counts."""
        first = next((c for c in row if c.strip()), "")
        pest = self.known(first) and listed(first) is None
        return pest and any(BARE_NUMBER.fullmatch(c.strip()) for c in row)

    def _names(self, row: Row, before: int) -> bool:
        return any(c.strip() and self.known(c) for c in row[:before])

    def units(self, rows: Sequence[Row], start: int = 0) -> Head | None:
        """The next row that begins with a pest's heading and goes on with names of units."""
        last = len(rows) if start else FIRST_ROWS
        for n, row in enumerate(rows[start:last], start):
            filled = [i for i, c in enumerate(row) if c.strip()]
            labels = [i for i in filled if listed(row[i]) in ("pest", "stage")]
            names = tuple(i for i in filled if self._names_a_unit(row[i]))
            stands = labels and len(names) > 1 and labels[-1] < names[0]
            if stands and any(self._names(below, names[0]) for below in rows[n + 1 : n + 41]):
                return Head(n, n, row, len(names), names)
        return None

    def _names_a_unit(self, cell: str) -> bool:
        words = heading_key(cell).split()
        return not self.known(cell) and not any(means(w) == "totals" for w in words)

    def _days(self, row: Row) -> tuple[int, ...]:
        days = tuple(n for n, c in enumerate(row) if c.strip() and self.day(c))
        if not days and any(listed(c) == "week" for c in row[:3]):
            days = tuple(n for n, c in enumerate(row) if BARE_WEEK.fullmatch(c.strip()))
        if len(days) < 2 or days[0] == 0:
            return ()
        filled = sum(1 for c in row[days[0] :] if c.strip())
        if len(days) * 5 < filled * 3:
            return ()
        # "Aphids 3/12 5/12" are plants infested and no days
        counts = any(self.known(c) and listed(c) is None for c in row[: days[0]] if c.strip())
        return () if counts else days


def _are_fractions(row: Row, days: Sequence[int]) -> bool:
    """Whether a row below a head goes on with plants infested of as many: "x, 1/10, 2/10"."""
    label = next((c for c in row[: days[0]] if c.strip()), "")
    found = [FRACTION.fullmatch(row[n].strip()) for n in days]
    told = [(int(f[1]), int(f[2])) for f in found if f]
    of = {inspected for _, inspected in told}
    free = bool(label) and listed(label) is None and not any(place_in(label))
    return free and len(told) == len(days) and len(of) == 1 and all(n <= m for n, m in told)


def put_together(upper: Row, lower: Row) -> Row:
    """Two rows of headings as one: a word above holds up to the next to its right."""
    width = max(len(upper), len(lower))
    out, carried = [], ""
    for n in range(width):
        above, below = text_at(upper, n), text_at(lower, n)
        if above or not below:
            carried = above
        out.append(tidy(f"{above or carried} {below}") if below else above)
    return tuple(out)
