"""What a count says about log density: one update, by the mode and 15-node adaptive Gauss-Hermite.

A count y on effort N is negative binomial with mean ``N exp(z)`` and size r, ``1/r = 1/(n k) +
so2``; z is log density, of a card its average over the days it hung.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchwalk.science.arguments import FloatArray
from benchwalk.science.forecast.data import IntArray, Kind
from benchwalk.science.forecast.distributions import (
    LOG_WEIGHTS,
    NODES,
    NORMAL_NODES,
    NORMAL_WEIGHTS,
    counts_above,
    log_gamma,
    next_count_chance,
    tail_quantile,
)

LogLikelihood = Callable[[FloatArray], FloatArray]
CLIP, NEWTON_STEPS, CLOSE = 1.5, 40, 1e-6
#: share infested above which a sample says no more than "at least"
FULL = 0.60
ROUNDS = 2  # of quadrature, for likelihoods that are flat on one side
#: for those: more nodes than for the smooth likelihood of a plain count
_MANY = np.polynomial.hermite.hermgauss(45)
_MANY_NODES, _MANY_LOGS = _MANY[0], np.log(_MANY[1]) + _MANY[0] ** 2
_H = 1e-3  # of log density, for slopes that are not worked out


@dataclass(frozen=True)
class Counts:
    """Counts of one kind or several, one for each state that is updated."""

    count: FloatArray
    effort: FloatArray
    plants: FloatArray
    kind: IntArray
    k: FloatArray
    so2: FloatArray

    @property
    def size(self) -> FloatArray:
        """R of the negative binomial of the whole count."""
        return np.asarray(1 / (1 / (self.plants * self.k) + self.so2))

    def of(self, which: IntArray | NDArray[np.bool_]) -> Counts:
        """Some of them."""
        return Counts(*(getattr(self, name)[which] for name in self.__dataclass_fields__))


@dataclass(frozen=True)
class Learned:
    """A normal z after its count, and the log probability of the count before it was known."""

    mean: FloatArray
    variance: FloatArray
    log_evidence: FloatArray


def learned(mean: FloatArray, variance: FloatArray, counts: Counts) -> Learned:
    """Mean and variance of z after the counts; arrays of one shape."""
    plain = (counts.kind == Kind.COUNT) | (counts.kind == Kind.CARD)
    if plain.all():
        return _counted(mean, variance, counts)
    out = Learned(np.empty_like(mean), np.empty_like(mean), np.empty_like(mean))
    for which, solve in ((plain, _counted), (~plain, _otherwise)):
        if which.any():
            found = solve(mean[which], variance[which], counts.of(which))
            out.mean[which], out.variance[which] = found.mean, found.variance
            out.log_evidence[which] = found.log_evidence
    return out


def _counted(m: FloatArray, v: FloatArray, c: Counts) -> Learned:
    """The likelihood is log-concave: Newton steps, clipped, then quadrature around the mode."""
    y, r = c.count, c.size
    z, ratio = m.copy(), np.log(c.effort) - np.log(r)
    settled = np.zeros(z.shape, dtype=bool)
    for _ in range(NEWTON_STEPS):
        p = 1 / (1 + np.exp(-(z + ratio)))
        slope = y - (y + r) * p - (z - m) / v
        step = np.clip(slope / ((y + r) * p * (1 - p) + 1 / v), -CLIP, CLIP)
        # whoever has settled moves no more: a series is the same beside any others
        z += np.where(settled, 0.0, step)
        settled |= np.abs(step) < CLOSE
        if settled.all():
            break
    p = 1 / (1 + np.exp(-(z + ratio)))
    width = np.sqrt(2 / (1 / v + (y + r) * p * (1 - p)))

    def of(at: FloatArray) -> FloatArray:
        u = at + ratio
        return np.asarray(y * u - (y + r) * np.log1p(np.exp(np.minimum(u, 700.0))))

    constant = log_gamma(y + r) - log_gamma(r) - log_gamma(y + 1)
    return _summed(m, v, z, width, of, constant)


def _summed(
    m: FloatArray,
    v: FloatArray,
    mode: FloatArray,
    width: FloatArray,
    of: LogLikelihood,
    constant: FloatArray | float,
    nodes: FloatArray = NODES,
    log_weights: FloatArray = LOG_WEIGHTS,
) -> Learned:
    """Moments around the mode: logs of all nodes first, so that nothing underflows."""
    logs = np.empty((len(nodes), len(m)))
    for row, node in enumerate(nodes):
        at = mode + width * node
        logs[row] = of(at) - (at - m) ** 2 / (2 * v) + log_weights[row]
    top = logs.max(axis=0)
    logs -= top
    np.exp(logs, out=logs)
    total = logs.sum(axis=0)
    logs /= total
    first, second = nodes @ logs, nodes**2 @ logs
    evidence = np.log(total) + top + np.log(width) - 0.5 * np.log(2 * np.pi * v) + constant
    spread = np.maximum(second - first**2, 1e-12)
    return Learned(mode + width * first, width**2 * spread, evidence)


def _otherwise(m: FloatArray, v: FloatArray, c: Counts) -> Learned:
    """Capped and infested counts: slopes by differences, two rounds of quadrature."""

    def of(z: FloatArray) -> FloatArray:
        capped = c.kind == Kind.AT_LEAST
        out = np.empty_like(z)
        if capped.any():
            out[capped] = _at_least(z[capped], c.of(capped))
        if not capped.all():
            out[~capped] = _infested(z[~capped], c.of(~capped))
        return out

    z = m.copy()
    curve, settled = 1 / v, np.zeros(z.shape, dtype=bool)
    for _ in range(NEWTON_STEPS):
        low, here, high = of(z - _H), of(z), of(z + _H)
        slope = (high - low) / (2 * _H) - (z - m) / v
        bent = np.maximum(-(high - 2 * here + low) / _H**2, 0) + 1 / v
        curve = np.where(settled, curve, bent)
        step = np.clip(slope / curve, -CLIP, CLIP)
        z += np.where(settled, 0.0, step)
        settled |= np.abs(step) < CLOSE
        if settled.all():
            break
    found = _summed(m, v, z, np.sqrt(2 / curve), of, 0.0)
    for _ in range(ROUNDS):
        # a likelihood that is flat on one side is met better from its own mean and width
        width = np.sqrt(2 * found.variance)
        found = _summed(m, v, found.mean, width, of, 0.0, _MANY_NODES, _MANY_LOGS)
    return found


def _at_least(z: FloatArray, c: Counts) -> FloatArray:
    """Ln P(Y >= y)."""
    chance = counts_above(np.ceil(c.count), c.effort * np.exp(z), c.size)
    return np.asarray(np.log(np.maximum(chance, 1e-300)))


def _infested(z: FloatArray, c: Counts) -> FloatArray:
    """Beta-binomial around the share of plants with any; spread by the round error on z.

    Above 60 % infested the density is k's guess: the sample says "at least 60 %", and no more.
    """
    n, k = c.plants, c.k
    full = c.count > FULL * n
    y = np.where(full, FULL * n, c.count)
    most = np.log(k) + np.log(np.expm1(-np.log1p(-FULL) / k))
    z = np.where(full, np.minimum(z, most), z)
    clean = -k * np.log1p(np.exp(z) / k)  # ln of the share without any
    p = np.clip(-np.expm1(clean), 1e-12, 1 - 1e-12)
    slope = (1 - p) * np.exp(z) / (1 + np.exp(z) / k)
    within = np.clip(slope**2 * c.so2 / (p * (1 - p)), 1e-6, 0.99)
    a = p * (1 / within - 1)
    b = (1 - p) * (1 / within - 1)
    return np.asarray(
        log_gamma(n + 1) - log_gamma(y + 1) - log_gamma(n - y + 1)
        + log_gamma(y + a) + log_gamma(n - y + b) - log_gamma(n + a + b)
        + log_gamma(a + b) - log_gamma(a) - log_gamma(b)
    )  # fmt: skip


#: a residual beyond it is taken from the whole distribution of the count
LARGE = 1.7


def residual(mean: FloatArray, variance: FloatArray, c: Counts) -> FloatArray:
    """How far a count lies from what was expected, in sds; NaN for capped and infested counts.

    By a transformation that makes the variance of a count level (Anscombe1948, of the form
    asinh); where that is large, the normal score of the middle of the count's step in its own
    distribution.
    """
    s2 = variance + 1 / c.size
    # the middle of a gamma of size r lies below its mean by about 1/(2r) on the log scale
    s, expected = np.sqrt(s2), c.effort * np.exp(mean - 0.5 / c.size)
    z = np.arcsinh(s * np.sqrt(c.count + 0.375)) - np.arcsinh(s * np.sqrt(expected + 0.375))
    z *= 2 / s
    plain = (c.kind == Kind.COUNT) | (c.kind == Kind.CARD)
    far = np.flatnonzero(plain & (np.abs(z) > LARGE))
    if len(far):
        z[far] = _score(mean[far], np.sqrt(variance[far]), c.of(far))
    return np.where(plain, z, np.nan)


def _score(mean: FloatArray, sd: FloatArray, c: Counts) -> FloatArray:
    """Normal score of a count, from the nearer tail."""
    at = c.effort * np.exp(mean + sd * NORMAL_NODES[:, None])
    step = next_count_chance(c.count, c.effort, c.size, mean, sd)
    above = NORMAL_WEIGHTS @ counts_above(c.count, at, c.size) - step / 2
    low = above > 0.5
    z = tail_quantile(np.where(low, 1 - above, above))
    return np.where(low, -z, z)
