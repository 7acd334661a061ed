"""Tables with a day in each column, turned so that each day is a row."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from benchwalk.records.sheets.block import Block
from benchwalk.records.sheets.found import At
from benchwalk.records.sheets.headings import heading_key, listed
from benchwalk.records.sheets.heads import BARE_WEEK, Head, Heads
from benchwalk.records.sheets.page import Page, Row, Spot, Table, cell_at, text_at
from benchwalk.records.sheets.titles import is_summary, place_in
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
    """A row of the page: its number, its label, and what tells its table from others.

    ``of_pest`` says whether the label stands under a heading of pests.
    """

    number: int
    label: str
    group: tuple[tuple[str, str], ...]
    of_pest: bool = False


def turned(
    table: Table,
    page: Page,
    heads: Heads,
    head: Head,
    end: int,
    *,
    first: str = "Date",
    method: str | None = None,
    pest: str = "",
) -> Turned:
    """Turn the rows below a head of days, one table for each unit that the rows name.

    Parameters
    ----------
    first : what heads the columns: "Date", or "Unit" where units stand across.
    pest : the one pest that the page is of, for rows that name none.
    """
    return Turning(table, page, heads, head, end, first, method, pest).turn()


class Turning:
    """The rows below one head of days."""

    def __init__(
        self,
        table: Table,
        page: Page,
        heads: Heads,
        head: Head,
        end: int,
        first: str,
        method: str | None,
        pest: str,
    ) -> None:
        self.table, self.page, self.heads, self.head = table, page, heads, head
        self.first, self.method, self.pest = first, method, pest
        self.numbers = range(head.last + 2, end + 1)
        self.labels = range(head.days[0])
        self.meanings = [listed(head.headings[n]) for n in self.labels]
        self.spots: dict[tuple[str, str], Spot] = {}
        self.standing: tuple[tuple[str, str], ...] = ()  # a place in a line of its own
        self.out = Turned()

    def turn(self) -> Turned:
        """The tables, and where every other cell and row goes."""
        groups: dict[tuple[tuple[str, str], ...], list[Line]] = {}
        before: dict[int, str] = {}
        for number in self.numbers:
            row = self.page.rows[number - 1]
            if not any(c.strip() for c in row):
                self._passed_row(number, "blank")
                before = {}
                continue
            line = self._line(number, row, before)
            if line is not None:
                groups.setdefault(line.group, []).append(line)
                self._others(line, row)
        self.out.blocks += [self._block(group, lines) for group, lines in groups.items()]
        return self.out

    def _passed_row(self, number: int, why: str) -> None:
        self.out.passed.append((At(number, sheet=self.page.name), why))

    def _line(self, number: int, row: Row, before: dict[int, str]) -> Line | None:
        """A row by its labels; those left blank under a label go on with it."""
        texts: dict[int, str] = {}
        for index in self.labels:
            text = tidy(cell_at(row, index))
            further = any(text_at(row, n) for n in self.labels if n > index)
            texts[index] = text or (before.get(index, "") if further else "")
            if text:
                before.update({index: text})
        if any(means(text) == "totals" for text in texts.values()):
            self._passed_row(number, "totals")
            return None
        told = [n for n in self.labels if self.meanings[n] not in GROUPS and texts[n]]
        label = tidy(" ".join(texts[n] for n in told)) or self.pest
        counted = any(text_at(row, n) for n in self.head.days)
        if not counted and not self.heads.known(label):
            self._lone(number, row)
            return None
        of_pest = any(self.meanings[n] == "pest" for n in told)
        return Line(number, label or NO_LABEL, self._group(number, texts), of_pest)

    def _group(self, number: int, texts: dict[int, str]) -> tuple[tuple[str, str], ...]:
        """What tells the table of a row from the others."""
        own = [n for n in self.labels if self.meanings[n] in GROUPS and texts[n]]
        for n in own:
            self.spots.setdefault((str(self.meanings[n]), texts[n]), (number, n))
        meant = {self.meanings[n] for n in own}
        above = (said for said in self.standing if said[0] not in meant)
        return (*above, *((str(self.meanings[n]), texts[n]) for n in own))

    def _lone(self, number: int, row: Row) -> None:
        """A row without counts: a place for the rows below it, or texts that stand alone."""
        filled = [(n, c) for n, c in enumerate(row) if c.strip()]
        places = list(place_in(filled[0][1])) if len(filled) == 1 else []
        if places:
            self.standing = tuple(places)
            self.spots.update({said: (number, filled[0][0]) for said in places})
            self._passed_row(number, "title")
            return
        self.out.alone += [(self._place(number, index), text) for index, text in filled]

    def _others(self, line: Line, row: Row) -> None:
        """Cells that no day heads: sums are passed over, remarks kept."""
        for index in range(self.head.days[0], len(row)):
            if index in self.head.days or not row[index].strip():
                continue
            heading = cell_at(self.head.headings, index)
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
        labels = [line.label for line in lines]
        headings = (self.first, *labels, *(meaning.capitalize() for meaning, _ in said))
        texts = tuple(text for _, text in said)
        cells = [self.page.rows[line.number - 1] for line in lines]
        rows = [headings]
        for day in self.head.days:
            rows.append((self._heads(day), *(cell_at(row, day) for row in cells), *texts))
        block = self._shell(
            rows=tuple(rows),
            lines=(self.head.days[0] - 1, *self.head.days),
            columns=(self.head.last + 1, *(line.number for line in lines), *(-1 for _ in said)),
        )
        pests = frozenset(n for n, line in enumerate(lines, start=1) if line.of_pest)
        added = {1 + len(lines) + n: self._place(*self.spots[s]) for n, s in enumerate(said)}
        return replace(block, added=added, pests=pests)

    def _heads(self, column: int) -> str:
        """What heads a column: a week may be a bare number behind the word."""
        text = self.head.headings[column]
        return f"Wk {text.strip()}" if BARE_WEEK.fullmatch(text.strip()) else text


NO_LABEL = "?"


def _why(heading: str) -> str:
    words = heading_key(heading).split()
    if not words or listed(heading) == "total" or is_summary(heading):
        return "totals"
    return "totals" if any(means(w) == "totals" for w in words) else "no known heading"
