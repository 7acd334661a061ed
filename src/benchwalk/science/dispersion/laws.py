"""How the variance of counts grows with their mean: three laws, and two fitted to rounds.

No law is shipped for any pest. Published a and b differ between crops, sample units and seasons,
and ``a`` is printed as a, ln a or log10 a: give one with its source, or fit it to own rounds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import (
    BoolArray,
    FloatArray,
    TextArray,
    as_floats,
    first_reason,
    require_not_negative,
    require_positive,
)
from benchwalk.science.dispersion.fitting import SAME, least_squares, mean_used

#: rounds of an operation before it has a law of its own. Own choice, no source.
ROUNDS_FOR_A_LAW = 20
# largest mean over least, before an operation has a law. Own choice, no source.
_SPREAD_OF_MEANS = 4.0


@dataclass(frozen=True, eq=False)
class TaylorLaw:
    """``variance = a * mean**b``, a least-squares line of ln variance on ln mean."""

    a: FloatArray
    ln_a: FloatArray
    b: FloatArray
    se_ln_a: FloatArray
    se_b: FloatArray
    r_squared: FloatArray  #: NaN where there is no spread to explain
    rounds: FloatArray  #: rounds used: mean and variance above 0
    reason: TextArray


@dataclass(frozen=True, eq=False)
class IwaoLaw:
    """``mean crowding = alpha + beta * mean``, a least-squares line."""

    alpha: FloatArray
    beta: FloatArray
    se_alpha: FloatArray
    se_beta: FloatArray
    r_squared: FloatArray  #: NaN where there is no spread to explain
    rounds: FloatArray  #: rounds used: mean above 0
    reason: TextArray


@dataclass(frozen=True, eq=False)
class LearnedTaylorLaw:
    """Taylor's law of each series, between what its rounds say and the law of the operation."""

    a: FloatArray
    b: FloatArray
    weight: FloatArray  #: share of b that comes from the series itself, 0 = operation only
    rounds: FloatArray  #: rounds of the series used
    operation_a: FloatArray
    operation_b: FloatArray
    reason: TextArray


def negative_binomial_variance(mean: ArrayLike, k: ArrayLike) -> FloatArray:
    """``mean + mean**2 / k``; k infinite is the Poisson. NaN passes, a mean of 0 gives 0.

    Raises
    ------
    ValueError : a negative mean, k of 0 or less.

    Examples
    --------
    >>> negative_binomial_variance(2.0, [0.5, float("inf")])
    array([10.,  2.])
    """
    m, spread = as_floats(mean=mean, k=k)
    require_not_negative("mean", m)
    require_positive("k", spread)
    return np.asarray(m + m**2 / spread)


def taylor_variance(mean: ArrayLike, a: ArrayLike, b: ArrayLike) -> FloatArray:
    """``a * mean**b`` ([Taylor1961]_). NaN passes; a mean of 0 gives 0.

    Parameters
    ----------
    mean : [individuals/sample unit]
    a : itself, not its logarithm, see :func:`taylor_a`.
    b : above 0.

    Raises
    ------
    ValueError : a negative mean, a or b of 0 or less.

    Examples
    --------
    >>> float(taylor_variance(5, 3.917, 1.538).round(2))
    46.56
    """
    m, scale, power = as_floats(mean=mean, a=a, b=b)
    require_not_negative("mean", m)
    require_positive("a", scale)
    require_positive("b", power)
    return np.asarray(scale * m**power)


def iwao_variance(mean: ArrayLike, alpha: ArrayLike, beta: ArrayLike) -> FloatArray:
    """Variance that a line of mean crowding implies: ``(alpha + 1) m + (beta - 1) m**2``.

    From ``m + variance/m - 1 = alpha + beta m`` ([Iwao1968]_). NaN passes; a mean of 0 gives 0. A
    line fitted elsewhere can imply a variance below 0, which is returned as it is.

    Raises
    ------
    ValueError : a negative mean.

    Examples
    --------
    >>> float(iwao_variance(2.0, 0.5, 1.3).round(6))
    4.2
    """
    m, start, slope = as_floats(mean=mean, alpha=alpha, beta=beta)
    require_not_negative("mean", m)
    return np.asarray((start + 1) * m + (slope - 1) * m**2)


def taylor_a(printed: ArrayLike, base: Literal["ln", "log10"]) -> FloatArray:
    """The a of Taylor's law from its printed logarithm; b needs no such step.

    Raises
    ------
    ValueError : a base other than "ln" and "log10".

    Examples
    --------
    >>> float(taylor_a(1.81, "ln").round(2)), float(taylor_a(0.786, "log10").round(2))
    (6.11, 6.11)
    """
    if base not in ("ln", "log10"):
        raise ValueError(
            f"got base {base!r}; expected 'ln' or 'log10'; see in the source which one it prints"
        )
    exponent = np.asarray(printed, dtype=np.float64)
    return np.asarray(np.exp(exponent) if base == "ln" else 10.0**exponent)


def taylor_law(mean: ArrayLike, variance: ArrayLike) -> TaylorLaw:
    """Least-squares line of ln variance on ln mean over rounds ([Taylor1961]_).

    Rounds with a mean or a variance of 0 have no logarithm and are left out, which pulls the line
    up at low means.

    Parameters
    ----------
    mean, variance : of the counts of each round (variance with n - 1), rounds on the last axis;
        NaN for a round that is absent.

    Returns
    -------
    TaylorLaw : NaN with "too_few_rounds" (under three) or "one_density" (all means the same).

    Raises
    ------
    ValueError : a negative mean or variance.

    Examples
    --------
    >>> law = taylor_law([1, 2, 4, 8], [2, 6, 18, 54])  # three times the variance at twice the mean
    >>> float(law.a.round(3)), float(law.b.round(3)), float(law.rounds)
    (2.0, 1.585, 4.0)
    """
    m, v = _moments(mean, variance)
    x, y, used = _logs(m, v)
    line = least_squares(x, y, used)
    return TaylorLaw(
        np.asarray(np.exp(line.intercept)),
        line.intercept,
        line.slope,
        line.se_intercept,
        line.se_slope,
        line.r_squared,
        line.points,
        line.reason,
    )


def iwao_law(mean: ArrayLike, variance: ArrayLike) -> IwaoLaw:
    """Least-squares line of mean crowding ``m + variance/m - 1`` on the mean ([Iwao1968]_).

    Parameters
    ----------
    mean, variance : as in :func:`taylor_law`; rounds with a mean of 0 are left out.

    Returns
    -------
    IwaoLaw : NaN with "too_few_rounds" (under three) or "one_density" (all means the same).

    Raises
    ------
    ValueError : a negative mean or variance.

    Examples
    --------
    >>> law = iwao_law([1, 2, 4], [2, 5, 14])  # (0.5 + 1) m + (1.5 - 1) m**2
    >>> float(law.alpha.round(2)), float(law.beta.round(2))
    (0.5, 1.5)
    """
    m, v = _moments(mean, variance)
    used = np.asarray((m > 0) & np.isfinite(v))
    with np.errstate(divide="ignore", invalid="ignore"):
        crowding = np.where(used, m + v / m - 1, 0.0)
    line = least_squares(np.where(used, m, 0.0), crowding, used)
    return IwaoLaw(
        line.intercept,
        line.slope,
        line.se_intercept,
        line.se_slope,
        line.r_squared,
        line.points,
        line.reason,
    )


def taylor_from_rounds(mean: ArrayLike, variance: ArrayLike) -> LearnedTaylorLaw:
    """Taylor's law of each series of an operation, shrunk towards the law of all of them.

    A line is fitted to each series with two rounds or more; all lines have one residual variance.
    Slopes, and heights of the lines at the mean ln mean of the operation, are each averaged with
    weights ``1 / (variance + between)`` where ``between`` is the variance between series by moments
    ([DerSimonianLaird1986]_); a series keeps ``between / (between + variance)`` of its own.

    Parameters
    ----------
    mean, variance : of the counts of each round (variance with n - 1), series (one pest, stage,
        method and unit) on the last axis but one, rounds on the last; NaN for a round that is
        absent.

    Returns
    -------
    LearnedTaylorLaw : one value for each series. A series without two rounds gets the law of the
        operation with weight 0. Everything is NaN where the operation has fewer than
        ROUNDS_FOR_A_LAW rounds ("too_few_rounds"), or its largest mean is less than four times its
        least ("one_density"): no a and b are made up.

    Raises
    ------
    ValueError : a negative mean or variance, fewer than two axes.
    """
    m, v = _moments(mean, variance)
    if m.ndim < 2:
        raise ValueError(
            f"got means of shape {m.shape}; expected series and rounds on the last two axes; "
            "use taylor_law for one series"
        )
    x, y, used = _logs(m, v)
    centre = mean_used(x, used, axis=(-1, -2))
    own = _own_lines(x - centre[..., None, None], y, used)
    b, weight, common_b = _shrunk(own.slope, own.var_slope)
    height, _, common_height = _shrunk(own.height, own.var_height)
    reason = first_reason(
        centre.shape,
        ("too_few_rounds", (used.sum(axis=(-1, -2)) < ROUNDS_FOR_A_LAW) | (own.spare < 1)),
        ("one_density", _range(x, used) < np.log(_SPREAD_OF_MEANS)),
    )
    columns = (
        np.exp(height - b * centre[..., None]),
        b,
        weight,
        own.rounds,
        np.exp(common_height - common_b * centre),
        common_b,
    )
    answered = reason == ""
    masks = [np.expand_dims(answered, -1)] * 4 + [answered] * 2
    a, b, weight, rounds, operation_a, operation_b = (
        np.where(mask, column, np.nan) for mask, column in zip(masks, columns, strict=True)
    )
    return LearnedTaylorLaw(a, b, weight, rounds, operation_a, operation_b, reason)


def _moments(mean: ArrayLike, variance: ArrayLike) -> list[FloatArray]:
    m, v = as_floats(mean=mean, variance=variance)
    require_not_negative("mean", m)
    require_not_negative("variance", v)
    return [np.atleast_1d(m), np.atleast_1d(v)]


def _logs(m: FloatArray, v: FloatArray) -> tuple[FloatArray, FloatArray, BoolArray]:
    used = np.asarray((m > 0) & (v > 0))
    return np.log(np.where(used, m, 1.0)), np.log(np.where(used, v, 1.0)), used


def _range(x: FloatArray, used: BoolArray) -> FloatArray:
    axis = (-1, -2)
    most, least = (
        np.where(used, x, -np.inf).max(axis=axis),
        np.where(used, x, np.inf).min(axis=axis),
    )
    return np.asarray(most - least)


@dataclass(frozen=True, eq=False)
class _OwnLines:
    slope: FloatArray
    height: FloatArray  #: at x = 0, which is the centre of the operation
    var_slope: FloatArray  #: infinite where the series has no line
    var_height: FloatArray
    rounds: FloatArray
    spare: FloatArray  #: degrees of freedom of the common residual


def _own_lines(x: FloatArray, y: FloatArray, used: BoolArray) -> _OwnLines:
    rounds = used.sum(axis=-1).astype(float)
    mean_x, mean_y = mean_used(x, used, -1), mean_used(y, used, -1)
    dx = np.where(used, x - mean_x[..., None], 0.0)
    dy = np.where(used, y - mean_y[..., None], 0.0)
    sxx = np.sum(dx**2, axis=-1)
    has_line = (rounds >= 2) & (sxx > SAME)
    sxx = np.where(has_line, sxx, 1.0)
    slope = np.where(has_line, np.sum(dx * dy, axis=-1) / sxx, 0.0)
    left = np.where(has_line, np.sum((dy - slope[..., None] * dx) ** 2, axis=-1), 0.0)
    spare = np.where(has_line, rounds - 2, 0).sum(axis=-1)
    # rounds that lie on lines exactly would have weights that are infinite
    residual = np.maximum(left.sum(axis=-1) / np.maximum(spare, 1), SAME)[..., None]
    var_slope = np.where(has_line, residual / sxx, np.inf)
    per_round = 1 / np.maximum(rounds, 1)
    var_height = np.where(has_line, residual * (per_round + mean_x**2 / sxx), np.inf)
    return _OwnLines(slope, mean_y - slope * mean_x, var_slope, var_height, rounds, spare)


def _shrunk(own: FloatArray, variance: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Each value between itself and their average, the weight of itself, and the average."""
    with np.errstate(divide="ignore", invalid="ignore"):
        w = np.where(np.isinf(variance), 0.0, 1 / variance)
        total = w.sum(axis=-1)
        first = (w * own).sum(axis=-1) / total
        q = (w * (own - first[..., None]) ** 2).sum(axis=-1)
        scale = total - (w**2).sum(axis=-1) / total
        between = np.maximum((q - ((w > 0).sum(axis=-1) - 1)) / scale, 0)
    between = np.where(np.isfinite(between), between, 0.0)[..., None]
    with np.errstate(divide="ignore", invalid="ignore"):
        again = np.where(np.isinf(variance), 0.0, 1 / (variance + between))
        average = (again * own).sum(axis=-1) / again.sum(axis=-1)
    weight = np.where(np.isinf(variance), 0.0, between / (between + variance))
    return weight * own + (1 - weight) * average[..., None], weight, average
