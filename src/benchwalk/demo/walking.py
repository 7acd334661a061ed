"""The walks of the demo nursery in the records: visits, looks, cards and discs."""

from __future__ import annotations

import datetime as dt
import uuid
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

import benchwalk.records as r
from benchwalk.demo import scenario
from benchwalk.demo.ground import id_of, person, phone, planting
from benchwalk.demo.growing import Growing
from benchwalk.demo.scenario import at, name_id
from benchwalk.demo.scouting import (
    SCOUTS,
    Catch,
    Look,
    Scout,
    Seen,
    Station,
    look_at,
    looks,
    on_disc,
    scout_of,
    stations,
    walk_days,
)
from benchwalk.records.ledger import Ledgered, write_new
from benchwalk.records.plain import Plain

CUT_SHORT = {(10, "G6"): 7}  # week and unit: looks until time was out
NOT_READ = {(5, "G2-Y"): "missing", (12, "L2-Y"): "unreadable"}
FULL = 250  # insects on a card that nobody counts on; invented


@dataclass
class Hanging:
    """A card at its station."""

    id: uuid.UUID
    since: dt.datetime
    week: int
    counted: Counter[str] = field(default_factory=Counter)  # what stood on it when last read


class Walking:
    """The scouts' half year."""

    def __init__(self, s: Ledgered, growing: Growing) -> None:
        self.s, self.growing = s, growing
        self.stations = stations()
        self.catch = Catch(growing, self.stations)
        self.hanging: dict[str, Hanging] = {}
        self.flags: dict[str, tuple[uuid.UUID, str]] = {}  # by unit: the flag and its plant
        self.rng = np.random.default_rng([scenario.SEED, 1])

    def of_day(self, day: dt.date) -> None:
        """A day's flying, and its walks."""
        self.catch.day()
        week = (day - scenario.FIRST).days // 7
        for section in walk_days(week).get(day, []):
            self._walk(day, week, section)

    def _walk(self, day: dt.date, week: int, section: int) -> None:
        scout = scout_of(section, week)
        live = [u for u in scenario.units().values() if u.section == section and u.alive(day)]
        walk = name_id(at(day, 7), "walk", section)
        silent = week >= scenario.SILENT_WEEK and section == scenario.SILENT_SECTION
        self.s.info.update(
            by_id=None if silent else person(scout.name),
            device_id=None if silent else phone(scout.name),
            seen_at=at(day, 6) if silent else at(day, 12),
        )
        rows = [_walk_row(walk, day, scout, live)]
        if not silent:
            begun = at(day, 7, 30)
            for unit in live:
                of_unit = _Visit(self, unit, walk, week, scout, begun)
                rows += of_unit.rows()
                begun = of_unit.ended + dt.timedelta(minutes=2)
        write_new(self.s, rows)
        self._hang_new(week, live)

    def _hang_new(self, week: int, units: list[scenario.Unit]) -> None:
        """New cards that will hang longer than to the next reading are told of at once."""
        keys = {u.key for u in units}
        for station in self.stations:
            held = self.hanging.get(station.code)
            stays = station.weeks > 1 or week == scenario.WEEKS - 1
            if station.unit in keys and stays and held and held.week == week:
                known = {"station_id": id_of("station", station.code), "method": station.method}
                write_new(self.s, [Plain(r.Card, id=held.id, hung_at=held.since, **known)])

    def heard(self) -> None:
        """When the office last heard from each phone; of one, nothing since the silence."""
        for device in self.s.query(r.Device):
            scout = next(x for x in SCOUTS if phone(x.name) == device.id)
            silent = scout_of(scenario.SILENT_SECTION, scenario.SILENT_WEEK) is scout
            week = scenario.SILENT_WEEK - 1 if silent else scenario.WEEKS - 1
            device.last_heard_at = at(scenario.day_of(week, 2), 17)
            device.unsent = None if silent else 0


def _walk_row(walk: uuid.UUID, day: dt.date, scout: Scout, live: list[scenario.Unit]) -> Plain:
    route = [
        Plain(r.Route, unit_id=id_of("unit", u.key), place=n) for n, u in enumerate(live, start=1)
    ]
    by = {"scout_id": person(scout.name), "device_id": phone(scout.name)}
    return Plain(r.Walk, id=walk, walk_on=day, route=route, **by)


class _Visit:
    """One unit on one walk."""

    def __init__(
        self,
        walking: Walking,
        unit: scenario.Unit,
        walk: uuid.UUID,
        week: int,
        scout: Scout,
        begun: dt.datetime,
    ) -> None:
        self.walking, self.unit, self.walk, self.week = walking, unit, walk, week
        self.scout, self.begun, self.ended = scout, begun, begun
        self.here = {"walk_id": walk, "unit_id": id_of("unit", unit.key)}

    def rows(self) -> list[Plain]:
        missed = scenario.MISSED.get(self.unit.key)
        if self.week == scenario.MISSED_WEEK and missed:
            return [self._visit(state="skipped", reason=missed)]
        looked = [*self._looks()]
        read = [row for station in self._stations() for row in self._reading(station)]
        short = (self.week, self.unit.key) in CUT_SHORT
        state = {"state": "cut_short", "reason": "time"} if short else {"state": "done"}
        times = {"started_at": self.begun, "ended_at": self.ended}
        return [self._visit(**state, **times), *looked, *read]

    def _visit(self, **said: str | dt.datetime) -> Plain:
        visit = name_id(self.begun, "visit", self.walk, self.unit.key)
        return Plain(r.Visit, id=visit, **self.here, **said)

    def _looks(self) -> Iterator[Plain]:
        walking = self.walking
        found = looks(walking.growing, self.unit, self.scout, walking.rng)
        yield from self._flags(found)
        for look in found[: CUT_SHORT.get((self.week, self.unit.key))]:
            self.ended += dt.timedelta(minutes=self.scout.minutes_a_plant)
            yield Plain(
                r.Observation,
                id=name_id(self.ended, "look", self.walk, self.unit.key, look.position),
                kind="look",
                seen_at=self.ended,
                why="sample",
                plants=1,
                planting_id=planting(self.unit.key),
                position=look.position,
                examined=_examined(look),
                **self.here,
            )

    def _flags(self, found: list[Look]) -> Iterator[Plain]:
        """A flag is set at the plant with the most on it, and passed again on later walks."""
        for row in scenario.rows("flags"):
            if row["unit"] == self.unit.key:
                marks = {row[f"{mark}_week"]: mark for mark in ("set", "confirmed", "cleared")}
                mark = marks.get(str(self.week))
                if mark == "set":
                    yield self._set(row, max(found, key=_total).position)
                if mark is not None:
                    yield self._marked(mark)

    def _set(self, row: dict[str, str], position: str) -> Plain:
        flag = name_id(self.begun, "flag", self.unit.key)
        self.walking.flags[self.unit.key] = flag, position
        said = {"colour": row["colour"], "reason": row["reason"], "position": position}
        return Plain(r.Flag, id=flag, unit_id=self.here["unit_id"], **said)

    def _marked(self, mark: str) -> Plain:
        """A look at the flagged plant, besides those at random."""
        flag, position = self.walking.flags[self.unit.key]
        look = look_at(self.walking.growing, self.unit, self.scout, position)
        return Plain(
            r.Observation,
            id=name_id(self.begun, "flagged", self.unit.key),
            kind="look",
            seen_at=self.begun,
            why="flagged",
            plants=1,
            planting_id=planting(self.unit.key),
            position=position,
            flag_id=flag,
            flag_mark=mark,
            examined=_examined(look),
            **self.here,
        )

    def _stations(self) -> list[Station]:
        return [s for s in self.walking.stations if s.unit == self.unit.key]

    def _reading(self, station: Station) -> Iterator[Plain]:
        """What hangs is read, and where its time is over a new one hung."""
        self.ended += dt.timedelta(minutes=1)
        held = self._held(station)
        if held is None:
            self._hang(station)
            return
        state = NOT_READ.get((self.week, station.code), "ok")
        seen = [] if state != "ok" else list(self._counts(station, held))
        gone = state == "missing" or any(x.at_least for x in seen)
        last = self.week - held.week >= station.weeks or gone
        if station.weeks == 1:
            yield self._card(station, held)
        elif last:
            self._take_down(held)
        yield self._observation(station, held, state, seen)
        if last:
            self._hang(station)

    def _held(self, station: Station) -> Hanging | None:
        """The card at a station; a disc was laid two days ago, whatever was there before."""
        if station.kind == "disc":
            laid = self.ended - dt.timedelta(days=2)
            return Hanging(name_id(laid, "card", station.code), laid, self.week - 1)
        return self.walking.hanging.get(station.code)

    def _hang(self, station: Station) -> None:
        card = name_id(self.ended, "card", station.code)
        self.walking.hanging[station.code] = Hanging(card, self.ended, self.week)

    def _card(self, station: Station, held: Hanging) -> Plain:
        known = {"station_id": id_of("station", station.code), "method": station.method}
        return Plain(r.Card, id=held.id, hung_at=held.since, taken_at=self.ended, **known)

    def _take_down(self, held: Hanging) -> None:
        s = self.walking.s
        s.get_one(r.Card, (s.info["operation_id"], held.id)).taken_at = self.ended

    def _counts(self, station: Station, held: Hanging) -> Iterator[Seen]:
        """All that is on the card since it was hung."""
        walking = self.walking
        for taxon, stage in station.catches:
            if station.kind == "disc":
                new = on_disc(walking.growing, self.unit, walking.rng)
            else:
                new = walking.catch.take(station, taxon, walking.rng)
            held.counted[taxon] += new
            there = held.counted[taxon]
            yield Seen(taxon, stage, min(there, FULL), at_least=there > FULL)

    def _observation(self, station: Station, held: Hanging, state: str, seen: list[Seen]) -> Plain:
        full = any(x.at_least for x in seen)
        # under a full card's insects more of each may stick
        tallies = [_tally(replace(x, at_least=full and x.number > 0)) for x in seen]
        read = {"since": "hung", "counted": "all"} if state == "ok" else {}
        return Plain(
            r.Observation,
            id=name_id(self.ended, "reading", station.code),
            kind="reading",
            seen_at=self.ended,
            why="sample",
            plants=0,
            card_id=held.id,
            state="full" if full else state,
            examined=[Plain(r.Examined, method=station.method, tallies=tallies)] if seen else [],
            **self.here,
            **read,
        )


def _total(look: Look) -> int:
    return sum(seen.number for _, held in look.examined.values() for seen in held)


def _examined(look: Look) -> list[Plain]:
    return [
        Plain(r.Examined, method=method, items=items, tallies=[_tally(x) for x in seen])
        for method, (items, seen) in look.examined.items()
    ]


def _tally(seen: Seen) -> Plain:
    how = "at_least" if seen.at_least else "counted"
    return Plain(r.Tally, taxon=seen.taxon, stage=seen.stage, how=how, number=seen.number)
