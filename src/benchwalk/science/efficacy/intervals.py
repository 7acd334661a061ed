"""Percent control with its interval, from the totals of independent samples.

Percent control is ``100 (1 - exp(psi))``, where psi is a contrast of ln means: the log of the ratio
of ratios ``(Ta/Tb) / (Ca/Cb)``, or of ``Ta/Ca`` without a count before. Totals are negative
binomial with a known k, as in :mod:`benchwalk.science.density`. Three intervals of psi:

``recovered``
    The limits of the means, each at least as sure as asked, combined on the log scale
    ([ZouDonner2008]_), as in a ratio of two rounds. The default: its coverage is the only one of
    the three that holds where few or none are left, which is where a treatment is judged.
``profile``
    All psi whose likelihood is not too small, see :mod:`benchwalk.science.efficacy.likelihood`.
``log``
    psi plus and minus the normal quantile times ``sqrt(sum (1/mean + 1/k) / n)``, the interaction
    of a log-link model of treatment and time. It has no answer where a total is 0; where none were
    left on the treated, the limit by profile stands for it.

Where none were left on the treated the estimate is 100 %, at the edge of what is possible, and only
a lower limit exists: ``sides`` is 1, and the limit is as sure as one of a pair, (1 + level)/2.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from benchwalk.science.arguments import (
    BoolArray,
    FloatArray,
    TextArray,
    as_floats,
    first_reason,
    require_probability,
)
from benchwalk.science.density.means import DENSITY_LEVEL, mean_and_reason
from benchwalk.science.density.recovery import intervals_of, log_distances, weighted_sum
from benchwalk.science.efficacy.likelihood import profile_limits

Interval = Literal["recovered", "profile", "log"]
INTERVALS = ("recovered", "profile", "log")
#: level of every efficacy interval that is printed
EFFICACY_LEVEL = DENSITY_LEVEL


@dataclass(frozen=True, eq=False)
class Counts:
    """What one cell of a comparison is: live pests on some sample units."""

    total: ArrayLike  #: NaN where no number was written [individuals]
    n: ArrayLike  #: 0 or NaN where nothing was looked at [sample units]


@dataclass(frozen=True, eq=False)
class Efficacy:
    """Percent control with its confidence limits; arrays of one shape."""

    percent: FloatArray  #: negative where more were left than without the treatment [%]
    low: FloatArray
    high: FloatArray
    sides: FloatArray  #: of the interval: 2, or 1 where only a lower limit exists; 0 without one
    reason: TextArray


def abbott_interval(
    untreated_after: Counts,
    treated_after: Counts,
    k: ArrayLike,
    *,
    level: ArrayLike = EFFICACY_LEVEL,
    interval: Interval = "recovered",
) -> Efficacy:
    """Percent control of units that began alike ([Abbott1925]_), with its interval.

    Parameters
    ----------
    untreated_after, treated_after : totals and sample units, broadcast against each other.
    k : of the negative binomial between sample units; infinity for the Poisson.
    level : confidence of the interval, in (0, 1).
    interval : "recovered", "profile" or "log", see :mod:`benchwalk.science.efficacy.intervals`.

    Returns
    -------
    Efficacy : "none_after" is an answer of 100 % with a one-sided lower limit. "none_untreated",
        "no_effort" and "not_counted" have no number; "no_k", "k_too_small" and "not_whole" no
        interval.

    Raises
    ------
    ValueError : negative totals or n, k of 0 or less, level outside (0, 1), an unknown interval.

    Examples
    --------
    >>> found = abbott_interval(Counts(100, 20), Counts([20, 0], 20), k=2)
    >>> found.percent, found.low.round(1), found.high.round(1), found.sides
    (array([ 80., 100.]), array([65. , 97.2]), array([ 88.7, 100. ]), array([2., 1.]))
    """
    return _contrast((treated_after, untreated_after), (1, -1), k, level, interval)


def henderson_tilton_interval(
    untreated_before: Counts,
    untreated_after: Counts,
    treated_before: Counts,
    treated_after: Counts,
    k: ArrayLike,
    *,
    level: ArrayLike = EFFICACY_LEVEL,
    interval: Interval = "recovered",
) -> Efficacy:
    """Percent control of units that began unlike ([HendersonTilton1955]_), with its interval.

    The four samples are independent: other plants before than after. For the same marked plants use
    :func:`benchwalk.science.efficacy.paired_control`.

    Parameters
    ----------
    untreated_before, untreated_after, treated_before, treated_after : totals and sample units.
    k, level, interval : as :func:`abbott_interval`.

    Returns
    -------
    Efficacy : as :func:`abbott_interval`; "none_before" and "untreated_from_none" have no number.

    Raises
    ------
    ValueError : as :func:`abbott_interval`.

    Examples
    --------
    >>> cells = [Counts(total, 20) for total in (40, 60, 50, 5)]
    >>> found = henderson_tilton_interval(*cells, k=2)
    >>> float(found.percent.round(2)), float(found.low.round(1)), float(found.high.round(1))
    (93.33, 81.8, 97.5)
    """
    cells = (treated_after, treated_before, untreated_after, untreated_before)
    return _contrast(cells, (1, -1, -1, 1), k, level, interval)


# of the cells in the order of the contrasts: treated after, ..., where 0 leaves no number
_NONE = {
    2: ("none_after", "none_untreated"),
    4: ("none_after", "none_before", "none_untreated", "untreated_from_none"),
}
_SIDES = {"": 2.0, "none_after": 1.0}


def _contrast(
    cells: tuple[Counts, ...],
    signs: tuple[int, ...],
    k: ArrayLike,
    level: ArrayLike,
    interval: Interval,
) -> Efficacy:
    if interval not in INTERVALS:
        raise ValueError(
            f"got interval {interval!r}; expected one of {', '.join(INTERVALS)}; choose one of them"
        )
    samples = [as_floats(total=c.total, n=c.n, k=k, level=level) for c in cells]
    require_probability("level", samples[0][3])
    # shapes of one cell that do not fit another's are refused before anything is solved
    as_floats(**{f"total and n {i}": sample[0] for i, sample in enumerate(samples)})
    cells_found = [mean_and_reason(total, n, spread) for total, n, spread, _ in samples]
    reason = _reason(cells_found)
    with np.errstate(divide="ignore", invalid="ignore"):
        logs = [np.log(mean) for mean, _ in cells_found]
    psi = np.asarray(sum(sign * log for sign, log in zip(signs, logs, strict=True)))
    if interval == "recovered":
        low, high = _recovered(samples, signs)
    else:
        low, high = _by_likelihood(samples, signs, psi, reason, interval)
    return _efficacy(psi, low, high, reason)


def _recovered(
    samples: list[list[FloatArray]], signs: tuple[int, ...]
) -> tuple[FloatArray, FloatArray]:
    found = intervals_of(samples, "blaker")
    parts = [log_distances(f, sample[1]) for f, sample in zip(found, samples, strict=True)]
    with np.errstate(invalid="ignore"):
        both = weighted_sum(parts, [float(sign) for sign in signs])
    return both.low, both.high


def _reason(found: list[tuple[FloatArray, TextArray]]) -> TextArray:
    shape = np.broadcast_shapes(*(reason.shape for _, reason in found))

    def anywhere(code: str) -> BoolArray:
        where = [np.broadcast_to(reason == code, shape) for _, reason in found]
        return np.asarray(np.any(where, axis=0))

    none_after, *undefined = (
        (code, mean == 0) for code, (mean, _) in zip(_NONE[len(found)], found, strict=True)
    )
    absent = [(code, anywhere(code)) for code in ("no_effort", "not_counted")]
    no_limits = [(code, anywhere(code)) for code in ("no_k", "k_too_small", "not_whole")]
    return first_reason(shape, *absent, *undefined, *no_limits, none_after)


def _by_likelihood(
    samples: list[list[FloatArray]],
    signs: tuple[int, ...],
    psi: FloatArray,
    reason: TextArray,
    interval: Interval,
) -> tuple[FloatArray, FloatArray]:
    total, n, k, level = (
        np.array([np.broadcast_to(sample[i], psi.shape) for sample in samples]) for i in range(4)
    )
    low, high = np.full(psi.shape, np.nan), np.full(psi.shape, np.nan)
    by_log = (reason == "") & (interval == "log")
    low[by_log], high[by_log] = _log_limits(
        psi[by_log], total[:, by_log], n[:, by_log], k[0][by_log], level[0][by_log]
    )
    rest = np.isin(reason, list(_SIDES)) & ~by_log
    low[rest], high[rest] = profile_limits(
        total[:, rest], n[:, rest], k[0][rest], np.array(signs, np.float64), level[0][rest]
    )
    return low, high


def _log_limits(
    psi: FloatArray, total: FloatArray, n: FloatArray, k: FloatArray, level: FloatArray
) -> tuple[FloatArray, FloatArray]:
    half = special.ndtri((1 + level) / 2) * np.sqrt((1 / total + 1 / (n * k)).sum(axis=0))
    return psi - half, psi + half


def _efficacy(psi: FloatArray, low: FloatArray, high: FloatArray, reason: TextArray) -> Efficacy:
    sides = np.select([reason == code for code in _SIDES], list(_SIDES.values()), 0.0)
    with_number = np.isin(reason, [*_SIDES, "no_k", "k_too_small", "not_whole"])
    # a limit may be beyond any number: there is none below
    with np.errstate(over="ignore", invalid="ignore"):
        percent, ends = -100 * np.expm1(psi), (-100 * np.expm1(high), -100 * np.expm1(low))
    return Efficacy(
        np.where(with_number, percent, np.nan),
        np.where(sides > 0, ends[0], np.nan),
        np.where(sides > 0, ends[1], np.nan),
        sides,
        reason,
    )
