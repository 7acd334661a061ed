"""What a treatment did, told in one of three ways."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchwalk.science.arguments import FloatArray
from benchwalk.science.forecast.data import Effect, IntArray, Result, Series
from benchwalk.science.forecast.pooled import POOLED_LEVEL, Pooled

VERDICT_LEVEL = 0.95
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
    rows, walks = [], []
    for row in np.lexsort((day, of)):
        later = day[(of == of[row]) & (day > day[row])]
        end = later.min(initial=np.inf)
        mine = np.flatnonzero(
            (result.series == of[row]) & (result.day > day[row]) & (result.day <= end)
        )
        if len(mine) and abs(result.day[mine[-1]] - result.effect.days[mine[-1]] - day[row]) < 1e-6:
            rows.append(row)
            walks.append(mine[-1])
    at = np.array(walks, dtype=np.int64)
    effect = Effect(*(_at(getattr(result.effect, n), at) for n in Effect.__dataclass_fields__))
    return TreatmentTable(np.array(rows, dtype=np.int64), at, effect)


def _at(values: FloatArray, rows: IntArray) -> FloatArray:
    return np.asarray(values)[rows]
