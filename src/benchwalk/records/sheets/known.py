"""The houses, units and people that the records know by name while a sheet or a list lands."""

from __future__ import annotations

import datetime as dt
import hashlib
import uuid
from collections.abc import Iterable
from functools import lru_cache
from zoneinfo import ZoneInfo

from sqlalchemy import select

from benchwalk.records.base import Record, uuid7
from benchwalk.records.ledger import Ledgered
from benchwalk.records.operations import Operation, Person
from benchwalk.records.places import AirSpace, House, Unit
from benchwalk.records.plain import Plain

NOON = dt.time(12)  # sheets give a day and no hour
ANY_CROP = "any_crop"
CODE_LENGTH = 48


@lru_cache(maxsize=4096)
def name_key(name: str | None) -> str:
    """A name for comparing: without case and double spaces."""
    return " ".join((name or "").split()).casefold()


def short_name(house: str | None, name: str) -> str:
    """A unit's own name: what stands after "House / ", however the house is spelled there."""
    before, parted, after = name.partition(" / ")
    return after if house and parted and name_key(before) == name_key(house) else name


class KnownPlaces:
    """The places of one operation, and what is made for a file that names others.

    Attributes
    ----------
    fresh : records to be written, in the order in which they refer to each other.
    houses_made : names of the houses that are new.
    """

    def __init__(self, session: Ledgered, houses_made: list[str]) -> None:
        self.session, self.houses_made = session, houses_made
        self.operation = session.get_one(Operation, session.info["operation_id"])
        self.zone = ZoneInfo(self.operation.zone)
        self.fresh: list[Record | Plain] = []
        self.houses = {name_key(h.name): h for h in session.scalars(select(House))}
        self.units: dict[tuple[str, str], Unit] = {}
        house_names = {h.id: name for name, h in self.houses.items()}
        for unit in session.scalars(select(Unit)):
            house = house_names[unit.house_id] if unit.house_id else ""
            for name in (unit.name, *unit.former_names):
                self.units[house, name_key(name)] = unit

    def id_of(self, kind: str, on: dt.date, *what: object) -> uuid.UUID:
        """The id that this content has in this operation, whenever it is imported."""
        said = "\0".join(
            [str(self.operation.uid), kind, *("\1" if w is None else str(w) for w in what)]
        )
        return uuid7(self.at(on), hashlib.sha256(said.encode()).digest())

    def at(self, on: dt.date, clock: dt.time | None = None) -> dt.datetime:
        """A moment of a day; noon stands for a day without a time."""
        return dt.datetime.combine(on, clock or NOON, tzinfo=self.zone)

    def named_once(self, name: str) -> Unit | None:
        """The unit of a name of its own that no other unit has, in whichever house it is."""
        found = {u.id: u for (_, n), u in self.units.items() if n == name_key(name)}
        return next(iter(found.values())) if len(found) == 1 else None

    def house(self, name: str, on: dt.date) -> House:
        """The house of a name; a new one has its own air until somebody says otherwise."""
        key = name_key(name)
        if key not in self.houses:
            air = AirSpace(id=self.id_of("air_space", on, key), name=name)
            house = House(id=self.id_of("house", on, key), air_space_id=air.id, name=name)
            self.fresh += [air, house]
            self.houses[key] = house
            self.houses_made.append(name)
        return self.houses[key]


def person_called(name: str, people: Iterable[Person]) -> Person | None:
    """The person of a name, the first of those that have it."""
    return next((p for p in people if name_key(p.name) == name_key(name)), None)


def new_person(operation: int, name: str, role: str, people: Iterable[Person]) -> Person:
    """Somebody nobody knew: only the person has the name, all else a pseudonym with a number."""
    number = 1 + sum(p.pseudonym.startswith(f"{role} ") for p in people)
    return Person(
        operation_id=operation, id=uuid7(), pseudonym=f"{role} {number}", name=name, role=role
    )
