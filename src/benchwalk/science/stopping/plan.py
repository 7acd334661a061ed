"""A plan in the words of a scout: minutes, plants, and how often it is wrong."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import (
    BoolArray,
    FloatArray,
    TextArray,
    as_floats,
    first_reason,
    require_not_negative,
    require_positive,
)
from benchwalk.science.stopping.counts import Counts, HotSpot, NegativeBinomialCounts
from benchwalk.science.stopping.exact import exact_characteristic
from benchwalk.science.stopping.tables import StopTable

#: walks of a unit before "under" may be called early. Own choice, by simulation.
WALKS_BEFORE_EARLY_UNDER = 2
#: targets for which "under" is never called early. Own choice.
NEVER_EARLY = ("regulated", "any_find", "ship", "disease")
# a plan is tried on plants as clumped as this, and on pests on this share of the plants
_CLUMPED_K = 0.2
_HOT_SPOT = 0.05
# at this many times the threshold, and wrong at most this often
_CROSSED = 2.0
_MOST_MISSED = 0.05


@dataclass(frozen=True, eq=False)
class PlanSummary:
    """Minutes and error rates of a plan, one row for each true mean."""

    mean: FloatArray  #: [individuals/sample unit]
    wrong: FloatArray  #: chance of the wrong answer; NaN at the threshold itself
    open: FloatArray  #: chance of no answer
    units: FloatArray  #: expected sample units
    minutes: FloatArray  #: expected, with the minutes to begin
    most_units: int
    most_minutes: FloatArray
    reason: TextArray


@dataclass(frozen=True, eq=False)
class MissedCrossings:
    """How often a unit at twice the threshold is called *under*, where counts are hardest."""

    clumped: FloatArray  #: plants with k = 0.2; NaN for a threshold that is absent
    hot_spot: FloatArray  #: all pests on 5 % of the plants, k as planned there
    held: BoolArray  #: both at most 5 %


def summarise_plan(
    table: StopTable,
    counts: Counts,
    mean: ArrayLike,
    *,
    threshold: ArrayLike,
    seconds_a_unit: ArrayLike,
    seconds_to_begin: ArrayLike,
) -> PlanSummary:
    """What a plan costs and how often it is wrong, by :func:`exact_characteristic`.

    Parameters
    ----------
    table, counts, mean : as in :func:`exact_characteristic`.
    threshold : the mean to be decided about: above it "under" is wrong, below it "over".
    seconds_a_unit, seconds_to_begin : of one more unit, and of getting to the first [s].

    Raises
    ------
    ValueError : a negative mean, time or threshold.

    Examples
    --------
    >>> from benchwalk.science.stopping import PoissonCounts, wald_lines, wald_table
    >>> table = wald_table(wald_lines(PoissonCounts(), 1, 2, alpha=0.1, beta=0.1), 20, cut="middle")
    >>> found = summarise_plan(
    ...     table, PoissonCounts(), [1, 2], threshold=1.5, seconds_a_unit=30, seconds_to_begin=120
    ... )
    >>> found.wrong.round(3), found.minutes.round(1), found.most_minutes
    (array([0.063, 0.08 ]), array([5.6, 5.2]), array([12., 12.]))
    """
    m, at, each, begin = as_floats(
        mean=mean,
        threshold=threshold,
        seconds_a_unit=seconds_a_unit,
        seconds_to_begin=seconds_to_begin,
    )
    for name, values in (("threshold", at), ("seconds_a_unit", each), ("seconds_to_begin", begin)):
        require_not_negative(name, values)
    found = exact_characteristic(table, counts, m)
    wrong = np.select([m > at, m < at], [found.under, found.over], np.nan)
    return PlanSummary(
        m,
        wrong,
        found.open,
        found.units,
        np.asarray((begin + found.units * each) / 60),
        table.most_units,
        np.asarray((begin + table.most_units * each) / 60),
        found.reason,
    )


def missed_crossings(table: StopTable, threshold: ArrayLike, k: float) -> MissedCrossings:
    """Chance that a unit at twice the threshold is called *under*, on clumped plants and in a spot.

    A plan is published with these two numbers. Where one is above 5 % the page says so.

    Parameters
    ----------
    table : limits of cumulative counts of individuals.
    threshold : [individuals/sample unit]
    k : of the negative binomial inside a hot spot, one value.

    Raises
    ------
    ValueError : a threshold or k of 0 or less.

    Examples
    --------
    >>> from benchwalk.science.stopping import NegativeBinomialCounts, wald_lines, wald_table
    >>> lines = wald_lines(NegativeBinomialCounts(0.6), 0.5, 2, alpha=0.1, beta=0.05)
    >>> found = missed_crossings(wald_table(lines, 40, fewest=5, cut="middle"), 1, 0.6)
    >>> float(found.clumped.round(2)), float(found.hot_spot.round(2)), bool(found.held)
    (0.24, 0.81, False)
    """
    at = np.asarray(threshold, dtype=np.float64)
    require_positive("threshold", at)
    crossed = _CROSSED * at
    clumped = exact_characteristic(table, NegativeBinomialCounts(_CLUMPED_K), crossed).under
    hot_spot = exact_characteristic(table, HotSpot(_HOT_SPOT, k), crossed).under
    held = np.asarray((clumped <= _MOST_MISSED) & (hot_spot <= _MOST_MISSED))
    return MissedCrossings(clumped, hot_spot, held)


def early_under_refused(
    walks_before: ArrayLike,
    *,
    arrivals: ArrayLike = False,
    immigration: ArrayLike = False,
    kind: ArrayLike = "action",
) -> TextArray:
    """Why "under" must not be called before the last unit; empty where it may be.

    Own rules of this package: while little is known of a unit, or missing a pest costs more than
    the plants, every plant of the plan is looked at unless the answer is "over".

    Parameters
    ----------
    walks_before : walks of the unit so far; NaN (no word) counts as none.
    arrivals : plants were received or moved in since the last walk.
    immigration : a sign of pests flying in, on cards or in the neighbourhood.
    kind : what the target is for; "regulated", "any_find", "ship" and "disease" are never early.

    Raises
    ------
    ValueError : a negative number of walks.

    Examples
    --------
    >>> early_under_refused([1, 6, 6], arrivals=[False, False, True]).tolist()
    ['first_walks', '', 'arrivals']
    """
    walks, arrived, came = as_floats(
        walks_before=walks_before, arrivals=arrivals, immigration=immigration
    )
    require_not_negative("walks_before", walks)
    kinds = np.asarray(kind)
    return first_reason(
        np.broadcast_shapes(walks.shape, kinds.shape),
        *((name, np.asarray(kinds == name)) for name in NEVER_EARLY),
        ("first_walks", ~(walks >= WALKS_BEFORE_EARLY_UNDER)),
        ("arrivals", arrived != 0),
        ("immigration", came != 0),
    )
