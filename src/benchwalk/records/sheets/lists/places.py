"""Houses and units that a list names: those of the operation, found by name, or new ones.

New ones are not on the plan yet. Nothing is written here: what is new is held until all of the
list is.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from benchwalk.records.ledger import Ledgered, said_ids
from benchwalk.records.places import Unit
from benchwalk.records.sheets.found import At, Reject
from benchwalk.records.sheets.known import KnownPlaces, name_key, short_name
from benchwalk.records.sheets.lists.found import ListLanded, Thing


class Refused(Exception):  # noqa: N818 - reads as what it says
    """A row that the records do not admit; ``reason`` is a key of ``sheet.reason.*``."""

    def __init__(self, reason: str, raw: str, question: str | None = None) -> None:
        super().__init__(f"{reason}: {raw}")
        self.reason, self.raw, self.question = reason, raw, question

    def reject(self, at: At) -> Reject:
        """The row, put aside for a person."""
        return Reject(at, self.reason, self.raw, question=self.question)


class Places(KnownPlaces):
    """The places of one operation while a list lands in it."""

    def __init__(self, session: Ledgered, landed: ListLanded) -> None:
        super().__init__(session, landed.houses_made)
        self.landed = landed
        self._voided: dict[str, set[uuid.UUID]] = {}
        self._lengthened: list[tuple[Unit, dt.date]] = []

    @contextmanager
    def attempt(self, rows: Sequence[Thing]) -> Iterator[None]:
        """Rows that are refused are put aside; places made or changed for them are as they were."""
        fresh, units, houses = len(self.fresh), dict(self.units), dict(self.houses)
        landed = self.landed
        made = [(m, len(m)) for m in (landed.units_made, landed.places_made, landed.houses_made)]
        self._lengthened = []
        try:
            yield
        except Refused as refused:
            del self.fresh[fresh:]
            for names, count in made:
                del names[count:]
            self.units, self.houses = units, houses
            for unit, opened_on in self._lengthened:
                unit.opened_on = opened_on
            landed.rejects += [refused.reject(row.at) for row in rows]

    def never_said(self, kind: str, id_: uuid.UUID, name: str) -> None:
        """Refuse what was recorded before and voided: it does not come back by itself."""
        if kind not in self._voided:
            self._voided[kind] = said_ids(self.session, kind)
        if id_ in self._voided[kind]:
            raise Refused("voided_before", name)

    def known(self, house: str | None, name: str) -> Unit | None:
        """The unit of a name; without a house the only unit of that name anywhere."""
        short = short_name(house, name)
        found = self.units.get((name_key(house), name_key(short)))
        if found is not None or house:
            return found
        before, parted, after = name.partition(" / ")
        if parted and (found := self.units.get((name_key(before), name_key(after)))):
            return found
        return self.named_once(short)

    def unit(self, house: str | None, name: str, on: dt.date) -> Unit:
        """The unit of a name, living on a day; made where there is none.

        Raises
        ------
        Refused
            where several houses have a unit of that name, or the unit is closed on that day.
        """
        found = self.known(house, name)
        if found is None:
            return self._new(house, name, on)
        self.lengthen(found, on)
        return found

    def lengthen(self, unit: Unit, on: dt.date) -> None:
        """A unit lives since the first day that anything is told of it."""
        if unit.closed_on is not None and on >= unit.closed_on:
            raise Refused("unit_closed", f"{unit.name}, {on}")
        if on < unit.opened_on:
            if unit.predecessor_id is not None:
                raise Refused("unit_not_open_yet", f"{unit.name}, {on}")
            self._lengthened.append((unit, unit.opened_on))
            unit.opened_on = on

    def _new(self, house: str | None, name: str, on: dt.date, kind: str = "unit") -> Unit:
        if house is None and " / " in name:
            house = name.partition(" / ")[0]
        short = short_name(house, name)
        if house is None and sum(n == name_key(short) for _, n in self.units) > 1:
            raise Refused("unit_in_several_houses", name)
        unit = Unit(
            id=self.id_of("unit", on, name_key(house), name_key(short)),
            house_id=None if house is None else self.house(house, on).id,
            kind=kind,
            name=short,
            opened_on=on,
        )
        self.fresh.append(unit)
        self.units[name_key(house), name_key(short)] = unit
        made = self.landed.units_made if kind == "unit" else self.landed.places_made
        made.append(short if house is None else f"{house} / {short}")
        return unit

    def place(self, house: str, name: str, on: dt.date) -> Unit:
        """A place without crop plants in a house, found or made."""
        found = self.units.get((name_key(house), name_key(name)))
        return found or self._new(house, name, on, kind="place")

    def all_units(self, house: str | None, on: dt.date) -> list[Unit]:
        """The units (not places) of a house, or of all houses, that live on a day."""
        wanted = None if house is None else self.houses.get(name_key(house))
        if house is not None and wanted is None:
            return []
        units = {u.id: u for u in self.units.values() if u.kind == "unit"}
        return [
            u
            for u in units.values()
            if (wanted is None or u.house_id == wanted.id)
            and u.opened_on <= on
            and (u.closed_on is None or u.closed_on > on)
        ]
