"""Mean per sample unit, share infested, and a rate, each with its interval."""

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
    require_probability,
)
from benchwalk.science.limits import Binomial, NegativeBinomial, Poisson, Rule, theta_limits

#: level of every density interval that is printed
DENSITY_LEVEL = 0.90
# of the total; below, a 90 % upper limit is more than 10**9 times the mean
_SMALLEST_SIZE = 0.1
# of the total; above, the inverse beta function loses digits and the Poisson differs by fewer
_POISSON_SIZE = 1e7
# a total that came from a mean times n is whole but for rounding
_WHOLE = 1e-6


@dataclass(frozen=True, eq=False)
class MeanInterval:
    """Mean per sample unit with its confidence limits; arrays of one shape."""

    mean: FloatArray  #: [individuals/sample unit]
    low: FloatArray
    high: FloatArray
    reason: TextArray


@dataclass(frozen=True, eq=False)
class ShareInterval:
    """Share of sample units infested with its confidence limits."""

    share: FloatArray
    low: FloatArray
    high: FloatArray
    reason: TextArray


def mean_interval(
    total: ArrayLike,
    n: ArrayLike,
    k: ArrayLike,
    *,
    level: ArrayLike = DENSITY_LEVEL,
    at_least: ArrayLike = False,
    rule: Rule = "blaker",
) -> MeanInterval:
    """Mean per sample unit from the total over n units, with an interval for known k.

    Parameters
    ----------
    total : individuals on all n units together; NaN where no number was written. [individuals]
    n : sample units looked at (plants, leaves, full cards); 0 or NaN where none. [sample units]
    k : of the negative binomial between sample units; infinity for the Poisson.
    level : confidence of the interval, in (0, 1).
    at_least : True where counting stopped at a cap on some unit.
    rule : how limits are found, see :mod:`benchwalk.science.limits`. "blaker" covers at least
        ``level`` for every mean; "mid_p" is shorter and covers less for some means.

    Returns
    -------
    MeanInterval : a total of 0 gives mean 0, low 0 and an upper limit above 0 (looked, none);
        n of 0 gives NaN ("no_effort"); a capped total gives high infinity ("capped").

    Raises
    ------
    ValueError : negative total or n, k of 0 or less, level outside (0, 1), an unknown rule.

    Examples
    --------
    >>> found = mean_interval(total=[18, 0], n=20, k=0.6)
    >>> found.mean, found.low.round(2), found.high.round(2)
    (array([0.9, 0. ]), array([0.52, 0.  ]), array([1.8 , 0.16]))
    """
    t, units, spread, confidence, capped = as_floats(
        total=total, n=n, k=k, level=level, at_least=at_least
    )
    require_probability("level", confidence)
    mean, reason = mean_and_reason(t, units, spread)
    reason = np.where((reason == "") & (capped != 0), "capped", reason)
    low, high = np.full(t.shape, np.nan), np.full(t.shape, np.nan)
    solved = (reason == "") | (reason == "capped")
    low[solved], high[solved] = _mean_limits(
        np.rint(t[solved]), units[solved], spread[solved], confidence[solved], rule
    )
    high[reason == "capped"] = np.inf
    return MeanInterval(mean, low, high, reason)


def mean_and_reason(
    total: FloatArray, n: FloatArray, k: FloatArray
) -> tuple[FloatArray, TextArray]:
    """The mean, and why it has no number or no interval; arrays of one shape.

    Raises
    ------
    ValueError : negative total or n, k of 0 or less.
    """
    require_not_negative("total", total)
    require_not_negative("n", n)
    require_positive("k", k)
    reason = first_reason(
        total.shape,
        ("no_effort", no_effort(n)),
        ("not_counted", np.isnan(total)),
        ("no_k", np.isnan(k)),
        ("k_too_small", n * k < _SMALLEST_SIZE),
        ("not_whole", ~_is_whole(total)),
    )
    return _over(total, n, reason), reason


def no_effort(effort: FloatArray) -> BoolArray:
    return np.asarray(np.isnan(effort) | (effort == 0))


def _is_whole(t: FloatArray) -> BoolArray:
    near = np.rint(t)
    return np.asarray(np.abs(t - near) <= _WHOLE * np.maximum(near, 1))


def _over(t: FloatArray, effort: FloatArray, reason: TextArray) -> FloatArray:
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(reason == "no_effort", np.nan, t / effort)


def _mean_limits(
    t: FloatArray, n: FloatArray, k: FloatArray, level: FloatArray, rule: Rule
) -> tuple[FloatArray, FloatArray]:
    low, high = np.empty(t.shape), np.empty(t.shape)
    random = n * k > _POISSON_SIZE
    low[random], high[random] = theta_limits(Poisson(), t[random], level[random], rule)
    size = (n * k)[~random]
    low[~random], high[~random] = (
        size * theta
        for theta in theta_limits(NegativeBinomial(size), t[~random], level[~random], rule)
    )
    return low / n, high / n


def poisson_interval(
    total: ArrayLike,
    exposure: ArrayLike = 1.0,
    *,
    level: ArrayLike = DENSITY_LEVEL,
    rule: Rule = "exact",
) -> MeanInterval:
    """Mean per unit of exposure of a Poisson count; exact limits by default ([Garwood1936]_).

    Parameters
    ----------
    total : individuals counted. [individuals]
    exposure : what they were counted over; 0 or NaN gives "no_effort".
    level, rule : as in :func:`mean_interval`.

    Raises
    ------
    ValueError : as :func:`mean_interval`.

    Examples
    --------
    >>> found = poisson_interval(42, level=0.95)
    >>> float(found.low.round(2)), float(found.high.round(2))
    (30.27, 56.77)
    """
    return mean_interval(total, exposure, np.inf, level=level, rule=rule)


def infested_interval(
    infested: ArrayLike,
    inspected: ArrayLike,
    *,
    level: ArrayLike = DENSITY_LEVEL,
    rule: Rule = "mid_p",
) -> ShareInterval:
    """Share of sample units infested, with a binomial interval.

    Parameters
    ----------
    infested : units with at least one individual. [sample units]
    inspected : units looked at; 0 or NaN gives "no_effort". [sample units]
    level : confidence of the interval, in (0, 1).
    rule : "mid_p" (default), "exact" ([ClopperPearson1934]_) or "blaker".

    Returns
    -------
    ShareInterval : none infested has low 0, all infested has high 1; both are answers.

    Raises
    ------
    ValueError : negative numbers, more infested than inspected, level outside (0, 1), an unknown
        rule.

    Examples
    --------
    >>> found = infested_interval(3, 20)
    >>> float(found.share), float(found.low.round(3)), float(found.high.round(3))
    (0.15, 0.052, 0.32)
    """
    x, n, confidence = as_floats(infested=infested, inspected=inspected, level=level)
    require_not_negative("infested", x)
    require_not_negative("inspected", n)
    require_probability("level", confidence)
    require_at_most("infested", x, "inspected", n)
    whole = _is_whole(x) & _is_whole(n)
    reason = first_reason(
        x.shape, ("no_effort", no_effort(n)), ("not_counted", np.isnan(x)), ("not_whole", ~whole)
    )
    low, high = np.full(x.shape, np.nan), np.full(x.shape, np.nan)
    solved = reason == ""
    trials = np.rint(n[solved])
    odds = theta_limits(Binomial(trials), np.rint(x[solved]), confidence[solved], rule)
    low[solved], high[solved] = (1 - 1 / (1 + theta) for theta in odds)
    return ShareInterval(_over(x, n, reason), low, high, reason)
