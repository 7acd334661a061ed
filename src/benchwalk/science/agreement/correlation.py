"""Intraclass correlation of counts: how much of their spread is between units, not scouts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from benchwalk.science.arguments import FloatArray, TextArray, first_reason, require_probability

Form = Literal["1,1", "2,1", "3,1", "1,k", "2,k", "3,k"]
FORMS = ("1,1", "2,1", "3,1", "1,k", "2,k", "3,k")


# of a sum of squares; what is left of it after a subtraction that ought to leave nothing
_ROUNDING = 1e-12


@dataclass(frozen=True, eq=False)
class IntraclassCorrelation:
    """Share of the spread that is between units, with its confidence limits."""

    correlation: FloatArray
    low: FloatArray
    high: FloatArray
    units: FloatArray  #: that all scouts looked at
    reason: TextArray


@dataclass(frozen=True, eq=False)
class MeanSquares:
    """Of a table of units and scouts; the names are those of [ShroutFleiss1979]_."""

    units: FloatArray  # n
    scouts: int  # k
    between: FloatArray  # BMS, of units
    within: FloatArray  # WMS
    scout: FloatArray  # JMS
    error: FloatArray  # EMS


def intraclass_correlation(
    counts: ArrayLike, form: Form, *, level: float = 0.95
) -> IntraclassCorrelation:
    """One of the six intraclass correlations of [ShroutFleiss1979]_, with its interval.

    Parameters
    ----------
    counts : by each scout in each unit, shape (..., units, scouts); a unit with a NaN (a scout did
        not look) is left out. Counts are better taken as ln(count + 1).
    form : the first part is who counted: "1" other scouts in every unit; "2" the same scouts, who
        stand for all scouts there are (agreement on the number); "3" the same scouts, and only they
        matter (agreement but for a constant). The second is what is judged: "1" a single count, "k"
        the mean of all scouts.
    level : confidence of the interval, in (0, 1); for form 2 by Satterthwaite's degrees of freedom,
        as in the paper.

    Returns
    -------
    IntraclassCorrelation : may be negative. "too_few" (under two units) and "no_spread" (all counts
        alike) have no number. Scouts who agree in full have 1 and limits of 1.

    Raises
    ------
    ValueError : fewer than two scouts, an unknown form, level outside (0, 1).

    Examples
    --------
    >>> one, two = [9, 6, 8, 7, 10, 6], [2, 1, 4, 1, 5, 2]
    >>> three, four = [5, 3, 6, 2, 6, 4], [8, 2, 8, 6, 9, 7]
    >>> table = [list(unit) for unit in zip(one, two, three, four)]
    >>> found = intraclass_correlation(table, "2,1")
    >>> float(found.correlation.round(2)), float(found.low.round(2)), float(found.high.round(2))
    (0.29, 0.02, 0.76)
    """
    if form not in FORMS:
        raise ValueError(
            f"got form {form!r}; expected one of {'; '.join(FORMS)}; choose who counted and what "
            "is judged"
        )
    require_probability("level", np.asarray(level, np.float64))
    ms = mean_squares(counts)
    who, what = form.split(",")
    with np.errstate(divide="ignore", invalid="ignore"):
        estimate, low, high = _two_way(ms, level) if who == "2" else _one_error(ms, level, who)
        if what == "k":
            estimate, low, high = (_of_mean(r, ms.scouts) for r in (estimate, low, high))
    full = (ms.within == 0) & (ms.between > 0)
    estimate, low, high = (np.where(full, 1.0, x) for x in (estimate, low, high))
    alike = (ms.within == 0) & (ms.between == 0)
    reason = first_reason(ms.units.shape, ("too_few", ms.units < 2), ("no_spread", alike))
    estimate, low, high = (np.where(reason == "", x, np.nan) for x in (estimate, low, high))
    return IntraclassCorrelation(estimate, low, high, ms.units, reason)


def mean_squares(counts: ArrayLike) -> MeanSquares:
    """Mean squares of a table of units and scouts, shape (..., units, scouts).

    Raises
    ------
    ValueError : fewer than two scouts.
    """
    x = np.asarray(counts, np.float64)
    if x.ndim < 2 or x.shape[-1] < 2:
        raise ValueError(
            f"got counts of shape {x.shape}; expected (units, scouts) with two scouts or more; "
            "give a column for each scout"
        )
    there = np.asarray(~np.isnan(x).any(axis=-1))
    x = np.where(there[..., np.newaxis], x, 0)
    n, k = there.sum(axis=-1).astype(np.float64), x.shape[-1]
    with np.errstate(divide="ignore", invalid="ignore"):
        unit = x.mean(axis=-1)
        scout = x.sum(axis=-2) / n[..., np.newaxis]
        grand = scout.mean(axis=-1)
        rest = np.where(there, unit - grand[..., np.newaxis], 0)
        between = k * (rest**2).sum(axis=-1)
        within = (there[..., np.newaxis] * (x - unit[..., np.newaxis]) ** 2).sum(axis=(-2, -1))
        by_scout = n * ((scout - grand[..., np.newaxis]) ** 2).sum(axis=-1)
        # rounding leaves a little less or more than nothing
        error = np.where(within - by_scout <= _ROUNDING * within, 0, within - by_scout)
        return MeanSquares(
            n,
            k,
            between / (n - 1),
            within / (n * (k - 1)),
            by_scout / (k - 1),
            error / ((n - 1) * (k - 1)),
        )


Limits = tuple[FloatArray, FloatArray, FloatArray]


def _f_quantile(upper: FloatArray, lower: FloatArray, level: float) -> FloatArray:
    return np.asarray(special.fdtri(upper, lower, (1 + level) / 2))


def _one_error(ms: MeanSquares, level: float, who: str) -> Limits:
    """Forms 1 and 3: a function of one F ratio."""
    n, k = ms.units, ms.scouts
    rest = ms.within if who == "1" else ms.error
    freedom = n * (k - 1) if who == "1" else (n - 1) * (k - 1)
    ratio = ms.between / rest
    # scouts may differ by a constant in full agreement otherwise
    ratio = np.where((rest == 0) & (ms.between > 0), np.inf, ratio)
    low = ratio / _f_quantile(n - 1, freedom, level)
    high = ratio * _f_quantile(freedom, n - 1, level)
    single = [np.where(np.isinf(f), 1.0, (f - 1) / (f + k - 1)) for f in (ratio, low, high)]
    return single[0], single[1], single[2]


def _two_way(ms: MeanSquares, level: float) -> Limits:
    """Form 2, with the approximate degrees of freedom of the paper."""
    n, k, error = ms.units, ms.scouts, ms.error
    estimate = (ms.between - error) / (ms.between + (k - 1) * error + k * (ms.scout - error) / n)
    f, a = k * estimate * ms.scout / error, n * (1 + (k - 1) * estimate) - k * estimate
    freedom = (k - 1) * (n - 1) * (f + a) ** 2 / ((n - 1) * f**2 + a**2)
    # without error all of the spread within is the scouts', who are k
    freedom = np.where(error == 0, k - 1.0, freedom)
    # the paper's limits divided through by their F, which is beyond any number for few freedoms
    above, below = 1 / _f_quantile(n - 1, freedom, level), 1 / _f_quantile(freedom, n - 1, level)
    others = k * ms.scout + (k * n - k - n) * error
    low = n * (above * ms.between - error) / (others + n * above * ms.between)
    high = n * (ms.between - below * error) / (below * others + n * ms.between)
    return estimate, low, high


def _of_mean(single: FloatArray, scouts: int) -> FloatArray:
    """Spearman-Brown: of the mean of all scouts."""
    return np.asarray(scouts * single / (1 + (scouts - 1) * single))
