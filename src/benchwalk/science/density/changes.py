"""What has changed between two rounds: a ratio and a difference of means."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import BoolArray, FloatArray, TextArray, as_floats, first_reason
from benchwalk.science.density.means import DENSITY_LEVEL, MeanInterval
from benchwalk.science.density.recovery import (
    distances,
    intervals_of,
    log_distances,
    weighted_sum,
)
from benchwalk.science.limits import Rule

NO_INTERVAL = ("no_effort", "not_counted", "no_k", "k_too_small", "not_whole")


@dataclass(frozen=True, eq=False)
class RatioInterval:
    """Mean now divided by mean before, with its confidence limits."""

    ratio: FloatArray
    low: FloatArray
    high: FloatArray
    reason: TextArray


@dataclass(frozen=True, eq=False)
class DifferenceInterval:
    """Mean now less mean before, with its confidence limits."""

    difference: FloatArray  #: [individuals/sample unit]
    low: FloatArray
    high: FloatArray
    reason: TextArray


def ratio_interval(
    total_now: ArrayLike,
    n_now: ArrayLike,
    total_before: ArrayLike,
    n_before: ArrayLike,
    k: ArrayLike,
    *,
    level: ArrayLike = DENSITY_LEVEL,
    rule: Rule = "blaker",
) -> RatioInterval:
    """Mean now divided by mean before, from two independent samples with the same k.

    The limits of the two means are combined on the log scale by the method of variance estimates
    recovery ([ZouDonner2008]_): the distance from ratio to limit is the root of the sum of squares
    of the distances of each mean to its own limit. Where nothing was counted on one occasion, half
    an individual stands for it in those distances only.

    Parameters
    ----------
    total_now, n_now : individuals and sample units of this round, as in :func:`mean_interval`.
    total_before, n_before : the same of the round it is compared with.
    k : of the negative binomial, on both occasions.
    level, rule : as in :func:`mean_interval`.

    Returns
    -------
    RatioInterval : none now gives ratio 0 and low 0; none before gives ratio NaN and high infinity
        ("none_before"); none on both gives NaN ("none_counted"). The reason of a mean without an
        interval is passed on.

    Raises
    ------
    ValueError : as :func:`mean_interval`.

    Examples
    --------
    >>> found = ratio_interval(36, 20, 18, 20, k=0.6)
    >>> float(found.ratio), float(found.low.round(2)), float(found.high.round(2))
    (2.0, 0.85, 4.59)
    """
    now, before = _two_rounds(total_now, n_now, total_before, n_before, k, level, rule)
    none_now, none_before = now.mean == 0, before.mean == 0
    reason = _reason(
        (now, before), ("none_counted", none_now & none_before), ("none_before", none_before)
    )
    parts = (
        log_distances(now, np.asarray(n_now, np.float64)),
        log_distances(before, np.asarray(n_before, np.float64)),
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        found = weighted_sum(parts, (1.0, -1.0))
        ratio = now.mean / before.mean
    answered = (reason == "") | (reason == "none_before")
    return RatioInterval(
        np.where(reason == "", ratio, np.nan),
        np.where(answered, np.exp(found.low), np.nan),
        np.where(answered, np.exp(found.high), np.nan),
        reason,
    )


def difference_interval(
    total_now: ArrayLike,
    n_now: ArrayLike,
    total_before: ArrayLike,
    n_before: ArrayLike,
    k: ArrayLike,
    *,
    level: ArrayLike = DENSITY_LEVEL,
    rule: Rule = "blaker",
) -> DifferenceInterval:
    """Mean now less mean before, from two independent samples with the same k.

    The limits of the two means are combined as in :func:`ratio_interval`, on the plain scale
    ([ZouDonner2008]_).

    Parameters
    ----------
    total_now, n_now, total_before, n_before, k, level, rule : as in :func:`ratio_interval`.

    Returns
    -------
    DifferenceInterval : none on both occasions gives 0 with limits on both sides: an answer. The
        difference of two means without an interval stands, with their reason and no limits.

    Raises
    ------
    ValueError : as :func:`mean_interval`.

    Examples
    --------
    >>> found = difference_interval([36, 0], 20, [18, 0], 20, k=0.6)
    >>> found.difference, found.low.round(2), found.high.round(2)
    (array([0.9, 0. ]), array([-0.25, -0.16]), array([2.5 , 0.16]))
    """
    now, before = _two_rounds(total_now, n_now, total_before, n_before, k, level, rule)
    reason = _reason((now, before))
    found = weighted_sum((distances(now), distances(before)), (1.0, -1.0))
    return DifferenceInterval(found.centre, found.low, found.high, reason)


def _two_rounds(
    total_now: ArrayLike,
    n_now: ArrayLike,
    total_before: ArrayLike,
    n_before: ArrayLike,
    k: ArrayLike,
    level: ArrayLike,
    rule: Rule,
) -> list[MeanInterval]:
    # shapes of one round that do not fit the other's are refused before anything is solved
    as_floats(
        total_now=total_now, n_now=n_now, total_before=total_before, n_before=n_before,
        k=k, level=level,
    )  # fmt: skip
    samples = (
        as_floats(total=total_now, n=n_now, k=k, level=level),
        as_floats(total=total_before, n=n_before, k=k, level=level),
    )
    return intervals_of(samples, rule)


def _reason(rounds: Sequence[MeanInterval], *cases: tuple[str, BoolArray]) -> TextArray:
    now, before = rounds
    shape = np.broadcast_shapes(now.reason.shape, before.reason.shape)
    passed_on = [(code, (now.reason == code) | (before.reason == code)) for code in NO_INTERVAL]
    return first_reason(shape, *passed_on, *cases)
