"""Stations on their way into the records."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import select

from benchwalk.records.places import Station, Unit
from benchwalk.records.sheets.found import Question
from benchwalk.records.sheets.known import name_key
from benchwalk.records.sheets.lists.found import ListLanded, ListReading, StationRow
from benchwalk.records.sheets.lists.places import Places, Refused

LIST, RECORDED = "list", "recorded"
FILLED = ("x_m", "y_m", "closed_on")  # what may be said later


class StationLanding:
    """The stations of one list on their way into one operation."""

    def __init__(self, places: Places, landed: ListLanded, answers: Mapping[str, str]) -> None:
        self.places, self.landed, self.answers = places, landed, answers
        self.stations = {name_key(s.code): s for s in places.session.scalars(select(Station))}

    def land(self, reading: ListReading) -> None:
        """Every station of the list: recorded, there already, asked, or refused by name."""
        for row in reading.things:
            if isinstance(row, StationRow):
                with self.places.attempt([row]):
                    self._one(row)

    def _one(self, row: StationRow) -> None:
        there = self.stations.get(name_key(row.code))
        unit = self.places.known(row.house, row.unit)
        if there is not None:
            self._beside(there, unit, row)
            return
        unit = self.places.unit(row.house, row.unit, row.opened_on)
        station = Station(
            id=self.places.id_of("station", row.opened_on, unit.id, row.code),
            unit_id=unit.id,
            code=row.code,
            kind=row.kind,
            role=row.role,
            x_m=row.x_m,
            y_m=row.y_m,
            opened_on=row.opened_on,
            closed_on=row.closed_on,
        )
        self.places.never_said("station", station.id, row.code)
        self.stations[name_key(row.code)] = station
        self.places.fresh.append(station)
        self.landed.recorded.append(row.at)

    def _beside(self, there: Station, unit: Unit | None, row: StationRow) -> None:
        """A code that is recorded: the same place, more of it, or another one."""
        if unit is None or there.unit_id != unit.id or there.kind != row.kind:
            raise Refused("station_elsewhere", row.code)
        told = {name: getattr(row, name) for name in FILLED if getattr(row, name) is not None}
        differs = [n for n, v in told.items() if getattr(there, n) not in (None, v)]
        if there.role != row.role:
            differs.append("role")
            told["role"] = row.role
        if row.opened_on > there.opened_on:
            differs.append("opened_on")
        if row.opened_on != there.opened_on:
            told["opened_on"] = row.opened_on
        more = {n: v for n, v in told.items() if getattr(there, n) != v}
        if differs and not self._agreed(there, row, differs):
            self.landed.already_there.append(row.at)
        elif more:
            self._write(there, more)
            self.landed.recorded.append(row.at)
        else:
            self.landed.already_there.append(row.at)

    def _agreed(self, there: Station, row: StationRow, differs: list[str]) -> bool:
        """Whether the list's word replaces the recorded one; asks while nobody has said so."""
        id_ = f"station:{row.code}"
        answer = self.answers.get(id_)
        if answer in (LIST, RECORDED):
            return answer == LIST
        was = ", ".join(f"{n} {getattr(there, n)} > {getattr(row, n)}" for n in differs)
        question = Question(
            id=id_,
            at=row.at,
            reason="station_differs",
            question=f"{row.code}: {was}; which word holds?",
            choices=(LIST, RECORDED),
            proposed=None,
        )
        self.landed.asked.append(question)
        raise Refused("differs_from_recorded", was, id_)

    def _write(self, there: Station, more: dict[str, object]) -> None:
        for name, value in more.items():
            setattr(there, name, value)
