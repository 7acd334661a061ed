"""Tables with a day in each column, turned so that each day is a row."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from benchwalk.records.sheets.block import Block
from benchwalk.records.sheets.found import At
from benchwalk.records.sheets.headings import heading_key, listed
from benchwalk.records.sheets.heads import Head, Heads
from benchwalk.records.sheets.page import Page, Row, Table
from benchwalk.records.sheets.words import means, tidy

# label columns that tell one table from the next; all others say what a row counts
GROUPS = ("house", "unit", "crop", "scout", "station", "plant")


@dataclass
class Turned:
    """What a table with its days across comes to."""

    blocks: list[Block] = field(default_factory=list)
    passed: list[tuple[At, str]] = field(default_factory=list)
    alone: list[tuple[At, str]] = field(default_factory=list)


@dataclass(frozen=True)
class Line:
    """A row of the page: its number, its label, and what tells its table from others."""

    number: int
    label: str
    group: tuple[tuple[str, str], ...]


def turned(
    table: Table, page: Page, heads: Heads, head: Head, end: int, method: str | None
) -> Turned:
    """Turn the rows below a head of days, one table for each unit that the rows name."""
    return Turning(table, page, heads, head, end, method).turn()


class Turning:
    """The rows below one head of days."""

    def __init__(
        self, table: Table, page: Page, heads: Heads, head: Head, end: int, method: str | None
    ) -> None:
        self.table, self.page, self.heads, self.head = table, page, heads, head
        self.method = method
        self.numbers = range(head.last + 2, end + 1)
        self.labels = range(head.days[0])
        self.meanings = [listed(head.headings[n]) for n in self.labels]
        self.out = Turned()

    def turn(self) -> Turned:
        """The tables, and where every other cell and row goes."""
        groups: dict[tuple[tuple[str, str], ...], list[Line]] = {}
        before: dict[int, str] = {}
        for number in self.numbers:
            row = self.page.rows[number - 1]
            if not any(c.strip() for c in row):
                self.out.passed.append((At(number, sheet=self.page.name), "blank"))
                before = {}
                continue
            line = self._line(number, row, before)
            if line is not None:
                groups.setdefault(line.group, []).append(line)
                self._others(line, row)
        for group, lines in groups.items():
            self.out.blocks.append(self._block(group, lines))
        return self.out

    def _line(self, number: int, row: Row, before: dict[int, str]) -> Line | None:
        """A row by its labels; those left blank under a label go on with it."""
        counted = any(_cell(row, n).strip() for n in self.head.days)
        texts: dict[int, str] = {}
        for index in self.labels:
            text = tidy(_cell(row, index))
            further = any(_cell(row, n).strip() for n in self.labels if n > index)
            texts[index] = text or (before.get(index, "") if further else "")
            if text:
                before.update({index: text})
        label = tidy(
            " ".join(texts[n] for n in self.labels if self.meanings[n] not in GROUPS and texts[n])
        )
        if not counted and not self.heads.known(label):
            self._lone(number, row)
            return None
        group = tuple(
            (str(self.meanings[n]), texts[n])
            for n in self.labels
            if self.meanings[n] in GROUPS and texts[n]
        )
        return Line(number, label or _NO_LABEL, group)

    def _lone(self, number: int, row: Row) -> None:
        """A row without counts: each of its texts stands by itself."""
        for index, text in enumerate(row):
            if text.strip():
                self.out.alone.append((self._place(number, index), text))

    def _others(self, line: Line, row: Row) -> None:
        """Cells that no day heads: sums are passed over, remarks kept."""
        for index in range(self.head.days[0], len(row)):
            if index in self.head.days or not row[index].strip():
                continue
            heading = _cell(self.head.headings, index)
            if listed(heading) == "remarks":
                self.out.alone.append((self._place(line.number, index), row[index]))
            else:
                self.out.passed.append((self._place(line.number, index), _why(heading)))

    def _place(self, number: int, index: int) -> At:
        return self._shell((), (), ()).place((number, index))

    def _shell(
        self, rows: tuple[Row, ...], lines: tuple[int, ...], columns: tuple[int, ...]
    ) -> Block:
        return Block(
            page=self.page,
            file=self.table.file,
            delimiter=self.table.delimiter or ",",
            rows=rows,
            lines=lines,
            columns=columns,
            headed=self.head.headings,
            turned=True,
            method=self.method,
        )

    def _block(self, group: Iterable[tuple[str, str]], lines: list[Line]) -> Block:
        said = list(group)
        first = lines[0].number
        headings = ("Date", *(line.label for line in lines), *(m.capitalize() for m, _ in said))
        texts = tuple(text for _, text in said)
        cells = [self.page.rows[line.number - 1] for line in lines]
        rows = [headings]
        for day in self.head.days:
            rows.append((self.head.headings[day], *(_cell(row, day) for row in cells), *texts))
        block = self._shell(
            rows=tuple(rows),
            lines=(self.head.days[0] - 1, *self.head.days),
            columns=(self.head.last + 1, *(line.number for line in lines), *(first for _ in said)),
        )
        width = 1 + len(lines)
        labels = [next(i for i in self.labels if self.meanings[i] == m) for m, _ in said]
        added = {width + n: self._place(first, index) for n, index in enumerate(labels)}
        return replace(block, added=added)


_NO_LABEL = "?"


def _cell(row: Row, index: int) -> str:
    return row[index] if index < len(row) else ""


def _why(heading: str) -> str:
    words = heading_key(heading).split()
    totals = any(means(w) == "totals" for w in words) or listed(heading) == "total"
    return (
        "totals"
        if totals or not words or words[0] in ("season", "temporada", "saison")
        else ("no known heading")
    )
