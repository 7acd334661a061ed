"""Limits of a contrast of ln means by profile likelihood.

Given a contrast, the other means are what suits the totals best. Along such means
``total - n mean`` stands in one proportion to ``1 + mean/k`` in all cells, so they are one curve
with one parameter, and its crossing is found: twice the fall of ln likelihood is the square of the
normal quantile ([VenzonMoolgavkar1988]_).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from benchwalk.science.arguments import FloatArray
from benchwalk.science.limits import crossing

# share of the way along the curve of means; closer to either end nothing changes
_START, _STOP = 1e-9, 1 - 1e-12


def profile_limits(
    total: FloatArray, n: FloatArray, k: FloatArray, sign: FloatArray, level: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Lower and upper limit of the contrast, for flat arrays; the first axis is cells.

    The lower one is -infinity where the first cell, which counts with 1, has a total of 0.
    """
    fall = special.ndtri((1 + level) / 2) ** 2
    low = np.full(level.shape, -np.inf)
    some = total[0] > 0
    low[some] = -_Profile(total[:, some], n[:, some], k[some], -sign).contrast_at(fall[some])
    return low, _Profile(total, n, k, sign).contrast_at(fall)


@dataclass(frozen=True)
class _Profile:
    """The means that suit a psi best, on one side of the estimate; the first axis is cells.

    Cells with a sign of 1 rise along the curve and those of -1 fall; ``pull`` is how far the totals
    are pulled from the estimate, in individuals.
    """

    total: FloatArray
    n: FloatArray
    k: FloatArray
    sign: FloatArray

    def contrast_at(self, fall: FloatArray) -> FloatArray:
        """Contrast of ln means, signs as here, where twice ln likelihood has fallen by so much."""
        most = self._most_pull()

        def too_far(share: FloatArray) -> FloatArray:
            return self._deviance(share * most) - fall

        start, stop = np.full(fall.shape, _START), np.full(fall.shape, _STOP)
        means = self._means(crossing(too_far, start, stop) * most)
        return np.asarray(np.tensordot(self.sign, np.log(means), axes=1))

    def _most_pull(self) -> FloatArray:
        """Where a rising mean is infinite or a falling one 0."""
        rises = self.sign[:, np.newaxis] > 0
        return np.asarray(np.where(rises, self.n * self.k, self.total).min(axis=0))

    def _means(self, pull: FloatArray) -> FloatArray:
        toward = self.sign[:, np.newaxis] * pull
        return np.asarray((self.total + toward) / (self.n - toward / self.k))

    def _deviance(self, pull: FloatArray) -> FloatArray:
        fall = self._log_likelihood(self.total / self.n) - self._log_likelihood(self._means(pull))
        return np.asarray(2 * fall.sum(axis=0))

    def _log_likelihood(self, mean: FloatArray) -> FloatArray:
        random = np.isinf(self.k)
        size = self.n * np.where(random, 1, self.k)
        clumped = (self.total + size) * np.log1p(mean / np.where(random, 1, self.k))
        return np.asarray(
            special.xlogy(self.total, mean) - np.where(random, self.n * mean, clumped)
        )
