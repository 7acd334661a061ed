"""What kills besides age: treatments with what stays of them, and natural enemies."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import FloatArray
from benchwalk.science.outbreak.layout import IntArray
from benchwalk.science.outbreak.population import Flight, Movers, Population
from benchwalk.science.outbreak.wheel import Counts


@dataclass(frozen=True)
class Treatment:
    """An application: the share of each stage it kills on its day, and what its residue goes on to.

    The daily rate of killing, -ln(1 - share), falls in a straight line to 0 over ``residual_days``;
    with 0 days only those there on the day are killed. A stage not named is spared.
    """

    kill: Mapping[str, float]  #: by stage, in [0, 1)
    residual_days: int = 0
    lag_days: int = 0  #: days until it begins (systemic, growth regulator)

    def __post_init__(self) -> None:
        for stage, share in self.kill.items():
            if not 0 <= share < 1:
                raise ValueError(f"got a kill of {share} of {stage}; expected a share in [0, 1)")
        if self.residual_days < 0 or self.lag_days < 0:
            raise ValueError("got negative days; expected residual_days and lag_days of 0 or more")

    def on_day(self, since: int) -> dict[str, float]:
        """Share of each stage killed so many days after the application; empty before and after."""
        left = 1 - (since - self.lag_days) / (self.residual_days + 1)
        if not 0 < left <= 1:
            return {}
        return {stage: 1 - (1 - share) ** left for stage, share in self.kill.items() if share > 0}


@dataclass(frozen=True)
class Enemy:
    """A natural enemy that eats some stages; of one kind of individuals, that search and breed.

    One enemy on a plant with N prey eats attack N / (1 + attack handling N) of them in a day
    (the disc equation, [Holling1959]_), shared over the stages it eats; every individual is at
    the same risk. A prey eaten gives ``young`` new enemies in the mean.
    """

    eats: tuple[str, ...]
    attack: float  #: share of the prey on its plant that one enemy finds in a day [1/day]
    handling: float  #: days for one prey; 1/handling is the most a day [days]
    young: float  #: enemies for a prey eaten
    life_days: float  #: mean [days]
    flight: Flight


class Enemies:
    """Natural enemies on the plants of a population.

    Raises
    ------
    ValueError : a stage to eat that the pest does not have; a life of no days.
    """

    def __init__(self, enemy: Enemy, prey: Population) -> None:
        for stage in enemy.eats:
            prey.number(stage)
        if not enemy.life_days > 0:
            raise ValueError(f"got life_days {enemy.life_days}; expected above 0")
        self.enemy, self.prey = enemy, prey
        self.movers = Movers(prey.layout, enemy.flight)
        self.held: Counts = np.zeros(prey.replicates * prey.layout.plants, dtype=np.int32)

    @property
    def number(self) -> IntArray:
        """Enemies; shape (replicates, plants)."""
        return self.held.reshape(self.prey.replicates, -1).astype(np.int64)

    def release(self, number: ArrayLike) -> None:
        """Put enemies on plants; whole, broadcast to (replicates, plants)."""
        shape = (self.prey.replicates, self.prey.layout.plants)
        put = np.broadcast_to(np.asarray(number, dtype=np.int64), shape)
        self.held += put.ravel().astype(np.int32)

    def kill(self, share: float, plants: ArrayLike) -> None:
        """A treatment kills a share of the enemies on some plants."""
        places = self.prey.places(np.asarray(plants, dtype=np.int64))
        self.held[places] = self.prey.rng.binomial(self.held[places], 1 - share)

    def step(self) -> None:
        """One day: eat, breed, die, move."""
        rng = self.prey.rng
        places = np.flatnonzero(self.held)
        eaten = self._eat(places)
        young = rng.poisson(self.enemy.young * eaten)
        alive = rng.binomial(self.held[places], np.exp(-1 / self.enemy.life_days))
        self.held[places] = alive + young
        self.movers.move(self.held, rng)

    def _eat(self, places: IntArray) -> IntArray:
        there = sum(self.prey.number_at(stage, places) for stage in self.enemy.eats)
        risk = self._risk(np.asarray(there, dtype=np.float64), self.held[places])
        eaten = np.zeros(len(places), dtype=np.int64)
        for stage in self.enemy.eats:
            eaten += self.prey.kill_at(stage, places, risk)
        return eaten

    def _risk(self, prey: FloatArray, enemies: Counts) -> FloatArray:
        """Chance of a prey to be eaten in the day."""
        rate = self.enemy.attack * enemies / (1 + self.enemy.attack * self.enemy.handling * prey)
        return np.asarray(-np.expm1(-rate))
