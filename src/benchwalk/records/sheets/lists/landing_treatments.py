"""Treatments on their way into the records: application, load, units treated."""

from __future__ import annotations

import datetime as dt
import re
import uuid

from sqlalchemy import select

from benchwalk.records.operations import Person
from benchwalk.records.places import Unit
from benchwalk.records.sheets.known import name_key, new_person, person_called
from benchwalk.records.sheets.lists.found import ListLanded, ListReading, TreatmentRow
from benchwalk.records.sheets.lists.places import Places, Refused
from benchwalk.records.sheets.lists.several import PARTS, RANGE, in_range, parts_of
from benchwalk.records.sheets.lists.treatments import treatment_name
from benchwalk.records.treated import Application, Load, Treated
from benchwalk.records.vocabulary import Taxon


class TreatmentLanding:
    """The treatments of one list on their way into one operation."""

    def __init__(self, places: Places, landed: ListLanded) -> None:
        self.places, self.landed = places, landed
        session = places.session
        self.recorded = {a.id: a for a in session.scalars(select(Application))}
        self.taken: set[uuid.UUID] = set()
        self.people = list(session.scalars(select(Person)))
        self.people_made: list[Person] = []
        self.taxa = set(session.scalars(select(Taxon.code)))

    def land(self, reading: ListReading) -> None:
        """Every treatment of the list: recorded, there already, or refused by name."""
        for row in reading.things:
            if isinstance(row, TreatmentRow):
                with self.places.attempt([row]):
                    self._one(row)

    def _one(self, row: TreatmentRow) -> None:
        units = self._units(row)
        id_ = self._id(row, units, row.started)
        by_day = self._id(row, units, None)
        if by_day in self.recorded and by_day not in self.taken and id_ not in self.recorded:
            # told by the remark of a sheet, which knows the day only
            id_ = by_day
        if id_ in self.taken:
            raise Refused("treatment_said_twice", treatment_name(row))
        self.taken.add(id_)
        if id_ in self.recorded:
            self._beside(self.recorded[id_], row)
            return
        self.places.never_said("application", id_, treatment_name(row))
        self.places.fresh.append(self._application(id_, row, units))
        self.landed.recorded.append(row.at)

    def _id(self, row: TreatmentRow, units: list[Unit], started: dt.datetime | None) -> uuid.UUID:
        """The same as that of a remark in a sheet, with the time where one is given."""
        where = sorted(str(u.id) for u in units)
        when = [] if started is None else [started.isoformat()]
        return self.places.id_of(
            "application", row.on, row.kind, row.active or row.what, *where, *when
        )

    def _beside(self, there: Application, row: TreatmentRow) -> None:
        """A treatment that is recorded: the same, or one with another group or water."""
        load = there.loads[0]
        pairs = ((there.moa_group, row.moa_group), (load.water_ml, row.water_ml))
        for old, new in pairs:
            if None not in (old, new) and old != new:
                raise Refused("differs_from_recorded", f"{old} > {new}")
        self.landed.already_there.append(row.at)

    def _application(self, id_: uuid.UUID, row: TreatmentRow, units: list[Unit]) -> Application:
        noon = self.places.at(row.on)
        started = row.started or noon
        load = Load(
            n=1,
            started_at=started,
            # no end would say that it is still running
            ended_at=row.ended or started,
            precision="day" if row.started is None else "minute",
            water_ml=row.water_ml,
            treated=[Treated(unit_id=u.id) for u in units],
        )
        return Application(
            id=id_,
            kind=row.kind,
            what=row.what,
            active=row.active,
            moa_group=row.moa_group,
            taxon=row.target if row.target in self.taxa else None,
            applicator_id=self._applicator(row.applicator),
            note=row.note,
            loads=[load],
        )

    def _applicator(self, name: str | None) -> uuid.UUID | None:
        """The person of a name; a new one gets a pseudonym, and only the person has the name."""
        if name is None:
            return None
        known = person_called(name, self.people)
        if known is not None:
            return known.id
        made = new_person(self.places.operation.id, name, "applicator", self.people)
        self.people.append(made)
        self.people_made.append(made)
        return made.id

    def _units(self, row: TreatmentRow) -> list[Unit]:
        """The units treated: one, several, or all that live on that day."""
        if row.units is None:
            return self._all(row.house, row.on)
        found = self._named(row.house, row.units, row.on)
        return list({u.id: u for u in found}.values())

    def _all(self, house: str | None, on: dt.date) -> list[Unit]:
        units = self.places.all_units(house, on)
        if not units:
            raise Refused("no_units_known", house or "")
        return units

    def _named(self, house: str | None, text: str, on: dt.date) -> list[Unit]:
        known = self.places.known(house, text)
        if known is not None:
            self.places.lengthen(known, on)
            return [known]
        if house is None and name_key(text) in self.places.houses:
            return self._all(text, on)
        parts = [p for p in PARTS.split(text) if p]
        if len(parts) > 1:
            whole = zip(parts, parts_of(text), strict=True)
            return self._parts(house, [w if self._known(house, w) else p for p, w in whole], on)
        if found := RANGE.fullmatch(text):
            return self._range(house, found, on)
        return [self.places.unit(house, text, on)]

    def _parts(self, house: str | None, parts: list[str], on: dt.date) -> list[Unit]:
        """Units in one cell; a house before the first holds for those behind it."""
        units = []
        for part in parts:
            before, parted, _ = part.partition(" / ")
            house = before if parted and house is None else house
            units += self._named(house, part, on)
        return units

    def _known(self, house: str | None, name: str) -> bool:
        """Whether a name, or each name of a range, is one of the operation's units."""
        found = RANGE.fullmatch(name)
        return all(self.places.known(house, n) for n in (in_range(found) if found else [name]))

    def _range(self, house: str | None, found: re.Match[str], on: dt.date) -> list[Unit]:
        """The units of "Bay 1-3", where each of them is known."""
        units = [u for n in in_range(found) if (u := self.places.known(house, n)) is not None]
        if not units or len(units) < len(in_range(found)):
            raise Refused("unit_range", found[0])
        for unit in units:
            self.places.lengthen(unit, on)
        return units
