"""How clumped a pest is: mean and variance of counts, and k of the negative binomial.

``variance = mean + mean**2 / k``: the smaller k, the more a few plants carry most of the pests;
k = infinity is the Poisson, plants independent of each other. Five ways to estimate k from the
counts of one round ([BlissFisher1953]_, [Anscombe1949]_), and one to learn it from many rounds.

Reason codes (empty where there is an answer)

``too_few``
    Fewer than two sample units: there is no variance.
``none_counted``
    Nothing was found, so nothing is known of clumping.
``not_aggregated``
    The variance is no larger than the mean allows for: k is infinite, the Poisson. An answer, and
    marked so that nobody takes it for a large k that was measured.
``one_unit``
    Everything found was on one unit, and the estimate would be 0, which is no distribution.
``all_infested``
    No empty unit, so the share of empty ones says nothing of k.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

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
)
from benchwalk.science.limits import crossing

#: k before anything is learned, by what is counted on. From simulation: assumed, no source.
PRIOR_K = MappingProxyType({"plant": 0.6, "place": 0.6, "card": 1.5, "disc": 1.5, "trap": 1.5})
#: standard deviation of ln k between series, before anything is learned. Assumed, no source.
PRIOR_SD = 1.0
#: with fewer rounds than this, k is called assumed. Own choice: see docs/science/dispersion.md.
ROUNDS_TO_LEARN = 10
# a larger k and the Poisson cannot be told apart by any count of plants made by hand
_LARGEST_K = 1e5
_SMALLEST_K = 1e-8
# of ln k from its prior; further out the pull of the prior is stronger than any counts
_REACH = 16.0


@dataclass(frozen=True, eq=False)
class CountSpread:
    """Moments of the counts of each round."""

    n: FloatArray  #: sample units counted
    mean: FloatArray  #: [individuals/sample unit]
    variance: FloatArray  #: with n - 1
    index: FloatArray  #: variance / mean; 1 for the Poisson
    p_random: FloatArray  #: chance of an index this large or larger under the Poisson
    reason: TextArray


@dataclass(frozen=True, eq=False)
class DispersionK:
    """k of the negative binomial; NaN without an answer, infinite where not aggregated."""

    k: FloatArray
    reason: TextArray


@dataclass(frozen=True, eq=False)
class LearnedK:
    """k learned from earlier rounds, between what they say and the prior."""

    k: FloatArray
    rounds: FloatArray  #: rounds that said something of k: two units and two individuals or more
    weight: FloatArray  #: share of ln k that comes from the rounds, 0 = prior only
    assumed: BoolArray  #: under ROUNDS_TO_LEARN rounds


def count_spread(counts: ArrayLike) -> CountSpread:
    """Mean, variance and index of dispersion of each round.

    ``index * (n - 1)`` is chi-square with n - 1 degrees of freedom under the Poisson.

    Parameters
    ----------
    counts : individuals on each sample unit, units on the last axis; NaN for units not counted.

    Returns
    -------
    CountSpread : arrays without the last axis. ``variance`` is NaN with one unit ("too_few");
        ``index`` is NaN when the mean is 0 ("none_counted").

    Raises
    ------
    ValueError : a negative or infinite count.

    Examples
    --------
    >>> spread = count_spread([3, 0, 4, 9, 0, 2])
    >>> float(spread.mean), float(spread.variance), round(float(spread.index), 3)
    (3.0, 11.2, 3.733)
    """
    x = _counts(counts)
    n, total = np.sum(np.isfinite(x), axis=-1).astype(float), np.nansum(x, axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = total / n
        variance = np.where(n > 1, np.nansum((x - mean[..., None]) ** 2, axis=-1) / (n - 1), np.nan)
        index = variance / mean
    p = np.asarray(special.chdtrc(n - 1, index * (n - 1)))
    reason = first_reason(n.shape, ("too_few", n < 2), ("none_counted", total == 0))
    return CountSpread(n, mean, variance, index, p, reason)


def _counts(counts: ArrayLike) -> FloatArray:
    x = np.atleast_1d(np.asarray(counts, dtype=np.float64))
    require_not_negative("count", x)
    return x


def k_by_moments(mean: ArrayLike, variance: ArrayLike) -> DispersionK:
    """Moments: ``k = mean**2 / (variance - mean)`` ([Anscombe1949]_).

    Parameters
    ----------
    mean, variance : of the counts of a round (variance with n - 1); NaN passes as "too_few".

    Raises
    ------
    ValueError : a negative mean or variance.

    Examples
    --------
    >>> float(k_by_moments(3.0, 11.2).k.round(3))
    1.098
    """
    m, v = as_floats(mean=mean, variance=variance)
    _check_moments(m, v)
    return _moment_k(m**2, m, v)


def k_bias_lowered(mean: ArrayLike, variance: ArrayLike, n: ArrayLike) -> DispersionK:
    """Moments with less bias: ``k = (mean**2 - variance/n) / (variance - mean)``.

    ``mean**2`` overstates the square of the true mean by ``variance/n``.

    Parameters
    ----------
    mean, variance : as in :func:`k_by_moments`.
    n : sample units.

    Raises
    ------
    ValueError : a negative mean, variance or n.
    """
    m, v, units = as_floats(mean=mean, variance=variance, n=n)
    _check_moments(m, v, units)
    v = np.where(units >= 2, v, np.nan)
    return _moment_k(np.maximum(m**2 - v / np.maximum(units, 1), 0), m, v)


def _check_moments(m: FloatArray, v: FloatArray, n: FloatArray | None = None) -> None:
    require_not_negative("mean", m)
    require_not_negative("variance", v)
    if n is not None:
        require_not_negative("n", n)


def _moment_k(numerator: FloatArray, m: FloatArray, v: FloatArray) -> DispersionK:
    with np.errstate(divide="ignore", invalid="ignore"):
        k = numerator / (v - m)
    return _answer(k, too_few=np.isnan(m) | np.isnan(v), empty=m == 0, random=v <= m)


def _answer(
    k: FloatArray,
    *,
    too_few: BoolArray,
    empty: BoolArray,
    random: BoolArray,
) -> DispersionK:
    reason = first_reason(
        k.shape,
        ("too_few", too_few),
        ("none_counted", empty),
        ("not_aggregated", random),
        ("one_unit", ~(k > _SMALLEST_K)),
    )
    return _with_infinite(k, reason)


def k_by_zero_term(mean: ArrayLike, empty_units: ArrayLike, n: ArrayLike) -> DispersionK:
    """Zero term: k from the share of empty units: ``k ln(1 + mean/k) = ln(n / empty_units)``.

    The equation of [BlissFisher1953]_ for counts in which most units are empty.

    Parameters
    ----------
    mean : [individuals/sample unit]
    empty_units : units on which nothing was found; 0 gives "all_infested".
    n : units counted.

    Raises
    ------
    ValueError : negative numbers, n of 0, more empty units than units.
    """
    m, n0, units = as_floats(mean=mean, empty_units=empty_units, n=n)
    require_not_negative("mean", m)
    require_not_negative("empty_units", n0)
    require_not_negative("n", units)
    require_at_most("empty_units", n0, "n", units)
    with np.errstate(divide="ignore", invalid="ignore"):
        needed = np.log(units / n0)
    k = crossing(
        lambda at: np.asarray(at * np.log1p(m / at) - needed),
        np.full(m.shape, _SMALLEST_K),
        np.full(m.shape, _LARGEST_K),
    )
    reason = first_reason(
        m.shape,
        ("too_few", np.isnan(m) | np.isnan(n0) | ~(units >= 2)),
        ("none_counted", m == 0),
        ("all_infested", n0 == 0),
        ("not_aggregated", k >= _LARGEST_K),
    )
    return _with_infinite(k, reason)


def _with_infinite(k: FloatArray, reason: TextArray) -> DispersionK:
    infinite = np.where(reason == "not_aggregated", np.inf, np.nan)
    return DispersionK(np.where(reason == "", k, infinite), reason)


def k_by_likelihood(counts: ArrayLike) -> DispersionK:
    """Maximum likelihood: k of highest likelihood for each round, its mean being the sample mean.

    Solves the score equation ``sum_i [psi(x_i + k) - psi(k)] = n ln(1 + mean/k)``, the sum over A_x
    of [BlissFisher1953]_ in digamma functions. It has one root where the variance (with n) exceeds
    the mean, and none otherwise ([LevinReeds1977]_): then k is infinite.

    Parameters
    ----------
    counts : individuals on each sample unit, units on the last axis; NaN for units not counted.

    Raises
    ------
    ValueError : a negative or infinite count.

    Examples
    --------
    >>> float(k_by_likelihood([3, 0, 4, 9, 0, 2]).k.round(3))
    0.94
    """
    return _likelihood_k(_counts(counts)[..., None, :])


def common_k_by_likelihood(counts: ArrayLike) -> DispersionK:
    """One k for several rounds, each with its own mean.

    Parameters
    ----------
    counts : rounds on the last axis but one, units on the last; NaN for units not counted.

    Raises
    ------
    ValueError : a negative or infinite count, fewer than two axes.
    """
    x = _counts(counts)
    if x.ndim < 2:
        raise ValueError(
            f"got counts of shape {x.shape}; expected rounds and units on the last two axes; "
            "use k_by_likelihood for one round"
        )
    return _likelihood_k(x)


def _likelihood_k(x: FloatArray) -> DispersionK:
    seen = np.isfinite(x)
    n, total = seen.sum(axis=-1), np.nansum(x, axis=-1)
    mean = total / np.maximum(n, 1)

    def score(k: FloatArray) -> FloatArray:
        each = np.where(seen, special.psi(x + k[..., None, None]), special.psi(k)[..., None, None])
        up = (each - special.psi(k)[..., None, None]).sum(axis=(-1, -2))
        return np.asarray(up - (n * np.log1p(mean / k[..., None])).sum(axis=-1))

    shape = x.shape[:-2]
    k = crossing(score, np.full(shape, _SMALLEST_K), np.full(shape, _LARGEST_K))
    reason = first_reason(
        shape,
        ("too_few", (n < 2).all(axis=-1)),
        ("none_counted", (total == 0).all(axis=-1)),
        ("not_aggregated", k >= _LARGEST_K),
    )
    return _with_infinite(k, reason)


def common_k_by_moments(mean: ArrayLike, variance: ArrayLike, n: ArrayLike) -> DispersionK:
    """One k for several rounds: ``sum(mean**2 - variance/n) / sum(variance - mean)``.

    Sums of [BlissOwen1958]_ without weights, bias lowered as in :func:`k_bias_lowered`.

    Parameters
    ----------
    mean, variance, n : one value for each round, rounds on the last axis; NaN for no round.

    Raises
    ------
    ValueError : a negative mean, variance or n.
    """
    m, v, units = as_floats(mean=mean, variance=variance, n=n)
    _check_moments(m, v, units)
    seen = (units >= 2) & np.isfinite(m) & np.isfinite(v)
    m, v, units = np.where(seen, m, 0), np.where(seen, v, 0), np.where(seen, units, 1)
    above = np.sum(v - m, axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        k = np.sum(m**2 - v / units, axis=-1) / above
    return _answer(
        k,
        too_few=np.asarray(~seen.any(axis=-1)),
        empty=np.asarray(m.sum(axis=-1) == 0),
        random=np.asarray(above <= 0),
    )


def k_from_rounds(
    mean: ArrayLike,
    variance: ArrayLike,
    n: ArrayLike,
    prior: ArrayLike,
    prior_sd: ArrayLike = PRIOR_SD,
) -> LearnedK:
    """Learn k of a pest in a unit from earlier rounds, shrunk towards a prior.

    Given the total of a round, the counts of its units follow a distribution that depends on k and
    not on the mean (Dirichlet-multinomial), so growth between rounds is never taken for clumping.
    The sum ``Q = sum x (x - 1)`` has expectation ``S (S - 1) (k + 1) / (n k + 1)``, the index of
    [Morisita1959]_ times a constant, and a variance known in closed form. ln k solves the sum of
    the optimal estimating functions of the rounds ([Godambe1960]_) and of a normal prior::

        sum (Q - E) E' / V  -  (ln k - ln prior) / prior_sd**2  =  0,     E' = dE / d ln k

    ``weight = I / (I + 1 / prior_sd**2)`` with ``I = sum E'**2 / V`` at the solution.

    Parameters
    ----------
    mean, variance : of the counts of each round (variance with n - 1), rounds on the last axis;
        NaN for a round that is absent. [individuals/sample unit]
    n : sample units counted one by one in each round.
    prior : k expected before any round, see PRIOR_K; broadcast against the other axes.
    prior_sd : standard deviation of ln k around it.

    Returns
    -------
    LearnedK : always a finite k. Without a round that says something (two units and two individuals
        or more) it is the prior with weight 0. ``assumed`` under ROUNDS_TO_LEARN such rounds.

    Raises
    ------
    ValueError : a negative mean, variance or n; prior or prior_sd of 0 or less.

    Examples
    --------
    >>> learned = k_from_rounds([2.0, 3.5, 5.1], [6.1, 16.0, 31.2], [20, 20, 20], prior=0.6)
    >>> float(learned.k.round(2)), float(learned.weight.round(2)), bool(learned.assumed)
    (0.88, 0.9, True)
    """
    m, v, units = as_floats(mean=mean, variance=variance, n=n)
    _check_moments(m, v, units)
    k0, sd = as_floats(prior=prior, prior_sd=prior_sd)
    require_positive("prior", k0)
    require_positive("prior_sd", sd)
    pairs = _Pairs.of(np.atleast_1d(m), np.atleast_1d(v), np.atleast_1d(units))
    k0, sd = np.broadcast_arrays(k0, sd)
    shape = np.broadcast_shapes(pairs.total.shape[:-1], k0.shape)
    k0, sd = np.broadcast_to(k0, shape), np.broadcast_to(sd, shape)

    def estimating_function(k: FloatArray) -> FloatArray:
        return pairs.score(k) - np.log(k / k0) / sd**2

    k = crossing(estimating_function, k0 * np.exp(-_REACH), k0 * np.exp(_REACH))
    information = pairs.information(k)
    rounds = np.broadcast_to(pairs.said.sum(axis=-1), shape).astype(float)
    return LearnedK(
        np.where(rounds > 0, k, k0),
        rounds,
        information / (information + 1 / sd**2),
        rounds < ROUNDS_TO_LEARN,
    )


@dataclass(frozen=True, eq=False)
class _Pairs:
    """Pairs of individuals on one unit, given the total of the round; rounds on the last axis."""

    n: FloatArray
    total: FloatArray
    pairs: FloatArray
    said: BoolArray

    @classmethod
    def of(cls, mean: FloatArray, variance: FloatArray, n: FloatArray) -> _Pairs:
        total = n * mean
        pairs = (n - 1) * variance + total * (mean - 1)
        said = (n >= 2) & (total >= 2) & np.isfinite(pairs)
        # the others get a harmless round, and count for nothing
        return cls(
            np.where(said, n, 2), np.where(said, total, 2), np.where(said, pairs, 0), said
        )  # fmt: skip

    def score(self, k: FloatArray) -> FloatArray:
        expected, slope, variance = self._moments(k[..., None])
        each = np.where(self.said, (self.pairs - expected) * slope / variance, 0)
        return np.asarray(each.sum(axis=-1))

    def information(self, k: FloatArray) -> FloatArray:
        _, slope, variance = self._moments(k[..., None])
        return np.asarray(np.where(self.said, slope**2 / variance, 0).sum(axis=-1))

    def _moments(self, k: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Expectation of the pairs, its slope in ln k, and variance, all given the total.

        From the factorial moments of the Dirichlet-multinomial:
        ``E prod x_i^(r_i) = S^(R) prod k^[r_i] / (n k)^[R]``, falling and rising factorials.
        """
        n, s = self.n, self.total
        s2 = s * (s - 1)
        s3, s4 = s2 * (s - 2), s2 * (s - 2) * (s - 3)
        k2, k3 = k * (k + 1), k * (k + 1) * (k + 2)
        k4 = k3 * (k + 3)
        a2 = n * k * (n * k + 1)
        a3 = a2 * (n * k + 2)
        a4 = a3 * (n * k + 3)
        expected = n * s2 * k2 / a2
        square = n * (s4 * k4 / a4 + 4 * s3 * k3 / a3 + 2 * s2 * k2 / a2)
        square = square + n * (n - 1) * s4 * k2**2 / a4
        slope = s2 * k * (1 - n) / (n * k + 1) ** 2
        return expected, slope, square - expected**2
