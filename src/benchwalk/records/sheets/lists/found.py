"""What was found in a list: every row (of a logger file: every sensor's cell) in one outcome."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, get_args

from benchwalk.catalogue import Refusal
from benchwalk.records.sheets.found import (
    Assumed,
    At,
    Duplicate,
    IgnoredColumn,
    Question,
    Reject,
    Skip,
)
from benchwalk.records.sheets.page import Row

Kind = Literal["plantings", "stations", "treatments", "climate"]
KINDS: tuple[Kind, ...] = get_args(Kind)
Columns = Mapping[str, Mapping[str, str | None]]
Outcome = Literal["recorded", "duplicate", "already_there", "rejected", "asked", "skipped"]
OUTCOMES: tuple[Outcome, ...] = get_args(Outcome)


class ListRefused(Refusal):
    """Nothing of the file is taken: what it is, or what a column is, is not clear."""


@dataclass(frozen=True, kw_only=True)
class PlantingRow:
    """A crop in a unit from a day on.

    ``plants`` and the shares are None where the list does not say them, never 0.
    ``area_m2`` is a surface instead of a share, turned into one where the unit's size is known.
    """

    at: At
    house: str | None
    unit: str
    crop: str
    crop_raw: str
    cultivar: str | None
    planted_on: dt.date
    ended_on: dt.date | None
    plants: int | None
    area_percent: int | None
    area_m2: float | None
    plants_per_m2: float | None
    phase: str | None
    phase_on: dt.date | None
    edible: bool | None


@dataclass(frozen=True, kw_only=True)
class StationRow:
    """A fixed sampling place. ``colour`` only tells what kind it is: cards have colours."""

    at: At
    code: str
    house: str | None
    unit: str
    kind: str
    role: str
    x_m: float | None
    y_m: float | None
    opened_on: dt.date
    closed_on: dt.date | None


@dataclass(frozen=True, kw_only=True)
class TreatmentRow:
    """What was done, when and where.

    ``units`` is the cell as written; None is the whole house, or all units without one.
    ``active`` is None where the words are no active ingredient of the reference. ``started`` is
    None where only the day is known.
    """

    at: At
    on: dt.date
    started: dt.datetime | None
    ended: dt.datetime | None
    house: str | None
    units: str | None
    kind: str
    kind_assumed: bool
    what: str
    active: str | None
    moa_group: str | None
    water_ml: int | None
    target: str | None
    applicator: str | None
    note: str | None


@dataclass(frozen=True)
class ClimateRow:
    """What one sensor says of one instant, or of ``span_s`` seconds from it. degC, %."""

    at: At
    sensor: str
    instant: dt.datetime
    span_s: int
    temp_c: float | None
    temp_min_c: float | None
    temp_max_c: float | None
    rh_percent: float | None
    implausible: bool = False


Thing = PlantingRow | StationRow | TreatmentRow | ClimateRow


@dataclass(frozen=True)
class Finding:
    """Something of a logger file that a person should know; the rows are kept as they are.

    ``what`` is ``gap``, ``implausible``, ``jump``, ``stuck``, ``backwards`` or ``clock_back``.
    """

    what: str
    at: At
    sensor: str
    since: dt.datetime
    until: dt.datetime
    raw: str


@dataclass(frozen=True)
class Sensor:
    """A sensor of a logger file: its name in the rows ("" the only one), its code, its place.

    None where the file does not say it.
    """

    name: str
    code: str | None
    house: str | None
    unit: str | None


@dataclass(frozen=True)
class ListReading:
    """All that one list says; pure, nothing recorded yet.

    ``mapping`` is what each heading was taken to mean. ``ends`` has every row that had to be
    accounted for and what became of it.
    """

    kind: Kind
    file: str
    sha256: str
    encoding: str | None
    delimiter: str | None
    mapping: Columns
    headings: tuple[str, ...]
    known: bool
    things: tuple[Thing, ...]
    rejects: tuple[Reject, ...]
    duplicates: tuple[Duplicate, ...]
    skips: tuple[Skip, ...]
    ignored_columns: tuple[IgnoredColumn, ...]
    asked: tuple[Question, ...]
    assumed: tuple[Assumed, ...]
    findings: tuple[Finding, ...] = ()
    sensors: tuple[Sensor, ...] = ()
    rows: tuple[Row, ...] = ()

    @property
    def ends(self) -> tuple[tuple[At, Outcome], ...]:
        """Where each row ended, before it met the records."""
        return (
            *((t.at, "recorded") for t in self.things),
            *_faults(self.rejects),
            *((d.at, "duplicate") for d in self.duplicates),
            *((s.at, "skipped") for s in self.skips),
        )

    @property
    def read(self) -> int:
        """How many rows (of a logger file: cells of a sensor) had to be accounted for."""
        return len(self.ends)

    def accounts(self) -> Mapping[Outcome, int]:
        """How many rows ended where; the numbers add up to ``read``."""
        return Counter(outcome for _, outcome in self.ends)


@dataclass
class ListLanded:
    """What became of a list in the records: written, there already, or against what is there."""

    recorded: list[At] = field(default_factory=list)
    already_there: list[At] = field(default_factory=list)
    rejects: list[Reject] = field(default_factory=list)
    asked: list[Question] = field(default_factory=list)
    units_made: list[str] = field(default_factory=list)
    places_made: list[str] = field(default_factory=list)
    houses_made: list[str] = field(default_factory=list)
    stations_made: list[str] = field(default_factory=list)
    crops_made: list[str] = field(default_factory=list)
    confirmed: list[str] = field(default_factory=list)  # plantings only seen on a walk before
    not_kept: list[tuple[At, str]] = field(default_factory=list)  # a part of a row, and why
    new: int = 0


def ends_of(reading: ListReading, landed: ListLanded | None) -> tuple[tuple[At, Outcome], ...]:
    """Where each row ended, after it met the records where there are any."""
    if landed is None:
        return reading.ends
    return (
        *((at, "recorded") for at in landed.recorded),
        *((at, "already_there") for at in landed.already_there),
        *_faults((*reading.rejects, *landed.rejects)),
        *((d.at, "duplicate") for d in reading.duplicates),
        *((s.at, "skipped") for s in reading.skips),
    )


def _faults(rejects: Sequence[Reject]) -> tuple[tuple[At, Outcome], ...]:
    return tuple((r.at, "asked" if r.question else "rejected") for r in rejects)
