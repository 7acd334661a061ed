"""Where every cell or row of a sheet ends: in exactly one of these outcomes.

An absent count never becomes 0: a cell not looked at, a cell nobody can read and a pest without a
row each stay what they are.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

How = Literal["counted", "at_least", "present", "infested", "density"]


@dataclass(frozen=True, order=True)
class At:
    """A place in a file: record number (the first record is 1) and the heading as written."""

    row: int
    col: str | None = None


@dataclass(frozen=True, kw_only=True)
class Count:
    """A count that was taken.

    Parameters
    ----------
    unit : canonical name, "House / Unit" where a house column stands.
    value : number of animals, of infested plants (`how` "infested"), or a mean ("density"); none
        where the sheet says only that animals are there ("present").
    of : plants inspected ("infested"); cards averaged ("density").
    lacks : what the file never says about this count.
    resolved : "proposed" while nobody has agreed to the reading of a misspelt name.
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
    station: str | None = None
    hung_on: dt.date | None = None
    squares_counted: int | None = None
    squares_printed: int | None = None
    crop: str | None = None
    crop_raw: str | None = None
    scout: str | None = None
    lacks: tuple[str, ...] = ()
    resolved: Literal["proposed"] | None = None


@dataclass(frozen=True, kw_only=True)
class NothingSeen:
    """A look that found no pest at all."""

    at: At
    on: dt.date
    house: str | None
    unit: str
    plant: str | None = None
    plants: int | None = None
    method: str = "plant_count"
    station: str | None = None
    hung_on: dt.date | None = None
    squares_counted: int | None = None
    squares_printed: int | None = None
    crop: str | None = None
    crop_raw: str | None = None
    scout: str | None = None


@dataclass(frozen=True, kw_only=True)
class NotLooked:
    """A cell that says nobody looked; it becomes no record, above all no zero."""

    at: At
    raw: str
    on: dt.date | None
    house: str | None
    unit: str | None
    taxon: str | None = None
    stage: str | None = None
    method: str | None = None
    crop: str | None = None
    scout: str | None = None


@dataclass(frozen=True, kw_only=True)
class Reject:
    """A cell that a person has to look at; `because` names another cell that is at fault."""

    at: At
    reason: str
    raw: str
    because: At | None = None
    conflicts_with: At | None = None


@dataclass(frozen=True)
class Duplicate:
    """A count that stands in the file twice and is taken once."""

    at: At
    of: At


@dataclass(frozen=True, kw_only=True)
class Treatment:
    """A treatment named in a remark, as far as it is written; `inferred` says what is not."""

    at: At
    on: dt.date | None
    house: str | None
    units: tuple[str, ...]
    raw: str
    kind: str
    what: str | None
    active: str | None
    inferred: str | None = None
    lacks: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Rename:
    """One unit under two names; merged only where the file states it or a person agrees."""

    old: str
    new: str
    on: dt.date | None
    at: At
    stated: bool
    house: str | None = None


@dataclass(frozen=True, kw_only=True)
class Note:
    """A remark kept as text; a hostile one begins like a formula."""

    at: At
    text: str
    on: dt.date | None = None
    house: str | None = None
    unit: str | None = None
    hostile: bool = False


@dataclass(frozen=True)
class Skip:
    """A row or cell without a record and without a complaint."""

    at: At
    why: str


@dataclass(frozen=True, kw_only=True)
class Question:
    """What only a person can say; `proposed` is none where no choice is likelier."""

    id: str
    at: At
    reason: str
    question: str
    choices: tuple[str, ...]
    proposed: str | None = None


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What a sheet says. `read` is the number of cells and rows that had to end somewhere."""

    file: str
    sha256: str
    encoding: str
    delimiter: str
    decimal: str
    mapping: Mapping[str, str]
    assumed: tuple[str, ...]
    ignored: Mapping[str, str]
    read: int
    headings: tuple[str, ...] = ()
    rows: Mapping[int, tuple[str, ...]] = field(default_factory=dict, repr=False)
    records: tuple[Count, ...] = ()
    nothing_seen: tuple[NothingSeen, ...] = ()
    not_looked: tuple[NotLooked, ...] = ()
    rejects: tuple[Reject, ...] = ()
    duplicates: tuple[Duplicate, ...] = ()
    treatments: tuple[Treatment, ...] = ()
    renames: tuple[Rename, ...] = ()
    notes: tuple[Note, ...] = ()
    skipped: tuple[Skip, ...] = ()
    asked: tuple[Question, ...] = ()

    def accounts(self) -> Counter[str]:
        """How many cells and rows ended in each outcome; they add up to `read`.

        A remark with two treatments is one cell. What is asked is counted where it stands until
        answered (recorded as proposed, or rejected).
        """
        return Counter(
            recorded=len(self.records),
            nothing_seen=len(self.nothing_seen),
            not_looked=len(self.not_looked),
            rejected=len(self.rejects),
            duplicate=len(self.duplicates),
            treatment=len({t.at for t in self.treatments}),
            note=len(self.notes),
            skipped=len(self.skipped),
        )
