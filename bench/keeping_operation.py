"""An operation of any size for the benches of keeping: walks, looks and tallies, all invented."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.database import migrate, open_database, writing
from benchwalk.records.ledger import write_in_order, write_new
from benchwalk.records.plain import Plain
from benchwalk.records.setup import set_up

FIRST = dt.date(2026, 1, 5)
UNITS, LOOKS = 50, 20  # of a walk, and of a unit on it
STAGES = ("egg", "nymph", "pupa", "adult")


def operation(file: Path) -> tuple[sa.Engine, int]:
    """A fresh operation with its units."""
    engine = open_database(f"sqlite:///{file}")
    migrate(engine)
    number = set_up(engine, "Bench (invented)", "UTC").operation
    with writing(engine, number) as s:
        air = r.AirSpace(id=r.uuid7(), name="A")
        house = r.House(id=r.uuid7(), air_space_id=air.id, name="H")
        life = {"kind": "unit", "opened_on": FIRST, "house_id": house.id}
        write_new(s, [air, house, *(r.Unit(name=f"U{n}", **life) for n in range(UNITS))])
    return engine, number


def fill(engine: sa.Engine, number: int, ledger_rows: int, tallies_a_look: int = 4) -> None:
    """Walks with looks until the ledger has so many rows."""
    with writing(engine, number) as s:
        units = list(s.scalars(sa.select(r.Unit.id)))
        have = s.scalar(sa.select(sa.func.max(r.Ledger.seq)))
        write_in_order(s, _records(units, ledger_rows - int(have), tallies_a_look))


def _records(units: list[Any], n: int, tallies: int) -> Iterator[Plain]:
    made = 0
    for day in range(n):
        walk_on = FIRST + dt.timedelta(days=day)
        walk = Plain(r.Walk, id=r.uuid7(), walk_on=walk_on)
        yield walk
        made += 1
        for unit in units:
            yield Plain(r.Visit, walk_id=walk.said["id"], unit_id=unit, state="done")
            made += 1
            for k in range(LOOKS):
                yield look(walk.said["id"], unit, walk_on, k, tallies)
                made += 1
                if made >= n:
                    return


def look(walk: Any, unit: Any, on: dt.date, k: int, tallies: int = 4) -> Plain:
    seen = dt.datetime(on.year, on.month, on.day, 9, k % 60, tzinfo=dt.UTC)
    counted = [
        Plain(r.Tally, taxon="greenhouse_whitefly", stage=stage, number=(k + n) % 7)
        for n, stage in enumerate(STAGES[:tallies])
    ]
    examined = [Plain(r.Examined, method="plant_count", items=1, tallies=counted)]
    kept = {"kind": "look", "why": "sample", "plants": 1, "seen_at": seen}
    return Plain(r.Observation, walk_id=walk, unit_id=unit, examined=examined, **kept)
