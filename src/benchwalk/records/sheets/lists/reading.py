"""Reading a list: every row of it ends in exactly one outcome. Pure: nothing is recorded."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from benchwalk.records.sheets.found import Assumed
from benchwalk.records.sheets.lists.climate import ClimateFile
from benchwalk.records.sheets.lists.found import (
    Columns,
    Kind,
    ListReading,
    PlantingRow,
    Thing,
    TreatmentRow,
)
from benchwalk.records.sheets.lists.layout import list_layout
from benchwalk.records.sheets.lists.plantings import (
    planting_in,
    planting_name,
    planting_phase_key,
)
from benchwalk.records.sheets.lists.repeats import Sorted, without_repeats
from benchwalk.records.sheets.lists.sheet import Gathered, ListSheet, Row
from benchwalk.records.sheets.lists.stations import station_in, station_key, station_name
from benchwalk.records.sheets.lists.treatments import (
    USUAL,
    Treatments,
    treatment_key,
    treatment_name,
)
from benchwalk.records.sheets.page import Table

NONE: Mapping[str, str] = {}


class Reader(NamedTuple):
    """How rows of one kind are read, told apart and named."""

    read: Callable[[Row], Thing]
    key: Callable[[Any], Hashable]
    name: Callable[[Any], str]
    said_twice: str


def read_list(
    table: Table,
    kind: Kind,
    *,
    zone: dt.tzinfo = dt.UTC,
    answers: Mapping[str, str] = NONE,
    known: Columns | None = None,
    own_names: Mapping[str, str] = NONE,
) -> ListReading:
    """What a table says, taken as a kind of list.

    Parameters
    ----------
    zone : the zone of times written without an offset.
    answers : what a person answered: question id -> choice.
    known : heading -> what it holds, as a person agreed to it.
    own_names : the operation's own words for pests: word -> taxon.

    Raises
    ------
    ListRefused
        if a column that this kind of list needs is missing.
    """
    sheet = ListSheet(table, list_layout(table, kind, known, answers), answers, own_names)
    if kind == "climate":
        return _climate(sheet, zone)
    reader = _reader(kind, zone)
    gathered = Gathered(sheet)
    gathered.take(reader.read)
    once = without_repeats(gathered.things, reader.key, reader.name, reader.said_twice)
    return _reading(gathered, once, _assumed(once.things))


def _reader(kind: Kind, zone: dt.tzinfo) -> Reader:
    if kind == "plantings":
        return Reader(planting_in, planting_phase_key, planting_name, "list_said_twice")
    if kind == "stations":
        return Reader(station_in, station_key, station_name, "list_said_twice")
    return Reader(Treatments(zone), treatment_key, treatment_name, "treatment_said_twice")


def _climate(sheet: ListSheet, zone: dt.tzinfo) -> ListReading:
    file = ClimateFile(sheet, zone)
    file.read()
    once = Sorted(tuple(file.gathered.things), file.repeats, ())
    reading = _reading(file.gathered, once, list(file.assumed()))
    return replace(reading, findings=tuple(file.findings), sensors=file.sensors())


def _assumed(things: Sequence[Thing]) -> list[Assumed]:
    """What the rows leave open: a phase without its day is not kept; a treatment is a spray."""
    phases = [t for t in things if isinstance(t, PlantingRow) and t.phase and not t.phase_on]
    sprays = [t for t in things if isinstance(t, TreatmentRow) and t.kind_assumed]
    said = []
    if phases:
        said.append(Assumed("phase_without_day", "not_said", phases[0].at))
    if sprays:
        said.append(Assumed("kind_of_treatment", USUAL, sprays[0].at))
    return said


def _reading(gathered: Gathered, once: Sorted, assumed: Sequence[Assumed]) -> ListReading:
    sheet = gathered.sheet
    table, layout = sheet.table, sheet.layout
    return ListReading(
        kind=layout.kind,
        file=table.file,
        sha256=table.sha256,
        encoding=table.encoding,
        delimiter=table.delimiter,
        mapping=layout.mapping(),
        headings=tuple(table.rows[layout.row - 1]),
        known=layout.known,
        things=once.things,
        rejects=(*gathered.rejects, *once.rejects),
        duplicates=once.duplicates,
        skips=tuple(gathered.skips),
        ignored_columns=layout.ignored(),
        asked=tuple(sheet.questions.asked.values()),
        assumed=(*sheet.assumed(), *assumed),
        rows=table.rows,
    )
