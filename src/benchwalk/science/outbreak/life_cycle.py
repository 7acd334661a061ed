"""Life cycle of a pest in thermal time, and what the theory of renewal says of it.

All rates are per degree-day, so that growth a day is growth a degree-day times the degree-days of
the day: r(T) = r (T - base), as in :mod:`benchwalk.science.degree_days`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import brentq
from scipy.special import gammainc, gammaincc

from benchwalk.science.arguments import FloatArray

# growth a degree-day looked for: at 20 degree-days a day this doubles in an hour
_FASTEST = 1.0


@dataclass(frozen=True)
class Stage:
    """A stage that is passed through: egg, larva, pupa.

    Survivors take a gamma distributed thermal time with the mean and the relative spread given;
    individuals die at a constant rate per degree-day, such that the share given survives.
    """

    name: str
    degree_days: float  #: mean of the survivors, the thermal constant [degree-days]
    survival: float  #: share that reaches the next stage, in (0, 1]
    spread: float = 0.15  #: standard deviation of the thermal time over its mean, above 0

    def __post_init__(self) -> None:
        _require(self.degree_days > 0, f"{self.name}: degree_days", self.degree_days, "above 0")
        _require(0 < self.survival <= 1, f"{self.name}: survival", self.survival, "in (0, 1]")
        _require(0 < self.spread <= 1, f"{self.name}: spread", self.spread, "in (0, 1]")

    @property
    def death_rate(self) -> float:
        """Deaths per individual and degree-day."""
        return float(1 - self.survival**self.spread**2) / self._scale

    @property
    def _scale(self) -> float:
        return self.degree_days * self.spread**2

    def moved_on(self, age: FloatArray) -> FloatArray:
        """Share of those entered that has gone on to the next stage by an age [degree-days]."""
        done = gammainc(1 / self.spread**2, np.maximum(age, 0) / self._scale)
        return np.asarray(self.survival * done, dtype=np.float64)

    def present(self, age: FloatArray) -> FloatArray:
        """Share of those entered that is still in the stage at an age [degree-days]."""
        slow = self._scale / (1 - self.death_rate * self._scale)
        old = np.maximum(age, 0)
        waiting = gammaincc(1 / self.spread**2, old / slow)
        return np.asarray(np.exp(-self.death_rate * old) * waiting)

    def discounted(self, growth: float) -> float:
        """Survivors, each weighed by exp(-growth x thermal time): the Laplace transform."""
        return float(self.survival * (1 + growth * self._scale) ** (-1 / self.spread**2))


@dataclass(frozen=True)
class LifeCycle:
    """Stages in their order, then adults that lay until they die. Sexes are not told apart.

    ``eggs`` are laid per adult (of either sex) and degree-day, at random; an adult dies at a
    constant rate per degree-day, one over its mean life.
    """

    stages: tuple[Stage, ...]
    adult_life: float  #: mean [degree-days]
    eggs: float  #: [eggs/adult/degree-day]
    adult: str = field(default="adult")  #: name of the last stage

    def __post_init__(self) -> None:
        _require(self.adult_life > 0, "adult_life", self.adult_life, "above 0")
        _require(self.eggs >= 0, "eggs", self.eggs, "0 or more")
        names = [*(s.name for s in self.stages), self.adult]
        _require(len(set(names)) == len(names), "stages", names, "a name once each")
        _require(len(names) > 1, "stages", names, "at least one before the adult")

    @property
    def names(self) -> tuple[str, ...]:
        return (*(s.name for s in self.stages), self.adult)


def _require(holds: bool, name: str, given: object, expected: str) -> None:
    if not holds:
        raise ValueError(f"got {name} {given}; expected {expected}; correct it and try again")


def life_cycle_growing_at(
    growth: float, stages: tuple[Stage, ...], adult_life: float, adult: str = "adult"
) -> LifeCycle:
    """A life cycle whose fecundity gives a population of all ages a growth rate ([Birch1948]_).

    The renewal equation 1 = integral of exp(-r a) l(a) m(a) da, in thermal time, is
    1 = S(r) eggs / (r + 1/adult_life), with S the stages' transforms multiplied.

    Parameters
    ----------
    growth : r per degree-day: a published r per day over the degree-days of its day. [1/degree-day]
    stages, adult_life, adult : as in :class:`LifeCycle`.

    Raises
    ------
    ValueError : growth at or below -1/adult_life: adults alone last longer.
    """
    _require(growth * adult_life > -1, "growth", growth, f"above {-1 / adult_life:g}")
    eggs = (growth + 1 / adult_life) / _discounted(stages, growth)
    return LifeCycle(stages, adult_life, eggs, adult)


def _discounted(stages: tuple[Stage, ...], growth: float) -> float:
    return float(np.prod([stage.discounted(growth) for stage in stages]))


def growth_rate(cycle: LifeCycle) -> float:
    """The r of a life cycle, from the renewal equation ([Birch1948]_). [1/degree-day]

    -1/adult_life where no eggs are laid.
    """
    lowest = -1 / cycle.adult_life
    if cycle.eggs == 0:
        return lowest
    # below this the transform of the slowest stage has no value
    bound = max(lowest, *(-1 / (s.degree_days * s.spread**2) for s in cycle.stages))
    return float(brentq(_renewal, bound + 1e-9 * abs(bound), _FASTEST, args=(cycle,), xtol=1e-12))


def _renewal(growth: float, cycle: LifeCycle) -> float:
    laid = cycle.eggs / (growth + 1 / cycle.adult_life)
    return float(np.log(laid * _discounted(cycle.stages, growth)))


def net_reproduction(cycle: LifeCycle) -> float:
    """Adults that one adult leaves in its life, R0."""
    return cycle.eggs * cycle.adult_life * _discounted(cycle.stages, 0.0)


def generation(cycle: LifeCycle) -> float:
    """Mean age of a parent when an egg is laid: the stages and a mean adult life. [degree-days]"""
    return sum(stage.degree_days for stage in cycle.stages) + cycle.adult_life


def extinction_probability(cycle: LifeCycle, stage: str | None = None) -> float:
    """Chance that the line of one founder ends, without crowding ([Kendall1948]_, [Harris1963]_).

    An adult that lays at a constant rate over an exponential life leaves a geometric number of
    adults; its line ends with chance min(1, 1/R0).

    Parameters
    ----------
    stage : the founder's, newly entered; an adult by default.

    Raises
    ------
    ValueError : a stage that the life cycle does not have.
    """
    name = cycle.adult if stage is None else stage
    _require(name in cycle.names, "stage", name, f"one of {', '.join(cycle.names)}")
    reproduction = net_reproduction(cycle)
    ends = 1.0 if reproduction <= 1 else 1 / reproduction
    reaches = _discounted(cycle.stages[cycle.names.index(name) :], 0.0)
    return 1 - reaches * (1 - ends)
