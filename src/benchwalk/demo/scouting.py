"""How the demo's scouts see what lives there: plants at random, individuals missed by chance.

The errors are those of the observation model: a random sample of plants; of the individuals on a
plant each is seen with the scout's chance; a round of walking has an error of its own that more
plants do not average away (variance 0.10 on the log scale for plants, 0.30 for cards).
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np

from benchwalk.demo import scenario
from benchwalk.demo.growing import Growing, Pest
from benchwalk.science.arguments import FloatArray
from benchwalk.science.outbreak.layout import IntArray

ROUND_ERROR = {"plants": 0.10, "cards": 0.30}  # variance of the log, assumed until learned
LEAVES = 20  # on a plant of those whose leaves are counted; invented
CARD_CATCH, CARD_REACH = 0.03, 1.5  # share of adults caught a day beside the card; [m]; invented
DISC_CATCH = 0.5  # larvae on a disc for each larva in a pot, over two days; invented


@dataclass(frozen=True)
class Scout:
    """A scout: the share of individuals seen, and what is too many to count."""

    name: str
    sees: float
    counts_to: int | None
    minutes_a_plant: float


SCOUTS = (
    Scout("scout 1", 0.95, None, 1.4),
    Scout("scout 2", 0.85, None, 1.1),
    Scout("scout 3", 0.75, None, 0.9),
    Scout("scout 4", 0.60, 25, 0.6),
)
# the scouts change sections every four weeks, so that scout and section can be told apart
TURN = (0, 1, 3, 0, 2, 1, 0)
HARD_TO_SEE = {"egg": 0.8, "nymph": 0.9, "larva": 0.9}
SECTION_DAY = {1: 0, 2: 1, 3: 2, 4: 2}


def scout_of(section: int, week: int) -> Scout:
    return SCOUTS[(section - 1 + TURN[week // 4]) % len(SCOUTS)]


@dataclass(frozen=True)
class Seen:
    """A number of one taxon at one stage; ``at_least`` where the scout stopped counting."""

    taxon: str
    stage: str
    number: int
    at_least: bool = False


@dataclass(frozen=True)
class Look:
    """One plant: its position, and what was examined on it, by method."""

    position: str
    examined: dict[str, tuple[int | None, list[Seen]]] = field(default_factory=dict)


def looks(
    growing: Growing, unit: scenario.Unit, scout: Scout, rng: np.random.Generator
) -> list[Look]:
    """A walk's sample of a unit: every target of the crop on each plant, zeros too."""
    there = growing.plants_in(unit)
    chosen = np.sort(rng.choice(len(there), size=_sample_size(len(there)), replace=False))
    out = [Look(_position(unit, int(there[n]))) for n in chosen]
    for target in scenario.rows("targets"):
        if target["crop"] == unit.crop:
            true = growing.on(unit, target["taxon"], target["stage"])[chosen]
            items = int(target["items"]) if target["items"] else None
            seen = _seen(true, target["stage"], items, scout, rng)
            for look, number in zip(out, seen, strict=True):
                held = look.examined.setdefault(target["method"], (items, []))
                held[1].append(_told(target, int(number), scout))
    return out


def look_at(growing: Growing, unit: scenario.Unit, scout: Scout, position: str) -> Look:
    """One plant that was not taken at random; what is seen is the scout's share, without chance."""
    there = growing.plants_in(unit)
    n = next(n for n, place in enumerate(there) if _position(unit, int(place)) == position)
    look = Look(position)
    for target in scenario.rows("targets"):
        if target["crop"] == unit.crop:
            true = int(growing.on(unit, target["taxon"], target["stage"])[n])
            items = int(target["items"]) if target["items"] else None
            share = scout.sees * HARD_TO_SEE.get(target["stage"], 1.0)
            number = int(true * share * (1.0 if items is None else items / LEAVES))
            held = look.examined.setdefault(target["method"], (items, []))
            held[1].append(_told(target, number, scout))
    return look


def _sample_size(plants: int) -> int:
    return 20 if plants > 100 else 12


def _position(unit: scenario.Unit, place: int) -> str:
    across = int(unit.width / unit.spacing + 1e-9)
    return f"{place // across + 1}.{place % across + 1}"


def _seen(
    true: IntArray, stage: str, items: int | None, scout: Scout, rng: np.random.Generator
) -> IntArray:
    chance = scout.sees * HARD_TO_SEE.get(stage, 1.0) * _round_error("plants", rng)
    examined = 1.0 if items is None else items / LEAVES
    return np.asarray(rng.binomial(true, min(1.0, chance) * examined))


def _round_error(of: str, rng: np.random.Generator) -> float:
    variance = ROUND_ERROR[of]
    return float(np.exp(rng.normal(-variance / 2, np.sqrt(variance))))


def _told(target: dict[str, str], number: int, scout: Scout) -> Seen:
    too_many = scout.counts_to is not None and number > scout.counts_to
    told = scout.counts_to if too_many and scout.counts_to is not None else number
    return Seen(target["taxon"], target["stage"], told, at_least=too_many)


@dataclass(frozen=True)
class Station:
    """A fixed place for cards or discs."""

    code: str
    unit: str
    kind: str
    method: str
    role: str
    x: float  #: in the air space [m]
    y: float
    catches: tuple[tuple[str, str], ...]  #: taxon and stage
    weeks: int  #: that one card hangs


class Catch:
    """What flew onto every card since it was last read."""

    def __init__(self, growing: Growing, stations: tuple[Station, ...]) -> None:
        self.expected: defaultdict[tuple[str, str], float] = defaultdict(float)
        self.near: list[tuple[str, Pest, FloatArray]] = []
        for station in (s for s in stations if s.kind == "card"):
            air_space = scenario.air_space_of(scenario.units()[station.unit])
            for pest in growing.pests:
                caught = [taxon for taxon, _ in station.catches]
                if pest.air_space == air_space and pest.taxon in caught:
                    self.near.append((station.code, pest, _reach(station, pest)))

    def day(self) -> None:
        """One more day of flying."""
        for code, pest, near in self.near:
            key = code, pest.taxon
            flew = CARD_CATCH * float(pest.adults @ near)
            self.expected[key] += flew

    def take(self, station: Station, taxon: str, rng: np.random.Generator) -> int:
        """Individuals new on a card, and the sum begins again."""
        expected = self.expected.pop((station.code, taxon), 0.0)  # no pest of it lives there
        return int(rng.poisson(expected * _round_error("cards", rng)))


def _reach(station: Station, pest: Pest) -> FloatArray:
    away = np.hypot(pest.layout.x - station.x, pest.layout.y - station.y)
    return np.asarray(np.exp(-away / CARD_REACH))


def on_disc(growing: Growing, unit: scenario.Unit, rng: np.random.Generator) -> int:
    """Fungus gnat larvae on a disc of a unit after two days."""
    larvae = growing.on(unit, "fungus_gnat", "larva")
    near = rng.choice(larvae, size=4)
    return int(rng.poisson(DISC_CATCH * near.mean() * _round_error("cards", rng)))


def stations() -> tuple[Station, ...]:
    """A card over every unit, one inside the door, two discs on every propagation bench."""
    over_units = (s for u in scenario.units().values() for s in (_card(u), *_discs(u)))
    return (*over_units, _door())


EAST = (("western_flower_thrips", "adult"), ("greenhouse_whitefly", "adult"))
GNATS = (("fungus_gnat", "adult"),)
WEST = (("greenhouse_whitefly", "adult"), ("green_peach_aphid", "winged"))


def _card(unit: scenario.Unit) -> Station:
    east = scenario.air_space_of(unit) == "East range"
    catches = WEST if not east else EAST + GNATS if unit.section == 1 else EAST
    x, y = _middle(unit)
    weeks = 1 if east else 4
    return Station(
        f"{unit.key}-Y", unit.key, "card", "yellow_card", "interior", x, y, catches, weeks
    )


def _door() -> Station:
    return Station("GD-Y", "G3", "card", "yellow_card", "door", 15.0, 0.5, EAST, 1)


def _discs(unit: scenario.Unit) -> tuple[Station, ...]:
    if unit.section != 1:
        return ()
    x, y = _middle(unit)
    gnats = (("fungus_gnat", "larva"),)
    return tuple(
        Station(f"{unit.key}-D{n}", unit.key, "disc", "potato_disc", "interior", x, y, gnats, 1)
        for n in (1, 2)
    )


def _middle(unit: scenario.Unit) -> tuple[float, float]:
    house = next(h for h in scenario.rows("houses") if h["house"] == unit.house)
    return float(house["at_m"]) + unit.x + unit.width / 2, unit.y + unit.length / 2


def walk_days(week: int) -> dict[dt.date, list[int]]:
    """The sections walked on each day of a week."""
    found: dict[dt.date, list[int]] = {}
    for section, weekday in SECTION_DAY.items():
        found.setdefault(scenario.day_of(week, weekday), []).append(section)
    return found
