"""Chance of finding nothing in a finite population, and infested plants as a whole number."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from benchwalk.science.arguments import (
    FloatArray,
    as_floats,
    require_at_most,
    require_not_negative,
    require_probability,
)

Rounding = Literal["floor", "ceil"]

# relative; more than the digits lost by sums of log-gamma, less than one plant ever changes
TIE = 1e-9
# of a term, in logarithms, against the sum so far
_NEGLIGIBLE = float(np.log(np.finfo(float).eps))


def miss_probability(
    inspected: ArrayLike, infested: ArrayLike, population: ArrayLike, sensitivity: ArrayLike = 1.0
) -> FloatArray:
    """Chance that an inspection finds nothing, in a finite population.

    The hypergeometric chance of meeting h infested plants, times the chance of overlooking all h:
    ``sum_h P(h) (1 - sensitivity)**h``, summed in full.

    Parameters
    ----------
    inspected, infested, population : plants; whole numbers, broadcast. NaN gives NaN.
    sensitivity : chance of finding the pest on an infested plant that is inspected, in (0, 1].

    Raises
    ------
    ValueError : negative numbers, more inspected or infested than there are plants, a sensitivity
        outside (0, 1].

    Examples
    --------
    >>> float(miss_probability(20, 30, 600).round(4))  # 5 % of 600 plants infested, 20 looked at
    0.3524
    """
    n, d, size, e = as_floats(
        inspected=inspected, infested=infested, population=population, sensitivity=sensitivity
    )
    for name, values in (("inspected", n), ("infested", d), ("population", size)):
        require_not_negative(name, values)
    require_at_most("inspected", n, "population", size)
    require_at_most("infested", d, "population", size)
    require_probability("sensitivity", e, one_allowed=True)
    return missed(n, d, size, e)


def missed(n: FloatArray, d: FloatArray, size: FloatArray, e: FloatArray) -> FloatArray:
    """Sum over the infested plants met, upward from the fewest possible, in logarithms.

    (The first terms of a large unit are too small for a float, and the sum is not.)
    """
    met = np.maximum(0, n - (size - d))
    most = np.minimum(n, d)
    with np.errstate(divide="ignore"):
        overlooked = np.log1p(-e)
    term = log_hypergeometric(met, n, d, size) + special.xlog1py(met, -e)
    total = term
    while (going := (met < most) & (term > total + _NEGLIGIBLE)).any():
        ratio = (d - met) * (n - met) / ((met + 1) * np.maximum(size - d - n + met + 1, 1))
        step = np.log(np.where(going, ratio, 1)) + overlooked
        term = np.where(going, term + step, -np.inf)
        met = np.where(going, met + 1, met)
        total = np.logaddexp(total, term)
    return np.exp(np.minimum(total, 0))


def log_hypergeometric(
    met: FloatArray, n: FloatArray, d: FloatArray, size: FloatArray
) -> FloatArray:
    """Natural log of the chance of meeting that many of d infested plants among n of size."""
    return _log_choose(d, met) + _log_choose(size - d, n - met) - _log_choose(size, n)


def _log_choose(whole: FloatArray, part: FloatArray) -> FloatArray:
    g = special.gammaln
    return np.asarray(g(whole + 1) - g(part + 1) - g(whole - part + 1))


def whole_plants(p: FloatArray, size: FloatArray, infested: Rounding) -> FloatArray:
    """Infested plants of a population, a fraction of a plant rounded as asked for."""
    if infested not in ("floor", "ceil"):
        raise ValueError(
            f"got infested={infested!r}; expected 'floor' or 'ceil'; say which way a fraction of a "
            "plant goes"
        )
    # 600 x 0.005 is 3.0000000000000004 or 2.9999999999999996 in floats, and 3 plants here
    with np.errstate(invalid="ignore"):
        exact = p * size
    near = np.rint(np.where(np.isfinite(exact), exact, 0))
    whole = np.floor(exact) if infested == "floor" else np.ceil(exact)
    return np.where(np.abs(exact - near) <= TIE * near, near, whole)
