"""Wald's sequential test of two means: its lines, error rates and number of units by formula."""

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
    require_probability,
)
from benchwalk.science.limits import crossing
from benchwalk.science.stopping.characteristic import Characteristic
from benchwalk.science.stopping.counts import NegativeBinomialCounts, WaldCounts

# of a number of units; whole but for rounding
_WHOLE = 1e-9
# of u; nearer to the slope the formulas are 0/0 and their limit is exact to this order
_AT_SLOPE = 1e-7


@dataclass(frozen=True, eq=False)
class Lines:
    """Two parallel lines for the cumulative count T over n units; arrays of one shape.

    *Under* where ``T <= under + slope n``, *over* where ``T >= over + slope n``.
    """

    counts: WaldCounts
    slope: FloatArray  #: [individuals/sample unit]
    under: FloatArray  #: intercept of the lower line, below 0 [individuals]
    over: FloatArray  #: intercept of the upper line [individuals]
    log_ratio: FloatArray  #: what one individual adds to the log likelihood ratio
    alpha: FloatArray  #: nominal chance of "over" at the low mean
    beta: FloatArray  #: nominal chance of "under" at the high mean
    reason: TextArray

    @property
    def fewest_to_be_under(self) -> FloatArray:
        """Units after which none found at all is *under*."""
        return np.asarray(np.ceil(-self.under / self.slope - _WHOLE))


def wald_lines(
    counts: WaldCounts, low: ArrayLike, high: ArrayLike, *, alpha: ArrayLike, beta: ArrayLike
) -> Lines:
    """Lines of the sequential test of a low against a high mean ([Wald1947]_, [Waters1955]_).

    With d what one individual adds to the log likelihood ratio::

        under = ln(beta / (1 - alpha)) / d        over = ln((1 - beta) / alpha) / d

    =================  =========================================  ===============================
    counts             d                                          slope
    =================  =========================================  ===============================
    Poisson            ln(high / low)                             (high - low) / d
    negative binomial  ln(high (low + k) / (low (high + k)))      k ln((high + k) / (low + k)) / d
    infested units     ln(high (1 - low) / (low (1 - high)))      ln((1 - low) / (1 - high)) / d
    =================  =========================================  ===============================

    Parameters
    ----------
    counts : :class:`PoissonCounts`, :class:`NegativeBinomialCounts` or :class:`InfestedUnits`.
    low, high : means to tell apart, below and above the threshold [individuals/sample unit]; for
        infested units shares of them. NaN where absent.
    alpha : chance of "over" at the low mean, by Wald's formula; the true one is less.
    beta : chance of "under" at the high mean.

    Returns
    -------
    Lines : NaN with "no_means" or "no_k".

    Raises
    ------
    ValueError : a low mean of 0 or not below the high one, alpha and beta outside (0, 1) or with a
        sum of 1 or more.

    Examples
    --------
    >>> from benchwalk.science.stopping import InfestedUnits
    >>> lines = wald_lines(InfestedUnits(), 0.10, 0.30, alpha=0.02, beta=0.03)
    >>> float(lines.slope.round(3)), float(lines.under.round(2)), float(lines.over.round(2))
    (0.186, -2.58, 2.88)
    """
    spread = counts.k if isinstance(counts, NegativeBinomialCounts) else np.asarray(1.0)
    t0, t1, a, b, k = as_floats(low=low, high=high, alpha=alpha, beta=beta, k=spread)
    for name, values in (("low", t0), ("high", t1)):
        counts.check_means(name, values)
    _check_tests(t0, t1, a, b)
    reason = first_reason(
        t0.shape, ("no_means", np.isnan(t0) | np.isnan(t1)), ("no_k", np.isnan(k))
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        d, slope = counts.log_ratio(t0, t1), counts.slope(t0, t1)
    return Lines(
        counts,
        slope,
        np.asarray(np.log(b / (1 - a)) / d),
        np.asarray(np.log((1 - b) / a) / d),
        d,
        a,
        b,
        reason,
    )


def _check_tests(low: FloatArray, high: FloatArray, alpha: FloatArray, beta: FloatArray) -> None:
    require_probability("alpha", alpha)
    require_probability("beta", beta)
    wrong = alpha + beta >= 1
    if wrong.any():
        raise ValueError(
            f"got alpha {alpha[wrong][0]:g} and beta {beta[wrong][0]:g}; expected a sum below 1; "
            "0.1 each is usual"
        )
    wrong = (low <= 0) | (low >= high)
    if wrong.any():
        raise ValueError(
            f"got low {low[wrong][0]:g} and high {high[wrong][0]:g}; expected 0 < low < high; "
            "check whether the two were exchanged"
        )


def wald_characteristic(lines: Lines, mean: ArrayLike) -> Characteristic:
    """Chance of "under" and expected number of units by Wald's formulas ([Wald1947]_).

    With A = (1 - beta)/alpha, B = beta/(1 - alpha) and h the root other than 0 of
    ``E exp(h z) = 1``, z what one unit adds to the log likelihood ratio::

        P(under) = (A**h - 1) / (A**h - B**h)
        units    = (P(under) ln B + P(over) ln A) / E z

    They take the limits as met exactly. Counts pass them, so the true error rates are lower and the
    true number of units is higher: see :func:`exact_characteristic`.

    Parameters
    ----------
    lines : of :func:`wald_lines`, broadcast against mean.
    mean : true mean of the unit [individuals/sample unit], or true share infested. A mean of 0 is
        never "over"; NaN where absent.

    Returns
    -------
    Characteristic : ``open`` is 0: the test goes on until it ends.

    Raises
    ------
    ValueError : a negative mean, a share above 1.

    Examples
    --------
    >>> from benchwalk.science.stopping import PoissonCounts
    >>> lines = wald_lines(PoissonCounts(), 1, 2, alpha=0.1, beta=0.1)
    >>> found = wald_characteristic(lines, [1, 2])
    >>> found.under.round(4), found.units.round(2)
    (array([0.9, 0.1]), array([5.73, 4.55]))
    """
    m, slope, d, alpha, beta = as_floats(
        mean=mean, slope=lines.slope, log_ratio=lines.log_ratio, alpha=lines.alpha, beta=lines.beta
    )
    lines.counts.check_means("mean", m)
    given = np.broadcast_to(lines.reason, m.shape)
    reason = np.where(given != "", given, first_reason(m.shape, ("no_mean", np.isnan(m))))
    answered = reason == ""
    ln_a, ln_b = np.log((1 - beta) / alpha), np.log(beta / (1 - alpha))
    with np.errstate(divide="ignore", invalid="ignore"):
        u = _other_root(lines.counts, m, slope, answered)
        at_slope = np.abs(u) < _AT_SLOPE
        under = np.where(at_slope, ln_a / (ln_a - ln_b), _under(u / d, ln_a, ln_b))
        units = np.where(
            at_slope,
            -ln_a * ln_b / (d**2 * lines.counts.variance(m)),
            (under * ln_b + (1 - under) * ln_a) / (d * (m - slope)),
        )
    under, units = np.where(answered, under, np.nan), np.where(answered, units, np.nan)
    return Characteristic(m, under, 1 - under, np.where(answered, 0.0, np.nan), units, reason)


def _other_root(
    counts: WaldCounts, mean: FloatArray, slope: FloatArray, answered: BoolArray
) -> FloatArray:
    """The u other than 0 with ``E exp(u (X - slope)) = 1``; infinite where X cannot vary.

    The cumulant is convex, so the root lies beyond the u at which it has the slope of the line.
    """
    steepest = counts.steepest(mean, slope)
    solvable = answered & np.isfinite(steepest) & (np.abs(steepest) >= _AT_SLOPE / 2)
    # rows without a root get a harmless mean, and are masked below
    m = np.where(solvable, mean, np.where(answered, slope / 2, 0.1))
    s = np.where(answered, slope, 0.2)
    start = counts.steepest(m, s)
    side = np.sign(start)

    def excess(size: FloatArray) -> FloatArray:
        return np.asarray(counts.cumulant(side * size, m) - side * size * s)

    low, high = np.abs(start), 2 * np.abs(start)
    end = np.where(side > 0, counts.largest_u(m), np.inf)
    while (short := excess(np.minimum(high, end)) <= 0).any():
        high = np.where(short, np.minimum(2 * high, (high + end) / 2), high)
    root = side * crossing(excess, low, np.minimum(high, end))
    return np.where(solvable, root, np.where(np.isinf(steepest), steepest, 0.0))


def _under(h: FloatArray, ln_a: FloatArray, ln_b: FloatArray) -> FloatArray:
    """``(A**h - 1) / (A**h - B**h)``, divided through by its larger power."""
    up, down = np.where(h > 0, h, 1.0), np.where(h > 0, -1.0, h)
    above = np.expm1(-up * ln_a) / np.expm1(up * (ln_b - ln_a))
    below = np.expm1(down * ln_a) * np.exp(-down * ln_b) / np.expm1(down * (ln_a - ln_b))
    return np.where(h > 0, above, below)
