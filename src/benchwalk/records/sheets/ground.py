"""The ground a sheet stands on: its houses, units, plantings, scouts and walks.

What the operation has already is found by name; what it has not is made without geometry (not on
the plan yet), with a life from the first day seen.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import uuid
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from zoneinfo import ZoneInfo

from sqlalchemy import select

from benchwalk.catalogue import Refusal
from benchwalk.records.base import Record, uuid7
from benchwalk.records.ledger import Ledgered
from benchwalk.records.operations import Operation, Person
from benchwalk.records.places import AirSpace, House, Unit
from benchwalk.records.plain import Plain
from benchwalk.records.plants import NOT_SAID, Phase, Planting
from benchwalk.records.seen import Visit, Walk
from benchwalk.records.sheets.found import Count, NothingSeen, Reading
from benchwalk.records.vocabulary import Crop

NOON = dt.time(12)  # sheets give a day and no hour
ANY_CROP = "any_crop"
CODE_LENGTH = 48

Seen = Count | NothingSeen


class LandingRefusedError(Refusal):
    """The sheet contradicts what is recorded (a closed unit, say); nothing was written."""


@lru_cache(maxsize=4096)
def fold(name: str | None) -> str:
    """A name for comparing: without case and double spaces."""
    return " ".join((name or "").split()).casefold()


def short_name(house: str | None, name: str) -> str:
    """A unit's own name: what stands after "House / ", however the house is spelled there."""
    before, parted, after = name.partition(" / ")
    return after if house and parted and fold(before) == fold(house) else name


@dataclass(frozen=True, slots=True)
class Spot:
    """Where, when and by whom something was seen; `planting` is None where no crop is named."""

    on: dt.date
    scout: str  # folded; "" where nobody is named
    unit: Unit
    walk: uuid.UUID
    planting: uuid.UUID | None


class Ground:
    """Where the looks of one sheet belong, inside one transaction.

    Most counts share their place with others: what is found or made for a place is found or made
    for one count of each (`stands`), not for every count.
    """

    def __init__(self, session: Ledgered, reading: Reading) -> None:
        self.session, self.reading = session, reading
        self.operation = session.get_one(Operation, session.info["operation_id"])
        self.zone = ZoneInfo(self.operation.zone)
        self.seen: Sequence[Seen] = [*reading.records, *reading.nothing_seen]
        self.stands: dict[Hashable, Seen] = {}
        for s in self.seen:
            self.stands.setdefault(_stand(s), s)
        self.fresh: list[Record | Plain] = []
        self.units_made: list[str] = []
        self.houses_made: list[str] = []
        self.houses = {fold(h.name): h for h in session.scalars(select(House))}
        self.units: dict[tuple[str, str], Unit] = {}
        self.standing: dict[tuple[uuid.UUID, str], Planting] = {}
        self.spots: dict[Hashable, Spot] = {}
        self._know_units()

    def lay(self) -> None:
        """Find or make everything that looks refer to."""
        self._rename()
        self._places()
        self._crops()
        self._plantings()
        self._walks()

    def spot_of(self, s: Seen) -> Spot:
        """The unit, walk and planting of something seen; known once the ground is laid."""
        return self.spots[_stand(s)]

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

    def at(self, on: dt.date, clock: dt.time | None = None) -> dt.datetime:
        """A moment of a day; noon stands for a day without a time."""
        return dt.datetime.combine(on, clock or NOON, tzinfo=self.zone)

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

    def _places(self) -> None:
        """Houses and units the sheet names and the operation has not: not on the plan yet."""
        named: dict[tuple[str, str], list[Seen]] = {}
        for s in self.stands.values():
            key = fold(s.house), fold(short_name(s.house, s.unit))
            named.setdefault(key, []).append(s)
        for key, seen in sorted(named.items(), key=lambda n: n[0]):
            first = min(seen, key=lambda s: s.on)
            short = short_name(first.house, first.unit)
            try:
                unit = self.unit_of(first.house, short)
            except KeyError:
                self.units[key] = self._new_unit(first.house, short, first.on)
            else:
                self._lengthen(unit, first.on, max(s.on for s in seen))

    def _lengthen(self, unit: Unit, first: dt.date, last: dt.date) -> None:
        if first < unit.opened_on:
            unit.opened_on = first
        if unit.closed_on is not None and last >= unit.closed_on:
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
        self.units_made.append(name if house is None else f"{house} / {name}")
        return unit

    def _house(self, name: str, on: dt.date) -> House:
        """The house of a name; a new one has its own air until somebody says otherwise."""
        if fold(name) not in self.houses:
            air = AirSpace(id=self.id_of("air_space", on, fold(name)), name=name)
            house = House(id=self.id_of("house", on, fold(name)), air_space_id=air.id, name=name)
            self.fresh += [air, house]
            self.houses[fold(name)] = house
            self.houses_made.append(name)
        return self.houses[fold(name)]

    def _crops(self) -> None:
        """Crops by the words of the sheet; a word nobody knows becomes the operation's own crop."""
        self.crops: dict[str, str] = {}
        for crop in self.session.scalars(select(Crop)):
            for word in (crop.code, *crop.names.get("own", [])):
                self.crops[fold(word)] = crop.code
        for s in self.stands.values():
            if s.crop is not None and fold(s.crop) not in self.crops:
                code = "_".join(fold(s.crop).split())[:CODE_LENGTH]
                known = {"names": {"own": [s.crop]}, "parent": ANY_CROP}
                self.fresh.append(Crop(id=self.id_of("crop", s.on, code), code=code, **known))
                self.crops[fold(s.crop)] = code

    def _plantings(self) -> None:
        """One planting of unknown area for each crop a unit is said to hold."""
        standing = {(p.unit_id, p.crop): p for p in self.session.scalars(select(Planting))}
        first: dict[tuple[uuid.UUID, str], dt.date] = {}
        for s in self.stands.values():
            if s.crop is not None:
                key = self.unit_of(s.house, s.unit).id, self.crops[fold(s.crop)]
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

    def _walks(self) -> None:
        """A walk for each day and scout; a visit for each unit on it."""
        names = {s.scout for s in self.stands.values() if s.scout}
        scouts = {name: self._scout(name) for name in sorted(names)}
        walks = set(self.session.scalars(select(Walk.id)))
        held = self.session.execute(select(Visit.walk_id, Visit.unit_id))
        visits = {(walk_id, unit_id) for walk_id, unit_id in held}
        for stand, s in self.stands.items():
            unit = self.unit_of(s.house, s.unit)
            walk_id = self.id_of("walk", s.on, fold(s.scout))
            if walk_id not in walks:
                scout = scouts[s.scout] if s.scout else None
                self.fresh.append(Plain(Walk, id=walk_id, walk_on=s.on, scout_id=scout))
                walks.add(walk_id)
            if (walk_id, unit.id) not in visits:
                visit = {"id": self.id_of("visit", s.on, walk_id, unit.id), "walk_id": walk_id}
                self.fresh.append(Plain(Visit, **visit, unit_id=unit.id, state="done"))
                visits.add((walk_id, unit.id))
            planting = self._planting_of(s, unit)
            self.spots[stand] = Spot(s.on, fold(s.scout), unit, walk_id, planting)

    def _planting_of(self, s: Seen, unit: Unit) -> uuid.UUID | None:
        if s.crop is None:
            return None
        return self.standing[unit.id, self.crops[fold(s.crop)]].id


def _stand(s: Seen) -> Hashable:
    return s.on, s.house, s.unit, s.crop, s.scout
