"""A season of an outbreak: arrivals, treatments and releases on their days."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from benchwalk.science.arguments import FloatArray
from benchwalk.science.outbreak.layout import IntArray
from benchwalk.science.outbreak.population import Population
from benchwalk.science.outbreak.pressure import Enemies, Treatment


@dataclass(frozen=True, eq=False)
class Arrival:
    """Individuals that come in on a day: at a door, with new plants, or as a pulse from outside.

    How many land on each plant is Poisson; ``mean`` is what is expected in all, ``share`` each
    plant's part of it: :meth:`Layout.nearness` to a door, equal parts of the new plants.
    """

    day: int
    stage: str
    mean: float  #: [individuals/replicate]
    share: FloatArray  #: shape (plants,), sums to 1


@dataclass(frozen=True, eq=False)
class Applied:
    """A treatment on a day, of some plants."""

    day: int
    treatment: Treatment
    plants: IntArray
    enemies_killed: float = 0.0  #: share, on the day


@dataclass(frozen=True, eq=False)
class Release:
    """Natural enemies put out on a day; spread over plants as in :class:`Arrival`."""

    day: int
    mean: float  #: [individuals/replicate]
    share: FloatArray  #: shape (plants,), sums to 1


@dataclass(frozen=True, eq=False)
class Season:
    """What happens to a population besides its own life."""

    arrivals: Sequence[Arrival] = ()
    treatments: Sequence[Applied] = ()
    releases: Sequence[Release] = field(default=())


def days(
    population: Population,
    degree_days: Sequence[float] | FloatArray,
    season: Season,
    enemies: Enemies | None = None,
) -> Iterator[int]:
    """Live through the days of a season; the day's number is given back in its evening.

    The population changes in place: count, move or clear plants between two days. In a day
    individuals come, then live, then are eaten, then are treated.

    Parameters
    ----------
    degree_days : of each day, above the base of the pest, as from
        :mod:`benchwalk.science.degree_days`. [degree-days]
    enemies : needed where the season has releases.

    Raises
    ------
    ValueError : releases without enemies.
    """
    if season.releases and enemies is None:
        raise ValueError("got releases without enemies; expected the enemies that are released")
    for day, warmth in enumerate(degree_days):
        _come(population, season, day)
        population.step(float(warmth))
        if enemies is not None:
            _eaten(enemies, season, day)
        _treated(population, enemies, season, day)
        yield day


def _scattered(population: Population, mean: float, share: FloatArray) -> IntArray:
    shape = (population.replicates, population.layout.plants)
    return np.asarray(population.rng.poisson(mean * share, size=shape))


def _come(population: Population, season: Season, day: int) -> None:
    for arrival in season.arrivals:
        if arrival.day == day:
            population.arrive(arrival.stage, _scattered(population, arrival.mean, arrival.share))


def _eaten(enemies: Enemies, season: Season, day: int) -> None:
    for release in season.releases:
        if release.day == day:
            enemies.release(_scattered(enemies.prey, release.mean, release.share))
    enemies.step()


def _treated(population: Population, enemies: Enemies | None, season: Season, day: int) -> None:
    for applied in season.treatments:
        population.kill(applied.treatment.on_day(day - applied.day), applied.plants)
        if applied.day == day and enemies is not None:
            enemies.kill(applied.enemies_killed, applied.plants)
