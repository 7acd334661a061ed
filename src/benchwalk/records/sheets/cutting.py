"""From the pages of a file to the tables in them: upright, side by side, stacked, turned."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from benchwalk.records.sheets.block import Block
from benchwalk.records.sheets.dates import parts
from benchwalk.records.sheets.found import At, SheetRefused
from benchwalk.records.sheets.headings import Meant, heading_key, listed
from benchwalk.records.sheets.heads import Head, Heads
from benchwalk.records.sheets.layout import Layout, layout_of
from benchwalk.records.sheets.page import Page, Row, Table
from benchwalk.records.sheets.titles import (
    Told,
    is_summary,
    labelled,
    method_in,
    nameless,
    unit_and_crop,
    years_in,
)
from benchwalk.records.sheets.turning import turned
from benchwalk.records.sheets.words import means

# columns whose merged cells hold for every row they span; counts are never filled down
FILLED = frozenset(
    [
        "date",
        "date_out",
        "house",
        "unit",
        "crop",
        "scout",
        "plant",
        "station",
        "week",
        "pest",
        "stage",
        "method",
        "plants",
    ]
)
BEGINS = ("date", "week", "house", "unit", "plant", "station")  # what a table can begin with
READ_HIDDEN = "read"


@dataclass(frozen=True)
class Cut:
    """The tables of a file; what of it is in none of them is passed over or stands alone."""

    tables: list[tuple[Block, Layout]] = field(default_factory=list)
    passed: list[tuple[At, str]] = field(default_factory=list)
    alone: list[tuple[At, str]] = field(default_factory=list)
    hidden: list[str] = field(default_factory=list)
    year: int | None = None


def cut(
    table: Table,
    given: Mapping[str, Meant],
    own: Mapping[str, str],
    read_hidden: frozenset[str] = frozenset(),
) -> Cut:
    """Cut a file into its tables.

    Parameters
    ----------
    read_hidden : names of hidden pages that are read all the same.

    Raises
    ------
    SheetRefused
        if no page has a table that names a day and counts.
    """
    year = _year(table)
    out = Cut(year=year)
    heads = Heads(given, own, year)
    pages = [PageCut(table, page, heads, given, own) for page in table.pages]
    several = sum(bool(p.tables) for p in pages) > 1
    for page in pages:
        why = page.why_passed(several)
        if why == "hidden" and page.page.name in read_hidden:
            why = None
        if why is None:
            _keep(out, page)
            continue
        if why == "hidden" and page.tables:
            out.hidden.append(str(page.page.name))
        out.passed.append((At(0, sheet=page.page.name), why))
    if not out.tables:
        raise _no_table(table, pages)
    return out


def _keep(out: Cut, page: PageCut) -> None:
    for block, layout in page.tables:
        out.tables.append((replace(block, number=len(out.tables)), layout))
    out.passed.extend(page.passed)
    out.alone.extend(page.alone)


def _year(table: Table) -> int | None:
    """The one year that titles, the names of pages and the file's name tell by themselves."""
    texts = [table.file, *(p.name or "" for p in table.pages)]
    for page in table.pages:
        rows = page.rows[:20]
        texts += [c for row in rows if sum(1 for c in row if c.strip()) < 3 for c in row]
    years = years_in(texts)
    return years.pop() if len(years) == 1 else None


def _no_table(table: Table, pages: Sequence[PageCut]) -> SheetRefused:
    row = next((p.best.headings for p in pages if p.best is not None), ())
    found = ", ".join(h.strip() for h in row[:12])
    return SheetRefused(
        "file_is_not_a_table",
        f"{table.file}: no row names a date and counts (found: {found[:200]}); expected"
        " headings such as Date, Unit, Pest, Stage, Count, or a column for each pest",
    )


class PageCut:
    """One page taken apart."""

    def __init__(
        self,
        table: Table,
        page: Page,
        heads: Heads,
        given: Mapping[str, Meant],
        own: Mapping[str, str],
    ) -> None:
        self.table, self.page, self.heads = table, page, heads
        self.given, self.own = given, own
        self.passed: list[tuple[At, str]] = []
        self.alone: list[tuple[At, str]] = [
            (Block(page, table.file, "", (), (), (), ()).place(spot), text)
            for spot, text in page.far
        ]
        self.best: Head | None = heads.best(page.rows) if page.rows else None

    @cached_property
    def tables(self) -> list[tuple[Block, Layout]]:
        """The tables of the page, in its order; none where it holds no counts."""
        if self.best is None:
            return []
        found = self._upright(self.best)
        return found or self._across()

    def why_passed(self, several: bool) -> str | None:
        """Why nothing of the page is read; none where it is read."""
        if not self.tables:
            return "no counts" if self.page.hidden else "key sheet, no records"
        if self.page.hidden:
            return "hidden"
        if several and (is_summary(self.page.name or "") or self._worked_out()):
            return "adds up other sheets"
        return None

    def _worked_out(self) -> bool:
        """Whether most numbers of the page are taken from other pages by formulas."""
        filled = [c for row in self.page.rows for c in row if c.strip()[:1].isdigit()]
        taken = sum("!" in f for f in self.page.formulas.values())
        return taken > 1 and taken * 2 > len(filled)

    def _upright(self, first: Head) -> list[tuple[Block, Layout]]:
        """Tables with a day in each row, one below another or side by side."""
        rows, found = self.page.rows, []
        head: Head | None = first
        start = 0
        while head is not None:
            after = self._next(head)
            end = len(rows) if after is None else self._titles_before(after.first, head.last + 1)
            titles = [(n + 1, rows[n]) for n in range(start, head.first)]
            usable = self._beside(head, end, titles)
            if usable:
                self._pass(start, head.first)
                found += usable
            elif not found:
                return []
            else:
                self._pass(start, end)
            head, start = after, end
        return found

    def _beside(
        self, head: Head, end: int, titles: list[tuple[int, Row]]
    ) -> list[tuple[Block, Layout]]:
        """The tables below a head: several where each of them is one, else all of it as one."""
        parts_ = _side_by_side(head.headings)
        made = [self._block(head, end, a, b, titles) for a, b in parts_]
        if len(made) > 1 and not all(layout.usable for _, layout in made):
            made = [self._block(head, end, 0, len(head.headings), titles)]
        return [(block, layout) for block, layout in made if layout.usable]

    def _next(self, head: Head) -> Head | None:
        """The next table's head; where rows name their unit, the same headings only repeat."""
        place = head.last + 1
        while (after := self.heads.next(self.page.rows, place)) is not None:
            same = _same(after.headings, head.headings)
            places = any(listed(c) in ("unit", "house") for c in head.headings)
            if not (same and places) or self._titled(after.first, place):
                return after
            place = after.last + 1
        return None

    def _titles_before(self, first: int, least: int) -> int:
        """Where the titles of a table begin: rows of one or two cells right above it."""
        n = first
        while n > least and 0 < sum(1 for c in self.page.rows[n - 1] if c.strip()) < 3:
            n -= 1
        return n

    def _titled(self, first: int, least: int) -> bool:
        """Whether a title right above a table says something that holds for its rows."""
        start = self._titles_before(first, least)
        return bool(labelled((n + 1, self.page.rows[n]) for n in range(start, first)))

    def _pass(self, start: int, end: int) -> None:
        for n in range(start, end):
            filled = any(c.strip() for c in self.page.rows[n])
            why = "title" if filled else "blank"
            self.passed.append((At(n + 1, sheet=self.page.name), why))

    def _block(
        self, head: Head, end: int, a: int, b: int, titles: list[tuple[int, Row]]
    ) -> tuple[Block, Layout]:
        rows = self.page.rows
        whole = (a, b) == (0, len(head.headings))
        body = rows[head.last + 1 : end]
        if not whole:
            body = tuple(row[a:b] for row in body)
        block = Block(
            page=self.page,
            file=self.table.file,
            delimiter=self.table.delimiter or ",",
            rows=(head.headings[a:b], *body),
            lines=range(head.last + 1, end + 1),
            columns=range(a, b),
            headed=head.headings,
            method=method_in([self.page.name or "", *(c for _, row in titles for c in row)]),
        )
        block = self._with_said_once(block, titles)
        layout = layout_of(block, self.given, self.own)
        if self.page.merged:
            block = _filled_down(block, layout)
        return block, layout

    def _with_said_once(self, block: Block, titles: list[tuple[int, Row]]) -> Block:
        """Columns for what a title, or the page's name, says once for all rows."""
        there = {listed(h) for h in block.rows[0]}
        there |= {m.meaning for h in block.rows[0] if (m := self.given.get(heading_key(h)))}
        said = {m: t for m, t in self._said_once(titles, there).items() if m not in there}
        return with_columns(block, said) if said else block

    def _said_once(self, titles: list[tuple[int, Row]], there: set[str | None]) -> dict[str, Told]:
        said = labelled(titles)
        name = self.page.name or ""
        if name and "date" not in there and parts(name) is not None:
            said.setdefault("date", Told(name, None))
        unit, crop = unit_and_crop(self.page, titles)
        if not there & {"unit", "house"} and "unit" not in said and unit:
            said["unit"] = unit
        elif "unit" in there and "house" not in there and _is_house(name):
            said.setdefault("house", Told(name, None))
        if crop:
            said.setdefault("crop", crop)
        return said

    def _across(self) -> list[tuple[Block, Layout]]:
        """Tables with a day in each column, turned so that each day is a row."""
        rows = self.page.rows
        found: list[tuple[Block, Layout]] = []
        head, start = self.heads.across(rows), 0
        while head is not None:
            after = self.heads.across(rows, head.last + 1)
            end = len(rows) if after is None else self._titles_before(after.first, head.last + 1)
            self._pass(start, head.first)
            titles = [(n + 1, rows[n]) for n in range(start, head.first)]
            found += self._turned(head, end, titles)
            head, start = after, end
        return found

    def _turned(
        self, head: Head, end: int, titles: list[tuple[int, Row]]
    ) -> Iterator[tuple[Block, Layout]]:
        method = method_in([self.page.name or "", *(c for _, row in titles for c in row)])
        done = turned(self.table, self.page, self.heads, head, end, method)
        self.passed += done.passed
        self.alone += done.alone
        for block in done.blocks:
            whole = self._with_said_once(block, titles)
            layout = layout_of(whole, self.given, self.own)
            if layout.usable:
                yield whole, layout


def with_columns(block: Block, said: Mapping[str, Told]) -> Block:
    """A table with a column more for each thing said once, before what is too much in a row."""
    headings, width = block.rows[0], len(block.rows[0])
    texts = tuple(told.text for told in said.values())
    rows = [(*headings, *(_heading(m) for m in said))]
    for row in block.rows[1:]:
        blank = not any(c.strip() for c in row)
        filled = (*row[:width], *("",) * (width - len(row)), *texts, *row[width:])
        rows.append(row if blank else filled)
    added = {width + n: _at(block.page, told) for n, told in enumerate(said.values())}
    columns = (*block.columns, *(-1 for _ in said))
    return replace(block, rows=tuple(rows), columns=columns, added={**block.added, **added})


def _heading(meaning: str) -> str:
    return meaning.replace("_", " ").capitalize()


def _at(page: Page, told: Told) -> At:
    if told.spot is None:
        return At(0, sheet=page.name)
    return Block(page, "", "", (), (), (), ()).place(told.spot)


def _is_house(name: str) -> bool:
    word = name.strip().rstrip("0123456789 -_").casefold()
    return not nameless(name) and listed(word) == "house"


def _same(one: Row, other: Row) -> bool:
    keys = [[heading_key(c) for c in row if c.strip()] for row in (one, other)]
    return keys[0] == keys[1]


def _side_by_side(headings: Row) -> list[tuple[int, int]]:
    """The columns (from, to) of tables side by side: each begins with the same heading."""
    keys = [heading_key(h) for h in headings]
    first = next((k for k in keys if k), "")
    starts = [n for n, k in enumerate(keys) if k == first]
    if len(starts) < 2 or listed(first) not in BEGINS:
        return [(0, len(headings))]
    return list(zip(starts, [*starts[1:], len(headings)], strict=True))


def _filled_down(block: Block, layout: Layout) -> Block:
    """Merged cells of places, days and names hold for every row they span."""
    rows = [list(row) for row in block.rows]
    for top, left, bottom, right in block.page.merged:
        for column in layout.columns:
            index = column.index
            if index in block.added or column.meaning not in FILLED:
                continue
            if left <= block.columns[index] <= right and bottom > top:
                _fill(rows, block, index, top, bottom)
    return replace(block, rows=tuple(map(tuple, rows)))


def _fill(rows: list[list[str]], block: Block, index: int, top: int, bottom: int) -> None:
    text = ""
    for number, line in enumerate(block.lines, start=1):
        if number == 1 or not top <= line <= bottom:
            continue
        row = rows[number - 1]
        row += [""] * (index + 1 - len(row))
        text = row[index] if line == top else text
        blank = not row[index].strip() and any(c.strip() for c in row)
        if blank and means(text) != "totals":
            row[index] = text
