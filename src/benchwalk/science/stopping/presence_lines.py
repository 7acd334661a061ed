"""Empirical lines between the share of units infested and the mean, with their full variance."""

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
    require_positive,
    require_probability,
)
from benchwalk.science.dispersion.fitting import Line, least_squares
from benchwalk.science.precision import Precision, SampleSize
from benchwalk.science.precision.asked import require_named
from benchwalk.science.stopping.presence import check_share

_WHOLE = 1e-9


@dataclass(frozen=True, eq=False)
class PresenceLine:
    """``ln mean = alpha + beta ln(-ln(1 - share))``, and what its prediction variance needs."""

    alpha: FloatArray
    beta: FloatArray
    residual: FloatArray  #: mean square about the line
    rounds: FloatArray  #: rounds it was fitted to
    centre: FloatArray  #: mean of ln(-ln(1 - share)) over them
    beta_variance: FloatArray  #: squared standard error of beta
    reason: TextArray

    @classmethod
    def printed(
        cls,
        alpha: ArrayLike,
        beta: ArrayLike,
        *,
        residual: ArrayLike,
        rounds: ArrayLike,
        centre: ArrayLike,
        beta_variance: ArrayLike,
    ) -> PresenceLine:
        """A line from a publication, with the five figures that make its variance.

        Raises
        ------
        ValueError : a negative residual or variance, no rounds.
        """
        first, slope, mse, n, middle, spread = as_floats(
            alpha=alpha, beta=beta, residual=residual, rounds=rounds,
            centre=centre, beta_variance=beta_variance,
        )  # fmt: skip
        require_not_negative("residual", mse)
        require_positive("rounds", n)
        require_not_negative("beta_variance", spread)
        absent = np.asarray(np.isnan(first + slope + mse + n + middle + spread))
        reason = first_reason(first.shape, ("no_law", absent))
        return cls(first, slope, mse, n, middle, spread, reason)


@dataclass(frozen=True, eq=False)
class ShareLine:
    """``ln(-ln(1 - share)) = start + slope ln mean``: the share is what is predicted."""

    start: FloatArray
    slope: FloatArray
    residual: FloatArray
    rounds: FloatArray
    reason: TextArray


@dataclass(frozen=True, eq=False)
class LogMeanVariance:
    """Variance of the ln mean predicted from a share, in its parts."""

    sampling: FloatArray  #: of the share, among the units inspected
    line: FloatArray  #: of alpha and beta
    residual: FloatArray  #: of the rounds about the line
    within: FloatArray  #: sampling error of the means the line was fitted to, taken off again
    total: FloatArray  #: sampling + line + max(residual - within, 0)


@dataclass(frozen=True, eq=False)
class PredictedMean:
    """Mean per sample unit predicted from the share of units infested."""

    mean: FloatArray  #: [individuals/sample unit]
    low: FloatArray
    high: FloatArray
    variance: LogMeanVariance  #: of ln mean; its root is the standard error over the mean, about
    reason: TextArray


def kono_sugino_line(mean: ArrayLike, share: ArrayLike) -> PresenceLine:
    """Least-squares line of ln mean on ln(-ln(1 - share)) ([KonoSugino1958]_).

    For predicting a mean from a share. It is not the inverse of :func:`share_line`, which predicts
    the share.

    Parameters
    ----------
    mean, share : of each round, rounds on the last axis; rounds with a mean of 0 or a share of 0 or
        1 have no logarithm and are left out, as are absent ones (NaN).

    Returns
    -------
    PresenceLine : NaN with "too_few_rounds" (under three) or "one_density".

    Raises
    ------
    ValueError : a negative mean, a share outside [0, 1].

    Examples
    --------
    >>> line = kono_sugino_line([0.25, 0.4, 1.6, 4.4], [0.14, 0.2, 0.5, 0.8])
    >>> float(line.alpha.round(2)), float(line.beta.round(2))
    (0.91, 1.21)
    """
    x, y, used = _cloglog_and_log(mean, share)
    line = least_squares(x, y, used)
    return PresenceLine(
        line.intercept,
        line.slope,
        line.residual,
        line.points,
        line.centre,
        np.asarray(line.se_slope**2),
        line.reason,
    )


def share_line(mean: ArrayLike, share: ArrayLike) -> ShareLine:
    """Least-squares line of ln(-ln(1 - share)) on ln mean ([Nachman1984]_).

    For predicting a share from a mean, as when a threshold is turned into a share.

    Parameters
    ----------
    mean, share : as in :func:`kono_sugino_line`.

    Raises
    ------
    ValueError : as :func:`kono_sugino_line`.
    """
    x, y, used = _cloglog_and_log(mean, share)
    line: Line = least_squares(y, x, used)
    return ShareLine(line.intercept, line.slope, line.residual, line.points, line.reason)


def _cloglog_and_log(mean: ArrayLike, share: ArrayLike) -> tuple[FloatArray, FloatArray, BoolArray]:
    m, p = as_floats(mean=mean, share=share)
    require_not_negative("mean", m)
    check_share(p)
    m, p = np.atleast_1d(m), np.atleast_1d(p)
    used = np.asarray((m > 0) & (p > 0) & (p < 1))
    return _cloglog(np.where(used, p, 0.5)), np.log(np.where(used, m, 1.0)), used


def _cloglog(p: FloatArray) -> FloatArray:
    return np.asarray(np.log(-np.log1p(-p)))


def share_at_mean(mean: ArrayLike, line: ShareLine) -> FloatArray:
    """Share of units infested at a mean, by a line of :func:`share_line`; 0 at 0, NaN passes.

    Raises
    ------
    ValueError : a negative mean.
    """
    m, start, slope = as_floats(mean=mean, start=line.start, slope=line.slope)
    require_not_negative("mean", m)
    with np.errstate(divide="ignore"):
        return np.asarray(-np.expm1(-np.exp(start + slope * np.log(m))))


def predicted_mean(
    infested: ArrayLike,
    inspected: ArrayLike,
    line: PresenceLine,
    taylor: tuple[ArrayLike, ArrayLike],
    *,
    level: ArrayLike,
) -> PredictedMean:
    """Mean from the units infested, by a line of Kono and Sugino, with its full variance.

    With x = ln(-ln(1 - share)), n units inspected and a, b of Taylor's law ([Schaalje1991]_)::

        sampling = beta**2 share / (n (1 - share) ln(1 - share)**2)
        line     = residual / rounds + (x - centre)**2 beta_variance
        within   = exp(ln a + (b - 2) (alpha + beta x)) / n

    Formulas that leave out the residual give intervals far too short ([BinnsBostanian1990]_).

    Parameters
    ----------
    infested, inspected : units with more than the tally of the line, of those looked at.
    line : from :func:`kono_sugino_line` or :meth:`PresenceLine.printed`.
    taylor : a and b of the counts; NaN gives "no_law".
    level : confidence of the limits, normal on the scale of ln mean, in (0, 1).

    Returns
    -------
    PredictedMean : NaN with "no_effort", "not_counted", "no_law", "none_infested", "all_infested".
        None and all infested have no mean by a line; :func:`mean_from_infested` gives a bound.

    Raises
    ------
    ValueError : negative numbers, more infested than inspected, a or b of 0 or less, level outside
        (0, 1).

    Examples
    --------
    >>> line = PresenceLine.printed(
    ...     0.9, 1.2, residual=0.08, rounds=40, centre=-0.4, beta_variance=0.0025
    ... )
    >>> found = predicted_mean(25, 50, line, (2.586, 1.511), level=0.9)
    >>> float(found.mean.round(3)), float(found.variance.total.round(4))
    (1.584, 0.1006)
    """
    x, n, a, b, confidence = as_floats(
        infested=infested, inspected=inspected, a=taylor[0], b=taylor[1], level=level
    )
    _check_infested(x, n, a, b, confidence)
    reason = first_reason(
        np.broadcast_shapes(x.shape, line.reason.shape),
        ("no_effort", np.isnan(n) | (n == 0)),
        ("not_counted", np.isnan(x)),
        ("no_law", (line.reason != "") | np.isnan(a) | np.isnan(b)),
        ("none_infested", x == 0),
        ("all_infested", x == n),
    )
    answered = reason == ""
    n = np.where(answered, n, np.nan)
    share = np.asarray(x / n)
    ln_mean = line.alpha + line.beta * _cloglog(share)
    variance = _PerUnit.of(share, line, a, b).at(n)
    half = special.ndtri((1 + confidence) / 2) * np.sqrt(variance.total)
    mean, low, high = (np.asarray(np.exp(ln_mean + shift)) for shift in (0.0, -half, half))
    return PredictedMean(mean, low, high, variance, reason)


def _check_infested(
    x: FloatArray, n: FloatArray, a: FloatArray, b: FloatArray, level: FloatArray
) -> None:
    require_not_negative("infested", x)
    require_not_negative("inspected", n)
    require_at_most("infested", x, "inspected", n)
    require_positive("a", a)
    require_positive("b", b)
    require_probability("level", level)


@dataclass(frozen=True, eq=False)
class _PerUnit:
    """Parts of the variance of ln mean: those that one more unit lowers, and those that stay."""

    sampling: FloatArray
    within: FloatArray
    line: FloatArray
    residual: FloatArray

    @classmethod
    def of(cls, share: FloatArray, line: PresenceLine, a: FloatArray, b: FloatArray) -> _PerUnit:
        x = _cloglog(share)
        sampling = line.beta**2 * share / ((1 - share) * np.log1p(-share) ** 2)
        within = np.exp(np.log(a) + (b - 2) * (line.alpha + line.beta * x))
        fitted = line.residual / line.rounds + (x - line.centre) ** 2 * line.beta_variance
        residual = line.residual + 0 * x  # absent where the share is
        return cls(*map(np.asarray, (sampling, within, fitted, residual)))

    def at(self, n: FloatArray) -> LogMeanVariance:
        sampling, within = np.asarray(self.sampling / n), np.asarray(self.within / n)
        total = sampling + self.line + np.maximum(self.residual - within, 0)
        return LogMeanVariance(sampling, self.line, self.residual, within, np.asarray(total))


def units_for_presence(
    share: ArrayLike,
    line: PresenceLine,
    taylor: tuple[ArrayLike, ArrayLike],
    precision: Precision,
) -> SampleSize:
    """Units to inspect so that the predicted mean has the precision asked for ([Schaalje1991]_).

    The variance of :func:`predicted_mean` solved for n. More units lower two of its parts only, so
    there is a precision that no number of them reaches.

    Parameters
    ----------
    share : share of units infested that is expected, in [0, 1].
    line, taylor : as in :func:`predicted_mean`.
    precision : :func:`benchwalk.science.precision.standard_error` or ``half_width``.

    Returns
    -------
    SampleSize : NaN with "no_mean", "none_infested", "all_infested", "no_law" or "cannot_reach".

    Raises
    ------
    ValueError : a share outside [0, 1], a or b of 0 or less.
    TypeError : a bare number as precision.
    """
    require_named(precision)
    p, a, b, se, _ = as_floats(
        share=share, a=taylor[0], b=taylor[1], precision=precision.standard_error, line=line.alpha
    )
    check_share(p)
    require_positive("a", a)
    require_positive("b", b)
    reason = first_reason(
        p.shape,
        ("no_mean", np.isnan(p)),
        ("none_infested", p == 0),
        ("all_infested", p == 1),
        ("no_law", (line.reason != "") | np.isnan(a) | np.isnan(b)),
    )
    parts = _PerUnit.of(np.where(reason == "", p, np.nan), line, a, b)
    n = _fewest_units(parts, se**2)
    short = ~(parts.at(n).total <= se**2 * (1 + _WHOLE))
    reason = np.where((reason == "") & short, "cannot_reach", reason)
    exact = np.where(reason == "", n, np.nan)
    return SampleSize(exact, np.asarray(np.ceil(exact * (1 - _WHOLE))), reason)


def _fewest_units(parts: _PerUnit, variance: FloatArray) -> FloatArray:
    """Fewest n for which both forms of the variance, with and without ``within``, are low enough.

    A form that no n brings there is left to be found out by the caller.
    """
    left, rest = variance - parts.line, variance - parts.line - parts.residual
    net = parts.sampling - parts.within
    with np.errstate(divide="ignore", invalid="ignore"):
        without = np.where(left > 0, parts.sampling / left, 1.0)
        taken_off = np.where((rest > 0) & (net > 0), net / rest, 0.0)
    return np.asarray(np.maximum(without, taken_off))
