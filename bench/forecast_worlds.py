"""Two invented worlds in which the seasons of the forecast are lived: by stages, and by growth.

``by_stages`` is :mod:`benchwalk.science.outbreak` on the benches of a house: eggs, young and adults
develop with temperature on spots of a bench, fly, are crowded, are sprayed stage by stage.
``by_growth`` is a line: log density grows with temperature and drifts, with heavy tails.
Both give the density of each day; only the first knows spots, and what is seen on them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchwalk.science.outbreak import (
    Applied,
    Arrival,
    Bench,
    Flight,
    Layout,
    Population,
    Season,
    Stage,
    Treatment,
    days,
    life_cycle_growing_at,
    planted,
)

Settings = dict[str, Any]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Sprays:
    """Treatments of the units of a house, in no order."""

    unit: Ints
    day: Ints
    kind: list[str]
    kill: Floats  #: share of the stages it reaches


@dataclass(frozen=True, eq=False)
class Lived:
    """What was there: shape (units, days), and for spots (units, days, spots)."""

    density: Floats  #: of the stages seen, per plant, in the evening
    adults: Floats  #: per plant
    seen: Ints | None  #: individuals on a spot of several plants


def lognormal(rng: np.random.Generator, of: dict[str, float], size: int) -> Floats:
    return np.asarray(of["median"] * np.exp(rng.normal(0, of["sd"], size)))


def temperature(settings: Settings, rng: np.random.Generator) -> Floats:
    """Daily means of a house. [°C]"""
    of, n = settings["temperature"], settings["days"]
    wave = of["swing"] * np.sin(2 * np.pi * (np.arange(n) / 365 + rng.random()))
    noise = np.zeros(n)
    for day in range(1, n):
        fresh = rng.normal(0, of["noise"] * np.sqrt(1 - of["memory"] ** 2))
        noise[day] = of["memory"] * noise[day - 1] + fresh
    return np.asarray(np.maximum(rng.uniform(*of["mean"]) + wave + noise, of["least"]))


def drawn_sprays(settings: Settings, rng: np.random.Generator) -> Sprays:
    """Dates follow the calendar and not the counts: see the page on why."""
    of, units = settings["treated"], settings["units_a_house"]
    numbers = rng.choice([int(n) for n in of["number"]], units, p=list(of["number"].values()))
    unit, day = [], []
    for u, number in enumerate(numbers):
        last = settings["days"] - 14 - of["apart"] * (int(number) - 1)
        free = np.sort(rng.integers(of["first"], last, number))
        unit += [u] * int(number)
        day += (free + of["apart"] * np.arange(number)).tolist()
    fails = rng.random(len(unit)) < settings["failing"]["share"]
    works = rng.beta(*settings["working"]["kill"], len(unit))
    kill = np.where(fails, rng.beta(*settings["failing"]["kill"], len(unit)), works)
    kinds = rng.choice(list(settings["classes"]), len(unit)).tolist()
    return Sprays(np.array(unit, dtype=np.int64), np.array(day, dtype=np.int64), kinds, kill)


def wandering(
    rng: np.random.Generator, units: int, length: int, sd: float, memory_days: float
) -> Floats:
    """Ornstein-Uhlenbeck, day by day; shape (units, days)."""
    keep = np.exp(-1 / memory_days)
    path = np.empty((units, length))
    path[:, 0] = rng.normal(0, sd, units)
    for day in range(1, length):
        fresh = rng.normal(0, sd * np.sqrt(1 - keep**2), units)
        path[:, day] = keep * path[:, day - 1] + fresh
    return path


def benches(settings: Settings) -> Layout:
    of = settings["bench"]
    step = of["width"] + of["aisle"]
    return planted(
        [
            Bench(step * n, 0, of["width"], of["length"], of["spacing"])
            for n in range(settings["units_a_house"])
        ]
    )


def by_stages(
    settings: Settings, pest: str, warmth: Floats, sprays: Sprays, rng: np.random.Generator
) -> Lived:
    """A house lived through stage by stage."""
    of, layout = settings["pests"][pest], benches(settings)
    growth = settings["realised"] * of["r30"] / (30 - of["base"])
    stages = tuple(Stage(*stage) for stage in of["stages"])
    cycle = life_cycle_growing_at(growth, stages, of["adult_life"])
    spot = settings["bench"]["plants_a_spot"]
    room = spot * float(lognormal(rng, settings["room"], 1)[0])
    population = Population(cycle, layout, rng, flight=Flight(**settings["flight"]), room=room)
    hosts = _hosts(settings, rng)
    season = Season(_arrivals(settings, layout, rng), _applied(settings, of, layout, sprays))
    seen, adults = [], []
    degree_days = np.maximum(np.minimum(warmth, 33) - of["base"], 0)
    population.host = hosts[:, 0][layout.bench]
    for day in days(population, degree_days, season):
        seen.append(sum(population.number(stage)[0] for stage in of["seen"]))
        adults.append(population.number("adult")[0])
        population.host = hosts[:, day][layout.bench]
    units = settings["units_a_house"]
    on_spots = np.stack(seen).reshape(len(warmth), units, -1).transpose(1, 0, 2)
    flying = np.stack(adults).reshape(len(warmth), units, -1).mean(axis=2).T / spot
    return Lived(on_spots.mean(axis=2) / spot, flying, on_spots)


def _hosts(settings: Settings, rng: np.random.Generator) -> Floats:
    units, length = settings["units_a_house"], settings["days"]
    change = wandering(rng, units, length, settings["host_change_sd"], settings["host_change_days"])
    return np.asarray(np.exp(rng.normal(0, settings["host_sd"], (units, 1)) + change))


def _arrivals(settings: Settings, layout: Layout, rng: np.random.Generator) -> list[Arrival]:
    units, length = settings["units_a_house"], settings["days"]
    everywhere = np.full(layout.plants, 1 / layout.plants)
    come = [
        Arrival(day, "adult", units * settings["background_a_week"], everywhere)
        for day in range(0, length, 7)
    ]
    founders = lognormal(rng, settings["founders"], units)
    pulses = np.flatnonzero(rng.random(units) < settings["pulse"]["share"])
    sizes = lognormal(rng, settings["pulse"], len(pulses))
    when = rng.integers(settings["first_walk"][0], length - 14, len(pulses))
    come += [
        Arrival(0, "adult", float(number), _near(layout, unit, rng))
        for unit, number in enumerate(founders)
    ]
    come += [
        Arrival(int(day), "adult", float(number), _near(layout, int(unit), rng))
        for unit, number, day in zip(pulses, sizes, when, strict=True)
    ]
    return come


def _near(layout: Layout, unit: int, rng: np.random.Generator) -> Floats:
    """Most near one end of a bench, or evenly: a door, or new plants."""
    on = layout.on(unit)
    reach = rng.choice([1.0, 3.0, 100.0])
    share = np.zeros(layout.plants)
    away = np.hypot(layout.x[on] - layout.x[on[0]], layout.y[on] - layout.y[on[0]])
    share[on] = np.exp(-away / reach)
    return share / share.sum()


def _applied(settings: Settings, pest: Settings, layout: Layout, sprays: Sprays) -> list[Applied]:
    applied = []
    for unit, day, kind, kill in zip(
        sprays.unit, sprays.day, sprays.kind, sprays.kill, strict=True
    ):
        of = settings["classes"][kind]
        # what is killed over the days of the residue adds up to about the kill
        weights = (1 - np.arange(of["residual"] + 1) / (of["residual"] + 1)).sum()
        share = 1 - (1 - float(kill)) ** (1 / weights)
        stages = {stage: share for group in of["kills"] for stage in pest[group]}
        treatment = Treatment(stages, of["residual"], of["lag"])
        applied.append(Applied(int(day), treatment, layout.on(int(unit))))
    return applied


def by_growth(
    settings: Settings, pest: str, warmth: Floats, sprays: Sprays, rng: np.random.Generator
) -> Lived:
    """A house lived through as lines of log density."""
    of, simple, units = settings["pests"][pest], settings["simple"], settings["units_a_house"]
    length = len(warmth)
    r = of["r30"] * np.maximum(np.minimum(warmth, 33) - of["base"], 0) / (30 - of["base"])
    realised = simple["realised"][0] * np.exp(rng.normal(0, simple["realised"][1], (units, 1)))
    drift = wandering(rng, units, length, simple["drift_sd"], simple["drift_memory_days"])
    tails = simple["tails"]
    noise = simple["noise"] * rng.standard_t(tails, (units, length)) * np.sqrt((tails - 2) / tails)
    change = realised * r + drift + noise + _sprayed(settings, sprays, (units, length))
    room = lognormal(rng, simple["room"], units)
    density = lognormal(rng, simple["start"], units)
    coming = _pulses(settings, rng, (units, length))
    path = np.empty((units, length))
    for day in range(length):
        crowded = np.maximum(0, 1 - density / room)
        up = np.where(change[:, day] > 0, change[:, day] * crowded, change[:, day])
        density = density * np.exp(up) + coming[:, day]
        path[:, day] = density
    return Lived(path, path, None)


def _pulses(settings: Settings, rng: np.random.Generator, shape: tuple[int, int]) -> Floats:
    coming = np.full(shape, settings["simple"]["background"])
    hit = np.flatnonzero(rng.random(shape[0]) < settings["pulse"]["share"])
    when = rng.integers(settings["first_walk"][0], shape[1] - 14, len(hit))
    coming[hit, when] += lognormal(rng, settings["simple"]["pulse_density"], len(hit))
    return coming


def _sprayed(settings: Settings, sprays: Sprays, shape: tuple[int, int]) -> Floats:
    """Change of log density a day that treatments cause: the kill, then what was spared."""
    simple, lags = settings["simple"], settings["classes"]
    change = np.zeros(shape)
    for unit, day, kind, kill in zip(
        sprays.unit, sprays.day, sprays.kind, sprays.kill, strict=True
    ):
        begin = day + lags[kind]["lag"]
        last = simple["action_days"][kind]
        change[unit, begin : begin + last] += np.log1p(-kill) / last
        if spares(unit, day, simple["spared"]["share"]):
            after = begin + last
            change[unit, after : after + simple["spared"]["days"]] += simple["spared"]["rate"]
    return change


def spares(unit: int, day: int, share: float) -> bool:
    """Whether the eggs live: by unit and day, so that nothing is drawn for it."""
    return bool((7 * unit + 13 * day) % 100 < 100 * share)
