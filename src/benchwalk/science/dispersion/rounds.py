"""k of the negative binomial, learned from the rounds of an operation."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import BoolArray, FloatArray, as_floats, require_positive
from benchwalk.science.dispersion.k import check_moments
from benchwalk.science.limits import crossing

#: k before anything is learned, by what is counted on. From simulation: assumed, no source.
PRIOR_K = MappingProxyType({"plant": 0.6, "place": 0.6, "card": 1.5, "disc": 1.5, "trap": 1.5})
#: standard deviation of ln k between series, before anything is learned. Assumed, no source.
PRIOR_SD = 1.0
#: with fewer rounds than this, k is called assumed. Own choice: see docs/science/dispersion.md.
ROUNDS_TO_LEARN = 10
# of ln k from its prior; further out the pull of the prior is stronger than any counts
_REACH = 16.0


@dataclass(frozen=True, eq=False)
class LearnedK:
    """k learned from earlier rounds, between what they say and the prior."""

    k: FloatArray
    rounds: FloatArray  #: rounds that said something of k: two units and two individuals or more
    weight: FloatArray  #: share of ln k that comes from the rounds, 0 = prior only
    assumed: BoolArray  #: under ROUNDS_TO_LEARN rounds


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
    check_moments(m, v, units)
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
