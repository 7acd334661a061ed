"""How many pests there are: a mean per sample unit with its interval, a share, a rate, a change.

Counts of one round are taken as negative binomial with a k that is known or learned before
(:func:`benchwalk.science.dispersion.k_from_rounds`), so the total over n units is negative binomial
with mean ``n * mean`` and size ``n * k``. ``k = infinity`` is the Poisson.

Reason codes (empty where there is an answer)

``no_effort``
    Nothing was looked at: n, the exposure or the number inspected is 0 or absent. No mean.
``not_counted``
    Looked, and no number was written: the total is absent. An absent count is never 0.
``no_k``
    k is absent: the mean stands without its interval.
``k_too_small``
    ``n * k`` is under 0.1: so clumped a total bounds nothing. The mean stands without its interval.
``not_whole``
    The total is no whole number of individuals: the mean stands without its interval.
``capped``
    The total is "at least": the mean and the lower limit are lower bounds, there is no upper limit.
``none_before``
    Nothing was counted before, so a ratio has no upper limit.
``none_counted``
    Nothing was counted on either occasion: no ratio.
``no_days``, ``no_squares``
    A card's days of exposure, or the squares counted on it, are 0 or absent.
"""

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


@dataclass(frozen=True, eq=False)
class RatioInterval:
    """Mean now divided by mean before, with its confidence limits."""

    ratio: FloatArray
    low: FloatArray
    high: FloatArray
    reason: TextArray


@dataclass(frozen=True, eq=False)
class CardRate:
    """Catch of a card as if it were a full one, a day at a time."""

    per_card_day: FloatArray  #: [individuals/full card/day]
    card_days: FloatArray  #: the effort: days of a full card [card days]
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
    require_not_negative("total", t)
    require_not_negative("n", units)
    require_positive("k", spread)
    require_probability("level", confidence)
    reason = first_reason(
        t.shape,
        ("no_effort", _none(units)),
        ("not_counted", np.isnan(t)),
        ("no_k", np.isnan(spread)),
        ("k_too_small", units * spread < _SMALLEST_SIZE),
        ("not_whole", ~_is_whole(t)),
        ("capped", capped != 0),
    )
    low, high = np.full(t.shape, np.nan), np.full(t.shape, np.nan)
    solved = (reason == "") | (reason == "capped")
    low[solved], high[solved] = _mean_limits(
        np.rint(t[solved]), units[solved], spread[solved], confidence[solved], rule
    )
    high[reason == "capped"] = np.inf
    return MeanInterval(_over(t, units, reason), low, high, reason)


def _none(effort: FloatArray) -> BoolArray:
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
        x.shape, ("no_effort", _none(n)), ("not_counted", np.isnan(x)), ("not_whole", ~whole)
    )
    low, high = np.full(x.shape, np.nan), np.full(x.shape, np.nan)
    solved = reason == ""
    trials = np.rint(n[solved])
    odds = theta_limits(Binomial(trials), np.rint(x[solved]), confidence[solved], rule)
    low[solved], high[solved] = (1 - 1 / (1 + theta) for theta in odds)
    return ShareInterval(_over(x, n, reason), low, high, reason)


def ratio_interval(
    total_now: ArrayLike,
    n_now: ArrayLike,
    total_before: ArrayLike,
    n_before: ArrayLike,
    k: ArrayLike,
    *,
    level: ArrayLike = DENSITY_LEVEL,
    rule: Rule = "blaker",
) -> RatioInterval:
    """Mean now divided by mean before, from two independent samples with the same k.

    The limits of the two means are combined on the log scale by the method of variance estimates
    recovery ([ZouDonner2008]_): the distance from ratio to limit is the root of the sum of squares
    of the distances of each mean to its own limit. Where nothing was counted on one occasion, half
    an individual stands for it in those distances only.

    Parameters
    ----------
    total_now, n_now : individuals and sample units of this round, as in :func:`mean_interval`.
    total_before, n_before : the same of the round it is compared with.
    k : of the negative binomial, on both occasions.
    level, rule : as in :func:`mean_interval`.

    Returns
    -------
    RatioInterval : none now gives ratio 0 and low 0; none before gives ratio NaN and high infinity
        ("none_before"); none on both gives NaN ("none_counted"). The reason of a mean without an
        interval is passed on.

    Raises
    ------
    ValueError : as :func:`mean_interval`.

    Examples
    --------
    >>> found = ratio_interval(36, 20, 18, 20, k=0.6)
    >>> float(found.ratio), float(found.low.round(2)), float(found.high.round(2))
    (2.0, 0.85, 4.59)
    """
    shape = as_floats(
        total_now=total_now, n_now=n_now, total_before=total_before, n_before=n_before,
        k=k, level=level,
    )[0].shape  # fmt: skip
    now, before = _two_rounds(
        as_floats(total=total_now, n=n_now, k=k, level=level),
        as_floats(total=total_before, n=n_before, k=k, level=level),
        rule,
    )
    none_now, none_before = now.mean == 0, before.mean == 0
    reason = first_reason(
        shape,
        *((code, (now.reason == code) | (before.reason == code)) for code in _NO_INTERVAL),
        ("none_counted", none_now & none_before),
        ("none_before", none_before),
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        up, down = _log_distances(now, n_now), _log_distances(before, n_before)
        log_ratio = up.centre - down.centre
        low = np.exp(log_ratio - np.hypot(up.to_low, down.to_high))
        high = np.exp(log_ratio + np.hypot(up.to_high, down.to_low))
        ratio = now.mean / before.mean
    answered = (reason == "") | (reason == "none_before")
    return RatioInterval(
        np.where(reason == "", ratio, np.nan),
        np.where(answered, low, np.nan),
        np.where(answered, high, np.nan),
        reason,
    )


_NO_INTERVAL = ("no_effort", "not_counted", "no_k", "k_too_small", "not_whole")


def _two_rounds(
    now: list[FloatArray], before: list[FloatArray], rule: Rule
) -> tuple[MeanInterval, MeanInterval]:
    """The intervals of both rounds, each in its own shape, solved in one go."""
    t, n, k, level = (
        np.concatenate([a.ravel(), b.ravel()]) for a, b in zip(now, before, strict=True)
    )
    both = mean_interval(t, n, k, level=level, rule=rule)
    first = now[0].size
    return (
        _part(both, slice(None, first), now[0].shape),
        _part(both, slice(first, None), before[0].shape),
    )


def _part(found: MeanInterval, rows: slice, shape: tuple[int, ...]) -> MeanInterval:
    return MeanInterval(
        found.mean[rows].reshape(shape),
        found.low[rows].reshape(shape),
        found.high[rows].reshape(shape),
        found.reason[rows].reshape(shape),
    )


@dataclass(frozen=True, eq=False)
class _LogDistances:
    centre: FloatArray
    to_low: FloatArray
    to_high: FloatArray


def _log_distances(found: MeanInterval, n: ArrayLike) -> _LogDistances:
    half = 0.5 / np.asarray(n, dtype=np.float64)
    centre = np.log(np.where(found.mean == 0, half, found.mean))
    return _LogDistances(centre, centre - np.log(found.low), np.log(found.high) - centre)


def card_rate(
    count: ArrayLike,
    days: ArrayLike,
    squares_counted: ArrayLike = 1.0,
    squares_printed: ArrayLike = 1.0,
) -> CardRate:
    """Catch of a full card per day, from a count on some of its squares over some days.

    Parameters
    ----------
    count : individuals on the squares counted; NaN where no number was written. [individuals]
    days : since the card was hung, or since the reading before. [days]
    squares_counted, squares_printed : on all sides counted together; leave both for a whole card.

    Returns
    -------
    CardRate : NaN with "no_days", "no_squares" or "not_counted" where something is 0 or absent.
        Multiply by 7 for a week: 18 in 5 days are 25.2 in 7.

    Raises
    ------
    ValueError : negative numbers, more squares counted than printed.

    Examples
    --------
    >>> rate = card_rate(18, 5)
    >>> round(7 * float(rate.per_card_day), 1)
    25.2
    """
    caught, exposed, counted, printed = as_floats(
        count=count, days=days, squares_counted=squares_counted, squares_printed=squares_printed
    )
    named = (("count", caught), ("days", exposed), ("squares_counted", counted))
    for name, values in (*named, ("squares_printed", printed)):
        require_not_negative(name, values)
    require_at_most("squares_counted", counted, "squares_printed", printed)
    reason = first_reason(
        caught.shape,
        ("no_days", _none(exposed)),
        ("no_squares", _none(counted) | np.isnan(printed)),
        ("not_counted", np.isnan(caught)),
    )
    usable = (reason == "") | (reason == "not_counted")
    with np.errstate(divide="ignore", invalid="ignore"):
        card_days = np.where(usable, exposed * counted / printed, np.nan)
        return CardRate(caught / card_days, card_days, reason)
