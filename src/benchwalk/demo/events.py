"""What happened in the demo nursery besides walks: treatments, releases, moves, a virus."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import numpy as np

import benchwalk.records as r
from benchwalk.demo import growing as grown
from benchwalk.demo import scenario
from benchwalk.demo.ground import APPLICATOR, SENSORS, id_of, person, planting, planting_rows
from benchwalk.demo.ground import unit_rows as rows_of_unit
from benchwalk.demo.growing import Growing
from benchwalk.demo.scenario import at, name_id
from benchwalk.records.ledger import Ledgered, write_new
from benchwalk.records.plain import Plain
from benchwalk.records.setup import thresholds_under

# a virus of the thrips makes another threshold hold in the air space
CONDITION = "tospovirus_present"


def of_day(s: Ledgered, day: dt.date, growing: Growing) -> None:
    """Write a day's events, as the office would in the evening."""
    s.info.update(seen_at=at(day, 18), by_id=None, device_id=None)
    rows = [*_applications(day), *_releases(day), *_moved(day), *_virus(day)]
    if day.weekday() == 6:
        rows += _climate(day)
    if rows:
        write_new(s, rows)
    _succession(s, day, growing)


def _applications(day: dt.date) -> Iterator[Plain]:
    for row in scenario.rows("treatments"):
        if scenario.day_of(int(row["week"]), int(row["weekday"])) == day:
            said = {k: row[k] or None for k in ("kind", "what", "active", "moa_group", "effect")}
            yield _application(day, row["units"].split(), row["taxon"], **said)


def _application(day: dt.date, units: list[str], taxon: str, **said: str | None) -> Plain:
    begun = at(day, 15)
    treated = [Plain(r.Treated, unit_id=id_of("unit", key)) for key in units]
    ended = begun + dt.timedelta(minutes=20 * len(units))
    load = Plain(r.Load, n=1, started_at=begun, ended_at=ended, treated=treated)
    by = person(APPLICATOR)
    known = {"id": name_id(begun, "application", *units, *said.values()), "loads": [load]}
    return Plain(r.Application, taxon=taxon, applicator_id=by, **known, **said)


def _releases(day: dt.date) -> Iterator[Plain]:
    if day.weekday() == 3 and (day - scenario.FIRST).days // 7 in grown.ENEMY_WEEKS:
        number = grown.ENEMY_A_UNIT * len(grown.ENEMY_UNITS)
        what = f"{grown.ENEMY.replace('_', ' ').capitalize()}, about {number}"
        units = list(grown.ENEMY_UNITS)
        yield _application(day, units, grown.ENEMY_EATS, kind="release", what=what)


def _moved(day: dt.date) -> Iterator[Plain]:
    move = scenario.MOVED
    if day == move.day:
        yield Plain(
            r.Movement,
            id=name_id(at(day, 10), "moved"),
            kind="move",
            moved_on=day,
            from_id=planting(move.source),
            to_id=planting(move.target),
            plants=move.plants,
        )


def _succession(s: Ledgered, day: dt.date, growing: Growing) -> None:
    """A unit is closed, and the next takes its plants over."""
    for unit in scenario.units().values():
        if unit.after is None or unit.opened != day:
            continue
        before, operation = unit.after, s.info["operation_id"]
        s.get_one(r.Unit, (operation, id_of("unit", before))).closed_on = day
        for station in s.query(r.Station).filter_by(unit_id=id_of("unit", before)):
            station.closed_on = day
        s.flush()
        plants = len(growing.plants_in(unit))
        ends = {"from_id": planting(before), "to_id": planting(unit.key)}
        moved = {"id": name_id(at(day, 8), "succeeded"), "kind": "move", "moved_on": day}
        write_new(
            s,
            [
                *rows_of_unit(unit),
                *planting_rows(unit, day),
                Plain(r.Movement, plants=plants, **moved, **ends),
            ],
        )
        left = s.get_one(r.Planting, (operation, planting(before)))
        left.phases.append(r.Phase(from_on=day, phase="gone", area_percent=0))
        s.flush()


def _virus(day: dt.date) -> Iterator[Plain | r.Threshold]:
    """A stunted plant tests positive: a sighting, and the threshold that holds from now on."""
    if day != scenario.VIRUS_DAY:
        return
    unit = scenario.units()[scenario.VIRUS_UNIT]
    yield Plain(
        r.Sighting,
        id=name_id(at(day, 11), "virus"),
        unit_id=id_of("unit", unit.key),
        seen_at=at(day, 11),
        cause="disease",
        taxon=scenario.VIRUS,
        position="9.3",
        pattern="one plant",
        words="stunted, brown rings on young leaves; strip test positive (invented)",
    )
    air_space = id_of("air_space", scenario.air_space_of(unit))
    for threshold in thresholds_under(CONDITION, air_space, day):
        threshold.id = name_id(at(day, 12), "virus", threshold.taxon, threshold.method)
        yield threshold


def _climate(sunday: dt.date) -> Iterator[Plain]:
    """A week of days from each sensor."""
    last = (sunday - scenario.FIRST).days
    for air_space in SENSORS:
        sensor = id_of("sensor", air_space)
        lowest, highest = grown.temperatures(air_space)
        lines = [
            Plain(
                r.Climate,
                station_id=sensor,
                at=at(scenario.FIRST + dt.timedelta(days=int(n)), 0),
                span_s=86_400,
                temp_min_c=round(float(lowest[n]), 1),
                temp_max_c=round(float(highest[n]), 1),
            )
            for n in np.arange(last - 6, last + 1)
        ]
        log = name_id(at(sunday, 20), "climate", air_space)
        yield Plain(r.ClimateLog, id=log, station_id=sensor, source=scenario.SOURCE, lines=lines)
