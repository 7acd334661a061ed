"""An operation with three benches, targets on several parts, cards, a flag and two scouts."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.accounts import devices, people
from benchwalk.records.database import migrate, open_database, session, writing
from benchwalk.records.ledger import write_new
from benchwalk.records.places import AirSpace
from benchwalk.records.setup import set_up

PIN = "482915"
SIGN_IN = "scout@here"
TARGETS = (
    ("western_flower_thrips", "larva", "plant_count"),
    ("western_flower_thrips", "adult", "plant_count"),
    ("two_spotted_spider_mite", "egg", "leaf_count"),
    ("two_spotted_spider_mite", "motile", "leaf_count"),
    ("fungus_gnat", "larva", "root_inspection"),
    ("phytoseiulus_persimilis", "motile", "leaf_count"),
    ("western_flower_thrips", "adult", "yellow_card"),
)


class AGreenhouse:
    """Records in a folder of their own, as a server opens them."""

    def __init__(self, folder: Path, template: Path | None = None) -> None:
        path = folder / "benchwalk.sqlite"
        if template is not None:
            path.write_bytes(template.read_bytes())
        self.engine = open_database(f"sqlite:///{path}")
        if template is None:
            migrate(self.engine)
        self.n = set_up(self.engine, "Greenhouse", "Europe/Madrid").operation
        today = dt.datetime.now(dt.UTC)
        self.hung = today - dt.timedelta(days=7)
        opened = today.date() - dt.timedelta(days=60)
        self.air, self.house = r.uuid7(), r.uuid7()
        self.units = [r.uuid7() for _ in range(3)]
        self.stations = [r.uuid7() for _ in range(2)]
        self.cards = [r.uuid7() for _ in range(2)]
        self.flag = r.uuid7()
        with writing(self.engine, self.n) as s:
            self.scout = people.add_person(s, "Scout A", "scout", SIGN_IN)
            people.set_pin(s, self.scout, PIN)
            self.second = people.add_person(s, "Scout B", "scout", "second@here")
            people.set_pin(s, self.second, PIN)
            people.add_person(s, "Manager", "manager", "manager@here")
        with writing(self.engine, self.n) as s:
            write_new(s, self._ground(opened))
            write_new(s, self._targets(opened))
            write_new(s, self._cards(opened))

    def _ground(self, opened: dt.date) -> list[object]:
        size = {"width_m": 2, "length_m": 20}
        place = {"house_id": self.house, "kind": "unit", "opened_on": opened}
        rows: list[object] = [
            AirSpace(id=self.air, name="A"),
            r.House(id=self.house, air_space_id=self.air, name="South", width_m=20, length_m=40),
        ]
        for i, unit in enumerate(self.units):
            rows.append(r.Unit(id=unit, name=f"Bench {i + 1}", x_m=3 * i, y_m=0, **size, **place))
        for unit in self.units:
            phase = r.Phase(from_on=opened, phase="production", area_percent=100)
            rows.append(r.Planting(unit_id=unit, crop="chrysanthemum", phases=[phase]))
        return rows

    def _targets(self, opened: dt.date) -> list[object]:
        return [
            r.Target(unit_id=unit, taxon=t, stage=s, method=m, from_on=opened)
            for unit in self.units
            for t, s, m in TARGETS
        ]

    def _cards(self, opened: dt.date) -> list[object]:
        card, disc = self.stations
        first = self.units[0]
        return [
            r.Station(id=card, unit_id=first, code="S1-Y", kind="card", opened_on=opened),
            r.Station(id=disc, unit_id=first, code="S1-P", kind="disc", opened_on=opened),
            r.Card(id=self.cards[0], station_id=card, method="yellow_card", hung_at=self.hung),
            r.Card(id=self.cards[1], station_id=disc, method="potato_disc", hung_at=self.hung),
            r.Flag(id=self.flag, unit_id=first, colour="red", reason="thrips", position="2.4"),
        ]

    def pairing(self) -> str:
        """A code to type."""
        with writing(self.engine, self.n) as s:
            return devices.offer_pairing(s).typed

    def counted(self, unit: int) -> list[tuple[str, ...]]:
        """What was found on each plant of a bench, in the order of looking."""
        with session(self.engine, self.n) as s:
            of_unit = sa.select(r.Observation).where(r.Observation.unit_id == self.units[unit])
            return [
                tuple(
                    f"{t.method} {t.taxon} {t.stage}"
                    for e in o.examined
                    for t in e.tallies
                    if t.number
                )
                for o in s.scalars(of_unit.order_by(r.Observation.id))
            ]

    def app_version(self) -> str | None:
        """Which files the phone said that it keeps."""
        with session(self.engine, self.n) as s:
            return s.scalars(sa.select(r.Device.app_version)).one()

    def held(self) -> dict[str, tuple[int, int]]:
        """Looks that hold now: id -> (rev, sum of what was counted)."""
        with session(self.engine, self.n) as s:
            return {
                str(o.id): (o.rev, sum(t.number for e in o.examined for t in e.tallies if t.number))
                for o in s.scalars(sa.select(r.Observation))
            }


def on_plants() -> list[str]:
    """Keys of what is counted on plants, sorted as the driver of the page does."""
    return sorted(
        f"{method} {taxon} {stage}" for taxon, stage, method in TARGETS if "card" not in method
    )
