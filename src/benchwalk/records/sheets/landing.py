"""Putting a reading of a sheet into an operation: all of it, or nothing.

Ids are made from what a row says (operation, unit, day, plant ...), so the same sheet names its
records alike every time: what is there already is found, not added twice; what is there with
another count is told to a person and never written over.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import uuid
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from sqlalchemy import select

from benchwalk.catalogue import Refusal
from benchwalk.records.base import Record, uuid7
from benchwalk.records.ledger import Ledgered, write_new
from benchwalk.records.operations import Operation, Person
from benchwalk.records.places import AirSpace, House, Station, Unit
from benchwalk.records.plants import NOT_SAID, Phase, Planting
from benchwalk.records.seen import Card, Examined, Observation, Tally, Visit, Walk
from benchwalk.records.sheets.reading import (
    At,
    Count,
    NothingSeen,
    Reading,
    Treatment,
)
from benchwalk.records.treated import Application, Load, Treated
from benchwalk.records.vocabulary import Method, Taxon

NOON = dt.time(12)  # sheets give a day and no hour


class LandingRefusedError(Refusal):
    """The sheet contradicts what is recorded (a closed unit, say); nothing was written."""


@dataclass(frozen=True)
class Conflict:
    """A count of the sheet that is recorded already, with another number."""

    at: At
    recorded: str
    written: str


@dataclass
class Landed:
    """What an import wrote, found there already, or left for a person."""

    new: int = 0
    counts: int = 0
    already_there: list[At] = field(default_factory=list)
    conflicts: list[Conflict] = field(default_factory=list)
    units_made: list[str] = field(default_factory=list)
    houses_made: list[str] = field(default_factory=list)
    plantings_made: int = 0
    treatments: int = 0
    undated: list[Treatment] = field(default_factory=list)  # without a day: remarks of their row
    first_on: dt.date | None = None
    last_on: dt.date | None = None


def fold(name: str | None) -> str:
    """A name for comparing: without case and double spaces."""
    return " ".join((name or "").split()).casefold()


def short_name(house: str | None, name: str) -> str:
    """A unit's own name: what stands after "House / ", however the house is spelled there."""
    before, parted, after = name.partition(" / ")
    return after if house and parted and fold(before) == fold(house) else name


class Landing:
    """One sheet on its way into one operation, inside one transaction."""

    def __init__(self, session: Ledgered, reading: Reading) -> None:
        self.session, self.reading = session, reading
        self.operation = session.get_one(Operation, session.info["operation_id"])
        self.zone = ZoneInfo(self.operation.zone)
        self.methods = {m.code: m for m in session.scalars(select(Method))}
        self.fresh: list[Record] = []
        self.told: set[uuid.UUID] = set()  # treatments of this sheet; two remarks may tell of one
        self.landed = Landed()
        self.houses = {fold(h.name): h for h in session.scalars(select(House))}
        self.units: dict[tuple[str, str], Unit] = {}
        self._know_units()

    def _know_units(self) -> None:
        by_id = {h.id: fold(h.name) for h in self.houses.values()}
        for unit in self.session.scalars(select(Unit)):
            house = by_id[unit.house_id] if unit.house_id else ""
            for name in (unit.name, *unit.former_names):
                self.units[house, fold(name)] = unit

    def id_of(self, kind: str, on: dt.date, *what: object) -> uuid.UUID:
        """The id that this content has in this operation, whenever it is imported."""
        said = "\0".join(
            [str(self.operation.uid), kind, *("\1" if w is None else str(w) for w in what)]
        )
        return uuid7(self.at(on), hashlib.sha256(said.encode()).digest())

    def at(self, on: dt.date) -> dt.datetime:
        return dt.datetime.combine(on, NOON, tzinfo=self.zone)

    def land(self) -> Landed:
        """Write everything the reading holds that is not there yet."""
        seen: Sequence[Count | NothingSeen] = [*self.reading.records, *self.reading.nothing_seen]
        if seen:
            self.landed.first_on = min(s.on for s in seen)
            self.landed.last_on = max(s.on for s in seen)
        self._rename()
        self._places(seen)
        self._plantings(seen)
        self._walks(seen)
        self._looks(seen)
        self._cards()
        for treatment in self.reading.treatments:
            self._treatment(treatment)
        self.session.flush()
        self.landed.new = write_new(self.session, self.fresh)
        return self.landed

    def _rename(self) -> None:
        """A stated rename is a dated alias: the unit goes by its new name, and answers to both."""
        for r in self.reading.renames:
            for (house, name), unit in list(self.units.items()):
                if r.stated and name == fold(r.old) and fold(unit.name) == fold(r.old):
                    day = r.on.isoformat() if r.on else ""
                    unit.former_names = unit.former_names | {unit.name: day}
                    unit.name = r.new
                    self.units[house, fold(r.new)] = unit

    def _former(self, name: str) -> dict[str, str]:
        return {
            r.old: r.on.isoformat() if r.on else ""
            for r in self.reading.renames
            if r.stated and fold(r.new) == fold(name)
        }

    def unit_of(self, house: str | None, name: str) -> Unit:
        """The unit of a name; without a house, the only unit of that name anywhere."""
        short = short_name(house, name)
        key = fold(house), fold(short)
        if key in self.units or house:
            return self.units[key]
        everywhere = {u.id: u for (_, n), u in self.units.items() if n == fold(short)}
        if len(everywhere) == 1:
            return next(iter(everywhere.values()))
        return self.units[key]

    def _places(self, seen: Sequence[Count | NothingSeen]) -> None:
        """Houses and units the sheet names and the operation has not: not on the plan yet."""
        first: dict[tuple[str, str], tuple[dt.date, str | None, str]] = {}
        for s in seen:
            short = short_name(s.house, s.unit)
            key = fold(s.house), fold(short)
            if key not in first or s.on < first[key][0]:
                first[key] = s.on, s.house, short
        for key, (on, house, short) in sorted(first.items()):
            try:
                self._lengthen(self.unit_of(house, short), on)
            except KeyError:
                self.units[key] = self._new_unit(house, short, on)

    def _lengthen(self, unit: Unit, on: dt.date) -> None:
        if on < unit.opened_on:
            unit.opened_on = on
        last = self.landed.last_on
        if unit.closed_on is not None and last is not None and last >= unit.closed_on:
            raise LandingRefusedError(
                "refused.closed_unit", unit=unit.name, closed=unit.closed_on, last=last
            )

    def _new_unit(self, house: str | None, name: str, on: dt.date) -> Unit:
        unit = Unit(
            id=self.id_of("unit", on, fold(house), fold(name)),
            house_id=None if house is None else self._house(house, on).id,
            kind="unit",
            name=name,
            former_names=self._former(name),
            opened_on=on,
        )
        self.fresh.append(unit)
        self.landed.units_made.append(name if house is None else f"{house} / {name}")
        return unit

    def _house(self, name: str, on: dt.date) -> House:
        """The house of a name; a new one has its own air until somebody says otherwise."""
        if fold(name) not in self.houses:
            air = AirSpace(id=self.id_of("air_space", on, fold(name)), name=name)
            house = House(id=self.id_of("house", on, fold(name)), air_space_id=air.id, name=name)
            self.fresh += [air, house]
            self.houses[fold(name)] = house
            self.landed.houses_made.append(name)
        return self.houses[fold(name)]

    def _plantings(self, seen: Sequence[Count | NothingSeen]) -> None:
        """One planting of unknown area for each crop a unit is said to hold."""
        standing = {(p.unit_id, p.crop): p for p in self.session.scalars(select(Planting))}
        first: dict[tuple[uuid.UUID, str], dt.date] = {}
        for s in seen:
            if s.crop is not None:
                key = self.unit_of(s.house, s.unit).id, s.crop
                first[key] = min(s.on, first.get(key, s.on))
        for (unit_id, crop), on in first.items():
            held = standing.get((unit_id, crop))
            if held is None:
                phase = Phase(from_on=on, phase=NOT_SAID)
                held = Planting(
                    id=self.id_of("planting", on, unit_id, crop),
                    unit_id=unit_id,
                    crop=crop,
                    provisional=True,
                    phases=[phase],
                )
                self.fresh.append(held)
                self.landed.plantings_made += 1
            elif held.provisional and on < held.phases[0].from_on:
                held.phases[0] = Phase(from_on=on, phase=NOT_SAID)
            standing[unit_id, crop] = held
        self.standing = standing

    def _scout(self, name: str | None) -> uuid.UUID | None:
        if name is None:
            return None
        people = self.session.scalars(select(Person)).all()
        for person in people:
            if fold(person.name) == fold(name):
                return person.id
        number = 1 + sum(p.pseudonym.startswith("scout ") for p in people)
        person = Person(
            operation_id=self.operation.id,
            id=uuid7(),
            pseudonym=f"scout {number}",
            name=name,
            role="scout",
        )
        self.session.add(person)
        self.session.flush()
        return person.id

    def _walks(self, seen: Sequence[Count | NothingSeen]) -> None:
        """A walk for each day and scout; a visit for each unit on it."""
        scouts = {name: self._scout(name) for name in sorted({s.scout or "" for s in seen}) if name}
        self.visits: dict[tuple[dt.date, str, uuid.UUID], uuid.UUID] = {}
        walks = set(self.session.scalars(select(Walk.id)))
        held = self.session.execute(select(Visit.walk_id, Visit.unit_id))
        visits = {(walk_id, unit_id) for walk_id, unit_id in held}
        for s in seen:
            unit = self.unit_of(s.house, s.unit)
            walk_id = self.id_of("walk", s.on, fold(s.scout))
            if walk_id not in walks:
                scout = scouts.get(s.scout or "")
                self.fresh.append(Walk(id=walk_id, walk_on=s.on, scout_id=scout))
                walks.add(walk_id)
            if (walk_id, unit.id) not in visits:
                visit_id = self.id_of("visit", s.on, walk_id, unit.id)
                self.fresh.append(
                    Visit(id=visit_id, walk_id=walk_id, unit_id=unit.id, state="done")
                )
                visits.add((walk_id, unit.id))
            self.visits[s.on, fold(s.scout), unit.id] = walk_id

    def _is_card(self, method: str) -> bool:
        return self.methods[method].kind in ("card", "disc", "trap")

    def _looks(self, seen: Sequence[Count | NothingSeen]) -> None:
        """Counts of one plant (or of one pooled lot of plants) on one walk are one look."""
        looks: dict[tuple[object, ...], list[Count | NothingSeen]] = defaultdict(list)
        for s in seen:
            if self._is_card(s.method):
                continue
            plants = s.of if isinstance(s, Count) and s.how == "infested" else s.plants
            unit = self.unit_of(s.house, s.unit)
            looks[unit.id, s.on, fold(s.scout), s.plant, plants, s.crop].append(s)
        known = self._held([self.id_of("look", k[1], *k) for k in looks])  # type: ignore[arg-type]  # k[1] is the day
        for key, said in looks.items():
            self._look(key, said, known)

    def _held(self, ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, Observation]:
        """Observations already there among some ids."""
        wanted = set(ids)
        there = wanted & set(self.session.scalars(select(Observation.id)))
        return {i: self.session.get_one(Observation, (self.operation.id, i)) for i in there}

    def _look(
        self,
        key: tuple[object, ...],
        said: Sequence[Count | NothingSeen],
        known: dict[uuid.UUID, Observation],
    ) -> None:
        first = said[0]
        unit = self.unit_of(first.house, first.unit)
        look_id = self.id_of("look", first.on, *key)
        plants = key[4]
        planting = self.standing.get((unit.id, first.crop)) if first.crop else None
        look = Observation(
            id=look_id,
            kind="look",
            walk_id=self.visits[first.on, fold(first.scout), unit.id],
            unit_id=unit.id,
            seen_at=self.at(first.on),
            why="sample",
            why_assumed=True,
            plants=plants,
            planting_id=None if planting is None else planting.id,
            position=first.plant,
            note=self._note(said),
            examined=[],
        )
        self._examine(look, said)
        self._add(look, said, known)

    def _note(self, said: Sequence[Count | NothingSeen]) -> str | None:
        rows = {s.at.row for s in said}
        notes = [n.text for n in self.reading.notes if n.at.row in rows]
        notes += [t.raw for t in self.reading.treatments if t.on is None and t.at.row in rows]
        unclear = [r for r in self.reading.rejects if r.reason == "treatment_incomplete"]
        notes += [r.raw for r in unclear if r.at.row in rows]
        return "\n".join(dict.fromkeys(notes)) or None

    def _examine(self, observation: Observation, said: Sequence[Count | NothingSeen]) -> None:
        """Effort first, then the tallies on it."""
        for method in dict.fromkeys(s.method for s in said):
            counts = [s for s in said if isinstance(s, Count) and s.method == method]
            first = next((c for c in counts), None)
            observation.examined.append(
                Examined(
                    method=method,
                    items=first.squares_counted if first else None,
                    of_items=first.squares_printed if first else None,
                    tallies=[_tally(c) for c in counts],
                )
            )

    def _add(
        self,
        observation: Observation,
        said: Sequence[Count | NothingSeen],
        known: dict[uuid.UUID, Observation],
    ) -> None:
        there = known.get(observation.id)
        if there is None:
            self.fresh.append(observation)
            self.landed.counts += sum(isinstance(s, Count) for s in said)
            return
        for s in said:
            self._beside(there, s)

    def _beside(self, there: Observation, s: Count | NothingSeen) -> None:
        """A count for a look that is recorded: already there, another number, or one more."""
        if not isinstance(s, Count):
            self.landed.already_there.append(s.at)
            return
        examined = next((e for e in there.examined if e.method == s.method), None)
        if examined is None:
            examined = Examined(method=s.method, tallies=[])
            there.examined.append(examined)
        mine = _tally(s)
        for t in examined.tallies:
            if (t.taxon, t.stage) == (mine.taxon, mine.stage):
                if _said(t) == _said(mine):
                    self.landed.already_there.append(s.at)
                else:
                    self.landed.conflicts.append(Conflict(s.at, _said(t), s.raw))
                return
        examined.tallies.append(mine)
        self.landed.counts += 1

    def _cards(self) -> None:
        """Readings of cards, discs and traps; each hung and taken as far as the sheet says."""
        readings: dict[tuple[object, ...], list[Count]] = defaultdict(list)
        for c in self.reading.records:
            if self._is_card(c.method):
                unit = self.unit_of(c.house, c.unit)
                readings[unit.id, c.on, fold(c.scout), c.station, c.method, c.hung_on].append(c)
        known = self._held([self.id_of("reading", k[1], *k) for k in readings])  # type: ignore[arg-type]  # k[1] is the day
        stations = {s.code: s for s in self.session.scalars(select(Station))}
        cards = set(self.session.scalars(select(Card.id)))
        for key, said in readings.items():
            self._reading(key, said, known, stations, cards)

    def _reading(
        self,
        key: tuple[object, ...],
        said: Sequence[Count],
        known: dict[uuid.UUID, Observation],
        stations: dict[str, Station],
        cards: set[uuid.UUID],
    ) -> None:
        first = said[0]
        unit = self.unit_of(first.house, first.unit)
        station = self._station(first, unit, stations)
        card_id = self.id_of("card", first.on, station.id, first.method, first.hung_on)
        if card_id not in cards:
            hung = None if first.hung_on is None else self.at(first.hung_on)
            card = Card(id=card_id, station_id=station.id, method=first.method)
            card.hung_at, card.taken_at = hung, self.at(first.on)
            self.fresh.append(card)
            cards.add(card_id)
        reading = Observation(
            id=self.id_of("reading", first.on, *key),
            kind="reading",
            walk_id=self.visits[first.on, fold(first.scout), unit.id],
            unit_id=unit.id,
            seen_at=self.at(first.on),
            why="sample",
            why_assumed=True,
            plants=0,
            card_id=card_id,
            since="hung",
            counted="all",
            state="ok",
            note=self._note(said),
            examined=[],
        )
        self._examine(reading, said)
        self._add(reading, said, known)

    def _station(self, c: Count, unit: Unit, stations: dict[str, Station]) -> Station:
        """The card's place; one for each unit and method where the sheet names none."""
        full = " / ".join(n for n in (c.house, short_name(c.house, c.unit)) if n)
        code = c.station or f"{full} / {c.method}"
        station = stations.get(code)
        if station is None:
            station = Station(
                id=self.id_of("station", c.on, unit.id, code),
                unit_id=unit.id,
                code=code,
                kind=self.methods[c.method].kind,
                role="interior",
                opened_on=c.on,
            )
            stations[code] = station
            self.fresh.append(station)
        elif c.on < station.opened_on:
            station.opened_on = c.on
        return station

    def _treatment(self, t: Treatment) -> None:
        """A treatment in the words of the sheet; only its day is known. Without one: a remark."""
        if t.on is None:
            self.landed.undated.append(t)
            return
        units = [self.unit_of(t.house, name) for name in t.units]
        application_id = self.id_of(
            "application", t.on, t.kind, t.active or t.what, *sorted(str(u.id) for u in units)
        )
        held = self.session.get(Application, (self.operation.id, application_id))
        if held is not None or application_id in self.told:
            self.landed.already_there.append(t.at)
            return
        self.told.add(application_id)
        treated = [Treated(unit_id=u.id) for u in units]
        noon = self.at(t.on)
        load = Load(n=1, started_at=noon, ended_at=noon, precision="day", treated=treated)
        self.fresh.append(
            Application(
                id=application_id,
                kind=t.kind,
                what=t.what or t.raw,
                active=t.active,
                note=t.raw,
                loads=[load],
            )
        )
        self.landed.treatments += 1


def _tally(c: Count) -> Tally:
    """How a count of a sheet is kept: infested 4 of 25 is "present" on 4 plants of the look."""
    value = None if c.value is None else int(c.value)
    if c.how == "infested":
        none = value == 0
        how, number = ("counted", 0) if none else ("present", None)
        return Tally(taxon=c.taxon, stage=c.stage, how=how, number=number, infested=value)
    if c.how == "density":
        return Tally(taxon=c.taxon, stage=c.stage, how="density", mean=c.value)
    return Tally(taxon=c.taxon, stage=c.stage, how=c.how, number=value)


def _said(t: Tally) -> str:
    """A tally in few signs: what two of one key must share to be the same."""
    if t.infested is not None:
        return f"{t.infested} infested"
    if t.how == "density":
        return f"mean {t.mean:g}"
    if t.how == "present":
        return "present"
    return f"at least {t.number}" if t.how == "at_least" else str(t.number)


def land(session: Ledgered, reading: Reading) -> Landed:
    """Write a reading into the session's operation; the caller commits, or rolls all of it back.

    Raises
    ------
    LandingRefusedError
        if the sheet contradicts what is recorded; nothing is kept then.
    """
    return Landing(session, reading).land()


def keep_names(session: Ledgered, names: dict[str, str]) -> int:
    """Words a person agreed to (word -> taxon), kept as the operation's own; how many were new.

    A word that a person said is none of the taxa is not kept.
    """
    new = 0
    for word, code in sorted(names.items()):
        taxon = session.scalars(select(Taxon).where(Taxon.code == code)).one_or_none()
        if taxon is None:
            continue
        own = list(taxon.names.get("own", []))
        if fold(word) not in {fold(w) for w in own}:
            taxon.names = taxon.names | {"own": [*own, word]}
            new += 1
    return new


def own_names(session: Ledgered) -> dict[str, str]:
    """The operation's own words for pests and enemies: word -> taxon."""
    return {
        word: taxon.code
        for taxon in session.scalars(select(Taxon))
        for word in taxon.names.get("own", [])
    }
