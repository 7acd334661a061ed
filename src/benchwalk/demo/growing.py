"""What truly lives in the demo nursery, day by day: the outbreak model on its benches."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from functools import cache

import numpy as np

from benchwalk import reference
from benchwalk.demo import scenario
from benchwalk.science.arguments import FloatArray
from benchwalk.science.degree_days import single_sine
from benchwalk.science.outbreak import (
    Applied,
    Arrival,
    Bench,
    Enemies,
    Enemy,
    Flight,
    Layout,
    LifeCycle,
    Population,
    Release,
    Season,
    Stage,
    Treatment,
    days,
    life_cycle_growing_at,
    planted,
)
from benchwalk.science.outbreak.layout import IntArray

DAYS = 7 * scenario.WEEKS
HOTTEST = 33.0  # development rises no further above it; own choice [deg C]
ENEMY, ENEMY_EATS = "phytoseiulus_persimilis", "two_spotted_spider_mite"
ENEMY_UNITS, ENEMY_WEEKS, ENEMY_A_UNIT = ("L3", "L4"), range(7, 26), 120


def temperatures(air_space: str) -> tuple[FloatArray, FloatArray]:
    """Lowest and highest of every day in an air space: a spring, with weather. [deg C]"""
    rng = _rng("weather", air_space)
    warm = np.linspace(0, 1, DAYS)
    weather = np.convolve(rng.normal(size=DAYS + 4), np.full(5, 0.45), mode="valid")
    lowest = 15.5 + 3.0 * warm + 0.4 * weather
    return lowest, lowest + 6.0 + 6.0 * warm + 1.6 * np.abs(weather + 0.5)


def _rng(*name: str) -> np.random.Generator:
    """A source of chance of its own for every part, so that one never shifts another."""
    word = [int.from_bytes(part.encode(), "big") % 2**32 for part in name]
    return np.random.default_rng([scenario.SEED, *word])


class Pest:
    """One pest in one air space."""

    def __init__(self, row: Mapping[str, str]) -> None:
        self.air_space, self.taxon = row["air_space"], row["taxon"]
        self.hosts = row["hosts"].split()
        self.layout = _layout(self.hosts)
        self.standing = np.ones(self.layout.plants, dtype=bool)
        for key, plants in scenario.STANDING.items():
            if key in self.hosts:
                self.standing[self.plants(key)[plants:]] = False
        base, _ = _base_and_constant(self.taxon)
        self.population = Population(
            _cycle(row),
            self.layout,
            _rng("life", self.air_space, self.taxon),
            flight=_flight(row),
            room=float(row["room"]),
        )
        self.enemies = _enemies(self)
        heat = single_sine(*temperatures(self.air_space), base, HOTTEST).degree_days
        self.lives = days(self.population, heat, _season(self), self.enemies)

    def plants(self, unit: str) -> IntArray:
        """The places of a unit's bench among this pest's plants."""
        return self.layout.on(self.hosts.index(scenario.units()[unit].ground))

    def live(self, day: dt.date) -> None:
        """One day; what landed where no plant stands is gone in the evening."""
        next(self.lives)
        self._move(day)
        self.population.clear(np.flatnonzero(~self.standing))

    def _move(self, day: dt.date) -> None:
        move = scenario.MOVED
        if day != move.day or move.source not in self.hosts:
            return
        leaving = self.plants(move.source)[: move.plants]
        self.standing[leaving] = False
        if move.target in self.hosts:
            places = self.plants(move.target)
            coming = places[~self.standing[places]][: move.plants]
            self.population.swap(leaving, coming)
            self.standing[coming] = True

    def number(self, stage: str) -> IntArray:
        """Individuals of a counted stage on every place."""
        names = self.population.cycle.names
        counted = names[1:] if stage == "motile" else (stage,)
        return np.asarray(sum(self.population.number(name)[0] for name in counted))

    @property
    def adults(self) -> IntArray:
        return self.number(self.population.cycle.adult)


def _layout(hosts: list[str]) -> Layout:
    at = {h["house"]: float(h["at_m"]) for h in scenario.rows("houses")}
    grounds = [scenario.units()[key] for key in hosts]
    return planted([Bench(u.x + at[u.house], u.y, u.width, u.length, u.spacing) for u in grounds])


def _flight(row: Mapping[str, str]) -> Flight:
    return Flight(float(row["a_day"]), float(row["mean_distance_m"]), float(row["far"]))


@cache
def _development(taxon: str) -> reference.Development:
    """The default that ships for a pest's whole development."""
    held = [d for d in reference.development() if d.taxon_key == taxon and d.use == "default"]
    return next(d for d in held if d.use_reason is None)


def _base_and_constant(taxon: str) -> tuple[float, float]:
    row = _development(taxon)
    if row.base_c is None or row.constant_dd is None:
        raise ValueError(
            f"got {row.record_key} for {taxon}; expected a base and a constant of one study; "
            "leave this pest out of the nursery"
        )
    return row.base_c, row.constant_dd


def _published_growth(taxon: str, base: float) -> float:
    """Median of the usable rows that name their temperature. [1/degree-day]"""
    rows = [g for g in reference.growth() if g.taxon_key == taxon and g.use == "usable"]
    return float(np.median([g.r_per_day / (g.temp_c - base) for g in rows if g.temp_c is not None]))


def _cycle(row: Mapping[str, str]) -> LifeCycle:
    """Published constant and growth; shares, survivals and the realised part are invented."""
    taxon = row["taxon"]
    base, constant = _base_and_constant(taxon)
    stages = tuple(
        Stage(s["stage"], constant * float(s["share"]), float(s["survival"]))
        for s in scenario.rows("stages")
        if s["taxon"] == taxon
    )
    growth = float(row["growth"]) if row["growth"] else _published_growth(taxon, base)
    return life_cycle_growing_at(
        growth * float(row["realised"]), stages, float(row["adult_life"]), row["adult"]
    )


def _season(pest: Pest) -> Season:
    return Season(list(_arrivals(pest)), list(_treatments(pest)), list(_releases(pest)))


def _arrivals(pest: Pest) -> Iterator[Arrival]:
    for row in scenario.rows("arrivals"):
        if (row["air_space"], row["taxon"]) == (pest.air_space, pest.taxon):
            share = _landing(pest, row["where"])
            yield Arrival(7 * int(row["week"]) + 2, row["stage"], float(row["number"]), share)


def _landing(pest: Pest, where: str) -> FloatArray:
    """Near a door ("x y"), or in one patch of a unit, as with infested new plants."""
    if " " in where:
        x, y = where.split()
        return pest.layout.nearness(float(x), float(y), mean_distance=3.0)
    places = pest.plants(where)
    first = places[len(places) // 3]
    near = pest.layout.nearness(pest.layout.x[first], pest.layout.y[first], mean_distance=0.5)
    share = np.where(np.isin(np.arange(pest.layout.plants), places), near, 0.0)
    return np.asarray(share / share.sum())


def _treatments(pest: Pest) -> Iterator[Applied]:
    for row in scenario.rows("treatments"):
        here = [u for u in row["units"].split() if u in pest.hosts]
        if row["taxon"] == pest.taxon and here:
            kill = {k: float(v) for k, v in (part.split("=") for part in row["kill"].split())}
            treatment = Treatment(kill, int(row["residual_days"]), int(row["lag_days"]))
            plants = np.concatenate([pest.plants(u) for u in here])
            yield Applied(7 * int(row["week"]) + int(row["weekday"]), treatment, plants)


def _enemies(pest: Pest) -> Enemies | None:
    if pest.taxon != ENEMY_EATS or not set(ENEMY_UNITS) <= set(pest.hosts):
        return None
    near = Flight(a_day=0.3, mean_distance=0.8)
    eats = ("egg", "nymph")
    enemy = Enemy(eats, attack=0.5, handling=0.06, young=0.07, life_days=12, flight=near)
    return Enemies(enemy, pest.population)


def _releases(pest: Pest) -> Iterator[Release]:
    if pest.enemies is None:
        return
    for week in ENEMY_WEEKS:
        for unit in ENEMY_UNITS:
            there = np.isin(np.arange(pest.layout.plants), pest.plants(unit))
            yield Release(7 * week + 3, ENEMY_A_UNIT, there / there.sum())


class Growing:
    """All that lives in the nursery."""

    def __init__(self) -> None:
        self.pests = [Pest(row) for row in scenario.rows("populations")]

    def live(self, day: dt.date) -> None:
        for pest in self.pests:
            pest.live(day)

    def on(self, unit: scenario.Unit, taxon: str, stage: str) -> IntArray:
        """Individuals on each plant that stands in a unit, in the order of its places."""
        if taxon == ENEMY:
            pest = self.pest(unit, ENEMY_EATS)
            assert pest.enemies is not None  # released where they are looked for
            held = pest.enemies.number[0]
        else:
            pest = self.pest(unit, taxon)
            held = pest.number(stage)
        places = pest.plants(unit.key)
        return np.asarray(held[places][pest.standing[places]])

    def pest(self, unit: scenario.Unit, taxon: str) -> Pest:
        return next(p for p in self.pests if p.taxon == taxon and unit.ground in p.hosts)

    def plants_in(self, unit: scenario.Unit) -> IntArray:
        """The places of a unit on which a plant stands."""
        pest = next(p for p in self.pests if unit.ground in p.hosts)
        return np.flatnonzero(pest.standing[pest.plants(unit.key)])
