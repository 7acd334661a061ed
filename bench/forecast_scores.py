"""How forecasts are scored: rules, and which forecasts are asked.

Every engine gives a normal log density for each walk and horizon; all scores come from that pair.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from forecast_seasons import Bools, Seasons
from forecast_worlds import Floats, Ints

FLOOR = 0.05  # CRPS is of ln(density/threshold + FLOOR)
LEVELS = (np.arange(50) + 0.5) / 50
WITHIN_80 = float(ndtri(0.9))
BINS, BIN_LEAST = 10, 1000
FALSE_ALARMS = 0.05
WARNED_WITHIN = 14  # days before a crossing
REBOUND = (7, 14)  # days after a treatment that spared eggs
EARLY = (2, 3)  # walks


@dataclass(frozen=True, eq=False)
class Asked:
    """The forecasts asked of all engines: shape (walks, horizons).

    A forecast across a treatment made after its walk is left out: nobody forecasts decisions.
    The first walk is left out: no engine but a prior says anything of growth yet.
    """

    kept: Bools
    truth: Floats  # log density on the day, -inf where nothing lives
    threshold: Floats  # log, (walks, 1)
    early: Bools
    rebound: Bools
    series: Ints  # of each walk


def asked(of: Seasons, horizons: Sequence[int]) -> Asked:
    h = np.asarray(horizons)
    target = of.walk_day[:, None] + h
    with np.errstate(divide="ignore"):
        truth = np.log(of.truth[of.walk_series[:, None], target])
    number = walk_number(of)
    early = np.isin(number, EARLY)[:, None] & np.ones(len(h), dtype=bool)
    kept = (number >= 2)[:, None] & ~_crossed_by_a_spray(of, h)
    threshold = np.log(of.threshold[of.walk_series])[:, None]
    return Asked(kept, truth, threshold, early, _rebounding(of, target), of.walk_series)


def walk_number(of: Seasons) -> Ints:
    """1 for the first walk of a series."""
    first = np.searchsorted(of.walk_series, of.walk_series)
    return np.asarray(np.arange(len(first)) - first + 1)


def _pairs(of: Seasons) -> tuple[Ints, Ints]:
    """Every walk with every spray of its series."""
    first = np.searchsorted(of.spray_series, of.walk_series)
    number = np.searchsorted(of.spray_series, of.walk_series, side="right") - first
    walk = np.repeat(np.arange(len(of.walk_day)), number)
    within = np.arange(len(walk)) - np.repeat(np.cumsum(number) - number, number)
    return walk, first[walk] + within


def _crossed_by_a_spray(of: Seasons, h: Ints) -> Bools:
    walk, spray = _pairs(of)
    after = of.spray_day[spray] - of.walk_day[walk]
    crossed = np.zeros((len(of.walk_day), len(h)), dtype=bool)
    np.logical_or.at(crossed, walk, (after[:, None] > 0) & (after[:, None] <= h))
    return crossed


def _rebounding(of: Seasons, target: Ints) -> Bools:
    walk, spray = _pairs(of)
    since = target[walk] - of.spray_day[spray][:, None]
    hit = (since >= REBOUND[0]) & (since <= REBOUND[1]) & of.spray_spares[spray][:, None]
    rebound = np.zeros(target.shape, dtype=bool)
    np.logical_or.at(rebound, walk, hit)
    return rebound


def crps(mean: Floats, sd: Floats, asked: Asked) -> Floats:
    """CRPS of ln(density/threshold + FLOOR): twice the mean pinball loss over quantiles."""
    truth = np.log(np.exp(asked.truth - asked.threshold) + FLOOR)
    total = np.zeros(mean.shape)
    for level in LEVELS:
        quantile = np.log(np.exp(mean + sd * ndtri(level) - asked.threshold) + FLOOR)
        miss = truth - quantile
        total += np.maximum(level * miss, (level - 1) * miss)
    return 2 * total / len(LEVELS)


def covered(mean: Floats, sd: Floats, asked: Asked) -> Bools:
    """Whether the truth is within the 80 % interval; a density of nothing is below any."""
    return np.asarray(np.abs(asked.truth - mean) <= WITHIN_80 * sd)


def probability_over(mean: Floats, sd: Floats, asked: Asked) -> Floats:
    return np.asarray(ndtr((mean - asked.threshold) / sd))


def widening(mean: Floats, sd: Floats, asked: Asked, kept: Bools) -> list[float]:
    """Factor on the sd of each horizon at which 80 % are covered."""
    z = np.abs(asked.truth - mean) / sd
    share = [np.quantile(z[kept[:, j], j], 0.8) for j in range(z.shape[1])]
    return [round(float(s) / WITHIN_80, 4) for s in share]


@dataclass(frozen=True, eq=False)
class Reliability:
    said: Floats
    came: Floats
    number: int  # forecasts in a bin

    @property
    def worst(self) -> float:
        return float(np.abs(self.said - self.came).max())


def reliability(p: Floats, over: Bools) -> Reliability:
    """Bins of equally many forecasts, by what they said.

    Raises
    ------
    ValueError : too few forecasts for the bins.
    """
    if len(p) < BINS * BIN_LEAST:
        raise ValueError(
            f"got {len(p)} forecasts; expected {BINS * BIN_LEAST} or more; take more series"
        )
    parts = np.array_split(np.argsort(p, kind="stable"), BINS)
    said = np.array([p[part].mean() for part in parts])
    came = np.array([over[part].mean() for part in parts])
    return Reliability(said, came, len(p) // BINS)


@dataclass(frozen=True, eq=False)
class Warned:
    share: float  # of crossings
    days: float  # mean of those warned, from the first warning
    level: float  # P(over) from which it warns
    crossings: int


def warned(of: Seasons, p: Floats, kept: Bools) -> Warned:
    """Crossings warned of at the level that gives the false alarms allowed.

    Parameters
    ----------
    p : P(over) a week after each walk, shape (walks,).
    kept : which walks' forecasts are asked.
    """
    days = crossing_in(of)
    below = of.truth[of.walk_series, of.walk_day] < of.threshold[of.walk_series]
    asked_of = kept & below
    crossing = asked_of & (days <= WARNED_WITHIN)
    level = float(np.quantile(p[asked_of & (days > WARNED_WITHIN)], 1 - FALSE_ALARMS))
    which = of.walk_series.astype(np.int64) * 1000 + of.walk_day + np.where(crossing, days, 0)
    names, place = np.unique(which[crossing], return_inverse=True)
    first = np.zeros(len(names))
    np.maximum.at(first, place, np.where(p[crossing] > level, days[crossing], 0))
    got = first > 0
    return Warned(float(got.mean()), float(first[got].mean()), level, len(names))


def crossing_in(of: Seasons) -> Ints:
    """Days from each walk until the truth is first at or over the threshold; many if never."""
    never = of.truth.shape[1] * 10
    over = of.truth >= of.threshold[:, None]
    until = np.full(of.truth.shape, never)
    until[:, -1] = np.where(over[:, -1], 0, never)
    for day in range(of.truth.shape[1] - 2, -1, -1):
        until[:, day] = np.where(over[:, day], 0, np.minimum(until[:, day + 1] + 1, never))
    return np.asarray(until[of.walk_series, of.walk_day])


def by_series(value: Floats, kept: Bools, series: Ints, number: int) -> tuple[Floats, Floats]:
    """Sum and number of the kept values of each series."""
    row = np.broadcast_to(series[:, None], kept.shape)[kept]
    return np.bincount(row, value[kept], number), np.bincount(row, minlength=number)


def bootstrapped(
    top: Floats, bottom: Floats, rng: np.random.Generator, times: int = 1000
) -> tuple[float, float]:
    """95 % interval of a ratio of sums over series, series drawn again."""
    drawn = rng.multinomial(len(top), np.full(len(top), 1 / len(top)), times)
    ratio = drawn @ top / (drawn @ bottom)
    return float(np.quantile(ratio, 0.025)), float(np.quantile(ratio, 0.975))
