"""Putting a reading of a sheet into an operation: all of it, or nothing.

Ids are made from what a row says (operation, unit, day, plant ...), so the same sheet names its
records alike every time: what is there already is found, not added twice; what is there with
another count is told to a person and never written over.
"""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from sqlalchemy import select

from benchwalk.records.ledger import Ledgered, write_new
from benchwalk.records.places import Station, Unit
from benchwalk.records.seen import Card, Examined, Observation, Tally
from benchwalk.records.sheets.found import At, Count, NothingSeen, Reading, Treatment
from benchwalk.records.sheets.ground import Ground, LandingRefusedError, fold, short_name
from benchwalk.records.treated import Application, Load, Treated
from benchwalk.records.vocabulary import Method, Stage, Taxon

__all__ = [
    "Conflict",
    "Landed",
    "LandingRefusedError",
    "Overlap",
    "keep_names",
    "land",
    "own_names",
]


@dataclass(frozen=True)
class Conflict:
    """A count of the sheet that is recorded already, with another number."""

    at: At
    recorded: str
    written: str


@dataclass(frozen=True)
class Overlap:
    """A count of a stage that one already taken on the same plant holds too ("motile", "adult")."""

    at: At
    taken: str
    stage: str


@dataclass
class Landed:
    """What an import wrote, found there already, or left for a person."""

    new: int = 0
    counts: int = 0
    already_there: list[At] = field(default_factory=list)
    conflicts: list[Conflict] = field(default_factory=list)
    overlaps: list[Overlap] = field(default_factory=list)
    units_made: list[str] = field(default_factory=list)
    houses_made: list[str] = field(default_factory=list)
    treatments: int = 0
    undated: list[Treatment] = field(default_factory=list)  # without a day: remarks of their row


class Landing:
    """One sheet on its way into one operation, inside one transaction."""

    def __init__(self, session: Ledgered, reading: Reading) -> None:
        self.session, self.reading = session, reading
        self.ground = Ground(session, reading)
        self.methods = {m.code: m for m in session.scalars(select(Method))}
        self.bits = {s.code: s.bits for s in session.scalars(select(Stage))}
        self.fresh = self.ground.fresh
        self.told: set[uuid.UUID] = set()  # treatments of this sheet; two remarks may tell of one
        self.landed = Landed()

    def land(self) -> Landed:
        """Write everything the reading holds that is not there yet."""
        self.ground.lay()
        self.landed.units_made = self.ground.units_made
        self.landed.houses_made = self.ground.houses_made
        self._looks()
        self._cards()
        for treatment in self.reading.treatments:
            self._treatment(treatment)
        self.session.flush()
        self.landed.new = write_new(self.session, self.fresh)
        return self.landed

    def _is_card(self, method: str) -> bool:
        return self.methods[method].kind in ("card", "disc", "trap")

    def _looks(self) -> None:
        """Counts of one plant (or of one pooled lot of plants) on one walk are one look."""
        looks: dict[tuple[object, ...], list[Count | NothingSeen]] = defaultdict(list)
        for s in self.ground.seen:
            if self._is_card(s.method):
                continue
            plants = s.of if isinstance(s, Count) and s.how == "infested" else s.plants
            unit = self.ground.unit_of(s.house, s.unit)
            looks[unit.id, s.on, fold(s.scout), s.plant, plants, s.crop].append(s)
        known = self._held([self.ground.id_of("look", k[1], *k) for k in looks])  # type: ignore[arg-type]  # k[1] is the day
        for key, said in looks.items():
            self._look(key, said, known)

    def _held(self, ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, Observation]:
        """Observations already there among some ids."""
        wanted = set(ids)
        there = wanted & set(self.session.scalars(select(Observation.id)))
        return {i: self.session.get_one(Observation, (self.ground.operation.id, i)) for i in there}

    def _look(
        self,
        key: tuple[object, ...],
        said: Sequence[Count | NothingSeen],
        known: dict[uuid.UUID, Observation],
    ) -> None:
        first = said[0]
        unit = self.ground.unit_of(first.house, first.unit)
        look_id = self.ground.id_of("look", first.on, *key)
        plants = key[4]
        planting = self.ground.planting_of(first)
        look = Observation(
            id=look_id,
            kind="look",
            walk_id=self.ground.walk_of(first),
            unit_id=unit.id,
            seen_at=self.ground.at(first.on),
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
            examined = Examined(method=method, tallies=[])
            if first is not None:
                examined.items, examined.of_items = first.squares_counted, first.squares_printed
            for c in counts:
                self._tell(examined, c)
            observation.examined.append(examined)

    def _tell(self, examined: Examined, c: Count) -> bool:
        """Put a count on its effort, unless it would count an animal twice."""
        for t in examined.tallies:
            if (
                t.taxon == c.taxon
                and t.stage != c.stage
                and self.bits[t.stage] & self.bits[c.stage]
            ):
                self.landed.overlaps.append(Overlap(c.at, t.stage, c.stage))
                return False
        examined.tallies.append(_tally(c))
        return True

    def _add(
        self,
        observation: Observation,
        said: Sequence[Count | NothingSeen],
        known: dict[uuid.UUID, Observation],
    ) -> None:
        there = known.get(observation.id)
        if there is None:
            self.fresh.append(observation)
            self.landed.counts += sum(len(e.tallies) for e in observation.examined)
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
        if self._tell(examined, s):
            self.landed.counts += 1

    def _cards(self) -> None:
        """Readings of cards, discs and traps; each hung and taken as far as the sheet says."""
        readings: dict[tuple[object, ...], list[Count]] = defaultdict(list)
        for c in self.reading.records:
            if self._is_card(c.method):
                unit = self.ground.unit_of(c.house, c.unit)
                readings[unit.id, c.on, fold(c.scout), c.station, c.method, c.hung_on].append(c)
        known = self._held([self.ground.id_of("reading", k[1], *k) for k in readings])  # type: ignore[arg-type]  # k[1] is the day
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
        unit = self.ground.unit_of(first.house, first.unit)
        station = self._station(first, unit, stations)
        card_id = self.ground.id_of("card", first.on, station.id, first.method, first.hung_on)
        if card_id not in cards:
            hung = None if first.hung_on is None else self.ground.at(first.hung_on)
            card = Card(id=card_id, station_id=station.id, method=first.method)
            card.hung_at, card.taken_at = hung, self.ground.at(first.on)
            self.fresh.append(card)
            cards.add(card_id)
        reading = Observation(
            id=self.ground.id_of("reading", first.on, *key),
            kind="reading",
            walk_id=self.ground.walk_of(first),
            unit_id=unit.id,
            seen_at=self.ground.at(first.on),
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
                id=self.ground.id_of("station", c.on, unit.id, code),
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
        units = [self.ground.unit_of(t.house, name) for name in t.units]
        application_id = self.ground.id_of(
            "application", t.on, t.kind, t.active or t.what, *sorted(str(u.id) for u in units)
        )
        held = self.session.get(Application, (self.ground.operation.id, application_id))
        if held is not None or application_id in self.told:
            self.landed.already_there.append(t.at)
            return
        self.told.add(application_id)
        treated = [Treated(unit_id=u.id) for u in units]
        noon = self.ground.at(t.on)
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
