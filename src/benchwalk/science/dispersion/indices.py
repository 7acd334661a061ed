"""Indices of how clumped the counts of one round are: mean crowding, pairs, the share of the most.

Counts are individuals on each sample unit, units on the last axis, NaN for units not counted;
n units, S individuals in all, mean m, variance s2 (with n - 1).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from benchwalk.science.arguments import BoolArray, FloatArray, TextArray, first_reason
from benchwalk.science.dispersion.k import checked_counts, count_spread


@dataclass(frozen=True, eq=False)
class MeanCrowding:
    """How many others an individual shares its unit with, on average."""

    crowding: FloatArray  #: [individuals/individual]
    patchiness: FloatArray  #: crowding / mean; 1 for the Poisson, 1 + 1/k for the negative binomial
    reason: TextArray


@dataclass(frozen=True, eq=False)
class Morisita:
    """Pairs of individuals that share a unit, against those of a random spread."""

    index: FloatArray  #: 1 for a random spread
    chi_square: FloatArray  #: index (S - 1) + n - S, chi-square with n - 1 degrees of freedom
    p_random: FloatArray  #: chance of a chi-square this large or larger under a random spread
    uniform: FloatArray  #: index below which the spread is more even than random at 95 %
    clumped: FloatArray  #: index above which it is more clumped than random at 95 %
    standardised: FloatArray  #: from -1 to 1; over 0.5 clumped, under -0.5 uniform, at 95 %
    reason: TextArray


@dataclass(frozen=True, eq=False)
class SpreadIndex:
    """One index of each round."""

    index: FloatArray
    reason: TextArray


def mean_crowding(counts: ArrayLike) -> MeanCrowding:
    """Lloyd's mean crowding as an estimate for the unit: ``m + s2/m - 1`` ([Lloyd1967]_).

    With s2 on n - 1 this estimates the crowding of the whole unit, of which the plants looked at
    are a sample; ``patchiness = 1 + 1/k`` with the k of :func:`k_by_moments`. The mean number of
    others met by the individuals *counted* is :func:`mean_crowding_of_individuals`, and is less.

    Parameters
    ----------
    counts : individuals on each sample unit, units on the last axis; NaN for units not counted.

    Returns
    -------
    MeanCrowding : NaN with "too_few" (one unit) or "none_counted".

    Raises
    ------
    ValueError : a negative or infinite count.

    Examples
    --------
    >>> found = mean_crowding([3, 0, 4, 9, 0, 2])
    >>> float(found.crowding.round(3)), float(found.patchiness.round(3))
    (5.733, 1.911)
    """
    spread = count_spread(counts)
    with np.errstate(divide="ignore", invalid="ignore"):
        crowding = np.where(spread.reason == "", spread.mean + spread.index - 1, np.nan)
        return MeanCrowding(crowding, np.asarray(crowding / spread.mean), spread.reason)


def mean_crowding_of_individuals(counts: ArrayLike) -> MeanCrowding:
    """Mean crowding by its definition: ``sum x (x - 1) / sum x`` over the units counted.

    The same as :func:`mean_crowding` with the variance on n instead of n - 1 ([Lloyd1967]_).

    Parameters
    ----------
    counts : individuals on each sample unit, units on the last axis; NaN for units not counted.

    Returns
    -------
    MeanCrowding : NaN with "too_few" (no unit) or "none_counted".

    Raises
    ------
    ValueError : a negative or infinite count.

    Examples
    --------
    >>> float(mean_crowding_of_individuals([3, 0, 4, 9, 0, 2]).crowding.round(3))
    5.111
    """
    sums = _Sums.of(counts)
    reason = first_reason(sums.n.shape, ("too_few", sums.n < 1), ("none_counted", sums.total == 0))
    with np.errstate(divide="ignore", invalid="ignore"):
        crowding = np.where(reason == "", sums.pairs / sums.total, np.nan)
        return MeanCrowding(crowding, np.asarray(crowding * sums.n / sums.total), reason)


def morisita(counts: ArrayLike) -> Morisita:
    """Index of Morisita, its test, and the index standardised to -1 .. 1.

    ``I = n sum x (x - 1) / (S (S - 1))`` ([Morisita1959]_). With the 2.5 % and 97.5 % points of
    chi-square on n - 1 degrees, ``M = (point - n + S) / (S - 1)`` marks where a spread is more even
    and more clumped than random, and the index is stretched between those marks and its ends
    ([SmithGill1975]_, [Krebs1999]_).

    Parameters
    ----------
    counts : individuals on each sample unit, units on the last axis; NaN for units not counted.

    Returns
    -------
    Morisita : NaN with "too_few", "none_counted" or "one_individual".

    Raises
    ------
    ValueError : a negative or infinite count.

    Examples
    --------
    >>> found = morisita([3, 0, 4, 9, 0, 2])
    >>> float(found.index.round(3)), float(found.standardised.round(3))
    (1.804, 0.538)
    """
    sums = _Sums.of(counts)
    n, total = sums.n, sums.total
    reason = _pair_reason(sums)
    answered = reason == ""
    n_safe, s = np.where(answered, n, 2), np.where(answered, total, 2)
    index = n_safe * sums.pairs / (s * (s - 1))
    chi_square = index * (s - 1) + n_safe - s
    uniform, clumped = (
        (special.chdtri(n_safe - 1, tail) - n_safe + s) / (s - 1) for tail in (0.975, 0.025)
    )
    p_random = special.chdtrc(n_safe - 1, chi_square)
    standardised = _standardised(index, uniform, clumped, n_safe)
    index, chi_square, p_random, uniform, clumped, standardised = (
        np.where(answered, column, np.nan)
        for column in (index, chi_square, p_random, uniform, clumped, standardised)
    )
    return Morisita(index, chi_square, p_random, uniform, clumped, standardised, reason)


def _standardised(
    index: FloatArray, uniform: FloatArray, clumped: FloatArray, n: FloatArray
) -> FloatArray:
    """Piecewise linear through -1 (index 0), -0.5, 0 (index 1), 0.5 and 1 (all on one unit)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.select(
            [index >= clumped, index >= 1, index > uniform],
            [
                0.5 + 0.5 * (index - clumped) / (n - clumped),
                0.5 * (index - 1) / (clumped - 1),
                -0.5 * (index - 1) / (uniform - 1),
            ],
            -0.5 + 0.5 * (index - uniform) / uniform,
        )


def green_index(counts: ArrayLike) -> SpreadIndex:
    """Index of Green: ``(s2/m - 1) / (S - 1)`` ([Green1966]_).

    0 for a random spread, 1 where everything is on one unit, below 0 where more even than random.

    Parameters
    ----------
    counts : individuals on each sample unit, units on the last axis; NaN for units not counted.

    Returns
    -------
    SpreadIndex : NaN with "too_few", "none_counted" or "one_individual".

    Raises
    ------
    ValueError : a negative or infinite count.

    Examples
    --------
    >>> green_index([[3, 0, 4, 9, 0, 2], [18, 0, 0, 0, 0, 0]]).index.round(3)
    array([0.161, 1.   ])
    """
    sums = _Sums.of(counts)
    reason = _pair_reason(sums)
    with np.errstate(divide="ignore", invalid="ignore"):
        index = (count_spread(counts).index - 1) / (sums.total - 1)
    return SpreadIndex(np.where(reason == "", index, np.nan), reason)


@dataclass(frozen=True, eq=False)
class _Sums:
    n: FloatArray
    total: FloatArray
    pairs: FloatArray
    "sum x (x - 1)"

    @classmethod
    def of(cls, counts: ArrayLike) -> _Sums:
        x = checked_counts(counts)
        n = np.sum(np.isfinite(x), axis=-1).astype(float)
        return cls(n, np.nansum(x, axis=-1), np.nansum(x * (x - 1), axis=-1))


def _pair_reason(sums: _Sums) -> TextArray:
    few: BoolArray = np.asarray(sums.n < 2)
    return first_reason(
        sums.n.shape,
        ("too_few", few),
        ("none_counted", sums.total == 0),
        ("one_individual", sums.total <= 1),
    )
