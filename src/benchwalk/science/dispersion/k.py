"""Mean and variance of the counts of a round, and k of the negative binomial from them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from benchwalk.science.arguments import (
    BoolArray,
    FloatArray,
    TextArray,
    as_floats,
    first_reason,
    require_at_most,
    require_not_negative,
)
from benchwalk.science.limits import crossing

# a larger k and the Poisson cannot be told apart by any count of plants made by hand
_LARGEST_K = 1e5
_SMALLEST_K = 1e-8


@dataclass(frozen=True, eq=False)
class CountSpread:
    """Moments of the counts of each round."""

    n: FloatArray  #: sample units counted
    mean: FloatArray  #: [individuals/sample unit]
    variance: FloatArray  #: with n - 1
    index: FloatArray  #: variance / mean; 1 for the Poisson
    p_random: FloatArray  #: chance of an index this large or larger under the Poisson
    reason: TextArray


@dataclass(frozen=True, eq=False)
class DispersionK:
    """k of the negative binomial; NaN without an answer, infinite where not aggregated."""

    k: FloatArray
    reason: TextArray


def count_spread(counts: ArrayLike) -> CountSpread:
    """Mean, variance and index of dispersion of each round.

    ``index * (n - 1)`` is chi-square with n - 1 degrees of freedom under the Poisson.

    Parameters
    ----------
    counts : individuals on each sample unit, units on the last axis; NaN for units not counted.

    Returns
    -------
    CountSpread : arrays without the last axis. ``variance`` is NaN with one unit ("too_few");
        ``index`` is NaN when the mean is 0 ("none_counted").

    Raises
    ------
    ValueError : a negative or infinite count.

    Examples
    --------
    >>> spread = count_spread([3, 0, 4, 9, 0, 2])
    >>> float(spread.mean), float(spread.variance), round(float(spread.index), 3)
    (3.0, 11.2, 3.733)
    """
    x = checked_counts(counts)
    n, total = np.sum(np.isfinite(x), axis=-1).astype(float), np.nansum(x, axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = total / n
        variance = np.where(n > 1, np.nansum((x - mean[..., None]) ** 2, axis=-1) / (n - 1), np.nan)
        index = variance / mean
    p = np.asarray(special.chdtrc(n - 1, index * (n - 1)))
    reason = first_reason(n.shape, ("too_few", n < 2), ("none_counted", total == 0))
    return CountSpread(n, mean, variance, index, p, reason)


def checked_counts(counts: ArrayLike) -> FloatArray:
    x = np.atleast_1d(np.asarray(counts, dtype=np.float64))
    require_not_negative("count", x)
    return x


def k_by_moments(mean: ArrayLike, variance: ArrayLike) -> DispersionK:
    """Moments: ``k = mean**2 / (variance - mean)`` ([Anscombe1949]_).

    Parameters
    ----------
    mean, variance : of the counts of a round (variance with n - 1); NaN passes as "too_few".

    Raises
    ------
    ValueError : a negative mean or variance.

    Examples
    --------
    >>> float(k_by_moments(3.0, 11.2).k.round(3))
    1.098
    """
    m, v = as_floats(mean=mean, variance=variance)
    check_moments(m, v)
    return _moment_k(m**2, m, v)


def k_bias_lowered(mean: ArrayLike, variance: ArrayLike, n: ArrayLike) -> DispersionK:
    """Moments with less bias: ``k = (mean**2 - variance/n) / (variance - mean)``.

    ``mean**2`` overstates the square of the true mean by ``variance/n``.

    Parameters
    ----------
    mean, variance : as in :func:`k_by_moments`.
    n : sample units.

    Raises
    ------
    ValueError : a negative mean, variance or n.
    """
    m, v, units = as_floats(mean=mean, variance=variance, n=n)
    check_moments(m, v, units)
    v = np.where(units >= 2, v, np.nan)
    return _moment_k(np.maximum(m**2 - v / np.maximum(units, 1), 0), m, v)


def check_moments(m: FloatArray, v: FloatArray, n: FloatArray | None = None) -> None:
    require_not_negative("mean", m)
    require_not_negative("variance", v)
    if n is not None:
        require_not_negative("n", n)


def _moment_k(numerator: FloatArray, m: FloatArray, v: FloatArray) -> DispersionK:
    with np.errstate(divide="ignore", invalid="ignore"):
        k = numerator / (v - m)
    return _answer(k, too_few=np.isnan(m) | np.isnan(v), empty=m == 0, random=v <= m)


def _answer(
    k: FloatArray,
    *,
    too_few: BoolArray,
    empty: BoolArray,
    random: BoolArray,
) -> DispersionK:
    reason = first_reason(
        k.shape,
        ("too_few", too_few),
        ("none_counted", empty),
        ("not_aggregated", random),
        ("one_unit", ~(k > _SMALLEST_K)),
    )
    return _with_infinite(k, reason)


def k_by_zero_term(mean: ArrayLike, empty_units: ArrayLike, n: ArrayLike) -> DispersionK:
    """Zero term: k from the share of empty units: ``k ln(1 + mean/k) = ln(n / empty_units)``.

    The equation of [BlissFisher1953]_ for counts in which most units are empty.

    Parameters
    ----------
    mean : [individuals/sample unit]
    empty_units : units on which nothing was found; 0 gives "all_infested".
    n : units counted.

    Raises
    ------
    ValueError : negative numbers, n of 0, more empty units than units.
    """
    m, n0, units = as_floats(mean=mean, empty_units=empty_units, n=n)
    require_not_negative("mean", m)
    require_not_negative("empty_units", n0)
    require_not_negative("n", units)
    require_at_most("empty_units", n0, "n", units)
    with np.errstate(divide="ignore", invalid="ignore"):
        needed = np.log(units / n0)
    k = crossing(
        lambda at: np.asarray(at * np.log1p(m / at) - needed),
        np.full(m.shape, _SMALLEST_K),
        np.full(m.shape, _LARGEST_K),
    )
    reason = first_reason(
        m.shape,
        ("too_few", np.isnan(m) | np.isnan(n0) | ~(units >= 2)),
        ("none_counted", m == 0),
        ("all_infested", n0 == 0),
        ("not_aggregated", k >= _LARGEST_K),
    )
    return _with_infinite(k, reason)


def _with_infinite(k: FloatArray, reason: TextArray) -> DispersionK:
    infinite = np.where(reason == "not_aggregated", np.inf, np.nan)
    return DispersionK(np.where(reason == "", k, infinite), reason)


def k_by_likelihood(counts: ArrayLike) -> DispersionK:
    """Maximum likelihood: k of highest likelihood for each round, its mean being the sample mean.

    Solves the score equation ``sum_i [psi(x_i + k) - psi(k)] = n ln(1 + mean/k)``, the sum over A_x
    of [BlissFisher1953]_ in digamma functions. It has one root where the variance (with n) exceeds
    the mean, and none otherwise ([LevinReeds1977]_): then k is infinite.

    Parameters
    ----------
    counts : individuals on each sample unit, units on the last axis; NaN for units not counted.

    Raises
    ------
    ValueError : a negative or infinite count.

    Examples
    --------
    >>> float(k_by_likelihood([3, 0, 4, 9, 0, 2]).k.round(3))
    0.94
    """
    return _likelihood_k(checked_counts(counts)[..., None, :])


def common_k_by_likelihood(counts: ArrayLike) -> DispersionK:
    """One k for several rounds, each with its own mean.

    Parameters
    ----------
    counts : rounds on the last axis but one, units on the last; NaN for units not counted.

    Raises
    ------
    ValueError : a negative or infinite count, fewer than two axes.
    """
    x = checked_counts(counts)
    if x.ndim < 2:
        raise ValueError(
            f"got counts of shape {x.shape}; expected rounds and units on the last two axes; "
            "use k_by_likelihood for one round"
        )
    return _likelihood_k(x)


def _likelihood_k(x: FloatArray) -> DispersionK:
    seen = np.isfinite(x)
    n, total = seen.sum(axis=-1), np.nansum(x, axis=-1)
    mean = total / np.maximum(n, 1)

    def score(k: FloatArray) -> FloatArray:
        each = np.where(seen, special.psi(x + k[..., None, None]), special.psi(k)[..., None, None])
        up = (each - special.psi(k)[..., None, None]).sum(axis=(-1, -2))
        return np.asarray(up - (n * np.log1p(mean / k[..., None])).sum(axis=-1))

    shape = x.shape[:-2]
    k = crossing(score, np.full(shape, _SMALLEST_K), np.full(shape, _LARGEST_K))
    reason = first_reason(
        shape,
        ("too_few", (n < 2).all(axis=-1)),
        ("none_counted", (total == 0).all(axis=-1)),
        ("not_aggregated", k >= _LARGEST_K),
    )
    return _with_infinite(k, reason)


def common_k_by_moments(mean: ArrayLike, variance: ArrayLike, n: ArrayLike) -> DispersionK:
    """One k for several rounds: ``sum(mean**2 - variance/n) / sum(variance - mean)``.

    Sums of [BlissOwen1958]_ without weights, bias lowered as in :func:`k_bias_lowered`.

    Parameters
    ----------
    mean, variance, n : one value for each round, rounds on the last axis; NaN for no round.

    Raises
    ------
    ValueError : a negative mean, variance or n.
    """
    m, v, units = as_floats(mean=mean, variance=variance, n=n)
    check_moments(m, v, units)
    seen = (units >= 2) & np.isfinite(m) & np.isfinite(v)
    m, v, units = np.where(seen, m, 0), np.where(seen, v, 0), np.where(seen, units, 1)
    above = np.sum(v - m, axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        k = np.sum(m**2 - v / units, axis=-1) / above
    return _answer(
        k,
        too_few=np.asarray(~seen.any(axis=-1)),
        empty=np.asarray(m.sum(axis=-1) == 0),
        random=np.asarray(above <= 0),
    )
