"""From the pages of a file to the tables in them: upright, side by side, stacked, turned."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise

from benchwalk.records.sheets.blanks import without_blanks
from benchwalk.records.sheets.block import Block
from benchwalk.records.sheets.dates import parts
from benchwalk.records.sheets.dayparts import with_weeks_for_days, with_whole_days
from benchwalk.records.sheets.ditto import without_ditto
from benchwalk.records.sheets.found import At, SheetRefused
from benchwalk.records.sheets.headings import Meant, heading_key, listed
from benchwalk.records.sheets.heads import Head, Heads
from benchwalk.records.sheets.layout import Layout, layout_of
from benchwalk.records.sheets.merged import without_merged
from benchwalk.records.sheets.page import Page, Row, Spot, Table, cell_at
from benchwalk.records.sheets.spread import (
    DERIVED,
    NAMED_WHOLE,
    pest_in,
    spread_columns,
    spread_over,
)
from benchwalk.records.sheets.titles import (
    Told,
    date_in,
    is_house,
    is_summary,
    labelled,
    method_in,
    place_in,
    unit_and_crop,
    years_in,
)
from benchwalk.records.sheets.turning import turned
from benchwalk.records.sheets.words import tidy

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
NO_COUNTS = "key sheet, no records"
FIRST_TITLES = 3  # own choice: what a page is of is said in its first rows
NOTHING: Mapping[str, Told] = {}


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
    as_above: frozenset[str] = frozenset(),
) -> Cut:
    """Cut a file into its tables.

    Parameters
    ----------
    read_hidden : names of hidden pages that are read all the same.
    as_above : headings, folded, of columns whose blank cells are as the cell above.

    Raises
    ------
    SheetRefused
        if no page has a table that names a day and counts.
    """
    year = _year(table)
    out = Cut(year=year)
    pages = [
        PageCut(table, page, Heads(given, own, year), given, own, as_above) for page in table.pages
    ]
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
        as_above: frozenset[str],
    ) -> None:
        self.table, self.page, self.heads = table, page, heads
        self.given, self.own, self.as_above = given, own, as_above
        self.passed: list[tuple[At, str]] = []
        self.alone: list[tuple[At, str]] = [
            (Block(page, table.file, "", (), (), (), ()).place(spot), text)
            for spot, text in page.far
        ]
        years = years_in([page.name or ""])
        self.year = years.pop() if len(years) == 1 else None
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
            return "no counts" if self.page.hidden else NO_COUNTS
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
        whole = Part(tuple(range(len(head.headings))))
        spread = self._spread(head, titles)
        for parts_ in (self._grouped(head), _side_by_side(head.headings), [whole], spread):
            made = [self._block(head, end, part, _over(titles, part, parts_)) for part in parts_]
            if made and all(layout.usable for _, layout in made):
                return made
        return []

    def _grouped(self, head: Head) -> list[Part]:
        """Columns under a day, or a unit, that stands above the headings of several of them."""
        upper = self.page.rows[head.first - 1] if head.first else ()
        starts = [n for n, c in enumerate(upper) if c.strip() and n < len(head.headings)]
        labels = tuple(range(starts[0])) if starts else ()
        if len(starts) < 2 or not labels:
            return []
        ends = [*starts[1:], len(head.headings)]
        keys = [
            {heading_key(h) for h in head.headings[a:b] if h.strip()}
            for a, b in zip(starts, ends, strict=True)
        ]
        if not all(one & other for one, other in pairwise(keys)):
            return []
        return [
            Part((*labels, *range(a, b)), self._stands_over(upper[a], (head.first, a)))
            for a, b in zip(starts, ends, strict=True)
        ]

    def _spread(self, head: Head, titles: list[tuple[int, Row]]) -> list[Part]:
        """Columns of counts that stand for a plant, card, house or unit each."""
        found = spread_columns(head.headings)
        if found is None:
            return []
        meaning, names = found
        there = {listed(h) for h in head.headings}
        if meaning in NAMED_WHOLE and "date" not in there:
            return []  # units across of one walk: the rows may say how many plants of each
        pest = {} if "pest" in there else pest_in(titles, self.own)
        beside = [n for n, h in enumerate(head.headings) if n not in names]
        beside = [n for n in beside if listed(head.headings[n]) != DERIVED]
        once = [n for n in beside if listed(head.headings[n]) != "remarks"]
        out: list[Part] = []
        for column, name in names.items():
            told = {meaning: Told(name, (head.last + 1, column)), **pest}
            labels = once if out else beside
            out.append(Part((*labels, column), told, tuple(names)))
        return out

    def _stands_over(self, text: str, spot: Spot) -> dict[str, Told]:
        told = Told(tidy(text), spot)
        if self.heads.day(text):
            return {"date": told}
        if (found := spread_over(text)) and found[0] not in NAMED_WHOLE:
            return {found[0]: Told(found[1], spot)}
        return dict.fromkeys([m for m, _ in place_in(text)] or ["unit"], told)

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
        rows = self.page.rows
        while n > least and 0 < sum(1 for c in rows[n - 1] if c.strip()) < 3:
            if self.heads.counts(rows[n - 1]):
                break
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
        self, head: Head, end: int, part: Part, titles: list[tuple[int, Row]]
    ) -> tuple[Block, Layout]:
        rows = self.page.rows
        body = rows[head.last + 1 : end]
        if len(part.columns) < len(head.headings):
            body = tuple(tuple(_cells(row, part.columns)) for row in body)
        headings = tuple("Count" if n in part.spread else head.headings[n] for n in part.columns)
        block = Block(
            page=self.page,
            file=self.table.file,
            delimiter=self.table.delimiter or ",",
            rows=(headings, *body),
            lines=range(head.last + 1, end + 1),
            columns=part.columns,
            headed=head.headings,
            method=self._method(titles),
            year=self.year,
            spread=part.spread,
        )
        said = [self.page.name or "", *(c for _, row in titles for c in row)]
        block = self._with_said_once(with_whole_days(block, said), titles, part.said)
        layout = layout_of(block, self.given, self.own)
        if layout.column("date") is None:
            block = with_weeks_for_days(block)
            layout = layout_of(block, self.given, self.own)
        if self.page.merged:
            block = without_merged(block, layout, FILLED)
        block = without_ditto(block, layout, FILLED)
        return without_blanks(block, layout, self.as_above), layout

    def _method(self, titles: list[tuple[int, Row]]) -> str | None:
        return method_in([self.page.name or "", *(c for _, row in titles for c in row)])

    def _with_said_once(
        self, block: Block, titles: list[tuple[int, Row]], over: Mapping[str, Told] = NOTHING
    ) -> Block:
        """Columns for what a title, or the page's name, says once for all rows."""
        there = {listed(h) for h in block.rows[0]}
        there |= {m.meaning for h in block.rows[0] if (m := self.given.get(heading_key(h)))}
        said = {**self._said_once(titles, there | {*over}), **over}
        said = {m: t for m, t in said.items() if m not in there}
        return with_columns(block, said) if said else block

    def _said_once(self, titles: list[tuple[int, Row]], there: set[str | None]) -> dict[str, Told]:
        said = labelled(titles)
        name = self.page.name or ""
        if name and "date" not in there and parts(name) is not None:
            said.setdefault("date", Told(name, None))
        if "date" not in there and "date" not in said and (day := date_in(titles)):
            said["date"] = day
        unit, crop = unit_and_crop(self.page, titles)
        if not there & {"unit", "house"} and "unit" not in said and unit:
            said["unit"] = unit
        elif "unit" in there and "house" not in there and is_house(name):
            said.setdefault("house", Told(name, None))
        if crop:
            said.setdefault("crop", crop)
        return said

    def _across(self) -> list[tuple[Block, Layout]]:
        """Tables with a day in each column, turned so that each day is a row."""
        rows = self.page.rows
        found: list[tuple[Block, Layout]] = []
        pest = self._one_pest()
        head, start = self.heads.across(rows, of_one_pest=bool(pest)), 0
        while head is not None:
            after = self.heads.across(rows, head.last + 1, of_one_pest=bool(pest))
            end = len(rows) if after is None else self._titles_before(after.first, head.last + 1)
            found += self._turned(head, start, end, "Date", pest)
            head, start = after, end
        head, start = (None if found else self.heads.units(rows)), 0
        while head is not None:
            after = self.heads.units(rows, head.last + 1)
            end = len(rows) if after is None else self._titles_before(after.first, head.last + 1)
            found += self._turned(head, start, end, "Unit")
            head, start = after, end
        return found

    def _one_pest(self) -> str:
        """The pest that the page's name, or titles, name for a page without any in its rows."""
        titles = [(n, row) for n, row in enumerate(self.page.rows[:FIRST_TITLES], start=1)]
        said = pest_in([(0, (self.page.name or "",)), *titles], self.own)
        return " ".join(told.text for told in said.values())

    def _turned(
        self, head: Head, start: int, end: int, first: str, pest: str = ""
    ) -> list[tuple[Block, Layout]]:
        titles = [(n + 1, self.page.rows[n]) for n in range(start, head.first)]
        method = self._method(titles)
        done = turned(
            *(self.table, self.page, self.heads, head, end), first=first, method=method, pest=pest
        )
        made = []
        for block in done.blocks:
            whole = self._with_said_once(replace(block, year=self.year), titles)
            layout = layout_of(whole, self.given, self.own)
            if layout.usable:
                made.append((whole, layout))
        if made:
            self._pass(start, head.first)
            self.passed += done.passed
            self.alone += done.alone
        return made


@dataclass(frozen=True)
class Part:
    """Columns that are a table of their own, and what stands over them.

    ``spread`` are the columns of counts of which this table has one.
    """

    columns: tuple[int, ...]
    said: Mapping[str, Told] = field(default_factory=dict)
    spread: tuple[int, ...] = ()


def _cells(row: Row, columns: Sequence[int]) -> Iterator[str]:
    return (cell_at(row, n) for n in columns)


def _over(
    titles: list[tuple[int, Row]], part: Part, parts_: Sequence[Part]
) -> list[tuple[int, Row]]:
    """The titles of one table of several: those over its columns, and one alone on its row."""
    if len(parts_) < 2:
        return titles
    mine = range(part.columns[0], part.columns[-1] + 1)
    first = part.columns[0] == 0
    out = []
    for number, row in titles:
        alone = sum(1 for c in row if c.strip()) == 1
        left = alone and row[0].strip() != "" and not first
        kept = tuple(c if n in mine or (left and n == 0) else "" for n, c in enumerate(row))
        out.append((number, kept))
    return out


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


def _same(one: Row, other: Row) -> bool:
    keys = [[heading_key(c) for c in row if c.strip()] for row in (one, other)]
    return keys[0] == keys[1]


def _side_by_side(headings: Row) -> list[Part]:
    """Tables side by side: each begins with the same heading."""
    keys = [heading_key(h) for h in headings]
    first = next((k for k in keys if k), "")
    starts = [n for n, k in enumerate(keys) if k == first]
    if len(starts) < 2 or listed(first) not in BEGINS:
        return []
    ends = [*starts[1:], len(headings)]
    return [Part(tuple(range(a, b))) for a, b in zip(starts, ends, strict=True)]
