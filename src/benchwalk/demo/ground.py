"""The demo's ground in the records: houses, units, plantings, stations, people, thresholds."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterator

import benchwalk.records as r
from benchwalk.demo import scenario
from benchwalk.demo.growing import Growing
from benchwalk.demo.scenario import at, name_id
from benchwalk.demo.scouting import SCOUTS, Station, stations
from benchwalk.records.base import Base
from benchwalk.records.ledger import Ledgered, write_new
from benchwalk.records.plain import Plain
from benchwalk.records.setup import EVER, own_threshold

BEGUN = at(scenario.day_of(-1), 8)
PLANTED = scenario.day_of(-2)
DOORS = (("Glass House", 6.0, 0.0), ("Long House", 5.0, 0.0))
APPLICATOR = "applicator 1"


def id_of(kind: str, *name: object) -> uuid.UUID:
    """The id of something that is there from the beginning, or is known by its name alone."""
    return name_id(BEGUN, kind, *name)


def person(name: str) -> uuid.UUID:
    return id_of("person", name)


def phone(scout: str) -> uuid.UUID:
    return id_of("device", scout)


def lay(s: Ledgered, growing: Growing) -> None:
    """Everything that is there before the first walk."""
    s.info["seen_at"] = BEGUN
    s.add_all(_people(s.info["operation_id"]))
    s.flush()
    opened = [u for u in scenario.units().values() if u.opened < scenario.FIRST]
    write_new(
        s,
        [
            *_houses(),
            *(row for unit in opened for row in unit_rows(unit)),
            *(row for unit in opened for row in planting_rows(unit, PLANTED)),
            *(_received(unit, len(growing.plants_in(unit))) for unit in opened),
            *_sensors(),
            *_targets(),
            *_thresholds(),
        ],
    )


def _people(operation: int) -> Iterator[Base]:
    for scout in SCOUTS:
        yield r.Person(
            operation_id=operation, id=person(scout.name), pseudonym=scout.name, role="scout"
        )
        yield r.Device(operation_id=operation, id=phone(scout.name), label=f"phone of {scout.name}")
    yield r.Person(
        operation_id=operation, id=person(APPLICATOR), pseudonym=APPLICATOR, role="applicator"
    )


def _houses() -> Iterator[Plain]:
    houses = scenario.rows("houses")
    for name in dict.fromkeys(h["air_space"] for h in houses):
        yield Plain(r.AirSpace, id=id_of("air_space", name), name=name)
    for h in houses:
        yield Plain(
            r.House,
            id=id_of("house", h["house"]),
            air_space_id=id_of("air_space", h["air_space"]),
            name=h["house"],
            width_m=float(h["width_m"]),
            length_m=float(h["length_m"]),
        )
    for house, x, y in DOORS:
        size = {"x_m": x - 0.6, "y_m": y, "width_m": 1.2, "length_m": 0.1}
        house_id = id_of("house", house)
        yield Plain(r.Fixture, id=id_of("door", house), house_id=house_id, kind="door", **size)


def unit_rows(unit: scenario.Unit) -> Iterator[Plain]:
    """A unit with the stations that hang over it; never closed yet."""
    yield Plain(
        r.Unit,
        id=id_of("unit", unit.key),
        house_id=id_of("house", unit.house),
        name=unit.name,
        level=1 if unit.section < 3 else 0,
        x_m=unit.x,
        y_m=unit.y,
        width_m=unit.width,
        length_m=unit.length,
        opened_on=unit.opened,
        predecessor_id=id_of("unit", unit.after) if unit.after else None,
    )
    yield from (_station(s) for s in stations() if s.unit == unit.key)


def _station(station: Station) -> Plain:
    unit = scenario.units()[station.unit]
    return Plain(
        r.Station,
        id=id_of("station", station.code),
        unit_id=id_of("unit", station.unit),
        code=station.code,
        kind=station.kind,
        role=station.role,
        opened_on=max(unit.opened, PLANTED),
    )


def planting_rows(unit: scenario.Unit, since: dt.date) -> Iterator[Plain]:
    phase = Plain(r.Phase, from_on=since, phase=unit.phase, area_percent=100)
    unit_id = id_of("unit", unit.key)
    yield Plain(r.Planting, id=planting(unit.key), unit_id=unit_id, crop=unit.crop, phases=[phase])


def planting(unit: str) -> uuid.UUID:
    return id_of("planting", unit)


def _received(unit: scenario.Unit, plants: int) -> Plain:
    came = {"kind": "receive", "moved_on": PLANTED, "to_id": planting(unit.key)}
    return Plain(r.Movement, id=id_of("received", unit.key), plants=plants, **came)


SENSORS = {"East range": "G3", "West house": "L3"}


def _sensors() -> Iterator[Plain]:
    for air_space, unit in SENSORS.items():
        yield Plain(
            r.Station,
            id=id_of("sensor", air_space),
            unit_id=id_of("unit", unit),
            code=f"{unit}-T",
            kind="sensor",
            opened_on=PLANTED,
        )


def _targets() -> Iterator[Plain]:
    for t in scenario.rows("targets"):
        what = {k: t[k] for k in ("crop", "taxon", "stage", "method")}
        yield Plain(
            r.Target, id=id_of("target", *what.values()), **what, every_days=7, from_on=PLANTED
        )


def _thresholds() -> Iterator[r.Threshold]:
    """Some pests have one, and some have none."""
    for row in scenario.rows("thresholds"):
        what = {k: row[k] for k in ("taxon", "stage", "method", "crop", "per")}
        threshold = own_threshold(
            **what,
            value=float(row["value"]),
            phase="any",
            high=None,
            kind="action",
            source=scenario.SOURCE,
            since=EVER,
        )
        threshold.id = id_of("threshold", *what.values())
        yield threshold
