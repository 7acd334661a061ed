"""Sample sizes of fixed precision, by the law that the variance of the counts follows."""

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
    require_at_most,
    require_not_negative,
    require_positive,
)
from benchwalk.science.dispersion.laws import (
    iwao_variance,
    negative_binomial_variance,
    taylor_variance,
)
from benchwalk.science.precision.asked import Precision, require_named

# relative; a formula that comes out whole is not rounded up a unit by its last digit
_WHOLE = 1e-9


@dataclass(frozen=True, eq=False)
class SampleSize:
    """Sample units to count; arrays of one shape."""

    exact: FloatArray  #: as the formula gives it, with its fraction
    units: FloatArray  #: the next whole number; NaN where there is no answer
    reason: TextArray


def units_from_variance(
    mean: ArrayLike, variance: ArrayLike, precision: Precision, population: ArrayLike = np.inf
) -> SampleSize:
    """Units for any variance: ``n = variance / (SE**2)`` with SE = standard error asked for x mean.

    Parameters
    ----------
    mean, variance : expected between sample units; NaN where absent. [individuals/sample unit]
    precision : from :func:`standard_error` or :func:`half_width`.
    population : sample units there are; the size becomes ``n / (1 + n / population)``.

    Returns
    -------
    SampleSize : NaN with "no_mean", "zero_mean", "no_law", "no_variance" or "no_population".

    Raises
    ------
    ValueError : a negative mean or variance, a population of 0 or less.
    TypeError : a bare number as precision.

    Examples
    --------
    >>> from benchwalk.science.precision import standard_error
    >>> needed = units_from_variance(4.0, [13.0, 11.0], standard_error(0.25))
    >>> needed.exact, needed.units
    (array([13., 11.]), array([13., 11.]))
    """
    m, v = as_floats(mean=mean, variance=variance)
    require_not_negative("mean", m)
    require_not_negative("variance", v)
    return _size(m, v, precision, population, no_law=np.isnan(v))


def units_poisson(
    mean: ArrayLike, precision: Precision, population: ArrayLike = np.inf
) -> SampleSize:
    """Units where plants are independent: ``n = (z/D)**2 / mean`` ([Karandinos1976]_).

    Parameters
    ----------
    mean : [individuals/sample unit]
    precision, population : as in :func:`units_from_variance`.

    Raises
    ------
    ValueError, TypeError : as :func:`units_from_variance`.
    """
    return units_negative_binomial(mean, np.inf, precision, population)


def units_negative_binomial(
    mean: ArrayLike, k: ArrayLike, precision: Precision, population: ArrayLike = np.inf
) -> SampleSize:
    """Units for the negative binomial: ``n = (z/D)**2 (1/mean + 1/k)`` ([Karandinos1976]_).

    Parameters
    ----------
    mean : [individuals/sample unit]
    k : of the negative binomial; infinity for the Poisson, NaN gives "no_law".
    precision, population : as in :func:`units_from_variance`.

    Raises
    ------
    ValueError, TypeError : as :func:`units_from_variance`; k of 0 or less.
    """
    m, spread = as_floats(mean=mean, k=k)
    v = negative_binomial_variance(m, spread)
    return _size(m, v, precision, population, no_law=np.isnan(spread))


def units_binomial(
    share: ArrayLike, precision: Precision, population: ArrayLike = np.inf
) -> SampleSize:
    """Units for a share infested: ``n = (z/D)**2 (1 - share) / share`` ([Karandinos1976]_).

    Parameters
    ----------
    share : share of sample units infested, in [0, 1]; 0 gives "zero_mean", 1 "all_infested".
    precision, population : as in :func:`units_from_variance`.

    Raises
    ------
    ValueError, TypeError : as :func:`units_from_variance`; a share above 1.

    Examples
    --------
    >>> from benchwalk.science.precision import standard_error
    >>> units_binomial(0.2, standard_error(0.25)).units
    array(64.)
    """
    p = np.asarray(share, dtype=np.float64)
    require_not_negative("share", p)
    require_at_most("share", p, "all", np.ones(p.shape))
    return _size(p, p * (1 - p), precision, population, full=p == 1)


def units_taylor(
    mean: ArrayLike,
    a: ArrayLike,
    b: ArrayLike,
    precision: Precision,
    population: ArrayLike = np.inf,
) -> SampleSize:
    """Units for Taylor's law: ``n = a mean**(b - 2) (z/D)**2`` ([Ruesink1980]_).

    Parameters
    ----------
    mean : [individuals/sample unit]
    a, b : of ``variance = a mean**b``; a itself and not its logarithm. NaN gives "no_law".
    precision, population : as in :func:`units_from_variance`.

    Raises
    ------
    ValueError, TypeError : as :func:`units_from_variance`; a or b of 0 or less.

    Examples
    --------
    >>> from benchwalk.science.precision import standard_error
    >>> float(units_taylor(5, 3.917, 1.538, standard_error(0.2)).units)  # whitefly on melon leaves
    47.0
    """
    m, scale, power = as_floats(mean=mean, a=a, b=b)
    v = taylor_variance(m, scale, power)
    return _size(m, v, precision, population, no_law=np.isnan(scale) | np.isnan(power))


def units_iwao(
    mean: ArrayLike,
    alpha: ArrayLike,
    beta: ArrayLike,
    precision: Precision,
    population: ArrayLike = np.inf,
) -> SampleSize:
    """Units for Iwao's line: ``n = ((alpha + 1)/mean + beta - 1) (z/D)**2`` ([IwaoKuno1968]_).

    Parameters
    ----------
    mean : [individuals/sample unit]
    alpha, beta : of ``mean crowding = alpha + beta mean``; NaN gives "no_law".
    precision, population : as in :func:`units_from_variance`.

    Returns
    -------
    SampleSize : "no_variance" where the line implies none at that mean.

    Raises
    ------
    ValueError, TypeError : as :func:`units_from_variance`.

    Examples
    --------
    >>> from benchwalk.science.precision import standard_error
    >>> float(units_iwao(5, 12.29, 1.327, standard_error(0.2)).units)  # whitefly on melon leaves
    75.0
    """
    m, start, slope = as_floats(mean=mean, alpha=alpha, beta=beta)
    v = iwao_variance(m, start, slope)
    return _size(m, v, precision, population, no_law=np.isnan(start) | np.isnan(slope))


_NOWHERE = np.zeros((), dtype=np.bool_)


def _size(
    m: FloatArray,
    v: FloatArray,
    precision: Precision,
    population: ArrayLike,
    *,
    no_law: BoolArray = _NOWHERE,
    full: BoolArray = _NOWHERE,
) -> SampleSize:
    require_named(precision)
    mean, variance, se, size = as_floats(
        mean=m, variance=v, precision=precision.standard_error, population=population
    )
    require_positive("population", size)
    reason = first_reason(
        mean.shape,
        ("no_mean", np.isnan(mean)),
        ("zero_mean", mean == 0),
        ("no_law", no_law),
        ("all_infested", full),
        ("no_variance", ~(variance > 0)),
        ("no_population", np.isnan(size)),
    )
    answered = reason == ""
    safe_mean, safe_variance = np.where(answered, mean, 1), np.where(answered, variance, 1)
    # divided one after the other: the square of a small mean is no float
    large = safe_variance / safe_mean / safe_mean / se**2
    exact = np.where(answered, large / (1 + large / np.where(answered, size, 1)), np.nan)
    return SampleSize(exact, np.asarray(np.ceil(exact * (1 - _WHOLE))), reason)
