"""Percent control from the same plants counted before and after.

A plant that had many before has many after: the two totals are not independent, and the interval
for independent samples is too wide. What matters is how the change differs from plant to plant,
and that needs no k.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from benchwalk.science.arguments import (
    FloatArray,
    TextArray,
    as_floats,
    first_reason,
    require_not_negative,
    require_probability,
)
from benchwalk.science.efficacy.intervals import EFFICACY_LEVEL, Efficacy


def paired_control(
    untreated_before: ArrayLike,
    untreated_after: ArrayLike,
    treated_before: ArrayLike,
    treated_after: ArrayLike,
    *,
    level: ArrayLike = EFFICACY_LEVEL,
) -> Efficacy:
    """Percent control from marked plants ([HendersonTilton1955]_ on their totals).

    A ratio of totals is a regression through 0 with weights 1/before, and its variance is the
    robust one of [MacKinnonWhite1985]_, which does not fall short with few plants (their HC3):
    ``sum ((after - ratio before)/(1 - share))**2 / (sum after)**2`` for ln ratio, share being that
    of the plant in the total before. The two variances add up; Student's t has the degrees of
    freedom of [Welch1947]_.

    Parameters
    ----------
    untreated_before, untreated_after : counts of the same untreated plants, plants on the last
        axis; NaN where a plant was not looked at, which leaves out the pair. [individuals/plant]
    treated_before, treated_after : the same of treated plants, their number may differ.
    level : confidence of the interval, in (0, 1).

    Returns
    -------
    Efficacy : "none_after" is 100 % without an interval: plants that all have none left do not show
        how the change differs; take the totals as independent samples for a lower limit.
        "no_pairs", "none_before", "none_untreated" and "untreated_from_none" have no number, and
        "one_plant" has no interval: one plant had all there was before.

    Raises
    ------
    ValueError : negative counts, before and after of different shapes, level outside (0, 1).

    Examples
    --------
    >>> found = paired_control([4, 2, 9, 5], [6, 3, 14, 7], [5, 8, 3, 6], [1, 1, 0, 1])
    >>> float(found.percent.round(1)), float(found.low.round(1)), float(found.high.round(1))
    (90.9, 84.4, 94.7)
    """
    untreated = _Change.of(untreated_before, untreated_after)
    treated = _Change.of(treated_before, treated_after)
    confidence = np.asarray(level, np.float64)
    require_probability("level", confidence)
    with np.errstate(divide="ignore", invalid="ignore"):
        psi = np.log(treated.ratio) - np.log(untreated.ratio)
        variance = treated.variance + untreated.variance
        freedom = variance**2 / (treated.welch + untreated.welch)
        half = special.stdtrit(freedom, (1 + confidence) / 2) * np.sqrt(variance)
    # plants that all changed alike leave no variance and no degrees of freedom
    half = np.where(variance == 0, 0, half)
    reason = _reason(untreated, treated)
    with_number = np.isin(reason, ("", "none_after", "one_plant"))
    # a limit may be beyond any number: there is none below
    with np.errstate(over="ignore", invalid="ignore"):
        percent, low, high = (-100 * np.expm1(x) for x in (psi, psi + half, psi - half))
    return Efficacy(
        np.where(with_number, percent, np.nan),
        np.where(reason == "", low, np.nan),
        np.where(reason == "", high, np.nan),
        np.where(reason == "", 2.0, 0.0),
        reason,
    )


def _reason(untreated: _Change, treated: _Change) -> TextArray:
    shape = np.broadcast_shapes(untreated.ratio.shape, treated.ratio.shape)
    return first_reason(
        shape,
        ("no_pairs", (untreated.pairs == 0) | (treated.pairs == 0)),
        ("none_before", treated.before == 0),
        ("none_untreated", untreated.after == 0),
        ("untreated_from_none", untreated.before == 0),
        ("none_after", treated.after == 0),
        ("one_plant", (untreated.largest == 1) | (treated.largest == 1)),
    )


@dataclass(frozen=True, eq=False)
class _Change:
    """Totals of pairs, and the variance of the log of their ratio."""

    pairs: FloatArray
    before: FloatArray
    after: FloatArray
    largest: FloatArray  # share of one plant in the total before
    ratio: FloatArray
    variance: FloatArray
    welch: FloatArray  # squared variance over its degrees of freedom

    @classmethod
    def of(cls, before: ArrayLike, after: ArrayLike) -> _Change:
        b, a = as_floats(before=before, after=after)
        require_not_negative("before", b)
        require_not_negative("after", a)
        pair = ~(np.isnan(b) | np.isnan(a))
        b, a = np.where(pair, b, 0), np.where(pair, a, 0)
        n = pair.sum(axis=-1).astype(np.float64)
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = a.sum(axis=-1) / b.sum(axis=-1)
            share = b / b.sum(axis=-1, keepdims=True)
            rest = (a - ratio[..., np.newaxis] * b) / (1 - share)
            variance = (rest**2).sum(axis=-1) / a.sum(axis=-1) ** 2
            welch = variance**2 / (n - 1)
        return cls(
            n, b.sum(axis=-1), a.sum(axis=-1), share.max(axis=-1, initial=0), ratio, variance, welch
        )
