"""Readings of climate on their way into the records: only instants that are not there yet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

from sqlalchemy import select

from benchwalk.records.compared import Climate, ClimateLog
from benchwalk.records.places import Station, Unit
from benchwalk.records.plain import Plain
from benchwalk.records.sheets.found import At, Question, Reject
from benchwalk.records.sheets.known import name_key
from benchwalk.records.sheets.lists.found import ClimateRow, ListLanded, ListReading, Sensor
from benchwalk.records.sheets.lists.places import Places, Refused
from benchwalk.records.sheets.lists.series import of_sensors

UNNAMED = "sensor"  # in the id of the question, where the file names no sensor
VALUES = ("temp_c", "temp_min_c", "temp_max_c", "rh_percent")


class ClimateLanding:
    """The readings of one logger file on their way into one operation."""

    def __init__(self, places: Places, landed: ListLanded, answers: Mapping[str, str]) -> None:
        self.places, self.landed = places, landed
        self.answers = {name_key(k): v for k, v in answers.items()}
        self.stations = {name_key(s.code): s for s in places.session.scalars(select(Station))}

    def land(self, reading: ListReading) -> None:
        """Every reading of the file: recorded, there already, asked, or refused by name."""
        sensors = {s.name: s for s in reading.sensors}
        rows = [t for t in reading.things if isinstance(t, ClimateRow)]
        for series in of_sensors(rows):
            with self.places.attempt(series):
                station = self._station(sensors[series[0].sensor], series)
                self._readings(station, series, reading)

    def _local_day(self, at: dt.datetime) -> dt.date:
        return at.astimezone(self.places.zone).date()

    def _station(self, sensor: Sensor, series: Sequence[ClimateRow]) -> Station:
        """The sensor's station: recorded, or made where the file or a person says it hangs."""
        on = self._local_day(series[0].instant)
        there = self.stations.get(name_key(sensor.code)) if sensor.code else None
        if there is not None:
            return self._lengthened(there, on)
        house, unit = self._where(sensor, series[0].at)
        code = sensor.code or " / ".join(n for n in (house, unit, UNNAMED) if n)
        if name_key(code) in self.stations:
            return self._lengthened(self.stations[name_key(code)], on)
        place = self._place(house, unit, sensor.code or "", on)
        station = Station(
            id=self.places.id_of("station", on, place.id, code),
            unit_id=place.id,
            code=code,
            kind="sensor",
            role="interior",
            opened_on=on,
        )
        self.places.never_said("station", station.id, code)
        self.stations[name_key(code)] = station
        self.places.fresh.append(station)
        self.landed.stations_made.append(code)
        return station

    def _lengthened(self, station: Station, on: dt.date) -> Station:
        if station.kind != "sensor":
            raise Refused("station_is_no_sensor", station.code)
        if on < station.opened_on:
            station.opened_on = on
        return station

    def _where(self, sensor: Sensor, at: At) -> tuple[str | None, str | None]:
        """House and unit as the file says, or a person."""
        if sensor.house or sensor.unit:
            return sensor.house, sensor.unit
        id_ = f"house:{sensor.code or UNNAMED}"
        answer = self.answers.get(name_key(id_))
        if answer:
            house, _, unit = answer.partition(" / ")
            return house.strip(), unit.strip() or None
        houses = tuple(h.name for h in self.places.houses.values())
        question = f"{sensor.code or UNNAMED}: in which house does it hang?"
        self.landed.asked.append(Question(id_, at, "house_of_sensor", question, houses, None))
        raise Refused("sensor_without_house", sensor.code or "", id_)

    def _place(self, house: str | None, unit: str | None, code: str, on: dt.date) -> Unit:
        """The unit it hangs in, by name; of a house its only unit, else a place of its own."""
        if unit is not None:
            return self.places.unit(house, unit, on)
        if (named := self.places.known(house, code)) is not None:
            return named
        living = self.places.all_units(house, on)
        if len(living) == 1:
            return living[0]
        # not the bare code: a unit may be called so in a sheet that comes later
        return self.places.place(str(house), f"{UNNAMED} {code}".strip(), on)

    def _readings(
        self, station: Station, series: Sequence[ClimateRow], reading: ListReading
    ) -> None:
        held = self._held(station, series)
        new = []
        for row in series:
            there = held.get(row.instant)
            if there is None:
                new.append(row)
            elif there == _values(row):
                self.landed.already_there.append(row.at)
            else:
                raw = f"{_shown(there)} > {_shown(_values(row))}"
                self.landed.rejects.append(Reject(row.at, "differs_from_recorded", raw))
        if new:
            self._record(station, new, reading)

    def _record(self, station: Station, new: Sequence[ClimateRow], reading: ListReading) -> None:
        log = self._log(station, new, reading)
        with self.places.attempt(new):
            self.places.never_said("climate_log", log.said["id"], reading.file)
            self.places.fresh.append(log)
            self.landed.recorded += [row.at for row in new]

    def _held(
        self, station: Station, series: Sequence[ClimateRow]
    ) -> dict[dt.datetime, tuple[float | None, ...]]:
        """What is recorded of the station in the time of the file."""
        columns = [getattr(Climate, name) for name in VALUES]
        query = select(Climate.at, *columns).where(
            Climate.operation_id == self.places.operation.id,
            Climate.station_id == station.id,
            Climate.at.between(series[0].instant, series[-1].instant),
        )
        return {row[0]: tuple(row[1:]) for row in self.places.session.execute(query)}

    def _log(self, station: Station, new: Sequence[ClimateRow], reading: ListReading) -> Plain:
        day = self._local_day(new[0].instant)
        id_ = self.places.id_of("climate_log", day, station.id, reading.sha256, len(new))
        lines = [
            Plain(
                Climate,
                station_id=station.id,
                at=row.instant,
                span_s=row.span_s,
                temp_c=row.temp_c,
                temp_min_c=row.temp_min_c,
                temp_max_c=row.temp_max_c,
                rh_percent=row.rh_percent,
                implausible=row.implausible,
            )
            for row in new
        ]
        said = {"id": id_, "station_id": station.id, "source": reading.file}
        return Plain(ClimateLog, **said, lines=lines)


def _values(row: ClimateRow) -> tuple[float | None, ...]:
    return tuple(getattr(row, name) for name in VALUES)


def _shown(values: tuple[float | None, ...]) -> str:
    return ", ".join("-" if v is None else f"{v:g}" for v in values)
