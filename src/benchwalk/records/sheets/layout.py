"""Which row holds the headings, what each column holds, and what is assumed about it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property

from benchwalk.records.sheets.block import Block
from benchwalk.records.sheets.found import Assumed, IgnoredColumn
from benchwalk.records.sheets.headings import (
    IGNORED,
    LISTED,
    METHODS,
    Meant,
    Tally,
    heading_key,
    hold_counts,
    hold_days,
    listed,
    tally_of,
    unknown_pest,
)
from benchwalk.records.sheets.words import fold
from benchwalk.reference import stage_words, taxa

Columns = Mapping[str, Mapping[str, str | None]]
TALLY = "tally"
# fmt: off
ADD_UP = frozenset([
    "total", "sum", "suma", "summe", "gesamt", "all", "cumulative", "cum", "running", "ytd",
    "acumulado", "acumulada", "kumuliert",
])
# fmt: on
PASSED_OVER = {
    "climate": "climate, no pest record",
    "total": "derived from other columns",
    "weekday": "the date says it",
    "date_part": "part of the date",
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
    """The columns of a table."""

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

    @property
    def usable(self) -> bool:
        """Whether there are a day and counts."""
        long = self.column("pest") and (self.column("count") or self.column("infested"))
        return self.column("date") is not None and bool(self.wide or long)

    def assumed(self, block: Block) -> tuple[Assumed, ...]:
        """What the headings leave open and a person may say otherwise."""
        return tuple(
            Assumed(
                f"colour of the card of {c.heading.strip()!r}",
                "yellow_card",
                block.at(1, c.index),
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


def names_of(headings: Sequence[str]) -> list[str]:
    """Headings as a mapping names them: the second "Count" is "Count (2)"."""
    seen: Counter[str] = Counter()
    names = []
    for heading in headings:
        name = " ".join(heading.split())
        seen[name] += 1
        names.append(name if seen[name] == 1 else f"{name} ({seen[name]})")
    return names


def meanings_of(mapping: Columns | None) -> dict[str, Meant]:
    """A mapping as headings are looked up in it.

    Raises
    ------
    MappingError
        if it gives a column a meaning that there is not.
    """
    return {heading_key(name): _meant(name, said) for name, said in (mapping or {}).items()}


def layout_of(block: Block, given: Mapping[str, Meant], own: Mapping[str, str]) -> Layout:
    """What the columns of a table hold; what was given goes before what the headings say."""
    headings, below = block.rows[0], block.rows[1:]
    columns = []
    for index, (heading, name) in enumerate(zip(headings, names_of(headings), strict=True)):
        cells = [r[index] for r in below if index < len(r)]
        columns.append(_column(index, heading, given.get(heading_key(name)), own, cells, block))
    return Layout(_settled(_by_their_cells(columns, below)))


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


def _column(
    index: int,
    heading: str,
    given: Meant | None,
    own: Mapping[str, str],
    cells: Sequence[str],
    block: Block,
) -> Column:
    if given is not None and given.tally is not None:
        found = tally_of(heading, own, cells)
        word = found.word if found else heading.strip()
        return Column(index, heading, TALLY, replace(given.tally, word=word))
    meaning = given.meaning if given else listed(heading)
    if meaning is not None or not heading.strip():
        return Column(index, heading, meaning or IGNORED)
    tally = tally_of(heading, own, cells, block.method)
    if tally is None and index in block.pests and hold_counts(cells):
        tally = unknown_pest(heading, block.method)
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
    words = set(fold(column.heading).split()) & ADD_UP
    others = [
        c for c in columns if c.tally and column.tally and c.tally.taxon == column.tally.taxon
    ]
    return bool(words) and len(others) > 1
