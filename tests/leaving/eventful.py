"""An operation in which everything happens once: all five absences, corrections, voids, odd texts.

What stands in it is listed beside each call, so that a test can count it by hand.
"""

from __future__ import annotations

import datetime as dt
import json

import sqlalchemy as sa

import benchwalk.records as r
from tests.records.small_operation import NINE, SmallOperation

DAY = dt.timedelta(days=1)
NAME = "Ána Q. Exempel"
OTHER = "Bo Beispiel"
FORMULA = '=HYPERLINK("http://example.invalid";"x")'
WORDS = f"{FORMULA}\r\nshown by ANA exempel and bo"


class Eventful(SmallOperation):
    """Found 7, looked and none 6, not looked 3, not sent yet 1, no word 1, void 2."""

    def __init__(self, engine: sa.Engine) -> None:
        super().__init__(engine)
        self.two_people_and_a_phone()
        self.plants()
        self.a_round()
        self.cards()
        self.nobody_looked()
        self.taken_back()
        self.other_records()

    def two_people_and_a_phone(self) -> None:
        person = sa.update(r.Person).where(r.Person.operation_id == self.n)
        self.s.execute(person.values(name=NAME))
        self.other = r.uuid7()
        self.s.execute(
            sa.insert(r.Person).values(
                operation_id=self.n, id=self.other, pseudonym="grower 1", name=OTHER, role="grower"
            )
        )
        self.phone = r.uuid7()
        self.s.execute(
            sa.insert(r.Device).values(
                operation_id=self.n,
                id=self.phone,
                label="phone of Ana",
                last_heard_at=NINE + DAY,
                unsent=12,
            )
        )
        self.s.commit()

    def plants(self) -> None:
        """Two plantings that share a unit, one's share corrected; a receipt corrected later too."""
        phases = [
            r.Phase(from_on=dt.date(2026, 2, day), phase=name, area_percent=share)
            for day, name, share in ((1, "rooting", 60), (20, "growing", 50))
        ]
        self.planting = self.add(r.Planting(unit_id=self.unit.id, crop="pansy", phases=phases))
        beside = [r.Phase(from_on=dt.date(2026, 2, 20), phase="growing", area_percent=50)]
        self.add(r.Planting(unit_id=self.unit.id, crop="pansy", phases=beside))
        received = self.add(
            r.Movement(
                kind="receive",
                moved_on=dt.date(2026, 2, 1),
                to_id=self.planting.id,
                plants=100,
            )
        )
        self.add(
            r.Movement(
                kind="ship", moved_on=dt.date(2026, 3, 1), from_id=self.planting.id, plants=90
            )
        )
        received.plants = 95
        self.planting.phases[1].area_percent = 40
        self.s.commit()

    def a_round(self) -> None:
        """Found: 3 adults, at least 50, present, mean 2.5. None: 0 larvae, mean 0, empty look."""
        walk, _ = self.walk()
        self.seen = walk
        self.look(walk, tallies=[("thrips", "adult", 3), ("thrips", "larva", 0)])
        for how, said in (
            ("at_least", {"number": 50}),
            ("present", {}),
            ("density", {"mean": 2.5}),
            ("density", {"mean": 0.0}),
        ):
            tally = r.Tally(taxon="western_flower_thrips", stage="motile", how=how, **said)
            self.look(walk, examined=[r.Examined(method="leaf_count", items=3, tallies=[tally])])
        self.look(walk, tallies=[], planting_id=self.planting.id, note=WORDS)

    def cards(self) -> None:
        """Found: 4 on a card (corrected from 5). None: 0 thrips there. Not looked: card missing."""
        reading = {"kind": "reading", "why": "sample", "plants": 0, "card_id": self.card.id}
        here = {"walk_id": self.seen.id, "unit_id": self.unit.id, "seen_at": NINE}
        on_card = [
            r.Tally(taxon="western_flower_thrips", stage="adult", number=5),
            r.Tally(taxon="thrips", stage="adult", number=0),
        ]
        read = self.add(
            r.Observation(
                **reading | here,
                state="ok",
                since="hung",
                counted="all",
                examined=[r.Examined(method="yellow_card", items=20, of_items=40, tallies=on_card)],
            )
        )
        read.examined[0].tallies[0].number = 4
        self.s.commit()
        self.add(r.Observation(**reading | here | {"seen_at": NINE + DAY}, state="missing"))

    def nobody_looked(self) -> None:
        """Not looked: one skipped, one passed without a look. No word, not sent yet: one each."""
        self.walk(unit=self.unit2, state="skipped", reason="sign")
        self.walk(on=dt.date(2026, 3, 11), unit=self.unit2)
        for device, unit in ((None, self.unit), (self.phone, self.unit2)):
            route = [r.Route(unit_id=unit.id, place=1)]
            walk = r.Walk(walk_on=NINE.date(), scout_id=self.person, device_id=device, route=route)
            self.add(walk)

    def taken_back(self) -> None:
        """Void: a look with two tallies. Found: 8 motile where a look had said 9 adults before."""
        gone = self.look(self.seen, tallies=[("thrips", "adult", 7), ("thrips", "larva", 1)])
        self.s.info["void_reason"] = "wrong bench, says Bo Beispiel"
        self.s.delete(gone)
        self.s.commit()
        del self.s.info["void_reason"]
        again = self.look(self.seen, tallies=[("thrips", "adult", 9)])
        again.examined[0].tallies = []
        self.s.commit()
        again.examined[0].tallies = [r.Tally(taxon="thrips", stage="motile", number=8)]
        self.s.commit()
        self.look(self.seen, tallies=[("thrips", "adult", 0), ("western_flower_thrips", "egg", 2)])

    def other_records(self) -> None:
        self.add(
            r.Sighting(
                unit_id=self.unit.id,
                walk_id=self.seen.id,
                seen_at=NINE,
                cause="not_known",
                words=WORDS,
                pattern="",
                position="'quoted",
            )
        )
        load = r.Load(n=1, started_at=NINE, treated=[r.Treated(unit_id=self.unit.id)])
        self.add(
            r.Application(
                kind="spray", what="@home mix\ttwice", applicator_id=self.other, loads=[load]
            )
        )
        aside = {"kind": "visit", "received_at": NINE, "reason": "two words for one rev"}
        held = json.dumps({"note": "Ana was here"})
        self.s.execute(sa.insert(r.Aside).values(operation_id=self.n, n=1, body=held, **aside))
        self.s.commit()


EVENTFUL = ("eventful", Eventful.closed)
