"""Infested units instead of counts: how the share of units infested and the mean belong together.

A unit is called infested when it has *more than* ``tally`` individuals; tally 0 is plain presence.
Papers that write "at least T" mean tally T - 1: both wordings are in print.

Reason codes (empty where there is an answer)

``no_effort``
    No unit was inspected.
``not_counted``
    The number infested is absent.
``no_k``, ``no_law``
    k, or the lines an empirical relation needs, are absent.
``none_infested``, ``all_infested``
    A share of 0 or 1 has no estimate of the mean, only a bound.
``not_whole``
    No whole number of units.
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
)
from benchwalk.science.density import DENSITY_LEVEL, infested_interval

# of the ratio of variance to mean; nearer to 1 the formula is 0/0
_RANDOM = 1e-9


@dataclass(frozen=True, eq=False)
class PresenceMean:
    """Mean per sample unit from the share of units infested; arrays of one shape."""

    mean: FloatArray  #: [individuals/sample unit]; NaN where none or all are infested
    standard_error: FloatArray  #: of the mean, by the delta method
    low: FloatArray  #: 0 where none is infested
    high: FloatArray  #: infinite where all are
    reason: TextArray


def infested_share(mean: ArrayLike, k: ArrayLike, tally: ArrayLike = 0) -> FloatArray:
    """Share of units with more than ``tally`` individuals, for the negative binomial.

    ``1 - (1 + mean/k)**-k`` for tally 0, ``1 - exp(-mean)`` for k infinite.

    Parameters
    ----------
    mean : [individuals/sample unit]; NaN passes.
    k : of the negative binomial; infinity for the Poisson.
    tally : individuals up to which a unit is not called infested.

    Raises
    ------
    ValueError : a negative mean or tally, k of 0 or less.

    Examples
    --------
    >>> float(infested_share(2, 2)), float(infested_share(5, 1, tally=3).round(4))
    (0.75, 0.4823)
    """
    m, spread, most = as_floats(mean=mean, k=k, tally=tally)
    require_not_negative("mean", m)
    _check_k_and_tally(spread, most)
    clumped = special.betainc(most + 1, np.where(np.isinf(spread), 1, spread), _odds(m, spread))
    return np.where(np.isinf(spread), special.gammainc(most + 1, m), clumped)


def _odds(m: FloatArray, k: FloatArray) -> FloatArray:
    return np.asarray(m / (m + np.where(np.isinf(k), 1, k)))


def _check_k_and_tally(k: FloatArray, tally: FloatArray) -> None:
    require_positive("k", k)
    require_not_negative("tally", tally)


def mean_of_share(share: ArrayLike, k: ArrayLike, tally: ArrayLike = 0) -> FloatArray:
    """The mean at which that share of units is infested: the inverse of :func:`infested_share`.

    ``k ((1 - share)**(-1/k) - 1)`` for tally 0.

    Parameters
    ----------
    share : in [0, 1]; 0 gives 0 and 1 gives infinity, NaN passes.
    k, tally : as in :func:`infested_share`.

    Raises
    ------
    ValueError : a share outside [0, 1], a negative tally, k of 0 or less.

    Examples
    --------
    >>> float(mean_of_share(0.5, 0.5))
    1.5
    """
    p, spread, most = as_floats(share=share, k=k, tally=tally)
    check_share(p)
    _check_k_and_tally(spread, most)
    finite = np.where(np.isinf(spread), 1, spread)
    with np.errstate(divide="ignore", over="ignore"):
        plain = finite * np.expm1(-np.log1p(-p) / finite)
        tallied = finite * (
            special.betaincinv(most + 1, finite, p) / special.betaincinv(finite, most + 1, 1 - p)
        )
    clumped = np.where(most == 0, plain, tallied)
    return np.where(np.isinf(spread), special.gammaincinv(most + 1, p), clumped)


def check_share(p: FloatArray) -> None:
    """Refuse what is no share; 0, 1 and NaN pass."""
    wrong = (p < 0) | (p > 1)
    if wrong.any():
        raise ValueError(
            f"got share {p[wrong][0]:g}; expected a share in [0, 1], or NaN where absent; "
            "divide the number infested by the number inspected"
        )


def wilson_room_share(mean: ArrayLike, a: ArrayLike, b: ArrayLike) -> FloatArray:
    """Share of units infested where the variance follows Taylor's law ([WilsonRoom1983]_).

    ``1 - exp(-mean ln(r) / (r - 1))`` with ``r = a mean**(b - 1)``, variance over mean: the
    negative binomial with k from that variance. Where r is under 1 it is the same expression, and
    at 1 its limit ``1 - exp(-mean)``.

    Parameters
    ----------
    mean : [individuals/sample unit]; 0 gives 0, NaN passes.
    a, b : of ``variance = a mean**b``; a itself and not its logarithm.

    Raises
    ------
    ValueError : a negative mean, a or b of 0 or less.

    Examples
    --------
    >>> wilson_room_share([0.1, 1, 10], 2.586, 1.511).round(3)
    array([0.106, 0.451, 0.944])
    """
    m, scale, power = as_floats(mean=mean, a=a, b=b)
    require_not_negative("mean", m)
    require_positive("a", scale)
    require_positive("b", power)
    none = m == 0
    excess = scale * np.where(none, 1, m) ** (power - 1) - 1
    random = np.abs(excess) < _RANDOM
    rate = np.where(random, 1.0, np.log1p(excess) / np.where(random, 1, excess))
    return np.where(none, 0.0, -np.expm1(-m * rate))


def mean_from_infested(
    infested: ArrayLike,
    inspected: ArrayLike,
    k: ArrayLike,
    tally: ArrayLike = 0,
    *,
    level: ArrayLike = DENSITY_LEVEL,
) -> PresenceMean:
    """Mean per sample unit from the number of units infested, for known k.

    The standard error is that of the share, times the slope of :func:`mean_of_share`. The limits
    are those of the share (:func:`benchwalk.science.density.infested_interval`) taken over to the
    mean. Neither knows that k is an estimate.

    Parameters
    ----------
    infested, inspected : units with more than ``tally`` individuals, of those looked at.
    k, tally : as in :func:`infested_share`; NaN gives "no_k".
    level : confidence of the limits, in (0, 1).

    Returns
    -------
    PresenceMean : none infested has no mean, low 0 and an upper bound; all infested no mean, a
        lower bound and high infinite. Both with their reason.

    Raises
    ------
    ValueError : negative numbers, more infested than inspected, k of 0 or less, level outside
        (0, 1).

    Examples
    --------
    >>> found = mean_from_infested([25, 0], 50, 1.0246)
    >>> found.mean.round(3), found.standard_error.round(3), found.high.round(3)
    (array([0.991,   nan]), array([0.278,   nan]), array([1.578, 0.047]))
    """
    x, n, spread, most, confidence = as_floats(
        infested=infested, inspected=inspected, k=k, tally=tally, level=level
    )
    _check_k_and_tally(spread, most)
    found = infested_interval(x, n, level=confidence)
    reason = np.where(
        found.reason != "",
        found.reason,
        first_reason(
            x.shape,
            ("no_k", np.isnan(spread)),
            ("none_infested", x == 0),
            ("all_infested", x == n),
        ),
    )
    mean = np.where(reason == "", mean_of_share(found.share, spread, most), np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        se = np.sqrt(found.share * (1 - found.share) / n) / _share_slope(mean, spread, most)
    low, high = (mean_of_share(limit, spread, most) for limit in (found.low, found.high))
    return PresenceMean(mean, np.where(reason == "", se, np.nan), low, high, reason)


def _share_slope(m: FloatArray, k: FloatArray, tally: FloatArray) -> FloatArray:
    """How fast the share infested grows with the mean."""
    infinite = np.isinf(k)
    finite = np.where(infinite, 1, k)
    # by ln(1 + m/k), since 1 - m/(m + k) has no digits left where m is much larger than k
    log_rest = -np.log1p(m / finite)
    log_slope = special.xlogy(tally, m / (m + finite)) + (finite + 1) * log_rest - np.log(finite)
    clumped = np.exp(log_slope - special.betaln(tally + 1, finite))
    random = np.exp(special.xlogy(tally, m) - m - special.gammaln(tally + 1))
    return np.where(infinite, random, clumped)
