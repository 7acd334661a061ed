"""Percent control of one treated unit against several untreated ones.

Untreated units do not all grow alike, and the treated one would not have grown like their mean
either. With several of them that difference can be seen, and it widens the interval; with one it
cannot, and the interval says only what the counts leave open.
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
    require_positive,
    require_probability,
)
from benchwalk.science.density.means import MeanInterval
from benchwalk.science.density.recovery import Distances, intervals_of, log_distances, weighted_sum
from benchwalk.science.efficacy.intervals import EFFICACY_LEVEL, Counts


@dataclass(frozen=True, eq=False)
class EfficacyAgainstUnits:
    """Percent control with its confidence limits; arrays of one shape."""

    percent: FloatArray  #: [%]
    low: FloatArray
    high: FloatArray
    sides: FloatArray  #: of the interval: 2, or 1 where only a lower limit exists; 0 without one
    untreated_units: FloatArray  #: that have counts before and after
    between: FloatArray  #: standard deviation of ln growth between untreated units
    reason: TextArray


def control_against_units(
    untreated_before: Counts,
    untreated_after: Counts,
    treated_before: Counts,
    treated_after: Counts,
    k: ArrayLike,
    *,
    level: ArrayLike = EFFICACY_LEVEL,
) -> EfficacyAgainstUnits:
    """Percent control of a treated unit, with the growth of several untreated units.

    ln growth of the untreated units is combined by random effects ([DerSimonianLaird1986]_). The
    growth that the treated unit would have had lies around their mean with the variance between
    units added once more, as in predicting one more study ([Higgins2009]_); Student's t has one
    degree of freedom less than there are units. The limits of the treated means join by
    [ZouDonner2008]_.

    Parameters
    ----------
    untreated_before, untreated_after : totals and sample units, shape (..., untreated units).
    treated_before, treated_after : of the treated unit, shape (...).
    k : of the negative binomial between sample units; one value, or shape (...).
    level : confidence of the interval, in (0, 1).

    Returns
    -------
    EfficacyAgainstUnits : an untreated unit without counts is left out; one with a total of 0 gets
        half an individual before and after. "one_untreated" has an interval that leaves out
        differences between units. "none_after" is 100 % with a lower limit. "no_untreated" (no unit
        with counts, or none in all of them), "none_before", "no_effort" and "not_counted" have no
        number, "no_k" has no interval.

    Raises
    ------
    ValueError : negative totals or n, k of 0 or less, level outside (0, 1).

    Examples
    --------
    >>> before, after = Counts([40, 25, 60], 20), Counts([70, 30, 80], 20)
    >>> found = control_against_units(before, after, Counts(50, 20), Counts(9, 20), k=2)
    >>> float(found.percent.round(1)), float(found.low.round(1)), float(found.high.round(1))
    (87.4, 69.5, 94.9)
    """
    spread, confidence = as_floats(k=k, level=level)
    require_positive("k", spread)
    require_probability("level", confidence)
    growth = _growth(untreated_before, untreated_after, spread)
    treated = intervals_of(
        [
            as_floats(total=c.total, n=c.n, k=spread, level=confidence)
            for c in (treated_after, treated_before)
        ],
        "blaker",
    )
    half = _quantile(growth, confidence) * np.sqrt(growth.variance + growth.between**2)
    without = Distances(growth.mean, half, half)
    parts = [
        log_distances(cell, np.asarray(c.n, np.float64))
        for cell, c in zip(treated, (treated_after, treated_before), strict=True)
    ]
    # a limit may be beyond any number: there is none below
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        found = weighted_sum([*parts, without], [1.0, -1.0, -1.0])
        psi = np.log(treated[0].mean) - np.log(treated[1].mean) - growth.mean
        percent, low, high = (-100 * np.expm1(x) for x in (psi, found.high, found.low))
    return _answer(percent, low, high, growth, treated)


@dataclass(frozen=True, eq=False)
class _Growth:
    """ln growth of untreated units, combined."""

    units: FloatArray
    mean: FloatArray
    variance: FloatArray  # of the mean
    between: FloatArray


def _growth(before: Counts, after: Counts, k: FloatArray) -> _Growth:
    tb, nb, ta, na = as_floats(
        total_before=before.total, n_before=before.n, total_after=after.total, n_after=after.n
    )
    for name, values in (("total_before", tb), ("total_after", ta), ("n", nb), ("n", na)):
        require_not_negative(name, values)
    there = ~np.isnan(tb + ta) & (nb > 0) & (na > 0) & (tb + ta > 0)
    some_none = (tb == 0) | (ta == 0)
    # the half individual of common practice, where the log of 0 would be asked for
    tb, ta = (np.where(there, t + 0.5 * some_none, 1) for t in (tb, ta))
    nb, na = (np.where(there, n, 1) for n in (nb, na))
    y = np.log(ta / na) - np.log(tb / nb)
    v = 1 / tb + 1 / ta + (1 / nb + 1 / na) / k[..., np.newaxis]
    return _combined(np.where(there, y, 0), np.where(there, 1 / v, 0), there.sum(axis=-1))


def _combined(y: FloatArray, weight: FloatArray, units: FloatArray) -> _Growth:
    """[DerSimonianLaird1986]_; a weight of 0 is a unit that is not there."""
    with np.errstate(divide="ignore", invalid="ignore"):
        total = weight.sum(axis=-1)
        fixed = (weight * y).sum(axis=-1) / total
        q = (weight * (y - fixed[..., np.newaxis]) ** 2).sum(axis=-1)
        scale = total - (weight**2).sum(axis=-1) / total
        between = np.where(units > 1, np.maximum((q - (units - 1)) / scale, 0), 0)
        random = weight / (1 + weight * between[..., np.newaxis])
        sums = random.sum(axis=-1)
        mean = (random * y).sum(axis=-1) / sums
        return _Growth(np.asarray(units, np.float64), mean, 1 / sums, np.sqrt(between))


def _quantile(growth: _Growth, level: FloatArray) -> FloatArray:
    student = special.stdtrit(np.maximum(growth.units - 1, 1), (1 + level) / 2)
    return np.where(growth.units > 1, student, special.ndtri((1 + level) / 2))


def _answer(
    percent: FloatArray,
    low: FloatArray,
    high: FloatArray,
    growth: _Growth,
    treated: list[MeanInterval],
) -> EfficacyAgainstUnits:
    after, before = treated

    def either(code: str) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
        return np.asarray((after.reason == code) | (before.reason == code))

    reason = first_reason(
        percent.shape,
        *((code, either(code)) for code in ("no_effort", "not_counted")),
        ("none_before", before.mean == 0),
        ("no_untreated", growth.units == 0),
        *((code, either(code)) for code in ("no_k", "k_too_small", "not_whole")),
        ("none_after", after.mean == 0),
        ("one_untreated", growth.units == 1),
    )
    one, two = reason == "none_after", np.isin(reason, ("", "one_untreated"))
    sides = np.where(one, 1.0, np.where(two, 2.0, 0.0))
    with_number = (sides > 0) | np.isin(reason, ("no_k", "k_too_small", "not_whole"))
    return EfficacyAgainstUnits(
        np.where(with_number, percent, np.nan),
        np.where(sides > 0, low, np.nan),
        np.where(sides > 0, high, np.nan),
        sides,
        np.broadcast_to(growth.units, percent.shape),
        np.broadcast_to(growth.between, percent.shape),
        reason,
    )
