"""A nursery set up from the shipped reference, and quick ways to walk it in tests."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.database import session, writing
from benchwalk.records.ledger import write_new
from benchwalk.records.setup import only_operation, set_threshold
from benchwalk.summarise import Summary, summarise

MONDAY = dt.date(2026, 3, 2)
WEEK = dt.timedelta(days=7)
ZONE = ZoneInfo("America/New_York")


def noon(day: dt.date) -> dt.datetime:
    return dt.datetime.combine(day, dt.time(12), ZONE)


class Nursery:
    def __init__(self, engine: sa.Engine) -> None:
        self.engine = engine
        self.n = only_operation(engine)
        self.walks: dict[dt.date, r.Walk] = {}
        self.visited: set[tuple[object, object]] = set()
        air = r.AirSpace(id=r.uuid7(), name="Air")
        house = r.House(id=r.uuid7(), air_space_id=air.id, name="House")
        self.house = house
        self.write(air, house)

    def write(self, *rows: r.Record) -> None:
        with writing(self.engine, self.n) as s:
            write_new(s, rows)

    def unit(self, name: str, crop: str | None = None, plants: int | None = None, **planting):
        unit = r.Unit(id=r.uuid7(), house_id=self.house.id, name=name, opened_on=MONDAY - 52 * WEEK)
        self.write(unit)
        if crop is not None:
            self.plant(unit, crop, plants, **planting)
        return unit

    def plant(self, unit, crop, plants=None, since=MONDAY, phase="production", provisional=False):
        stands = r.Phase(from_on=since, phase=phase)
        planting = r.Planting(
            id=r.uuid7(), unit_id=unit.id, crop=crop, provisional=provisional, phases=[stands]
        )
        self.write(planting)
        if plants is not None:
            came = {"kind": "receive", "moved_on": since, "to_id": planting.id, "plants": plants}
            self.write(r.Movement(**came))
        return planting

    def walk(self, on=MONDAY, *units, state="done", reason=None, route=False):
        if on not in self.walks:
            walk = r.Walk(id=r.uuid7(), walk_on=on)
            if route:
                walk.route = [r.Route(unit_id=u.id, place=n) for n, u in enumerate(units)]
            self.walks[on] = walk
            self.write(walk)
        for unit in () if route else units:
            if (on, unit.id) not in self.visited:
                self.visited.add((on, unit.id))
                seen = {"walk_id": self.walks[on].id, "unit_id": unit.id}
                self.write(r.Visit(**seen, state=state, reason=reason))
        return self.walks[on]

    def looks(
        self,
        unit,
        counts,
        taxon="greenhouse_whitefly",
        stage="nymph",
        on=MONDAY,
        method="plant_count",
        why="sample",
        **look,
    ):
        """One look a count: a number, "50+", "present", a mean (float) or None (nothing seen)."""
        walk = self.walk(on, unit)
        for count in counts:
            tallies = [] if count is None else [tally(taxon, stage, count)]
            examined = [r.Examined(method=method, tallies=tallies)]
            known = {"kind": "look", "walk_id": walk.id, "unit_id": unit.id, "why": why}
            self.write(
                r.Observation(
                    **known | {"seen_at": noon(on), "plants": 1, "examined": examined} | look
                )
            )

    def card(
        self,
        unit,
        count,
        on=MONDAY,
        hung=None,
        taxon="western_flower_thrips",
        role="interior",
        station=None,
        squares=None,
        reuse=None,
    ):
        """A yellow card read on a day: hung then, taken at the reading unless it hangs on."""
        walk = self.walk(on, unit)
        if reuse is None:
            code = station or str(r.uuid7())
            place = r.Station(id=r.uuid7(), unit_id=unit.id, code=code, kind="card", role=role)
            place.opened_on = MONDAY - 52 * WEEK
            reuse = r.Card(id=r.uuid7(), station_id=place.id, method="yellow_card")
            reuse.hung_at = None if hung is None else noon(hung)
            reuse.taken_at = noon(on) + 10 * WEEK if hung else noon(on)
            self.write(place, reuse)
        counted, printed = squares or (None, None)
        examined = r.Examined(method="yellow_card", items=counted, of_items=printed)
        examined.tallies = [tally(taxon, "adult", count)]
        read = {"since": "hung", "counted": "all", "state": "ok", "plants": 0, "card_id": reuse.id}
        known = {"kind": "reading", "walk_id": walk.id, "unit_id": unit.id, "why": "sample"}
        self.write(r.Observation(**known | read, seen_at=noon(on), examined=[examined]))
        return reuse

    def threshold(self, crop, value, taxon="greenhouse_whitefly", stage="nymph", **more):
        known = {"method": "plant_count", "kind": "action", "rule": "crop", "phase": "any"}
        ceiling = {"sense": "ceiling", "per": "per_plant", "from_on": dt.date(2026, 1, 1)}
        own = {"source": "common practice, no source", "age_from_weeks": 0}
        key = {"taxon": taxon, "stage": stage, "crop": crop, "value": value}
        with writing(self.engine, self.n) as s:
            set_threshold(s, r.Threshold(**known | ceiling | own | key | more))

    def week(self, day=MONDAY, days=7) -> Summary:
        with session(self.engine, self.n) as s:
            found = summarise(s, day, days)
        assert found is not None
        return found

    def line(self, unit, day=MONDAY, **key):
        """The only line of a unit that has the key asked for."""
        found = [
            line
            for u in self.week(day).units
            if u.unit.id == unit.id
            for line in u.lines
            if all(getattr(line, k) == v for k, v in key.items())
        ]
        assert len(found) == 1, found
        return found[0]


def tally(taxon, stage, count):
    if count == "present":
        return r.Tally(taxon=taxon, stage=stage, how="present")
    if isinstance(count, float):
        return r.Tally(taxon=taxon, stage=stage, how="density", mean=count)
    if isinstance(count, str):
        return r.Tally(taxon=taxon, stage=stage, how="at_least", number=int(count.rstrip("+")))
    return r.Tally(taxon=taxon, stage=stage, number=count)
