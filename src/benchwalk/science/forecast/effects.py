"""What a treatment did, told in one of three ways."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchwalk.science.arguments import FloatArray
from benchwalk.science.forecast.data import Effect, IntArray, Result, Series, Treatments
from benchwalk.science.forecast.distributions import normal_quantile
from benchwalk.science.forecast.pooled import POOLED_LEVEL, Pooled
from benchwalk.science.forecast.some import some

VERDICT_LEVEL = 0.95
LEAST_WALKS = 4  # of a series, for a treatment that was never made
#: ends of the share taken away beyond which something is said
WORKED_ABOVE, FAILED_BELOW = 0.30, 0.50
WORKED, DID_NOT_WORK, CANNOT_TELL = "worked", "did_not_work", "cannot_tell"


def verdict(effect: Effect, level: float = VERDICT_LEVEL) -> NDArray[np.str_]:
    """*worked* where the lower end is above 30 %, *did not work* where the upper is below 50 %.

    Else *cannot tell* from one treatment; "" where there was none.
    """
    low, high = effect.ends(level)
    word = np.select([low > WORKED_ABOVE, high < FAILED_BELOW], [WORKED, DID_NOT_WORK], CANNOT_TELL)
    return np.where(np.isnan(effect.days), "", word)


def pooled_verdict(pooled: Pooled, level: float = POOLED_LEVEL) -> str:
    """The same of many treatments, at their level."""
    low, high = pooled.ends(level)
    if low > WORKED_ABOVE:
        return WORKED
    return DID_NOT_WORK if high < FAILED_BELOW else CANNOT_TELL


#: sd of a log-kill as one treatment's counts alone give it, at 20 and at 60 plants
DATA_SD = {20: 0.72, 60: 0.65}  # simulation, engine start values
MOST_TREATMENTS = 100


def treatments_that_would_tell(
    log_kill: float,
    expected_mean: float,
    expected_sd: float,
    data_sd: float = DATA_SD[20],
    level: float = POOLED_LEVEL,
) -> int | None:
    """How many treatments, pooled, it takes on average until a true log-kill is told.

    The class is counted once, each treatment with ``data_sd``; the active is taken not to drift.
    None where 100 are not enough.
    """
    half = normal_quantile((1 + level) / 2)
    for n in range(1, MOST_TREATMENTS + 1):
        precision = 1 / expected_sd**2 + n / data_sd**2
        mean = (expected_mean / expected_sd**2 + n * log_kill / data_sd**2) / precision
        low, high = mean - half / np.sqrt(precision), mean + half / np.sqrt(precision)
        if low > -np.log(1 - WORKED_ABOVE) or high < -np.log(1 - FAILED_BELOW):
            return n
    return None


def fake_treatments(series: Series, rng: np.random.Generator, kind: str = "contact") -> Series:
    """The series that were never treated, each with a treatment that was never made.

    A negative control: what :func:`verdict` says of these is what it says of nothing. The day is
    drawn from between the second walk and the last but one; the rest of the series is left out.
    """
    of, day = np.asarray(series.series, np.int64), np.asarray(series.day, float)
    untreated = np.setdiff1d(np.unique(of), np.asarray(series.treatments.series, np.int64))
    low, high = np.searchsorted(of, untreated), np.searchsorted(of, untreated, side="right")
    long = high - low >= LEAST_WALKS
    which, low, high = untreated[long], low[long], high[long]
    first, last = day[low + 1], day[high - 2]
    drawn = first + rng.random(len(which)) * (last - first)
    fake = Treatments(np.arange(len(which)), drawn, (kind,) * len(which))
    return replace(some(series, which), treatments=fake)


@dataclass(frozen=True)
class TreatmentTable:
    """One row for each treatment that a walk followed: what it had done by the last walk before
    the next treatment of its series.
    """

    treatment: IntArray  #: row of ``series.treatments``
    walk: IntArray  #: row of the result
    effect: Effect


def treatment_table(series: Series, result: Result) -> TreatmentTable:
    """What each treatment did, by the walk that knows most of it."""
    held = series.treatments
    of, day = np.asarray(held.series, np.int64), np.asarray(held.day, float)
    order = np.lexsort((day, of))
    of, day = of[order], day[order]
    end = np.full(len(of), np.inf)
    end[:-1] = np.where(of[1:] == of[:-1], day[1:], np.inf)
    low = np.searchsorted(result.series, of)
    high = np.searchsorted(result.series, of, side="right")
    # a walk at the very time of the next treatment came before it
    walk = np.array(
        [
            a + np.searchsorted(result.day[a:b], until, side="right") - 1
            for a, b, until in zip(low, high, end, strict=True)
        ],
        dtype=np.int64,
    )
    use = np.flatnonzero(walk >= low)
    walk, began = walk[use], day[use]
    met = np.abs(result.day[walk] - result.effect.days[walk] - began) < 1e-6
    at = walk[met]
    effect = Effect(*(_at(getattr(result.effect, n), at) for n in Effect.__dataclass_fields__))
    return TreatmentTable(order[use[met]], at, effect)


def _at(values: FloatArray, rows: IntArray) -> FloatArray:
    return np.asarray(values)[rows]
