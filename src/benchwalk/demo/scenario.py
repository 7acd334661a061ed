"""What the demo's half year is made of, read from the tables in `nursery/`: all of it invented."""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import uuid
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from zoneinfo import ZoneInfo

from benchwalk.records import uuid7

NAME = "Demo nursery (invented)"
ZONE = ZoneInfo("America/New_York")
SOURCE = "invented for the demo"
FIRST = dt.date(2026, 1, 5)  # a Monday
WEEKS = 26
SEED = 26_016


@cache
def rows(table: str) -> tuple[dict[str, str], ...]:
    """The rows of a table of the nursery."""
    text = (files(__package__) / "nursery" / f"{table}.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))


def day_of(week: int, weekday: int = 0) -> dt.date:
    """A day by its week (0 is the first) and weekday (0 is Monday)."""
    return FIRST + dt.timedelta(weeks=week, days=weekday)


def at(day: dt.date, hour: int, minute: float = 0) -> dt.datetime:
    """An instant on the nursery's clock."""
    return dt.datetime.combine(day, dt.time(hour), ZONE) + dt.timedelta(minutes=minute)


def name_id(when: dt.datetime, *parts: object) -> uuid.UUID:
    """The id of a record, made of its instant and its name: the same in every build."""
    said = "\0".join(str(p) for p in (SEED, *parts))
    return uuid7(when, hashlib.sha256(said.encode()).digest())


@dataclass(frozen=True)
class Unit:
    """A unit of the nursery; lengths in metres from its house's corner."""

    key: str
    house: str
    name: str
    x: float
    y: float
    width: float
    length: float
    spacing: float
    crop: str
    phase: str
    opened: dt.date
    closed: dt.date | None
    after: str | None  #: key of the unit it succeeds
    section: int  #: part of the nursery that one walk passes

    @property
    def ground(self) -> str:
        """Key of the bench under it: a successor keeps the plants of its predecessor."""
        return self.after or self.key

    def alive(self, day: dt.date) -> bool:
        return self.opened <= day and (self.closed is None or day < self.closed)


@cache
def units() -> dict[str, Unit]:
    """Every unit by its key."""
    return {row["key"]: _unit(row) for row in rows("units")}


def _unit(row: dict[str, str]) -> Unit:
    until = row["until_week"]
    return Unit(
        key=row["key"],
        house=row["house"],
        name=row["name"],
        x=float(row["x_m"]),
        y=float(row["y_m"]),
        width=float(row["width_m"]),
        length=float(row["length_m"]),
        spacing=float(row["spacing_m"]),
        crop=row["crop"],
        phase=row["phase"],
        opened=day_of(int(row["from_week"])),
        closed=day_of(int(until)) if until else None,
        after=row["after"] or None,
        section=int(row["section"]),
    )


def air_space_of(unit: Unit) -> str:
    return next(h["air_space"] for h in rows("houses") if h["house"] == unit.house)


@dataclass(frozen=True)
class Moved:
    """Plants that change units on a day."""

    day: dt.date
    source: str
    target: str
    plants: int


# geranium cuttings go from propagation to the last third of a bench that waits for them
MOVED = Moved(day_of(6, 3), "P1", "G3", 60)
# plants on the bench before the cuttings come
STANDING = {"G3": 132}
# a leaf test of a stunted plant
VIRUS_DAY, VIRUS_UNIT, VIRUS = day_of(18, 1), "G2", "insv"
# the week in which half of the nursery was not walked, and why
MISSED_WEEK = 15
MISSED = {"L1": "away", "L2": "away", "L3": "away", "L4": "sign", "L5": "wet", "L6": "time"}
# from this week on nothing came from one phone
SILENT_WEEK, SILENT_SECTION = 24, 4
