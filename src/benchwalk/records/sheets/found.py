"""What was found in a scouting sheet: every cell or row in one of these, and none in two."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from benchwalk.catalogue import Refusal
from benchwalk.records.sheets.page import Page, Row

if TYPE_CHECKING:
    from benchwalk.records.sheets.block import Block
    from benchwalk.records.sheets.layout import Layout

How = Literal["counted", "at_least", "present", "infested", "density"]
Outcome = Literal[
    "recorded",
    "nothing_seen",
    "not_looked",
    "duplicate",
    "rejected",
    "asked",
    "treatment",
    "note",
    "skipped",
]


class SheetRefused(Refusal):
    """Nothing of the file is taken.

    Parameters
    ----------
    reason : ``file_truncated``, ``file_is_not_a_table`` or ``file_too_large_unpacked``.
    message : what was found, what was expected, and what to do.
    """

    def __init__(self, reason: str, message: str) -> None:
        super().__init__(f"refused.{reason}", message=message)
        self.reason = reason


@dataclass(frozen=True, order=True, slots=True)
class At:
    """A place in the file: a row (the heading of a CSV is row 1) and a heading, or a cell.

    ``row`` is 0 where a whole page is meant. ``line`` is the table and the row of it that the place
    belongs to: what stands on one line was said of one walk of one unit.
    """

    row: int
    col: str | None = None
    sheet: str | None = None
    cell: str | None = None
    line: tuple[int, int] | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Count:
    """One tally: ``value`` animals, or plants infested of ``of``, or a mean over ``of`` cards.

    ``value`` is None only where ``how`` is ``present``. ``taxon`` and ``stage`` are keys of the
    reference; ``unit`` is the unit's name with its house before it, spelled as most rows do.
    ``plants`` is None where the file does not say how many were inspected, and for cards.
    ``items`` is how many leaves or flowers were looked at, where ``sampling_unit`` is one of them.
    ``time`` ("08:05", "am") is kept where it tells one round of a day from another.
    ``per_days`` is the time [d] that a mean is per, as a heading says it ("thrips/card/wk").
    ``lacks`` names what the file never says. ``resolved`` is ``proposed`` where a name was taken
    for the one name near it and nobody has agreed to that yet.
    """

    at: At
    on: dt.date
    house: str | None
    unit: str
    unit_raw: str
    method: str
    sampling_unit: str
    taxon: str
    taxon_raw: str
    stage: str
    how: How
    value: int | float | None
    raw: str
    of: int | None = None
    plant: str | None = None
    plants: int | None = None
    items: int | None = None
    time: str | None = None
    station: str | None = None
    hung_on: dt.date | None = None
    per_days: int | None = None
    squares_counted: int | None = None
    squares_printed: int | None = None
    crop: str | None = None
    scout: str | None = None
    lacks: tuple[str, ...] = ()
    resolved: Literal["proposed"] | None = None


@dataclass(frozen=True, slots=True)
class NothingSeen:
    """A look, or a card read, that found no pest at all."""

    at: At
    on: dt.date
    house: str | None
    unit: str
    method: str
    plant: str | None = None
    plants: int | None = None
    crop: str | None = None
    scout: str | None = None


@dataclass(frozen=True, slots=True)
class NotLooked:
    """A count that was not made; never a zero. ``taxon`` is None where the whole look is meant."""

    at: At
    raw: str
    on: dt.date
    house: str | None
    unit: str | None
    taxon: str | None
    stage: str | None
    method: str
    crop: str | None = None
    scout: str | None = None


@dataclass(frozen=True, slots=True)
class Reject:
    """A cell or row that a person must look at; ``question`` is the id of what would settle it."""

    at: At
    reason: str
    raw: str
    because: At | None = None
    conflicts_with: At | None = None
    question: str | None = None


@dataclass(frozen=True, slots=True)
class Duplicate:
    """A row that says the same as an earlier one, which was taken once."""

    at: At
    of: At


@dataclass(frozen=True, slots=True)
class Treatment:
    """A treatment that a remark tells of; ``on`` is None where the remark has no day.

    ``active`` is the active ingredient or the enemy's scientific name, None where the words do not
    tell it. ``inferred`` says how the day was reached where it is not written out.
    """

    at: At
    on: dt.date | None
    house: str | None
    units: tuple[str, ...]
    raw: str
    kind: str
    what: str | None
    active: str | None
    week_of: dt.date | None = None
    inferred: str | None = None
    lacks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Rename:
    """A unit that goes by another name; told by the sheet (``stated``) or only suspected."""

    old: str
    new: str
    on: dt.date | None
    at: At
    stated: bool


@dataclass(frozen=True, slots=True)
class Note:
    """A remark kept as text; ``hostile`` where a spreadsheet would run it."""

    at: At
    text: str
    on: dt.date | None
    house: str | None
    unit: str | None
    hostile: bool


@dataclass(frozen=True, slots=True)
class Skip:
    """A row or cell without a record and without complaint: blank, totals, a title."""

    at: At
    why: str


@dataclass(frozen=True, slots=True)
class IgnoredColumn:
    """A column that is not read, and why."""

    col: str
    why: str


@dataclass(frozen=True, slots=True)
class Question:
    """What only a person knows. ``proposed`` is None where nothing speaks for one choice."""

    id: str
    at: At
    reason: str
    question: str
    choices: tuple[str, ...]
    proposed: str | None


@dataclass(frozen=True, slots=True)
class Assumed:
    """Something the sheet does not say and that was taken for granted, or what settled it."""

    what: str
    value: str
    because: At | None


@dataclass(frozen=True)
class Reading:
    """All that one file says; pure, nothing recorded yet.

    ``mapping`` is what each heading was taken to mean, and can be given back to ``read``.
    ``ends`` has every cell or row that had to be accounted for and what became of it.
    """

    file: str
    sha256: str
    encoding: str | None
    delimiter: str | None
    mapping: Mapping[str, Mapping[str, str | None]]
    headings: tuple[str, ...] = ()
    records: tuple[Count, ...] = ()
    nothing_seen: tuple[NothingSeen, ...] = ()
    not_looked: tuple[NotLooked, ...] = ()
    rejects: tuple[Reject, ...] = ()
    duplicates: tuple[Duplicate, ...] = ()
    treatments: tuple[Treatment, ...] = ()
    renames: tuple[Rename, ...] = ()
    notes: tuple[Note, ...] = ()
    skips: tuple[Skip, ...] = ()
    ignored_columns: tuple[IgnoredColumn, ...] = ()
    asked: tuple[Question, ...] = ()
    assumed: tuple[Assumed, ...] = ()
    ends: tuple[tuple[At, Outcome], ...] = ()
    read: int = 0
    pages: tuple[Page, ...] = ()
    tables: tuple[tuple[Block, Layout], ...] = ()

    def row(self, at: At) -> Row:
        """The row of a place, as written; nothing where a whole page is meant."""
        page = next((p for p in self.pages if p.name == at.sheet), None)
        return page.rows[at.row - 1] if page and 0 < at.row <= len(page.rows) else ()

    def accounts(self) -> Mapping[Outcome, int]:
        """How many cells and rows ended where; the numbers add up to ``read``."""
        return Counter(outcome for _, outcome in self.ends)
