"""Limits of a sum of estimates, recovered from the limits of each ([ZouDonner2008]_).

The distance from a weighted sum to its limit is the root of the sum of squares of the weighted
distances of each estimate to its own limit on that side. The lopsidedness of each interval is kept,
and an estimate of 0 is no special case.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchwalk.science.arguments import FloatArray
from benchwalk.science.density.means import MeanInterval, mean_interval
from benchwalk.science.limits import Rule


@dataclass(frozen=True, eq=False)
class Distances:
    """An estimate, and how far it is to its limits."""

    centre: FloatArray
    to_low: FloatArray
    to_high: FloatArray


@dataclass(frozen=True, eq=False)
class Recovered:
    """A sum of estimates with its limits."""

    centre: FloatArray
    low: FloatArray
    high: FloatArray


def intervals_of(samples: Sequence[Sequence[FloatArray]], rule: Rule) -> list[MeanInterval]:
    """The intervals of several samples (total, n, k, level), each in its own shape.

    All are solved in one go: what samples have in common is not broadcast, and not solved twice.
    """
    columns = [np.concatenate([a.ravel() for a in column]) for column in zip(*samples, strict=True)]
    total, n, k, level = columns
    found = mean_interval(total, n, k, level=level, rule=rule)
    ends = np.cumsum([sample[0].size for sample in samples])
    starts = np.concatenate([[0], ends[:-1]])
    return [
        _part(found, slice(start, end), sample[0].shape)
        for sample, start, end in zip(samples, starts, ends, strict=True)
    ]


def _part(found: MeanInterval, rows: slice, shape: tuple[int, ...]) -> MeanInterval:
    return MeanInterval(
        found.mean[rows].reshape(shape),
        found.low[rows].reshape(shape),
        found.high[rows].reshape(shape),
        found.reason[rows].reshape(shape),
    )


def distances(found: MeanInterval) -> Distances:
    """Of a mean to its limits."""
    return Distances(found.mean, found.mean - found.low, found.high - found.mean)


def log_distances(found: MeanInterval, n: FloatArray) -> Distances:
    """Of ln mean to the ln of its limits; half an individual stands for none in the distances."""
    with np.errstate(divide="ignore", invalid="ignore"):
        centre = np.log(np.where(found.mean == 0, 0.5 / n, found.mean))
        return Distances(centre, centre - np.log(found.low), np.log(found.high) - centre)


def weighted_sum(parts: Sequence[Distances], weights: Sequence[FloatArray | float]) -> Recovered:
    """Sum of weight times estimate, with its limits; a negative weight turns its part round."""
    turned = [_weighted(part, np.asarray(w)) for part, w in zip(parts, weights, strict=True)]
    shape = np.broadcast_shapes(*(part.centre.shape for part in turned))
    centre, below, above = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    for part in turned:
        centre = centre + part.centre
        below, above = np.hypot(below, part.to_low), np.hypot(above, part.to_high)
    return Recovered(centre, centre - below, centre + above)


def _weighted(part: Distances, weight: FloatArray) -> Distances:
    keeps = weight >= 0
    return Distances(
        weight * part.centre,
        np.abs(weight) * np.where(keeps, part.to_low, part.to_high),
        np.abs(weight) * np.where(keeps, part.to_high, part.to_low),
    )
