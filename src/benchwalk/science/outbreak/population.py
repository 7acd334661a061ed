"""A pest on the plants of one air space, day by day, in many replicates at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import FloatArray
from benchwalk.science.outbreak.layout import IntArray, Layout, neighbours
from benchwalk.science.outbreak.life_cycle import LifeCycle
from benchwalk.science.outbreak.wheel import Counts, Wheel


@dataclass(frozen=True)
class Flight:
    """How adults move between plants."""

    a_day: float  #: share of the adults that leave their plant in a day
    mean_distance: float  #: neighbours get exp(-distance / mean_distance) [m]
    far: float = 0.0  #: share of those leaving that lands anywhere in the air space


class Movers:
    """Moves individuals between plants of the same replicate; none is lost."""

    def __init__(self, layout: Layout, flight: Flight) -> None:
        near = neighbours(layout, flight.mean_distance)
        shares = near.shares(flight.mean_distance)
        sums = np.concatenate([[0.0], np.cumsum(shares)])
        self.flight, self.plants, self.near = flight, layout.plants, near
        # plant n's neighbours fill [n, n + 1): one search finds any mover's new plant
        of = np.repeat(np.arange(layout.plants), np.diff(near.first))
        self.upto = of + (sums[1:] - sums[near.first[of]])

    def move(self, number: Counts, rng: np.random.Generator) -> None:
        """Move a day's share of the individuals, in place."""
        here = np.flatnonzero(number)
        leaving = rng.binomial(number[here], self.flight.a_day)
        number[here] -= leaving.astype(np.int32)
        mover = np.repeat(here, leaving)
        np.add.at(number, self._landing(mover, rng), 1)

    def _landing(self, mover: IntArray, rng: np.random.Generator) -> IntArray:
        plant = mover % self.plants
        found = np.searchsorted(self.upto, plant + rng.random(len(mover)), side="right")
        # the last neighbour's bound falls short of the whole by rounding
        found = np.minimum(found, self.near.first[plant + 1] - 1)
        far = rng.random(len(mover)) < self.flight.far
        anywhere = rng.integers(self.plants, size=len(mover))
        return np.asarray(mover - plant + np.where(far, anywhere, self.near.plant[found]))


class Population:
    """Numbers by stage on each plant of each replicate, and what changes them.

    Parameters
    ----------
    cycle : the life cycle.
    layout : where the plants stand.
    rng : the only source of chance; the same state of it gives the same outbreak.
    replicates : independent outbreaks on the same plants.
    flight : how adults move; they stay by default.
    room : individuals on a plant at which no egg is laid; eggs fall in a straight line towards
        it (crowding, [Verhulst1838]_). Without end by default. [individuals/plant]
    host : eggs laid on each plant over those of the life cycle: plants of one age, variety or
        feeding are not those of another. One number, or one for each plant; 1 by default. May be
        set anew between two days.

    Raises
    ------
    ValueError : fewer than one replicate, no room, or a host below 0.
    """

    def __init__(
        self,
        cycle: LifeCycle,
        layout: Layout,
        rng: np.random.Generator,
        *,
        replicates: int = 1,
        flight: Flight | None = None,
        room: float = np.inf,
        host: ArrayLike = 1.0,
    ) -> None:
        if replicates < 1 or not room > 0:
            raise ValueError(
                f"got replicates {replicates} and room {room:g}; expected at least 1 and above 0"
            )
        self.cycle, self.layout, self.rng = cycle, layout, rng
        self.replicates, self.room = replicates, room
        places = replicates * layout.plants
        self.wheels = [Wheel(stage, places) for stage in cycle.stages]
        self.adults: Counts = np.zeros(places, dtype=np.int32)
        self.movers = None if flight is None else Movers(layout, flight)
        self.clock = 0.0  # thermal time since the beginning [degree-days]
        self.host = host

    @property
    def host(self) -> FloatArray:
        """Eggs laid on each plant over those of the life cycle; shape (plants,)."""
        return self._host

    @host.setter
    def host(self, share: ArrayLike) -> None:
        new = np.broadcast_to(np.asarray(share, dtype=np.float64), (self.layout.plants,))
        if not (new >= 0).all():
            raise ValueError("got a host below 0 or absent; expected 0 or more for every plant")
        self._host = new

    def number(self, stage: str) -> IntArray:
        """Individuals in a stage; shape (replicates, plants)."""
        held = self._held(stage)
        return held.reshape(self.replicates, -1).astype(np.int64)

    def number_at(self, stage: str, places: IntArray) -> IntArray:
        """Individuals in a stage at places, see :meth:`places`."""
        return self._held(stage)[places].astype(np.int64)

    def _held(self, stage: str) -> Counts:
        at = self._index(stage)
        return self.adults if at == len(self.wheels) else self.wheels[at].number

    def _index(self, stage: str) -> int:
        if stage not in self.cycle.names:
            raise ValueError(
                f"got stage {stage!r}; expected one of {', '.join(self.cycle.names)}; correct it"
            )
        return self.cycle.names.index(stage)

    def arrive(self, stage: str, number: ArrayLike) -> None:
        """Individuals come from elsewhere, new to their stage.

        Parameters
        ----------
        number : whole; broadcast to (replicates, plants). [individuals]
        """
        shape = (self.replicates, self.layout.plants)
        come = np.broadcast_to(np.asarray(number, dtype=np.int64), shape).ravel()
        places = np.flatnonzero(come)
        self._enter(self._index(stage), places, come[places], self.clock)

    def _enter(self, stage: int, places: IntArray, come: IntArray, at: float) -> None:
        if stage < len(self.wheels):
            self.wheels[stage].enter(places, come, at, self.rng)
        else:
            self.adults[places] += come.astype(np.int32)

    def step(self, degree_days: float) -> None:
        """One day of so many degree-days: develop, die of age, lay, fly.

        Raises
        ------
        ValueError : negative or absent degree-days.
        """
        if not degree_days >= 0:
            raise ValueError(f"got degree_days {degree_days}; expected 0 or more; fill the gap")
        middle = self.clock + degree_days / 2
        self.clock += degree_days
        before = self.adults.copy()
        self._develop(middle)
        # who emerges lives half of the day as an adult
        emerging = self.adults - before
        lived = self._age(before, degree_days) + self._age(emerging, degree_days / 2)
        self._lay(lived, middle)
        if self.movers is not None:
            self.movers.move(self.adults, self.rng)

    def _develop(self, middle: float) -> None:
        """Every stage's due go on, as if in the middle of the day."""
        for n, wheel in enumerate(self.wheels):
            places, come = wheel.leave(self.clock)
            self._enter(n + 1, places, come, middle)

    def _age(self, adults: Counts, degree_days: float) -> FloatArray:
        """Adults die of age; thermal time that those given lived, the dead up to their death."""
        lived = np.zeros(len(adults))
        places = np.flatnonzero(adults)
        share = -np.expm1(-degree_days / self.cycle.adult_life)
        died = self.rng.binomial(adults[places], share)
        self.adults[places] -= died.astype(np.int32)
        lived[places] = (adults[places] - died) * degree_days
        if share > 0:
            # mean of an exponential life that ends within the day
            until = self.cycle.adult_life - degree_days * (1 - share) / share
            lived[places] += died * until
        return lived

    def _lay(self, lived: FloatArray, middle: float) -> None:
        places = np.flatnonzero(lived)
        host = self.host[places % self.layout.plants]
        eggs = self.rng.poisson(self.cycle.eggs * lived[places] * host * self._free(places))
        some = eggs > 0
        self.wheels[0].enter(places[some], eggs[some], middle, self.rng)

    def _free(self, places: IntArray) -> FloatArray | float:
        """Share of the eggs that crowding leaves."""
        if np.isinf(self.room):
            return 1.0
        there = self.adults[places] + sum(w.number[places] for w in self.wheels)
        return np.asarray(np.maximum(0.0, 1 - there / self.room))

    def kill(self, share: Mapping[str, ArrayLike], plants: ArrayLike | None = None) -> None:
        """Kill a share of each stage named; a stage not named is spared.

        Parameters
        ----------
        share : by stage, in [0, 1]; one number, or one for each of ``plants``.
        plants : their indices, in every replicate; all by default.

        Raises
        ------
        ValueError : a stage that is not there, a share outside [0, 1].
        """
        these = np.arange(self.layout.plants) if plants is None else np.asarray(plants)
        for stage, killed in share.items():
            of = np.broadcast_to(np.asarray(killed, dtype=np.float64), these.shape)
            places = self.places(these)
            self.kill_at(stage, places, np.tile(of, self.replicates))

    def kill_at(self, stage: str, places: IntArray, share: FloatArray) -> IntArray:
        """Kill a share of a stage at places (replicate x plants + plant); how many died at each."""
        index = self._index(stage)
        if ((share < 0) | (share > 1) | np.isnan(share)).any():
            raise ValueError(f"got a share of {stage} killed outside [0, 1]; correct it")
        died = np.zeros(len(places), dtype=np.int64)
        some = np.flatnonzero((self._held(stage)[places] > 0) & (share > 0))
        if index < len(self.wheels):
            died[some] = self.wheels[index].kill(places[some], share[some], self.rng)
            return died
        died[some] = self.rng.binomial(self.adults[places[some]], share[some])
        self.adults[places] -= died.astype(np.int32)
        return died

    def places(self, plants: IntArray) -> IntArray:
        """The plants in every replicate, as places: replicate x plants + plant."""
        first = np.arange(self.replicates)[:, None] * self.layout.plants
        return np.asarray((first + plants).ravel())

    def swap(self, these: ArrayLike, those: ArrayLike) -> None:
        """Plants change places and take with them all that lives on them.

        Raises
        ------
        ValueError : not as many on either side, or a plant named twice.
        """
        one, other = (np.asarray(plants, dtype=np.int64) for plants in (these, those))
        if len(one) != len(other) or len(np.unique([one, other])) < 2 * len(one):
            raise ValueError(
                f"got {len(one)} plants for {len(other)}; expected as many, each named once"
            )
        one, other = self.places(one), self.places(other)
        for wheel in self.wheels:
            wheel.swap(one, other)
        both, crossed = np.concatenate([one, other]), np.concatenate([other, one])
        self.adults[both] = self.adults[crossed]

    def clear(self, plants: ArrayLike) -> None:
        """Plants leave, or clean ones take their places: nothing lives there."""
        places = self.places(np.asarray(plants, dtype=np.int64))
        for wheel in self.wheels:
            wheel.clear(places)
        self.adults[places] = 0
