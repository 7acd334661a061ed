"""What one sample unit can show: a number of individuals, or whether it is infested.

``u`` is the exponent of the moment generating function; every array broadcasts.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import (
    FloatArray,
    require_not_negative,
    require_positive,
    require_probability,
)


class Counts:
    """The distribution of the count of one unit, by its mean."""

    def check_means(self, name: str, means: FloatArray) -> None:
        """Refuse what is no mean of this count; NaN is absent and passes."""
        require_not_negative(name, means)

    def only_one(self) -> str:
        """The reason why there is no distribution, empty where there is one.

        Raises
        ------
        ValueError : parameters for several distributions where one is expected.
        """
        return ""

    def log_chances(self, mean: FloatArray, most: int) -> FloatArray:
        """Natural log of P(X = 0 .. most) on a new last axis."""
        raise NotImplementedError


class WaldCounts(Counts):
    """A count whose likelihood ratio of two means depends on the total alone."""

    def log_ratio(self, low: FloatArray, high: FloatArray) -> FloatArray:
        """What one more individual adds to the log likelihood ratio of high to low."""
        raise NotImplementedError

    def slope(self, low: FloatArray, high: FloatArray) -> FloatArray:
        """Individuals a unit at which a unit more leaves the likelihood ratio where it is."""
        raise NotImplementedError

    def variance(self, mean: FloatArray) -> FloatArray:
        """Variance of the count of one unit."""
        raise NotImplementedError

    def cumulant(self, u: FloatArray, mean: FloatArray) -> FloatArray:
        """``ln E exp(u X)``; infinite at ``largest_u`` and beyond."""
        raise NotImplementedError

    def steepest(self, mean: FloatArray, slope: FloatArray) -> FloatArray:
        """The u at which the cumulant has that slope."""
        raise NotImplementedError

    def largest_u(self, mean: FloatArray) -> FloatArray:
        """Where the cumulant ends; infinity for most."""
        return np.full(mean.shape, np.inf)


@dataclass(frozen=True, eq=False)
class NegativeBinomialCounts(WaldCounts):
    """Individuals on a unit, variance ``mean + mean**2 / k``; k infinite is the Poisson."""

    k: FloatArray

    def __init__(self, k: ArrayLike) -> None:
        spread = np.asarray(k, dtype=np.float64)
        require_positive("k", spread)
        object.__setattr__(self, "k", spread)

    def log_ratio(self, low: FloatArray, high: FloatArray) -> FloatArray:
        return np.asarray(np.log(high / low) + np.log1p(low / self.k) - np.log1p(high / self.k))

    def slope(self, low: FloatArray, high: FloatArray) -> FloatArray:
        infinite = np.isinf(self.k)
        k = np.where(infinite, 1.0, self.k)
        rise = np.where(infinite, high - low, k * np.log1p((high - low) / (k + low)))
        return np.asarray(rise / self.log_ratio(low, high))

    def variance(self, mean: FloatArray) -> FloatArray:
        return np.asarray(mean + mean**2 / self.k)

    def cumulant(self, u: FloatArray, mean: FloatArray) -> FloatArray:
        infinite = np.isinf(self.k)
        k = np.where(infinite, 1.0, self.k)
        with np.errstate(over="ignore", divide="ignore"):
            grown = mean * np.expm1(u)
            clumped = -k * np.log1p(np.maximum(-grown / k, -1))
        return np.where(infinite, grown, clumped)

    def steepest(self, mean: FloatArray, slope: FloatArray) -> FloatArray:
        with np.errstate(divide="ignore"):
            return np.asarray(
                np.log(slope / mean) + np.log1p(mean / self.k) - np.log1p(slope / self.k)
            )

    def largest_u(self, mean: FloatArray) -> FloatArray:
        with np.errstate(divide="ignore"):
            return np.asarray(np.log1p(self.k / mean))

    def only_one(self) -> str:
        if self.k.shape != ():
            raise ValueError(
                f"got k of shape {self.k.shape}; expected one k; ask for each k on its own"
            )
        return "no_k" if np.isnan(self.k) else ""

    def log_chances(self, mean: FloatArray, most: int) -> FloatArray:
        m, k = np.broadcast_arrays(mean, self.k)
        x = np.arange(1, most + 1)
        with np.errstate(divide="ignore", invalid="ignore"):
            none = np.where(np.isinf(k), -m, -k * np.log1p(m / k))[..., None]
            steps = np.log(m / (1 + m / k))[..., None] + np.log1p((x - 1) / k[..., None])
        return np.concatenate([none, none + np.cumsum(steps - np.log(x), axis=-1)], axis=-1)


class PoissonCounts(NegativeBinomialCounts):
    """Individuals on a unit, each unit independent of the others."""

    def __init__(self) -> None:
        super().__init__(np.inf)


@dataclass(frozen=True, eq=False)
class InfestedUnits(WaldCounts):
    """Whether a unit is infested: 0 or 1, its mean the share of units infested."""

    def check_means(self, name: str, means: FloatArray) -> None:
        require_not_negative(name, means)
        if (means > 1).any():
            raise ValueError(
                f"got {name} {means[means > 1][0]:g}; expected a share of units infested, at most "
                "1; for individuals a unit use NegativeBinomialCounts"
            )

    def log_ratio(self, low: FloatArray, high: FloatArray) -> FloatArray:
        return np.asarray(np.log(high / low) + np.log1p(-low) - np.log1p(-high))

    def slope(self, low: FloatArray, high: FloatArray) -> FloatArray:
        return np.asarray((np.log1p(-low) - np.log1p(-high)) / self.log_ratio(low, high))

    def variance(self, mean: FloatArray) -> FloatArray:
        return np.asarray(mean * (1 - mean))

    def cumulant(self, u: FloatArray, mean: FloatArray) -> FloatArray:
        with np.errstate(over="ignore", divide="ignore"):
            return np.asarray(np.log1p(mean * np.expm1(u)))

    def steepest(self, mean: FloatArray, slope: FloatArray) -> FloatArray:
        with np.errstate(divide="ignore"):
            return np.asarray(
                np.log(slope / mean) + np.log1p(-mean) - np.log1p(-slope)
            )  # fmt: skip

    def log_chances(self, mean: FloatArray, most: int) -> FloatArray:
        chances = np.full((*mean.shape, most + 1), -np.inf)
        with np.errstate(divide="ignore"):
            chances[..., 0] = np.log1p(-mean)
            if most > 0:
                chances[..., 1] = np.log(mean)
        return chances


@dataclass(frozen=True, eq=False)
class HotSpot(Counts):
    """Pests on a share of the units only, negative binomial there; the others are clean.

    The mean is over all units, so in the spot it is ``mean / share``. It is what a plan is tried
    on, not what a plan is made for.
    """

    share: FloatArray
    k: FloatArray
    _inside: NegativeBinomialCounts = field(repr=False)

    def __init__(self, share: ArrayLike, k: ArrayLike) -> None:
        part = np.asarray(share, dtype=np.float64)
        require_probability("share", part, one_allowed=True)
        inside = NegativeBinomialCounts(k)
        for name, value in (("share", part), ("k", inside.k), ("_inside", inside)):
            object.__setattr__(self, name, value)

    def only_one(self) -> str:
        return self._inside.only_one()

    def log_chances(self, mean: FloatArray, most: int) -> FloatArray:
        with np.errstate(divide="ignore"):
            inside = self._inside.log_chances(np.asarray(mean / self.share), most)
            found = np.log(self.share)[..., None] + inside
            found[..., 0] = np.logaddexp(found[..., 0], np.log1p(-self.share))
        return np.asarray(found)
