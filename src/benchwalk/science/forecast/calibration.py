"""How far past forecasts were right: each count against what the walks before it said.

Nothing peeks: a walk's forecast is what the filter held before it took the walk's counts. Scores
are of counts, since the true density is never known; they stand beside those of the plainest rival,
that the next count will be as the last.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchwalk.science.arguments import FloatArray
from benchwalk.science.forecast.data import IntArray, Kind, Result, Series
from benchwalk.science.forecast.distributions import next_count_cdf, next_count_chance
from benchwalk.science.forecast.filter import run
from benchwalk.science.forecast.params import DEFAULTS, Params

LEVEL = 0.80
BINS = 10
GRID = 64  # counts at which a distribution is looked up for its score
SCORED = 2000  # counts that the ranked probability score is of, evenly spread over all
HALVINGS = 14  # of a factor between 1 and 100
#: counts forecast before anything is inflated, and the share of the 80 % interval below which
FEWEST, LOWEST = 40, 0.75
#: of a density, so that ln is of something; own choice
ADDED = 0.5


@dataclass(frozen=True)
class Replay:
    """One row for each plain count that an earlier walk of its series had forecast.

    Attributes
    ----------
    count, effort, size : what was counted, on what, and the size r of its negative binomial.
    mean, sd : of log density (of a card, its average) as it was expected before the walk.
    last : density of the walk before, half an individual added; days : since then. [d]
    threshold : NaN where there was none.
    """

    series: IntArray
    count: FloatArray
    effort: FloatArray
    size: FloatArray
    mean: FloatArray
    sd: FloatArray
    last: FloatArray
    days: FloatArray
    threshold: FloatArray

    @property
    def n(self) -> int:
        """How many counts were forecast."""
        return len(self.count)


@dataclass(frozen=True)
class Reliability:
    """Forecasts of being counted over the threshold, in bins of equal number."""

    said: FloatArray  #: mean probability of each bin
    happened: FloatArray  #: share that was counted over
    n: IntArray


@dataclass(frozen=True)
class Scores:
    """How good the replayed forecasts were; those of the last value beside them.

    Attributes
    ----------
    n, n_thresholds : counts forecast, and those of them with a threshold.
    coverage : share of counts in their 80 % interval.
    brier, brier_last : mean squared error of the probability of being counted over.
    crps, crps_last : mean continuous ranked probability score of ln(density + 0.5/effort), of at
        most 2,000 of the counts.
    """

    n: int
    n_thresholds: int
    coverage: float
    brier: float
    brier_last: float
    crps: float
    crps_last: float
    reliability: Reliability


def replay(series: Series, params: Params = DEFAULTS, result: Result | None = None) -> Replay:
    """Every count of plants or cards after a series' first walk, with its forecast.

    ``result`` is not made again where it is given: what came out of the same series and params.

    Capped and infested counts are left out, they are no number to be hit; and so are walks on which
    was counted in more than one way.
    """
    result = run(series, params, horizons=()) if result is None else result
    kinds = np.zeros(len(series.series), np.int64) if series.kind is None else series.kind
    taken = np.asarray(result.walk_of_count)
    plain = (taken >= 0) & np.isin(np.asarray(kinds), (Kind.COUNT, Kind.CARD))
    walks = len(result.series)
    count, effort = (
        np.asarray(np.bincount(taken[plain], np.asarray(a, float)[plain], walks), float)
        for a in (series.count, series.effort)
    )
    every = np.bincount(taken[taken >= 0], minlength=walks)
    # counts of two kinds, or of two scouts, are no one number
    alone = (np.bincount(taken[plain], minlength=walks) == every) & (effort == result.effort)
    before = np.arange(walks) - 1
    later = result.series[1:] == result.series[:-1]
    rows = 1 + np.flatnonzero(later & alone[1:] & alone[:-1])
    earlier = before[rows]
    return Replay(
        series=np.asarray(result.series)[rows],
        count=count[rows],
        effort=effort[rows],
        size=result.size[rows],
        mean=result.looked_mean[rows],
        sd=result.looked_sd[rows],
        last=(count[earlier] + ADDED) / effort[earlier],
        days=(result.day[rows] - result.day[earlier]),
        threshold=np.asarray(series.threshold, float)[result.series[rows]],
    )


def pit(held: Replay) -> FloatArray:
    """Where each count lies in its forecast, from 0 to 1: the middle of its step."""
    below, upto = _steps(held, held.mean, held.sd)
    return (below + upto) / 2


def coverage(held: Replay, level: float = LEVEL) -> FloatArray:
    """For each count how much of it lies in the interval of that level, from 0 to 1.

    A count stands for a step of the distribution; the part of the step inside the interval counts,
    so that a perfect forecast covers exactly its level.
    """
    below, upto = _steps(held, held.mean, held.sd)
    low, high = (1 - level) / 2, (1 + level) / 2
    inside = np.minimum(upto, high) - np.maximum(below, low)
    step = np.maximum(upto - below, 1e-300)
    return np.asarray(np.clip(inside / step, 0, 1))


def _steps(held: Replay, mean: FloatArray, sd: FloatArray) -> tuple[FloatArray, FloatArray]:
    given = (held.count, held.effort, held.size, mean, sd)
    upto = next_count_cdf(*given)
    below = np.where(held.count > 0, upto - next_count_chance(*given), 0.0)
    return np.maximum(below, 0.0), upto


def inflation(held: Replay, level: float = LEVEL) -> float:
    """Factor on the variance of every forecast that makes the intervals cover as they should.

    1 until at least 40 counts were forecast, and while 75 % of them or more lie in their 80 %
    interval. Found by halving; the variance is that of log density.
    """
    if held.n < FEWEST or float(coverage(held, level).mean()) >= LOWEST:
        return 1.0
    low, high = 1.0, 100.0
    for _ in range(HALVINGS):
        middle = float(np.sqrt(low * high))
        if float(coverage(_wider(held, middle), level).mean()) < level:
            low = middle
        else:
            high = middle
    return high


def _wider(held: Replay, factor: float) -> Replay:
    return Replay(
        held.series, held.count, held.effort, held.size, held.mean, held.sd * np.sqrt(factor),
        held.last, held.days, held.threshold,
    )  # fmt: skip


def scores(held: Replay) -> Scores | None:
    """Coverage, Brier and ranked probability scores, with n; None where nothing was forecast."""
    if held.n == 0:
        return None
    last, spread = np.log(held.last), _spread_of_last(held)
    few = _spread_out(held)
    few_spread = spread[np.unique(np.linspace(0, held.n - 1, few.n).astype(np.int64))]
    known = ~np.isnan(held.threshold)
    at = held.threshold * held.effort
    over = held.count > at
    said, said_last = (
        _chance_over(held, at, m, s) for m, s in ((held.mean, held.sd), (last, spread))
    )
    return Scores(
        n=held.n,
        n_thresholds=int(known.sum()),
        coverage=float(coverage(held).mean()),
        brier=_mean((said - over)[known] ** 2),
        brier_last=_mean((said_last - over)[known] ** 2),
        crps=float(_crps(few, few.mean, few.sd).mean()),
        crps_last=float(_crps(few, np.log(few.last), few_spread).mean()),
        reliability=reliability(said[known], over[known]),
    )


def _mean(values: FloatArray) -> float:
    return float(values.mean()) if len(values) else float("nan")


def _spread_of_last(held: Replay) -> FloatArray:
    """How far a count lies from the last, beyond the noise of counting, for one day apart and more.

    One variance a day for all series, from the same counts: the rival is given what it can have.
    """
    gap = np.log((held.count + ADDED) / held.effort) - np.log(held.last)
    noise = 1 / (held.count + ADDED) + 1 / (held.last * held.effort) + 2 / held.size
    per_day = max(float((gap**2 - noise).sum() / held.days.sum()), 1e-4)
    counted = 1 / (held.last * held.effort) + 1 / held.size
    return np.asarray(np.sqrt(per_day * held.days + counted))


def _chance_over(held: Replay, at: FloatArray, mean: FloatArray, sd: FloatArray) -> FloatArray:
    """P(count > threshold x effort)."""
    most = np.floor(np.nan_to_num(at))
    return np.asarray(1 - next_count_cdf(most, held.effort, held.size, mean, sd))


def reliability(said: FloatArray, happened: NDArray[np.bool_], bins: int = BINS) -> Reliability:
    """Probabilities in bins of equal number, beside the share that happened."""
    order = np.argsort(said, kind="stable")
    parts = [part for part in np.array_split(order, bins) if len(part)]
    return Reliability(
        np.array([said[part].mean() for part in parts]),
        np.array([happened[part].mean() for part in parts]),
        np.array([len(part) for part in parts], dtype=np.int64),
    )


def _crps(held: Replay, mean: FloatArray, sd: FloatArray) -> FloatArray:
    """Integral of (F - 1{counted})² over ln(density + 0.5/effort) (Gneiting2007, eq. 20)."""
    highest = held.effort * np.exp(mean + 4 * sd) * (1 + 4 / np.sqrt(held.size)) + 10
    top = np.maximum(highest, 2 * held.count + 10)[:, None]
    along = np.linspace(0, 1, GRID)
    grid = np.sort(np.c_[np.floor((top + 1) ** along - 1), held.count, top], axis=1)
    wide = tuple(a[:, None] for a in (held.effort, held.size, mean, sd))
    chance = next_count_cdf(grid, *wide) - (grid >= held.count[:, None])
    here, there = chance[:, :-1], chance[:, 1:]
    # the step of a count that is hit is not sloped: it ends where the next begins
    one = (np.diff(grid, axis=1) <= 1) | (grid[:, 1:] == held.count[:, None])
    squares = np.where(one, here**2, (here**2 + here * there + there**2) / 3)
    return np.asarray((squares * np.diff(np.log(grid + ADDED), axis=1)).sum(axis=1))


def _spread_out(held: Replay) -> Replay:
    rows = np.unique(np.linspace(0, held.n - 1, min(held.n, SCORED)).astype(np.int64))
    return Replay(*(getattr(held, name)[rows] for name in Replay.__dataclass_fields__))
