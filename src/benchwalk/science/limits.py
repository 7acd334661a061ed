"""Confidence limits of a count's parameter, by inverting the tails of its distribution.

Three distributions (negative binomial, Poisson, binomial) and three rules:

``blaker``
    The ends of the set of parameters whose *acceptability* is above 1 - level: the smaller tail
    plus the largest opposite tail that does not exceed it ([Blaker2000]_). Covers at least
    ``level`` for every parameter, and lies inside ``exact``. A set with gaps is closed to its
    convex hull, as in [Klaschka2010]_.
``mid_p``
    Half of the probability of the observed count belongs to each tail, each tail is (1 - level)/2.
    Covers ``level`` on average over parameters, and less than it for some.
``exact``
    Each whole tail is (1 - level)/2 ([Garwood1936]_ for the Poisson, [ClopperPearson1934]_ for the
    binomial).

theta is what is solved for: the mean (Poisson), mean/size (negative binomial), odds (binomial).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal, Self

import numpy as np
from scipy import special

from benchwalk.science.arguments import BoolArray, FloatArray

Rule = Literal["blaker", "mid_p", "exact"]
RULES = ("blaker", "mid_p", "exact")
# of ln theta; tail probabilities hold fewer digits than a smaller one would ask for
_LOG_TOLERANCE = 1e-12
_MOST_STEPS = 100


class Distribution:
    """Tails of a count, one row for each element of the parameter arrays."""

    def at_most(self, count: FloatArray, theta: FloatArray) -> FloatArray:
        """P(X <= count)."""
        raise NotImplementedError

    def at_least(self, count: FloatArray, theta: FloatArray) -> FloatArray:
        """P(X >= count)."""
        raise NotImplementedError

    def theta_at_least(self, count: FloatArray, tail: FloatArray) -> FloatArray:
        """The theta at which P(X >= count) equals tail; count above 0."""
        raise NotImplementedError

    def theta_at_most(self, count: FloatArray, tail: FloatArray) -> FloatArray:
        """The theta at which P(X <= count) equals tail; count below the largest possible."""
        raise NotImplementedError

    def is_largest(self, count: FloatArray) -> BoolArray:
        """Where no larger count exists."""
        return np.zeros(count.shape, dtype=np.bool_)

    def rows(self, chosen: BoolArray) -> Self:
        """The same distribution for some of the rows."""
        return self


@dataclass(frozen=True)
class Poisson(Distribution):
    """theta is the mean."""

    def at_most(self, count: FloatArray, theta: FloatArray) -> FloatArray:
        return np.where(count < 0, 0.0, special.gammaincc(np.maximum(count, 0) + 1, theta))

    def at_least(self, count: FloatArray, theta: FloatArray) -> FloatArray:
        return np.where(count <= 0, 1.0, special.gammainc(np.maximum(count, 1), theta))

    def theta_at_least(self, count: FloatArray, tail: FloatArray) -> FloatArray:
        return np.asarray(special.gammaincinv(count, tail))

    def theta_at_most(self, count: FloatArray, tail: FloatArray) -> FloatArray:
        return np.asarray(special.gammainccinv(count + 1, tail))


def _beta_tail(first: FloatArray, second: FloatArray, theta: FloatArray) -> FloatArray:
    """Incomplete beta function of theta/(1 + theta), from whichever share keeps its digits."""
    large = theta > 1
    share = np.where(large, 1, theta) / (1 + theta)
    shapes = (np.where(large, second, first), np.where(large, first, second))
    tail = special.betainc(*shapes, share)
    return np.where(large, 1 - tail, tail)


@dataclass(frozen=True)
class _BetaTails(Distribution):
    """A distribution whose tails are incomplete beta functions of theta/(1 + theta)."""

    def _shape(self, count: FloatArray) -> FloatArray:
        """Second shape of the upper tail: P(X >= count) = I_x(count, shape(count))."""
        raise NotImplementedError

    def at_least(self, count: FloatArray, theta: FloatArray) -> FloatArray:
        beyond = self.is_largest(count - 1)
        inside = np.where(beyond, 1, np.maximum(count, 1))
        tail = _beta_tail(inside, self._shape(inside), theta)
        return np.where(count <= 0, 1.0, np.where(beyond, 0.0, tail))

    def at_most(self, count: FloatArray, theta: FloatArray) -> FloatArray:
        return 1 - self.at_least(count + 1, theta)

    def theta_at_least(self, count: FloatArray, tail: FloatArray) -> FloatArray:
        return self._odds(count, tail)

    def theta_at_most(self, count: FloatArray, tail: FloatArray) -> FloatArray:
        return self._odds(count + 1, 1 - tail)

    def _odds(self, count: FloatArray, upper_tail: FloatArray) -> FloatArray:
        # both shares are solved for: their difference from 1 would lose the digits of the smaller
        shape = self._shape(count)
        return np.asarray(
            special.betaincinv(count, shape, upper_tail)
            / special.betaincinv(shape, count, 1 - upper_tail)
        )


@dataclass(frozen=True)
class NegativeBinomial(_BetaTails):
    """A count with mean ``size * theta`` and variance ``mean + mean**2 / size``."""

    size: FloatArray

    def _shape(self, count: FloatArray) -> FloatArray:
        return self.size

    def rows(self, chosen: BoolArray) -> Self:
        return replace(self, size=self.size[chosen])


@dataclass(frozen=True)
class Binomial(_BetaTails):
    """A count of at most ``trials``; theta is the odds."""

    trials: FloatArray

    def _shape(self, count: FloatArray) -> FloatArray:
        return self.trials - count + 1

    def is_largest(self, count: FloatArray) -> BoolArray:
        return np.asarray(count >= self.trials)

    def rows(self, chosen: BoolArray) -> Self:
        return replace(self, trials=self.trials[chosen])


def theta_limits(
    distribution: Distribution, count: FloatArray, level: FloatArray, rule: Rule
) -> tuple[FloatArray, FloatArray]:
    """Lower and upper confidence limit of theta, for flat arrays of whole counts.

    A count of 0 has lower limit 0; a binomial count equal to its trials has upper limit infinity.

    Raises
    ------
    ValueError : a rule that is not in RULES.
    """
    if rule not in RULES:
        raise ValueError(
            f"got rule {rule!r}; expected one of {', '.join(RULES)}; choose one of them"
        )
    low, high = np.zeros(count.shape), np.full(count.shape, np.inf)
    alpha = 1 - level
    rows = count > 0
    low[rows] = _limit(_lower_side(distribution.rows(rows)), count[rows], alpha[rows], rule)
    rows = ~distribution.is_largest(count)
    high[rows] = _limit(_upper_side(distribution.rows(rows)), count[rows], alpha[rows], rule)
    return low, high


@dataclass(frozen=True)
class _Side:
    """One limit: its own tail grows as theta moves inward, the opposite tail shrinks."""

    own: Callable[[FloatArray, FloatArray], FloatArray]
    opposite: Callable[[FloatArray, FloatArray], FloatArray]
    theta_at: Callable[[FloatArray, FloatArray], FloatArray]
    inward: int


def _lower_side(d: Distribution) -> _Side:
    return _Side(d.at_least, d.at_most, d.theta_at_least, 1)


def _upper_side(d: Distribution) -> _Side:
    return _Side(d.at_most, d.at_least, d.theta_at_most, -1)


def _limit(side: _Side, count: FloatArray, alpha: FloatArray, rule: Rule) -> FloatArray:
    outer = side.theta_at(count, alpha / 2)
    if rule == "exact":
        return outer
    # with its own tail at alpha, theta is inside by either rule
    inner = side.theta_at(count, alpha)
    if rule == "mid_p":
        return _mid_p_limit(side, count, alpha, outer, inner)
    return _blaker_limit(side, count, alpha, outer, inner)


def _mid_p_limit(
    side: _Side, count: FloatArray, alpha: FloatArray, outer: FloatArray, inner: FloatArray
) -> FloatArray:
    def twice_the_tail_above_alpha(theta: FloatArray) -> FloatArray:
        return side.own(count, theta) + side.own(count + side.inward, theta) - alpha

    return crossing(twice_the_tail_above_alpha, outer, inner)


def _blaker_limit(
    side: _Side, count: FloatArray, alpha: FloatArray, outer: FloatArray, inner: FloatArray
) -> FloatArray:
    """Where the acceptability first exceeds alpha on the way inward.

    It does so at the latest where the next opposite count joins, since both tails are then equal
    and each above alpha/2; before that, own tail + opposite tail falls and then rises (monotone
    likelihood ratio), so it has at most one crossing.
    """
    joined = _nearest_joined(side, count, outer, alpha / 2)

    def next_stays_out(theta: FloatArray) -> FloatArray:
        return side.opposite(joined + side.inward, theta) - side.own(count, theta)

    def acceptability_above_alpha(theta: FloatArray) -> FloatArray:
        return side.own(count, theta) + side.opposite(joined, theta) - alpha

    end = crossing(next_stays_out, outer, inner)
    return crossing(acceptability_above_alpha, outer, end)


def _nearest_joined(
    side: _Side, count: FloatArray, theta: FloatArray, tail: FloatArray
) -> FloatArray:
    """The opposite count nearest to ``count`` whose opposite tail is at most ``tail``."""

    def joins(distance: FloatArray) -> BoolArray:
        return side.opposite(count - side.inward * distance, theta) <= tail

    # at distance 1 the opposite tail is 1 - tail, so it never joins
    near, far = np.ones(count.shape), np.full(count.shape, 2.0)
    while not (done := joins(far)).all():
        near, far = np.where(done, near, far), np.where(done, far, 2 * far)
    while (far - near > 1).any():
        middle = np.floor((near + far) / 2)
        done = joins(middle)
        near, far = np.where(done, near, middle), np.where(done, middle, far)
    nearest: FloatArray = count - side.inward * far
    return nearest


def crossing(
    function: Callable[[FloatArray], FloatArray], start: FloatArray, stop: FloatArray
) -> FloatArray:
    """Where a function changes sign between two positive arguments; ``stop`` where it does not.

    All rows at once, on the log scale, by [Chandrupatla1997]_: inverse quadratic interpolation
    where it is safe, else bisection.
    """
    at_start, at_stop = function(start), function(stop)
    changes = np.sign(at_start) * np.sign(at_stop) < 0
    a, b, c = np.log(stop), np.log(start), np.log(start)
    fa, fb, fc = at_stop, at_start, at_start
    share = np.full(start.shape, 0.5)
    for _ in range(_MOST_STEPS):
        x = a + share * (b - a)
        fx = function(np.exp(x))
        same = np.sign(fx) == np.sign(fa)
        c, fc = np.where(same, a, b), np.where(same, fa, fb)
        b, fb = np.where(same, b, a), np.where(same, fb, fa)
        a, fa = x, fx
        width = np.abs(b - a)
        if not (changes & (width > _LOG_TOLERANCE) & (fa != 0)).any():
            break
        share = np.clip(_next_share(a, b, c, fa, fb, fc), 0, 1)
        least = np.minimum(0.5, _LOG_TOLERANCE / np.maximum(width, _LOG_TOLERANCE))
        share = np.clip(share, least, 1 - least)
    best = np.where(np.abs(fa) <= np.abs(fb), a, b)
    return np.where(changes, np.exp(best), stop)


def _next_share(
    a: FloatArray, b: FloatArray, c: FloatArray, fa: FloatArray, fb: FloatArray, fc: FloatArray
) -> FloatArray:
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        xi, phi = (a - b) / (c - b), (fa - fb) / (fc - fb)
        safe = (phi**2 < xi) & ((1 - phi) ** 2 < 1 - xi)
        quadratic = fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (
            fc - fb
        )
    usable = np.asarray(safe & np.isfinite(quadratic))
    return np.where(usable, quadratic, 0.5)
