"""An operation with a paired phone, and items as a phone says them."""

from __future__ import annotations

import json
from typing import Any

import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.accounts import devices
from benchwalk.records.database import session, writing
from benchwalk.records.sync import take
from tests.records.small_operation import NINE, SmallOperation


class APhone:
    """A small operation, and a phone that is paired with it; ids are made here, as on a phone."""

    def __init__(self, engine: sa.Engine, small: SmallOperation | None = None) -> None:
        self.engine = engine
        self.o = small or SmallOperation(engine)
        self.n, self.person = self.o.n, str(self.o.person)
        self.unit, self.unit2 = str(self.o.unit.id), str(self.o.unit2.id)
        self.o.s.close()
        self.device, self.token = self.pair("phone 1")

    def pair(self, label: str):
        with writing(self.engine, self.n) as s:
            made = devices.pair(s, devices.offer_pairing(s).secret, label)
        return made.device, made.token

    def item(self, kind: str, body: dict[str, Any], **other: Any) -> dict[str, Any]:
        said = {"kind": kind, "id": str(r.uuid7()), "rev": 1, "base": 0, "by": self.person}
        clock = {"seen_at": NINE.isoformat(), "offset_s": 1.5, "void": None}
        return said | clock | {"body": body} | other

    def walk(self, **other: Any) -> dict[str, Any]:
        return self.item("walk", {"walk_on": "2026-03-10", "scout_id": self.person}, **other)

    def visit(self, walk: dict[str, Any], state: str = "done", **other: Any) -> dict[str, Any]:
        body = {"walk_id": walk["id"], "unit_id": self.unit, "state": state}
        return self.item("visit", body, **other)

    def look(self, walk: dict[str, Any], number: int = 3, **other: Any) -> dict[str, Any]:
        return self.item("observation", self.look_body(walk["id"], number), **other)

    def look_body(self, walk_id: str, number: int) -> dict[str, Any]:
        tally = {"taxon": "western_flower_thrips", "stage": "adult", "number": number}
        examined = {"method": "leaf_count", "items": 3, "tallies": [tally]}
        where = {"walk_id": walk_id, "unit_id": self.unit, "seen_at": NINE.isoformat()}
        return {"kind": "look", "why": "sample", "plants": 1, "examined": [examined]} | where

    def morning(self, *numbers: int) -> list[dict[str, Any]]:
        walk = self.walk()
        return [walk, self.visit(walk), *(self.look(walk, n) for n in numbers)]

    def sends(self, *items: Any, device: Any = None) -> list[str]:
        """Short answers: "applied", or "rejected malformed"."""
        answers = take(self.engine, self.n, device or self.device, items)
        return [" ".join(filter(None, (a.answer, a.reason))) for a in answers]

    def held(self) -> dict[str, tuple[int, int]]:
        """Looks that hold now: id -> (rev, its one number)."""
        with session(self.engine, self.n) as s:
            return {
                str(look.id): (look.rev, look.examined[0].tallies[0].number)
                for look in s.scalars(sa.select(r.Observation))
            }

    def aside(self) -> list[tuple[str, Any]]:
        """Why and what was kept beside."""
        with session(self.engine, self.n) as s:
            kept = s.scalars(sa.select(r.Aside).order_by(r.Aside.n))
            return [(a.reason, json.loads(a.body)) for a in kept]

    def ledger(self, id_: str) -> list[r.Ledger]:
        with session(self.engine, self.n) as s:
            rows = s.scalars(sa.select(r.Ledger).order_by(r.Ledger.seq))
            return [row for row in rows if str(row.id) == id_]


def changed(item: dict[str, Any], rev: int, number: int, base: int = 0) -> dict[str, Any]:
    """The same look at another rev, with another number."""
    copy = json.loads(json.dumps(item)) | {"rev": rev, "base": base}
    copy["body"]["examined"][0]["tallies"][0]["number"] = number
    return copy
