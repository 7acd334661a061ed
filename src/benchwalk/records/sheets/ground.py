"""The ground a sheet stands on: its houses, units, plantings, scouts and walks.

What the operation has already is found by name; what it has not is made without geometry (not on
the plan yet), with a life from the first day seen.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

from sqlalchemy import select

from benchwalk.catalogue import Refusal
from benchwalk.records.ledger import Ledgered
from benchwalk.records.operations import Person
from benchwalk.records.places import Unit
from benchwalk.records.plain import Plain
from benchwalk.records.plants import NOT_SAID, Phase, Planting
from benchwalk.records.seen import Visit, Walk
from benchwalk.records.sheets.found import Count, NothingSeen, Reading
from benchwalk.records.sheets.known import (
    ANY_CROP,
    CODE_LENGTH,
    KnownPlaces,
    name_key,
    new_person,
    person_called,
    short_name,
)
from benchwalk.records.vocabulary import Crop

Seen = Count | NothingSeen


class LandingRefusedError(Refusal):
    """The sheet contradicts what is recorded (a closed unit, say); nothing was written."""


@dataclass(frozen=True, slots=True)
class Spot:
    """Where, when and by whom something was seen; `planting` is None where no crop is named."""

    on: dt.date
    scout: str  # folded; "" where nobody is named
    unit: Unit
    walk: uuid.UUID
    planting: uuid.UUID | None


class Ground(KnownPlaces):
    """Where the looks of one sheet belong, inside one transaction.

    Most counts share their place with others: what is found or made for a place is found or made
    for one count of each (`stands`), not for every count.
    """

    def __init__(self, session: Ledgered, reading: Reading) -> None:
        super().__init__(session, [])
        self.reading = reading
        self.seen: Sequence[Seen] = [*reading.records, *reading.nothing_seen]
        self.stands: dict[Hashable, Seen] = {}
        for s in self.seen:
            self.stands.setdefault(_stand(s), s)
        self.units_made: list[str] = []
        self.standing: dict[tuple[uuid.UUID, str], Planting] = {}
        self.spots: dict[Hashable, Spot] = {}

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

    def _rename(self) -> None:
        """A stated rename is a dated alias: the unit goes by its new name, and answers to both."""
        for r in self.reading.renames:
            for (house, name), unit in list(self.units.items()):
                if r.stated and name == name_key(r.old) and name_key(unit.name) == name_key(r.old):
                    day = r.on.isoformat() if r.on else ""
                    unit.former_names = unit.former_names | {unit.name: day}
                    unit.name = r.new
                    self.units[house, name_key(r.new)] = unit

    def _former(self, name: str) -> dict[str, str]:
        return {
            r.old: r.on.isoformat() if r.on else ""
            for r in self.reading.renames
            if r.stated and name_key(r.new) == name_key(name)
        }

    def unit_of(self, house: str | None, name: str) -> Unit:
        """The unit of a name; without a house, the only unit of that name anywhere."""
        short = short_name(house, name)
        key = name_key(house), name_key(short)
        if key in self.units or house:
            return self.units[key]
        return self.named_once(short) or self.units[key]

    def _places(self) -> None:
        """Houses and units the sheet names and the operation has not: not on the plan yet."""
        named: dict[tuple[str, str], list[Seen]] = {}
        for s in self.stands.values():
            key = name_key(s.house), name_key(short_name(s.house, s.unit))
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
            id=self.id_of("unit", on, name_key(house), name_key(name)),
            house_id=None if house is None else self.house(house, on).id,
            kind="unit",
            name=name,
            former_names=self._former(name),
            opened_on=on,
        )
        self.fresh.append(unit)
        self.units_made.append(name if house is None else f"{house} / {name}")
        return unit

    def _crops(self) -> None:
        """Crops by the words of the sheet; a word nobody knows becomes the operation's own crop."""
        self.crops: dict[str, str] = {}
        for crop in self.session.scalars(select(Crop)):
            for word in (crop.code, *crop.names.get("own", [])):
                self.crops[name_key(word)] = crop.code
        for s in self.stands.values():
            if s.crop is not None and name_key(s.crop) not in self.crops:
                code = "_".join(name_key(s.crop).split())[:CODE_LENGTH]
                known = {"names": {"own": [s.crop]}, "parent": ANY_CROP}
                self.fresh.append(Crop(id=self.id_of("crop", s.on, code), code=code, **known))
                self.crops[name_key(s.crop)] = code

    def _plantings(self) -> None:
        """One planting of unknown area for each crop a unit is said to hold."""
        standing = {(p.unit_id, p.crop): p for p in self.session.scalars(select(Planting))}
        first: dict[tuple[uuid.UUID, str], dt.date] = {}
        for s in self.stands.values():
            if s.crop is not None:
                key = self.unit_of(s.house, s.unit).id, self.crops[name_key(s.crop)]
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
        known = person_called(name, people)
        if known is not None:
            return known.id
        person = new_person(self.operation.id, name, "scout", people)
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
            walk_id = self.id_of("walk", s.on, name_key(s.scout))
            if walk_id not in walks:
                scout = scouts[s.scout] if s.scout else None
                self.fresh.append(Plain(Walk, id=walk_id, walk_on=s.on, scout_id=scout))
                walks.add(walk_id)
            if (walk_id, unit.id) not in visits:
                visit = {"id": self.id_of("visit", s.on, walk_id, unit.id), "walk_id": walk_id}
                self.fresh.append(Plain(Visit, **visit, unit_id=unit.id, state="done"))
                visits.add((walk_id, unit.id))
            planting = self._planting_of(s, unit)
            self.spots[stand] = Spot(s.on, name_key(s.scout), unit, walk_id, planting)

    def _planting_of(self, s: Seen, unit: Unit) -> uuid.UUID | None:
        if s.crop is None:
            return None
        return self.standing[unit.id, self.crops[name_key(s.crop)]].id


def _stand(s: Seen) -> Hashable:
    return s.on, s.house, s.unit, s.crop, s.scout
