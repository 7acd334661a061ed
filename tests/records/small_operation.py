"""A small operation, made through the ledger, for tests of the records."""

from __future__ import annotations

import copy
import datetime as dt
import uuid

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError

import benchwalk.records as r
from benchwalk.records.base import Base
from benchwalk.records.database import session

NINE = dt.datetime(2026, 3, 10, 9, tzinfo=dt.UTC)


class SmallOperation:
    def __init__(self, engine: sa.Engine) -> None:
        with engine.begin() as c:
            newest = c.execute(sa.select(sa.func.max(r.Operation.id))).scalar()
            self.n = 1 if newest is None else newest + 1
            operation = {"id": self.n, "uid": uuid.uuid4(), "name": f"o{self.n}"}
            c.execute(
                sa.insert(r.Operation),
                operation | {"zone": "America/New_York", "epoch": 1, "practice": False},
            )
            self.person = r.uuid7()
            person = {"operation_id": self.n, "id": self.person, "pseudonym": "scout 1"}
            c.execute(sa.insert(r.Person), person | {"name": "A", "role": "scout"})
        self.s = session(engine, self.n, self.person)
        add = self.add
        self.air = add(r.AirSpace(name="A"))
        self.house = add(r.House(air_space_id=self.air.id, name="H", width_m=10, length_m=30))
        self.unit = self.new_unit("U1")
        self.unit2 = self.new_unit("U2")
        for code, bits in (("egg", 1), ("larva", 2), ("adult", 4), ("motile", 6)):
            add(r.Stage(code=code, bits=bits))
        add(r.Taxon(code="thrips", kind="pest"))
        add(r.Taxon(code="western_flower_thrips", kind="pest", parent="thrips"))
        add(r.Method(code="leaf_count", kind="plant", part="leaf", item="leaf"))
        add(r.Method(code="root_inspection", kind="plant", part="root", item="plant"))
        add(r.Method(code="yellow_card", kind="card", item="square", area_cm2=500, squares=40))
        add(r.Crop(code="any_crop"))
        add(r.Crop(code="pansy", parent="any_crop"))
        opened = dt.date(2026, 1, 1)
        self.station = add(
            r.Station(unit_id=self.unit.id, code="S1", kind="card", opened_on=opened)
        )
        hung = dt.datetime(2026, 3, 1, 8, tzinfo=dt.UTC)
        self.card = add(r.Card(station_id=self.station.id, method="yellow_card", hung_at=hung))

    @classmethod
    def closed(cls, engine):
        """One that is to be bound to copies of its database: its own session is closed."""
        made = cls(engine)
        made.s.close()
        return made

    def bound_to(self, engine):
        """The same objects, in a session of a copy of the database."""
        bound = copy.copy(self)
        bound.s = session(engine, self.n, self.person)
        for name, held in vars(self).items():
            if isinstance(held, Base):
                setattr(bound, name, bound.s.merge(held, load=False))
        return bound

    def add(self, row):
        self.s.add(row)
        self.s.commit()
        return row

    def new_unit(self, name, **kw):
        rectangle = {"x_m": 0, "y_m": 0, "width_m": 2, "length_m": 20}
        life = {"opened_on": dt.date(2026, 1, 1)}
        return self.add(
            r.Unit(
                **{"house_id": self.house.id, "kind": "unit", "name": name} | rectangle | life | kw
            )
        )

    def walk(self, on=dt.date(2026, 3, 10), unit=None, state="done", reason=None):
        unit = unit or self.unit
        route = [r.Route(unit_id=unit.id, place=1)]
        walk = self.add(r.Walk(walk_on=on, scout_id=self.person, route=route))
        visit = self.add(r.Visit(walk_id=walk.id, unit_id=unit.id, state=state, reason=reason))
        return walk, visit

    def look(self, walk, unit=None, tallies=(("western_flower_thrips", "adult", 3),), **kw):
        counted = [r.Tally(taxon=t, stage=s, number=n) for t, s, n in tallies]
        look = {
            "kind": "look",
            "walk_id": walk.id,
            "unit_id": (unit or self.unit).id,
            "seen_at": NINE,
            "why": "sample",
            "plants": 1,
            "examined": [r.Examined(method="leaf_count", items=3, tallies=counted)],
        }
        return self.add(r.Observation(**look | kw))

    def refused(self, *rows, match):
        """Each row or statement is sent past every application check; the database refuses."""
        with pytest.raises(DBAPIError, match=match):
            self._send(rows)
        self.s.rollback()

    def _send(self, rows):
        for row in rows:
            if isinstance(row, sa.Executable):
                self.s.execute(row)
            else:
                self.s.add(row)
                self.s.flush()
        self.s.commit()
