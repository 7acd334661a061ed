"""Which row holds the headings, what each column holds, and what is assumed about it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property

from benchwalk.records.sheets.found import Assumed, At, IgnoredColumn, SheetRefused
from benchwalk.records.sheets.headings import (
    IGNORED,
    LISTED,
    METHODS,
    Tally,
    heading_key,
    hold_counts,
    hold_days,
    listed,
    tally_of,
)
from benchwalk.records.sheets.table import Table
from benchwalk.records.sheets.words import fold
from benchwalk.reference import stage_words, taxa

Columns = Mapping[str, Mapping[str, str | None]]
TALLY = "tally"
FIRST_ROWS = 20  # own choice: titles above the headings fill no more rows
PASSED_OVER = {
    "climate": "climate, no pest record",
    "total": "derived from other columns",
    "weekday": "the date says it",
    "mean": "derived from the count; taken only where no count is given",
    IGNORED: "no known heading",
}


class MappingError(ValueError):
    """A mapping that was given says something of a column that cannot be said."""


@dataclass(frozen=True)
class Column:
    """A column: where it stands, its heading as written, what it holds."""

    index: int
    heading: str
    meaning: str
    tally: Tally | None = None


@dataclass(frozen=True)
class Layout:
    """The columns of a table; `row` is the record number of the headings."""

    row: int
    columns: tuple[Column, ...]

    @property
    def tallies(self) -> tuple[Column, ...]:
        """The columns of a wide sheet that hold counts."""
        return tuple(c for c in self.columns if c.tally is not None)

    @property
    def wide(self) -> bool:
        """Whether pests stand in the headings and not in a column."""
        return bool(self.tallies)

    def column(self, meaning: str) -> Column | None:
        """The column of a meaning; none where the sheet has no such column."""
        return self._first.get(meaning)

    @cached_property
    def _first(self) -> Mapping[str, Column]:
        return {c.meaning: c for c in reversed(self.columns)}

    def mapping(self) -> Columns:
        """Heading -> meaning, as shown to a person and kept for the next sheet."""
        return {
            name: meant(c)
            for name, c in zip(
                names_of([c.heading for c in self.columns]), self.columns, strict=True
            )
            if c.heading.strip()
        }

    def ignored(self) -> tuple[IgnoredColumn, ...]:
        """Columns from which nothing is taken, and why."""
        return tuple(
            IgnoredColumn(c.heading, PASSED_OVER[c.meaning])
            for c in self.columns
            if c.meaning in PASSED_OVER and c.heading.strip()
        )

    def assumed(self) -> tuple[Assumed, ...]:
        """What the headings leave open and a person may say otherwise."""
        return tuple(
            Assumed(
                f"colour of the card of {c.heading.strip()!r}",
                "yellow_card",
                At(self.row, c.heading),
            )
            for c in self.tallies
            if c.tally and not c.tally.colour_said
        )


def meant(column: Column) -> dict[str, str | None]:
    """What a column holds, as a mapping says it."""
    tally = column.tally
    if tally is None:
        return {"means": column.meaning}
    return {"means": TALLY, "taxon": tally.taxon, "stage": tally.stage, "method": tally.method}


@dataclass(frozen=True)
class Meant:
    """What a mapping that was given says of a column."""

    meaning: str
    tally: Tally | None


def names_of(headings: Sequence[str]) -> list[str]:
    """Headings as a mapping names them: the second "Count" is "Count (2)"."""
    seen: Counter[str] = Counter()
    names = []
    for heading in headings:
        name = " ".join(heading.split())
        seen[name] += 1
        names.append(name if seen[name] == 1 else f"{name} ({seen[name]})")
    return names


def propose_mapping(table: Table, own_names: Mapping[str, str] | None = None) -> Columns:
    """What each column of a table seems to hold: heading -> meaning.

    ``means`` is a meaning of ``words/headings.csv``, "ignored", or "tally" for a column of counts,
    which also has a taxon, a stage and a method.

    Raises
    ------
    SheetRefused
        if no row of the table names a date and counts.
    """
    return layout_of(table, None, own_names or {}).mapping()


def layout_of(table: Table, mapping: Columns | None, own: Mapping[str, str]) -> Layout:
    """The layout of a table; a mapping given goes before what the headings seem to say.

    Raises
    ------
    SheetRefused
        if no row of the table names a date and counts.
    MappingError
        if the mapping gives a column a meaning that there is not.
    """
    given = {heading_key(name): _meant(name, meaning) for name, meaning in (mapping or {}).items()}
    number = _heading_row(table, given, own)
    headings = table.rows[number - 1]
    below = table.rows[number:]
    columns = []
    for index, (heading, name) in enumerate(zip(headings, names_of(headings), strict=True)):
        cells = [r[index] for r in below if index < len(r)]
        meaning = given.get(heading_key(name))
        columns.append(_column(index, heading, meaning, own, cells))
    layout = Layout(number, _settled(_by_their_cells(columns, below)))
    _usable(layout, table)
    return layout


def _meant(name: str, said: Mapping[str, str | None]) -> Meant:
    means = said.get("means")
    if means in LISTED:
        return Meant(str(means), None)
    stage, method, taxon = said.get("stage"), said.get("method"), said.get("taxon")
    if means == TALLY and stage in _stages() and method in METHODS and taxon in _taxa():
        return Meant(TALLY, Tally(name, taxon, str(stage), str(method), agreed=True))
    raise MappingError(
        f"mapping of {name!r}: {dict(said)} is no meaning of a column; expected one of"
        f" {', '.join(sorted(LISTED))}, or tally with a taxon, a stage and a method"
    )


@cache
def _taxa() -> frozenset[str | None]:
    return frozenset({t.taxon_key for t in taxa()}) | {None}


@cache
def _stages() -> frozenset[str | None]:
    return frozenset(s.stage_key for s in stage_words())


def _heading_row(table: Table, given: Mapping[str, Meant], own: Mapping[str, str]) -> int:
    @cache
    def known(cell: str) -> bool:
        return (
            heading_key(cell) in given
            or listed(cell) is not None
            or tally_of(cell, own, ()) is not None
        )

    first = table.rows[:FIRST_ROWS]
    scores = [sum(known(cell) for cell in row if cell.strip()) for row in first]
    return scores.index(max(scores)) + 1


def _column(
    index: int, heading: str, given: Meant | None, own: Mapping[str, str], cells: Sequence[str]
) -> Column:
    if given is not None and given.tally is not None:
        found = tally_of(heading, own, cells)
        word = found.word if found else heading.strip()
        return Column(index, heading, TALLY, replace(given.tally, word=word))
    meaning = given.meaning if given else listed(heading)
    if meaning is not None or not heading.strip():
        return Column(index, heading, meaning or IGNORED)
    tally = tally_of(heading, own, cells)
    return Column(index, heading, TALLY if tally else IGNORED, tally)


def _by_their_cells(columns: list[Column], rows: Sequence[Sequence[str]]) -> list[Column]:
    """The day, and the count of a long sheet, under a heading that no table knows.

    Only where no known heading says it, and one column alone holds days, or counts.
    """
    for meaning, holds in (("date", hold_days), ("count", hold_counts)):
        known = {c.meaning for c in columns}
        needed = meaning == "date" or ("pest" in known and not known & {"infested", "mean"})
        fit = [c for c in columns if c.meaning == IGNORED and c.heading.strip()]
        fit = [c for c in fit if holds([r[c.index] for r in rows if c.index < len(r)])]
        if needed and meaning not in known and len(fit) == 1:
            columns = _meaning(columns, fit[0], meaning)
    return columns


def _settled(columns: list[Column]) -> tuple[Column, ...]:
    """One column a meaning: of two places the first is the house; a pest's total is derived."""
    settled = _long_or_wide(columns)
    units = [c for c in settled if c.meaning == "unit"]
    houses = [c for c in settled if c.meaning == "house"]
    if houses and not units:
        settled = _meaning(settled, houses[0], "unit")
    elif len(units) > 1 and not houses:
        settled = _meaning(settled, units[0], "house")
    seen: set[str] = set()
    once = []
    for c in settled:
        double = c.meaning in seen and c.tally is None and c.meaning not in PASSED_OVER
        once.append(Column(c.index, c.heading, IGNORED) if double else c)
        seen.add(c.meaning)
    return tuple(once)


def _meaning(columns: list[Column], column: Column, meaning: str) -> list[Column]:
    return [Column(c.index, c.heading, meaning, c.tally) if c is column else c for c in columns]


def _long_or_wide(columns: list[Column]) -> list[Column]:
    """In a long sheet (a pest column and a count column) a pest in a heading is no tally."""
    meanings = {c.meaning for c in columns}
    long = "pest" in meanings and bool(meanings & {"count", "infested", "mean"})
    kept = []
    for c in columns:
        if c.tally is None or not (long or _is_total(c, columns)):
            kept.append(c)
        else:
            kept.append(Column(c.index, c.heading, IGNORED if long else "total"))
    return kept


def _is_total(column: Column, columns: list[Column]) -> bool:
    """Whether a column adds up other columns of the same pest."""
    words = set(fold(column.heading).split()) & {"total", "sum", "suma", "summe", "gesamt", "all"}
    others = [
        c for c in columns if c.tally and column.tally and c.tally.taxon == column.tally.taxon
    ]
    return bool(words) and len(others) > 1


def _usable(layout: Layout, table: Table) -> None:
    counts = layout.wide or (
        layout.column("pest") and (layout.column("count") or layout.column("infested"))
    )
    if layout.column("date") is None or not counts:
        found = ", ".join(h.strip() for h in table.rows[layout.row - 1][:12])
        raise SheetRefused(
            "file_is_not_a_table",
            f"{table.file}: no row names a date and counts (found: {found[:200]}); expected"
            " headings such as Date, Unit, Pest, Stage, Count, or a column for each pest",
        )
