"""Which kind of list a table is, which row holds its headings, and what each column holds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from benchwalk.records.sheets.found import IgnoredColumn
from benchwalk.records.sheets.headings import listed, tally_of
from benchwalk.records.sheets.layout import names_of
from benchwalk.records.sheets.lists.found import KINDS, Columns, Kind, ListRefused
from benchwalk.records.sheets.lists.headings import (
    IGNORED,
    MEASURED,
    SHARED,
    Meant,
    meant_by,
    words_of,
)
from benchwalk.records.sheets.page import Table
from benchwalk.records.sheets.words import fold

Rows = Sequence[Sequence[str]]
FIRST_ROWS = 40  # own choice: what a logger writes above its headings is shorter
# of each group one column must be there for a table to be this kind of list
NEEDS: Mapping[Kind, tuple[tuple[str, ...], ...]] = {
    "plantings": (
        ("crop",),
        ("unit", "house"),
        ("planted_on",),
    ),
    "stations": (("code",), ("unit", "house"), ("kind", "role", "colour")),
    "treatments": (("date",), ("unit", "house"), ("material", "active", "moa_group", "irac")),
    "climate": (("stamp", "date", "time"), MEASURED),
}
# what a list must have once a person has said which kind it is
NEEDED: Mapping[Kind, tuple[tuple[str, ...], ...]] = {
    "plantings": (("crop",), ("unit",), ("planted_on",)),
    "stations": (("code",), ("unit",), ("kind", "colour", "method")),
    "treatments": (("date",), ("unit", "house"), ("material", "active", "kind")),
    "climate": (("stamp", "date", "time"), MEASURED),
}
LOOKED_AT = 200  # rows that tell what a table is
LOOKED = ("stage", "plants", "plant", "method", "squares_counted", "station")
SURELY_COUNTS = "surely counts"
TEMPERATURES = ("temp", "temp_min", "temp_max")
COUNTED = ("count", "infested", "mean")
PASSED_OVER = {
    IGNORED: "no known heading",
    "colour": "tells the kind only; a card's colour is kept with the card",
    "method": "tells the kind only; a method is kept with the card",
    "climate_then": "climate comes from logger files",
}


@dataclass(frozen=True)
class Column:
    """A column of a list: where it stands, its heading as written, what it holds."""

    index: int
    heading: str
    meaning: str
    unit: str | None = None
    sensor: str | None = None


@dataclass(frozen=True)
class ListLayout:
    """The columns of a list; ``row`` is the record number of the headings.

    ``known`` says whether a person agreed to the columns before.
    """

    kind: Kind
    row: int
    columns: tuple[Column, ...]
    known: bool = False

    @cached_property
    def _first(self) -> Mapping[str, Column]:
        return {c.meaning: c for c in reversed(self.columns)}

    def column(self, meaning: str) -> Column | None:
        """The column of a meaning; None where the list has no such column."""
        return self._first.get(meaning)

    def mapping(self) -> Columns:
        """Heading -> what it holds, as shown to a person and kept for the next list."""
        names = names_of([c.heading for c in self.columns])
        return {
            name: {"means": c.meaning, "unit": c.unit, "sensor": c.sensor}
            for name, c in zip(names, self.columns, strict=True)
            if c.heading.strip()
        }

    def ignored(self) -> tuple[IgnoredColumn, ...]:
        """Columns from which nothing is taken, and why."""
        return tuple(
            IgnoredColumn(c.heading, PASSED_OVER[c.meaning])
            for c in self.columns
            if c.meaning in PASSED_OVER and c.heading.strip()
        )

    def with_unit(self, meaning: str, unit: str) -> ListLayout:
        """The same with the unit of every column of a meaning that had none."""
        columns = (
            replace(c, unit=unit) if c.meaning == meaning and c.unit is None else c
            for c in self.columns
        )
        return replace(self, columns=tuple(columns))

    def with_unit_of_temperature(self, unit: str) -> ListLayout:
        """The same with the unit of every temperature whose heading says none.

        What a file says goes before what was said of another file with these headings.
        """
        columns = []
        for c in self.columns:
            heading = meant_by(c.heading, self.kind) if c.meaning in TEMPERATURES else None
            open_ = heading is not None and heading.unit is None
            columns.append(replace(c, unit=unit) if open_ else c)
        return replace(self, columns=tuple(columns))


def page_of(table: Table, said: Kind | None, own: Mapping[str, str]) -> tuple[Kind, Table] | None:
    """The kind of list that a file is, and the page that holds it; None for a sheet of counts.

    A page that names pests and counts makes the file a sheet of counts, whatever else stands in
    it; so is a file whose headings say nothing of a list, which the reader of counts then refuses.

    Parameters
    ----------
    said : the kind that a person says it is, which is then believed.
    own : the operation's own words for pests.

    Raises
    ------
    ListRefused
        if the headings fit several kinds of list, or several pages hold lists.
    """
    pages = [replace(table, pages=(p,)) for p in table.pages if p.rows and not p.hidden]
    if said is not None:
        fit = [p for p in pages if _fit(p.rows, said)]
        if len(fit) > 1:
            raise ListRefused("refused.list_pages", file=table.file, kind=said, n=len(fit))
        return said, (fit or pages or [table])[0]
    found = [(kind, page) for page in pages for kind in _kinds(page.rows, own)]
    if not found or any(kind == SURELY_COUNTS for kind, _ in found):
        return None
    if len(found) > 1:
        kinds = ", ".join(dict.fromkeys(kind for kind, _ in found))
        raise ListRefused("refused.list_kind", file=table.file, kinds=kinds)
    kind, page = found[0]
    return next(k for k in KINDS if k == kind), page


def _kinds(rows: Rows, own: Mapping[str, str]) -> list[str]:
    """The kinds that a page can be: of lists those whose headings fit it best."""
    head = rows[:LOOKED_AT]
    fits = {kind: _fit(head, kind) for kind in KINDS}
    best = max(fits.values())
    counts = _counts(head, own, [kind for kind in KINDS if fits[kind]])
    if counts == SURELY_COUNTS or best == 0:
        return [counts] if counts == SURELY_COUNTS else []
    likely: list[str] = [kind for kind in KINDS if fits[kind] == best]
    return ["counts", *likely] if counts == "perhaps" else likely


def _counts(rows: Rows, own: Mapping[str, str], kinds: Sequence[Kind]) -> str:
    """How surely the words of some row head counts of pests, long or wide.

    "Pest" and "quantity" beside a material, with nothing about how plants were looked at, may also
    be a record of treatments.
    """
    for number, row in enumerate(rows[:FIRST_ROWS], start=1):
        said = {listed(cell) for cell in row if cell.strip()}
        if "squares_counted" in said:
            return SURELY_COUNTS
        if "pest" in said and said & {*COUNTED}:
            return "perhaps" if not said & {*LOOKED} and _names_material(row) else SURELY_COUNTS
        open_ = [n for n, cell in enumerate(row) if not _in_a_list(cell, kinds)]
        if "date" in said and any(_heads_counts(row[n], n, rows[number:], own) for n in open_):
            return SURELY_COUNTS
    return "no"


def _names_material(row: Sequence[str]) -> bool:
    meant = [meant_by(c, "treatments") for c in row if c.strip() and listed(c) is None]
    return any(m is not None and m.meaning in ("material", "active") for m in meant)


def _in_a_list(heading: str, kinds: Sequence[Kind]) -> bool:
    """Whether a heading is empty, or one that the table would have as a list."""
    return not heading.strip() or any(meant_by(heading, kind) is not None for kind in kinds)


def _heads_counts(heading: str, index: int, below: Rows, own: Mapping[str, str]) -> bool:
    """Whether a heading names a pest, spelt right or, over cells that are counts, nearly so."""
    if listed(heading) is not None:
        return False
    return tally_of(heading, own, [r[index] for r in below if index < len(r)]) is not None


def _fit(rows: Rows, kind: Kind) -> int:
    """How many meanings of a kind the best row of headings names; 0 where a needed one lacks."""
    return max((_fit_of_row(row, kind) for row in rows[:FIRST_ROWS]), default=0)


def _fit_of_row(row: Sequence[str], kind: Kind) -> int:
    found = {m.meaning for cell in row if cell.strip() and (m := meant_by(cell, kind))}
    complete = all(found & {*group} for group in NEEDS[kind])
    return len(found - {IGNORED}) if complete else 0


def list_layout(
    table: Table, kind: Kind, known: Columns | None, answers: Mapping[str, str]
) -> ListLayout:
    """The columns of a table taken as a kind of list.

    Parameters
    ----------
    known : what a person agreed that its headings mean, before.
    answers : ``column:<heading>`` -> a meaning goes before all else.

    Raises
    ------
    ListRefused
        if a column that this kind needs is missing, or an answer gives a column no known meaning.
    """
    number = _heading_row(table.rows, kind)
    headings = table.rows[number - 1]
    told = {fold(k.partition(":")[2]): v for k, v in answers.items() if k.startswith("column:")}
    columns = [
        _column(index, heading, kind, _told(name, told, kind), (known or {}).get(name))
        for index, (heading, name) in enumerate(zip(headings, names_of(headings), strict=True))
    ]
    layout = ListLayout(kind, number, _once(columns), known is not None)
    _complete(layout, table)
    return layout


def headings_of(table: Table, kind: Kind) -> tuple[str, ...]:
    """The row of headings of a table taken as a kind of list."""
    return tuple(table.rows[_heading_row(table.rows, kind) - 1])


def _heading_row(rows: Rows, kind: Kind) -> int:
    """The first row that fits the kind best; where none fits, that with the most known words."""
    scores = [_fit_of_row(row, kind) for row in rows[:FIRST_ROWS]]
    if max(scores) == 0:
        scores = [sum(meant_by(c, kind) is not None for c in row) for row in rows[:FIRST_ROWS]]
    return scores.index(max(scores)) + 1


def _told(name: str, told: Mapping[str, str], kind: Kind) -> str | None:
    meaning = told.get(fold(name))
    possible = {*words_of(kind).values(), *SHARED[kind], IGNORED}
    if meaning is not None and meaning not in possible:
        raise ListRefused(
            "refused.list_column", heading=name, given=meaning, known=", ".join(sorted(possible))
        )
    return meaning


def _column(
    index: int,
    heading: str,
    kind: Kind,
    told: str | None,
    known: Mapping[str, str | None] | None,
) -> Column:
    meant = (meant_by(heading, kind) if heading.strip() else None) or Meant(IGNORED)
    if known is not None:
        meant = Meant(str(known["means"]), known.get("unit"), known.get("sensor"))
    if told is not None:
        meant = replace(meant, meaning=told)
    return Column(index, heading, meant.meaning, meant.unit, meant.sensor)


def _once(columns: Sequence[Column]) -> tuple[Column, ...]:
    """One column a meaning (and sensor); of two places in a row the first is the house."""
    units = [c for c in columns if c.meaning == "unit"]
    if len(units) > 1 and all(c.meaning != "house" for c in columns):
        columns = [replace(c, meaning="house") if c is units[0] else c for c in columns]
    seen: set[tuple[str, str | None]] = set()
    once = []
    for c in columns:
        key = c.meaning, c.sensor
        once.append(replace(c, meaning=IGNORED) if key in seen else c)
        seen.add(key)
    return tuple(once)


def _complete(layout: ListLayout, table: Table) -> None:
    held = {c.meaning for c in layout.columns}
    lacking = [" / ".join(g) for g in NEEDED[layout.kind] if not held & {*g}]
    if lacking:
        names = ", ".join(h.strip() for h in table.rows[layout.row - 1] if h.strip())
        raise ListRefused(
            "refused.list_lacks",
            file=table.file,
            kind=layout.kind,
            lacking=", ".join(lacking),
            found=names[:200],
        )
