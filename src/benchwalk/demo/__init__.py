"""The invented nursery that `make demo` shows: half a year of walks, nothing in it real.

What lives there is grown by the outbreak model and seen with the errors of scouts; see
docs/demo.md. No clock is read: every day is the scenario's.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Engine, func, select

from benchwalk.demo import events, scenario
from benchwalk.demo.ground import lay
from benchwalk.demo.growing import Growing
from benchwalk.demo.walking import Walking
from benchwalk.records import Operation, Tally, Walk
from benchwalk.records.database import (
    address,
    data_directory,
    migrate,
    open_database,
    session,
    writing,
)
from benchwalk.records.ledger import Ledgered
from benchwalk.records.setup import set_up
from benchwalk.summarise import Reported, reported

NAME = scenario.NAME


def folder(data: Path | None) -> Path:
    """Where the demo lives: its own corner of the data directory."""
    return (data or data_directory()) / "demo-operation"


@dataclass(frozen=True)
class Built:
    """The demo operation, and how many counts were written just now: 0 where it was there."""

    operation: int
    counts: int


@contextmanager
def opened(data: Path | None) -> Iterator[Engine]:
    """The demo's own database, made when there is none."""
    engine = open_database(address(folder(data)))
    try:
        migrate(engine)
        yield engine
    finally:
        engine.dispose()


@contextmanager
def ready(data: Path | None) -> Iterator[tuple[Engine, int]]:
    """The demo operation, built the first time somebody asks for it."""
    with opened(data) as engine:
        yield engine, build_once(engine).operation


def build_once(engine: Engine) -> Built:
    """Set the demo operation up and write its half year: all of it, or nothing, and only once."""
    with engine.connect() as connection:
        found = connection.execute(select(Operation.id).where(Operation.name == NAME)).scalar()
    if found is None:
        found = set_up(engine, NAME, scenario.ZONE.key, practice=True).operation
    with writing(engine, int(found)) as s:
        if s.scalars(select(Walk.id).limit(1)).first() is not None:
            return Built(int(found), 0)
        build(s)
        return Built(int(found), s.scalars(select(func.count()).select_from(Tally)).one())


def build(s: Ledgered, weeks: int = scenario.WEEKS) -> None:
    """Live through the half year, or its first weeks, and write down what was done and seen."""
    growing = Growing()
    lay(s, growing)
    walking = Walking(s, growing)
    for n in range(7 * weeks):
        day = scenario.FIRST + dt.timedelta(days=n)
        growing.live(day)
        events.of_day(s, day, growing)
        walking.of_day(day)
    if weeks == scenario.WEEKS:
        walking.heard()


def week(engine: Engine, operation: int) -> Reported:
    """The demo's newest week, to be shown and reported."""
    with session(engine, operation) as s:
        found = reported(s)
    assert found is not None  # the demo has walks
    return found
