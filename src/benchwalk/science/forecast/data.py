"""What goes into a forecast and what comes out: flat arrays."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from benchwalk.science.arguments import FloatArray
from benchwalk.science.forecast.distributions import next_count_quantile, normal_quantile
from benchwalk.science.forecast.params import CARDS_K, CARDS_SO2, PLANTS_K, PLANTS_SO2

IntArray = NDArray[np.int64]

QUANTILES = (0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95)
AGAINST = (1.0, 0.7, 1.5)


class Kind(IntEnum):
    """What a count says."""

    COUNT = 0
    AT_LEAST = 1
    INFESTED = 2
    CARD = 3


class Flag(IntEnum):
    """Events of a walk, as bits of a number."""

    NONE = 0
    LEVEL_JUMP = 1


def _none() -> FloatArray:
    return np.empty(0)


def _nobody() -> IntArray:
    return np.empty(0, dtype=np.int64)


@dataclass(frozen=True)
class Pests:
    """Growth of each pest: r rises in a straight line from ``t_low`` to ``r30`` at 30 °C.

    Attributes
    ----------
    r30 : growth rate at 30 °C. [1/d]
    t_low : no growth below it. [°C]
    general : true where both are medians over pests: the deviation of growth is doubled.
    heat_death : decline for each °C above 35 °C; 0 where no source gives one. [1/d/°C]
    cold_decline : decline below ``t_low``; 0 where no source gives one. [1/d]
    """

    r30: FloatArray
    t_low: FloatArray
    general: NDArray[np.bool_] | None = None
    heat_death: FloatArray | None = None
    cold_decline: FloatArray | None = None


@dataclass(frozen=True)
class Methods:
    """Clumping between plants (or cards) and the round error that more of them do not average away.

    Start values: method 0 is plants, method 1 cards and traps.
    """

    k: FloatArray = field(default_factory=lambda: np.array([PLANTS_K, CARDS_K]))
    so2: FloatArray = field(default_factory=lambda: np.array([PLANTS_SO2, CARDS_SO2]))


@dataclass(frozen=True)
class Temperature:
    """Mean of each day in each house. [°C]; NaN where no reading is."""

    first_day: int
    by_house: FloatArray


@dataclass(frozen=True)
class Treatments:
    """Treatments, in any order. ``kind`` names a class of :class:`Params`; ``day`` has the hour.

    ``share`` of the unit that was treated, ``residual`` days of further action. [d]
    """

    series: IntArray = field(default_factory=_nobody)
    day: FloatArray = field(default_factory=_none)
    kind: tuple[str, ...] = ()
    share: FloatArray | None = None
    residual: FloatArray | None = None


@dataclass(frozen=True)
class Programmes:
    """Biological programmes: they act on growth, from ``first`` to ``last`` release. [d]"""

    series: IntArray = field(default_factory=_nobody)
    first: FloatArray = field(default_factory=_none)
    last: FloatArray = field(default_factory=_none)


@dataclass(frozen=True)
class Movements:
    """Plants that came into the population of a series, with their pests.

    Attributes
    ----------
    plants, resident : plants that came, and plants that were there.
    origin : series they came from, or -1: then ``log_mean`` and ``log_sd`` say what was on them.
    """

    series: IntArray = field(default_factory=_nobody)
    day: FloatArray = field(default_factory=_none)
    plants: FloatArray = field(default_factory=_none)
    resident: FloatArray = field(default_factory=_none)
    origin: IntArray = field(default_factory=_nobody)
    log_mean: FloatArray = field(default_factory=_none)
    log_sd: FloatArray = field(default_factory=_none)


@dataclass(frozen=True)
class Series:
    """Counts of many series, sorted by series and day, and what is known beside them.

    Attributes
    ----------
    series, day : number of the series (0, 1, ...) and time; fractions are hours. [d]
    count, effort, plants : individuals (or plants infested); plants (or card-days of a full card)
        they were counted on; plants or cards looked at. NaN: not counted. Effort 0: not looked.
    kind, exposure : a :class:`Kind`; days a card hung, 0 for plants. [d]
    scout, flags : number of the scout (-1: not said), bits of :class:`Flag`.
    pest, method, house, group : for each series, a row of each table; group -1 is all together.
    reference, threshold : for each series. [individuals/plant, or /card-day]; NaN: no threshold.
    prior_mean, prior_sd : of log density at the first walk, where an arrival was inspected; NaN
        means the reference density and its wide variance.
    room : for each series, density at which crowding has stopped growth; NaN, or none given: so
        many reference densities as the group says. [individuals/plant, or /card-day]
    """

    series: IntArray
    day: FloatArray
    count: FloatArray
    effort: FloatArray
    plants: FloatArray
    reference: FloatArray
    threshold: FloatArray
    pests: Pests
    kind: IntArray | None = None
    exposure: FloatArray | None = None
    scout: IntArray | None = None
    flags: IntArray | None = None
    pest: IntArray | None = None
    method: IntArray | None = None
    house: IntArray | None = None
    group: IntArray | None = None
    prior_mean: FloatArray | None = None
    prior_sd: FloatArray | None = None
    room: FloatArray | None = None
    methods: Methods = field(default_factory=Methods)
    temperature: Temperature | None = None
    treatments: Treatments = field(default_factory=Treatments)
    programmes: Programmes = field(default_factory=Programmes)
    movements: Movements = field(default_factory=Movements)

    @property
    def number(self) -> int:
        """How many series there are."""
        return len(np.asarray(self.reference))


@dataclass(frozen=True)
class State:
    """Where each series stands after its last walk: what :func:`step` goes on from.

    ``values`` is (rows of :mod:`benchwalk.science.forecast.motion`, series).
    """

    values: FloatArray

    @property
    def log_mean(self) -> FloatArray:
        """Mean of log density at the last walk; NaN before the first."""
        return np.asarray(self.values[0])

    @property
    def log_sd(self) -> FloatArray:
        """Sd of log density at the last walk."""
        return np.asarray(np.sqrt(self.values[4]))


@dataclass(frozen=True)
class Effect:
    """What the latest treatment had done by each walk: a fall of log density, Normal.

    Against what was expected without it. ``days`` since it; NaN throughout where none was.
    """

    days: FloatArray
    mean: FloatArray
    sd: FloatArray
    expected_mean: FloatArray
    expected_sd: FloatArray

    @property
    def share_of_data(self) -> FloatArray:
        """Share of the answer that is data and not class: 1 - posterior/prior variance."""
        with np.errstate(invalid="ignore", divide="ignore"):
            share = 1 - (self.sd / self.expected_sd) ** 2
            return np.asarray(np.where(self.expected_sd > 0, share, np.nan))

    def ends(self, level: float = 0.95) -> tuple[FloatArray, FloatArray]:
        """Interval of the share taken away; negative where there are more than expected. [1]"""
        half = normal_quantile((1 + level) / 2) * self.sd
        return 1 - np.exp(-(self.mean - half)), 1 - np.exp(-(self.mean + half))

    @property
    def expected(self) -> FloatArray:
        """Share the class would take away. [1]"""
        return np.asarray(1 - np.exp(-self.expected_mean))


@dataclass(frozen=True)
class Result:
    """One row for each walk (series and day), sorted as the series are.

    Attributes
    ----------
    series, day : of each walk.
    walk_of_count : the walk each given count went into, -1 where it was refused (effort 0, NaN).
    horizons : days ahead. [d]
    now_mean, now_sd : of log density at the walk, after its counts.
    mean, sd : (walk, horizon), of log density, without further treatment.
    over : (walk, horizon, 3), probability of being over 1, 0.7 and 1.5 of the threshold
        (:data:`AGAINST`); NaN where there is no threshold.
    residual : standardised one-step residual of the walk's most surprising count; NaN where
        nothing could be said. Beyond 3 the state was widened and the count taken again.
    log_evidence : log probability of the walk's counts before they were known.
    ahead_mean, ahead_sd : of log density at the walk *before* its counts.
    effect : :class:`Effect` by walk.
    state : where every series stands at the end.
    effort, size : of the walk's last count; they make the next-count interval.
    looked_mean, looked_sd : of what that count was of, before it: log density, of a card its
        average over the days it hung, with the offset of the scout.
    """

    series: IntArray
    day: FloatArray
    walk_of_count: IntArray
    horizons: FloatArray
    now_mean: FloatArray
    now_sd: FloatArray
    mean: FloatArray
    sd: FloatArray
    over: FloatArray
    residual: FloatArray
    log_evidence: FloatArray
    ahead_mean: FloatArray
    ahead_sd: FloatArray
    effect: Effect
    state: State
    effort: FloatArray
    size: FloatArray
    looked_mean: FloatArray
    looked_sd: FloatArray

    @property
    def p_over(self) -> FloatArray:
        """(walk, horizon): probability of being over the threshold."""
        return self.over[:, :, 0]

    @property
    def last(self) -> IntArray:
        """Row of the last walk of each series that was walked."""
        turns = np.flatnonzero(np.diff(self.series))
        return np.append(turns, len(self.series) - 1)[: len(self.series)]

    def quantile(self, level: float) -> FloatArray:
        """(walk, horizon): quantile of density. [individuals per unit of effort]"""
        return np.asarray(np.exp(self.mean + normal_quantile(level) * self.sd))

    @property
    def quantiles(self) -> FloatArray:
        """(walk, horizon, level) of density, at :data:`QUANTILES`."""
        return np.stack([self.quantile(level) for level in QUANTILES], axis=2)

    def next_count(self, level: float = 0.8) -> tuple[FloatArray, FloatArray]:
        """(walk, horizon) twice: interval of the next count, at the effort of the last."""
        size, effort = (
            np.broadcast_to(a[:, None], self.mean.shape) for a in (self.size, self.effort)
        )
        low, high = (
            next_count_quantile(p, effort, size, self.mean, self.sd)
            for p in ((1 - level) / 2, (1 + level) / 2)
        )
        return low, high
