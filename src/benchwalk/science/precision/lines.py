"""Counting until a mean is precise enough: stop lines, and the precision that was reached."""

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
from benchwalk.science.precision.asked import Precision, require_named


@dataclass(frozen=True, eq=False)
class StopLine:
    """Cumulative count at which a given number of units is enough."""

    total: FloatArray  #: [individuals]; enough where the count has reached it
    reason: TextArray


@dataclass(frozen=True, eq=False)
class ReachedPrecision:
    """Precision of a mean that was counted."""

    standard_error: FloatArray  #: of the mean [individuals/sample unit]
    relative: FloatArray  #: standard error / mean
    reason: TextArray


def green_line(
    n: ArrayLike,
    a: ArrayLike,
    b: ArrayLike,
    precision: Precision,
    population: ArrayLike = np.inf,
) -> StopLine:
    """Cumulative count at which n units are enough, for Taylor's law ([Green1970]_).

    ``ln T = ln(D**2 / a) / (b - 2) + ln(n) (b - 1) / (b - 2)``, D as standard error over mean; at
    ``mean = T/n`` it is :func:`units_taylor` solved for the mean. The line falls with n where b is
    between 1 and 2. With b = 2 the size does not depend on the mean, and above 2 more pests would
    need more units, so there is no line.

    Parameters
    ----------
    n : units counted so far; 0 or NaN gives "no_effort".
    a, b : of Taylor's law; NaN gives "no_law", b of 2 or more "no_line".
    precision : from :func:`standard_error` or :func:`half_width`.
    population : sample units there are; D**2 becomes ``D**2 / (1 - n/population)``.

    Raises
    ------
    ValueError : a negative n, a or b of 0 or less, more units than there are.
    TypeError : a bare number as precision.

    Examples
    --------
    >>> from benchwalk.science.precision import standard_error
    >>> green_line([10, 20, 50], 2.586, 1.511, standard_error(0.25)).total.round(2)
    array([182.49,  88.44,  33.95])
    """
    require_named(precision)
    units, scale, power, se, size = as_floats(
        n=n, a=a, b=b, precision=precision.standard_error, population=population
    )
    require_positive("a", scale)
    require_positive("b", power)
    reason = _line_reason(units, size, np.isnan(scale) | np.isnan(power), ("no_line", power >= 2))
    answered = reason == ""
    at, scale, power, rest = _safe(answered, units, scale, power, _rest(units, size))
    power = np.where(answered, power, 1.5)
    with np.errstate(divide="ignore"):
        log_ratio = 2 * np.log(se) - np.log(scale) - np.log(rest)
    total = np.exp((log_ratio + (power - 1) * np.log(at)) / (power - 2))
    return StopLine(np.where(answered, total, np.nan), reason)


def kuno_line(
    n: ArrayLike,
    alpha: ArrayLike,
    beta: ArrayLike,
    precision: Precision,
    population: ArrayLike = np.inf,
) -> StopLine:
    """Cumulative count at which n units are enough, for Iwao's line ([Kuno1969]_).

    ``T = (alpha + 1) / (D**2 - (beta - 1)/n)``, D as standard error over mean; at ``mean = T/n`` it
    is :func:`units_iwao` solved for the mean. For a known k: alpha 0, beta ``1 + 1/k``.

    Parameters
    ----------
    n : units counted so far; 0 or NaN gives "no_effort", ``(beta - 1)/D**2`` or fewer
        "too_few_units".
    alpha, beta : of ``mean crowding = alpha + beta mean``; NaN gives "no_law", alpha of -1 or less
        "no_variance".
    precision, population : as in :func:`green_line`.

    Raises
    ------
    ValueError : a negative n, more units than there are.
    TypeError : a bare number as precision.

    Examples
    --------
    >>> from benchwalk.science.precision import standard_error
    >>> line = kuno_line([4, 40], 0.5, 1.3, standard_error(0.25))
    >>> line.total.round(2), line.reason.tolist()
    (array([  nan, 27.27]), ['too_few_units', ''])
    """
    require_named(precision)
    units, start, slope, se, size = as_floats(
        n=n, alpha=alpha, beta=beta, precision=precision.standard_error, population=population
    )
    rest = _rest(units, size)
    with np.errstate(divide="ignore", invalid="ignore"):
        below = se**2 / rest - (slope - 1) / units
    no_law = np.isnan(start) | np.isnan(slope)
    reason = _line_reason(
        units, size, no_law, ("no_variance", start <= -1), ("too_few_units", ~(below > 0))
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        total = (start + 1) / below
    return StopLine(np.where(reason == "", total, np.nan), reason)


def _line_reason(
    n: FloatArray, size: FloatArray, no_law: BoolArray, *cases: tuple[str, BoolArray]
) -> TextArray:
    require_not_negative("n", n)
    require_positive("population", size)
    require_at_most("n", n, "population", size)
    return first_reason(
        n.shape,
        ("no_effort", _none(n)),
        ("no_law", no_law),
        ("no_population", np.isnan(size)),
        *cases,
    )


def _rest(n: FloatArray, size: FloatArray) -> FloatArray:
    """Share of the units that was not counted; a census leaves no error."""
    return np.asarray(1 - n / size)


def _none(n: FloatArray) -> BoolArray:
    return np.asarray(np.isnan(n) | (n == 0))


def _safe(answered: BoolArray, *columns: FloatArray) -> list[FloatArray]:
    return [np.where(answered, column, 1.0) for column in columns]


def precision_reached(
    mean: ArrayLike, variance: ArrayLike, n: ArrayLike, population: ArrayLike = np.inf
) -> ReachedPrecision:
    """Standard error of a mean of n units, and its share of the mean.

    ``SE = sqrt(variance / n x (1 - n/population))``: the other way round from the sizes.

    Parameters
    ----------
    mean, variance : of the counts (variance with n - 1), or of a law at that mean.
    n : units counted; 0 or NaN gives "no_effort".
    population : sample units there are.

    Returns
    -------
    ReachedPrecision : a mean of 0 keeps its standard error and has no relative one ("zero_mean").

    Raises
    ------
    ValueError : negative numbers, more units than there are.

    Examples
    --------
    >>> float(precision_reached(1.147, 2.27, 150).relative.round(3))
    0.107
    """
    m, v, units, size = as_floats(mean=mean, variance=variance, n=n, population=population)
    for name, values in (("mean", m), ("variance", v), ("n", units)):
        require_not_negative(name, values)
    require_positive("population", size)
    require_at_most("n", units, "population", size)
    reason = first_reason(
        m.shape,
        ("no_effort", _none(units)),
        ("no_mean", np.isnan(m)),
        ("no_law", np.isnan(v)),
        ("no_population", np.isnan(size)),
        ("zero_mean", m == 0),
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        se = np.sqrt(v / units * _rest(units, size))
        relative = np.where(reason == "", se / m, np.nan)
    known = (reason == "") | (reason == "zero_mean")
    return ReachedPrecision(np.where(known, se, np.nan), relative, reason)
