"""Everything a summary rests on, read once; nothing behind this line asks the database."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TypeVar
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from benchwalk.records import Crop, Method, Operation, Stage, Taxon, Threshold, queries

K = TypeVar("K", str, uuid.UUID)
LEARN_DAYS = 400  # how far back rounds teach a dispersion and are compared with: a year and a month


@dataclass(frozen=True)
class Gathered:
    """Records as they stood for one summary: the week's and those before it."""

    operation: str
    zone: str
    practice: bool
    since: dt.date
    day: dt.date
    rounds: Sequence[queries.Round]
    efforts: Sequence[queries.Effort]
    catches: Sequence[queries.Caught]
    called: Sequence[queries.Called]
    units: Sequence[queries.Place]
    plantings: Sequence[queries.Standing]
    thresholds: Sequence[Threshold]
    first_found: Mapping[tuple[uuid.UUID, str], dt.date]
    taxa: Mapping[str, Taxon]
    stages: Mapping[str, Stage]
    methods: Mapping[str, Method]
    crops: Mapping[str, Crop]
    predecessors: Mapping[uuid.UUID, uuid.UUID] = field(default_factory=dict)

    def unit_line(self, unit: uuid.UUID) -> list[uuid.UUID]:
        """The unit and those it succeeded, nearest first: one place over time."""
        return _upwards(unit, self.predecessors)

    def taxon_line(self, code: str) -> list[str]:
        """The taxon and what it belongs to, nearest first."""
        return _upwards(code, self._taxon_parents)

    def crop_line(self, code: str) -> list[str]:
        """The crop and the groups it belongs to, nearest first."""
        return _upwards(code, self._crop_parents)

    @cached_property
    def _taxon_parents(self) -> dict[str, str | None]:
        return {code: taxon.parent for code, taxon in self.taxa.items()}

    @cached_property
    def _crop_parents(self) -> dict[str, str | None]:
        return {code: crop.parent for code, crop in self.crops.items()}


def _upwards(code: K, parents: Mapping[K, K | None] | Mapping[K, K]) -> list[K]:
    line: list[K] = []
    at: K | None = code
    while at is not None and at not in line:
        line.append(at)
        at = parents.get(at)
    return line


def gather(session: Session, day: dt.date, days: int, only: uuid.UUID | None = None) -> Gathered:
    """Read what a summary of the ``days`` up to and with ``day`` needs.

    With ``only`` it is a summary of that one unit, and counts are read of it and of those it
    succeeded. What was found first anywhere is still asked of all units.
    """
    learn = day - dt.timedelta(days=LEARN_DAYS)
    operation = session.get_one(Operation, session.info["operation_id"])
    every = queries.units(session)
    before = {u.id: u.predecessor_id for u in every if u.predecessor_id is not None}
    among = None if only is None else _upwards(only, before)
    words = queries.vocabulary(session)
    return Gathered(
        operation=operation.name,
        zone=operation.zone,
        practice=operation.practice,
        since=day - dt.timedelta(days=days - 1),
        day=day,
        rounds=queries.rounds(session, learn, day, among),
        efforts=queries.efforts(session, learn, day, among),
        catches=queries.catches(session, learn, day, ZoneInfo(operation.zone), among),
        called=queries.called(session, day - dt.timedelta(days=days - 1), day),
        units=[u for u in every if u.alive_on(day) and only in (None, u.id)],
        plantings=queries.plantings(session, day),
        thresholds=queries.thresholds(session, day),
        first_found=queries.first_found(session, day),
        taxa=words.taxa,
        stages=words.stages,
        methods=words.methods,
        crops=words.crops,
        predecessors=before,
    )
