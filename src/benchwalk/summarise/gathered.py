"""Everything a summary rests on, read once; nothing behind this line asks the database."""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple, Protocol, TypeVar
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from benchwalk.records import Crop, Method, Stage, Taxon, Threshold, queries

K = TypeVar("K", str, uuid.UUID)
# days that may be asked for: a year's reckoning on either side has to be a day too
EARLIEST, LATEST = dt.date(1900, 1, 1), dt.date(2999, 12, 31)
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
    newest_seq: int | None = None  # of the ledger when it was read

    @property
    def clock(self) -> ZoneInfo:
        """The zone whose days are the operation's."""
        return ZoneInfo(self.zone)

    @cached_property
    def place(self) -> Mapping[uuid.UUID, queries.Place]:
        """Units by id."""
        return {place.id: place for place in self.units}

    @cached_property
    def plantings_of(self) -> Mapping[uuid.UUID, list[queries.Standing]]:
        """What stands in each unit."""
        return _by_unit(self.plantings)

    @cached_property
    def efforts_of(self) -> Mapping[uuid.UUID, list[queries.Effort]]:
        """What was looked at in each unit."""
        return _by_unit(self.efforts)

    @cached_property
    def called_of(self) -> Mapping[uuid.UUID, list[queries.Called]]:
        """What walks say of each unit."""
        return _by_unit(self.called)

    @cached_property
    def first_anywhere(self) -> Mapping[str, dt.date]:
        """The first day each taxon was ever found in any unit."""
        held: dict[str, dt.date] = {}
        for (_, taxon), on in self.first_found.items():
            held[taxon] = min(on, held.get(taxon, on))
        return held

    @cached_property
    def acting(self) -> dict[tuple[str, str], Sequence[Threshold]]:
        """Thresholds that say when to act, by pest and crop: filled as they are asked for."""
        return {}

    def unit_line(self, unit: uuid.UUID) -> list[uuid.UUID]:
        """The unit and those it succeeded, nearest first: one place over time."""
        return upwards(unit, self.predecessors)

    def taxon_line(self, code: str) -> list[str]:
        """The taxon and what it belongs to, nearest first."""
        return self._taxon_lines[code]

    def crop_line(self, code: str) -> list[str]:
        """The crop and the groups it belongs to, nearest first."""
        return self._crop_lines[code]

    @cached_property
    def _taxon_lines(self) -> dict[str, list[str]]:
        return lines_of({code: taxon.parent for code, taxon in self.taxa.items()})

    @cached_property
    def _crop_lines(self) -> dict[str, list[str]]:
        return lines_of({code: crop.parent for code, crop in self.crops.items()})


class OfUnit(Protocol):
    """A row that belongs to a unit."""

    @property
    def unit_id(self) -> uuid.UUID: ...


R = TypeVar("R", bound=OfUnit)


def _by_unit(rows: Iterable[R]) -> Mapping[uuid.UUID, list[R]]:
    held: dict[uuid.UUID, list[R]] = defaultdict(list)
    for row in rows:
        held[row.unit_id].append(row)
    return held


def lines_of(parents: Mapping[str, str | None]) -> dict[str, list[str]]:
    """Each code and what it belongs to, nearest first."""
    return {code: upwards(code, parents) for code in parents}


def upwards(code: K, parents: Mapping[K, K | None] | Mapping[K, K]) -> list[K]:
    line: list[K] = []
    at: K | None = code
    while at is not None and at not in line:
        line.append(at)
        at = parents.get(at)
    return line


class Counts(NamedTuple):
    """What was counted, up to the day of a summary."""

    rounds: Sequence[queries.Round]
    efforts: Sequence[queries.Effort]
    catches: Sequence[queries.Caught]
    first_found: Mapping[tuple[uuid.UUID, str], dt.date]


def gather(
    session: Session, day: dt.date, days: int, ground: queries.Ground | None = None
) -> Gathered:
    """Read what a summary of the ``days`` up to and with ``day`` needs.

    ``ground`` is not asked for again where it is given.
    """
    learn = day - dt.timedelta(days=LEARN_DAYS)
    ground = queries.ground(session) if ground is None else ground
    counts = Counts(
        queries.rounds(session, learn, day),
        queries.efforts(session, learn, day),
        queries.catches(session, learn, day, ZoneInfo(ground.zone)),
        queries.first_found(session, day),
    )
    return gather_around(session, ground, day, days, counts, queries.vocabulary(session))


def gather_around(
    session: Session,
    ground: queries.Ground,
    day: dt.date,
    days: int,
    counts: Counts,
    words: queries.Vocabulary,
) -> Gathered:
    """Read what a summary needs beside counts."""
    since = day - dt.timedelta(days=days - 1)
    return gathered(
        ground,
        (since, day),
        counts,
        words,
        units=[u for u in ground.units if u.alive_on(day)],
        called=queries.called(session, since, day),
        plantings=queries.plantings(session, day),
        thresholds=queries.thresholds(session, day),
    )


def gather_unit(
    session: Session, ground: queries.Ground, unit: uuid.UUID, day: dt.date
) -> Gathered:
    """What one unit's counts of one day rest on: no walks, plantings or thresholds with it."""
    counts = Counts(
        queries.rounds(session, day, day, [unit]),
        queries.efforts(session, day, day, [unit]),
        queries.catches(session, day, day, ZoneInfo(ground.zone), [unit]),
        {},
    )
    here = [u for u in ground.units if u.id == unit]
    return gathered(ground, (day, day), counts, queries.vocabulary(session), units=here)


def gathered(
    ground: queries.Ground,
    days: tuple[dt.date, dt.date],
    counts: Counts,
    words: queries.Vocabulary,
    *,
    units: Sequence[queries.Place],
    called: Sequence[queries.Called] = (),
    plantings: Sequence[queries.Standing] = (),
    thresholds: Sequence[Threshold] = (),
) -> Gathered:
    """What was read, put together; ``days`` are the first and last of the summary."""
    since, day = days
    return Gathered(
        operation=ground.operation,
        zone=ground.zone,
        practice=ground.practice,
        since=since,
        day=day,
        **counts._asdict(),
        called=called,
        units=units,
        plantings=plantings,
        thresholds=thresholds,
        taxa=words.taxa,
        stages=words.stages,
        methods=words.methods,
        crops=words.crops,
        predecessors=predecessors(ground.units),
        newest_seq=ground.newest_seq,
    )


def predecessors(units: Iterable[queries.Place]) -> dict[uuid.UUID, uuid.UUID]:
    """The unit that each unit succeeded, of those that did."""
    return {u.id: u.predecessor_id for u in units if u.predecessor_id is not None}
