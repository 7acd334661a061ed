"""How far two scouts are apart: limits of agreement, repeatability, and each scout's offset."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import (
    FloatArray,
    TextArray,
    as_floats,
    first_reason,
    require_not_negative,
)

#: normal quantile of 95 %; [BlandAltman1986]_ prints limits of 2
MULTIPLE = 1.96


@dataclass(frozen=True, eq=False)
class LimitsOfAgreement:
    """Between which differences 95 % of pairs lie; the units' axis is gone."""

    bias: FloatArray  #: mean difference, second less first
    deviation: FloatArray  #: standard deviation of the differences
    low: FloatArray
    high: FloatArray
    bias_se: FloatArray
    limit_se: FloatArray  #: of either limit
    units: FloatArray  #: that both looked at
    reason: TextArray


@dataclass(frozen=True, eq=False)
class RatioLimits:
    """The same on the log scale: second divided by first, both with one individual more."""

    ratio: FloatArray
    low: FloatArray
    high: FloatArray
    units: FloatArray
    reason: TextArray


@dataclass(frozen=True, eq=False)
class ScoutOffsets:
    """How much each scout counts more or less than the mean of all, shape (scouts,)."""

    offset: FloatArray  #: of ln(count + 1)
    standard_error: FloatArray
    looked: FloatArray  #: units that each looked at
    reason: TextArray


def limits_of_agreement(
    first: ArrayLike, second: ArrayLike, *, multiple: float = MULTIPLE
) -> LimitsOfAgreement:
    """Bias and limits of agreement of two scouts ([BlandAltman1986]_).

    Parameters
    ----------
    first, second : counts of the same units, units on the last axis; NaN where a scout did not
        look, which leaves out the unit. Differences of counts grow with the counts: use
        :func:`ratio_limits` unless counts are all of a size.
    multiple : standard deviations from bias to limit.

    Returns
    -------
    LimitsOfAgreement : "too_few" under two units: the bias of one stands, without limits.
        Standard errors are those of the paper, ``s/sqrt(n)`` and ``sqrt(3) s/sqrt(n)``.

    Raises
    ------
    ValueError : shapes that do not broadcast.

    Examples
    --------
    >>> found = limits_of_agreement([4, 7, 12, 3], [5, 7, 15, 2])
    >>> float(found.bias), float(found.low.round(2)), float(found.high.round(2))
    (0.75, -2.6, 4.1)
    """
    a, b = as_floats(first=first, second=second)
    difference = b - a
    there = ~np.isnan(difference)
    n = there.sum(axis=-1).astype(np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        bias = np.where(there, difference, 0).sum(axis=-1) / n
        rest = np.where(there, difference - bias[..., np.newaxis], 0)
        deviation = np.sqrt((rest**2).sum(axis=-1) / (n - 1))
        error = deviation / np.sqrt(n)
    reason = first_reason(n.shape, ("too_few", n < 2))
    half = np.where(reason == "", multiple * deviation, np.nan)
    return LimitsOfAgreement(
        bias, deviation, bias - half, bias + half, error, np.sqrt(3) * error, n, reason
    )


def ratio_limits(first: ArrayLike, second: ArrayLike, *, multiple: float = MULTIPLE) -> RatioLimits:
    """Limits of agreement as ratios, from differences of ln(count + 1) ([BlandAltman1986]_).

    Parameters, errors and absences as :func:`limits_of_agreement`; counts are not negative. With
    small counts the one individual more draws the ratio towards 1.

    Examples
    --------
    >>> found = ratio_limits([4, 7, 12, 3], [9, 15, 25, 7])
    >>> float(found.ratio.round(4))
    2.0
    """
    a, b = as_floats(first=first, second=second)
    require_not_negative("first", a)
    require_not_negative("second", b)
    found = limits_of_agreement(np.log1p(a), np.log1p(b), multiple=multiple)
    return RatioLimits(
        np.exp(found.bias), np.exp(found.low), np.exp(found.high), found.units, found.reason
    )


def repeatability(first: ArrayLike, second: ArrayLike, *, multiple: float = MULTIPLE) -> FloatArray:
    """Difference that two counts of one scout exceed in 5 % of units ([BlandAltman1986]_).

    ``multiple sqrt(mean of squared differences)``: the mean difference of one scout is taken as 0.
    Units on the last axis; NaN leaves out a unit, and gives NaN where none is left.
    """
    a, b = as_floats(first=first, second=second)
    squares = (b - a) ** 2
    there = ~np.isnan(squares)
    with np.errstate(invalid="ignore"):
        mean = np.where(there, squares, 0).sum(axis=-1) / there.sum(axis=-1)
    return np.asarray(multiple * np.sqrt(mean))


def scout_offsets(counts: ArrayLike) -> ScoutOffsets:
    """Offset of each scout from the mean of all, by least squares over shared units.

    ``ln(count + 1) = unit + scout``, scouts adding up to 0; scouts need not all look at all units.

    Parameters
    ----------
    counts : shape (units, scouts); NaN where a scout did not look. [individuals]

    Returns
    -------
    ScoutOffsets : "not_looked" for a scout without a unit; "not_connected" for all where scouts
        fall into groups that share no unit: their offsets cannot be compared. "no_rest" has offsets
        without standard errors: as many unknowns as counts.

    Raises
    ------
    ValueError : negative counts, another shape.

    Examples
    --------
    >>> found = scout_offsets([[4, 9], [7, 15], [12, 25], [3, 7]])
    >>> found.offset.round(3)  # the second counts twice as many
    array([-0.347,  0.347])
    """
    x = np.asarray(counts, np.float64)
    if x.ndim != 2:
        raise ValueError(
            f"got counts of shape {x.shape}; expected (units, scouts); give a row for each unit"
        )
    require_not_negative("counts", x)
    unit, scout = np.nonzero(~np.isnan(x))
    looked = (~np.isnan(x)).sum(axis=0).astype(np.float64)
    present = looked > 0
    nothing = np.full(x.shape[1], np.nan)
    if not _connected(~np.isnan(x[:, present])):
        reason = np.where(present, "not_connected", "not_looked").astype("<U20")
        return ScoutOffsets(nothing, nothing, looked, reason)
    offset, error = _least_squares(np.log1p(x[unit, scout]), unit, np.cumsum(present)[scout] - 1)
    offsets, errors = nothing.copy(), nothing.copy()
    offsets[present], errors[present] = offset, error
    no_rest = bool(np.isnan(error).any())
    reason = first_reason(
        looked.shape, ("not_looked", ~present), ("no_rest", np.full(looked.shape, no_rest))
    )
    return ScoutOffsets(offsets, errors, looked, reason)


def _connected(there: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> bool:
    """Whether every scout is reached from the first over shared units."""
    if not there.shape[1]:
        return True
    shared = there.T.astype(int) @ there.astype(int) > 0
    reached = np.zeros(there.shape[1], dtype=np.bool_)
    reached[0] = True
    for _ in range(there.shape[1]):
        reached = reached | (shared & reached).any(axis=1)
    return bool(reached.all())


def _least_squares(
    y: FloatArray,
    unit: np.ndarray[tuple[int, ...], np.dtype[np.intp]],
    scout: np.ndarray[tuple[int, ...], np.dtype[np.intp]],
) -> tuple[FloatArray, FloatArray]:
    """Offsets that add up to 0, after the means of units are taken out, and their errors."""
    scouts = int(scout.max(initial=-1)) + 1
    units, unit = np.unique(unit, return_inverse=True)
    one = np.zeros((y.size, scouts))
    one[np.arange(y.size), scout] = 1
    number = np.bincount(unit, minlength=units.size)

    def without_unit_means(columns: FloatArray) -> FloatArray:
        sums = np.zeros((units.size, columns.shape[1]))
        np.add.at(sums, unit, columns)
        return np.asarray(columns - (sums / number[:, np.newaxis])[unit])

    design, rest = without_unit_means(one), without_unit_means(y[:, np.newaxis])[:, 0]
    inverse = np.linalg.pinv(design.T @ design)
    offset = inverse @ design.T @ rest
    freedom = y.size - units.size - (scouts - 1)
    left = ((rest - design @ offset) ** 2).sum()
    variance = left / freedom if freedom > 0 else np.nan
    return np.asarray(offset), np.asarray(np.sqrt(variance * np.diag(inverse)))
