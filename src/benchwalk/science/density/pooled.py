"""One mean for several units, each counting by its size."""

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
    require_not_negative,
)
from benchwalk.science.density.changes import NO_INTERVAL
from benchwalk.science.density.means import DENSITY_LEVEL, mean_interval
from benchwalk.science.density.recovery import Distances, distances
from benchwalk.science.limits import Rule


@dataclass(frozen=True, eq=False)
class PooledMean:
    """Mean over units with its confidence limits; the units' axis is gone."""

    mean: FloatArray  #: over the units that have a mean [individuals/sample unit]
    low: FloatArray
    high: FloatArray
    units: FloatArray  #: number of units in it
    share: FloatArray  #: of the weight of all units that those in it have
    reason: TextArray


def pooled_mean(
    total: ArrayLike,
    n: ArrayLike,
    k: ArrayLike,
    weight: ArrayLike,
    *,
    level: ArrayLike = DENSITY_LEVEL,
    rule: Rule = "blaker",
) -> PooledMean:
    """Mean over units, weighted by their size, from a sample of each (a stratified mean).

    A total over units weighs each by how many plants were looked at in it; this one weighs each by
    how many there are. Its limits are recovered from those of the units ([ZouDonner2008]_).

    Parameters
    ----------
    total, n, k : of each unit, units on the last axis, as in :func:`mean_interval`.
    weight : plants of each unit, or area, on any scale.
    level, rule : as in :func:`mean_interval`.

    Returns
    -------
    PooledMean : units without a mean are left out of it, never counted as 0: "some_not_looked"
        (n of 0 or absent) and "some_not_counted" say so, and ``share`` says how much is known.
        "no_effort": no unit was looked at. "no_weight": a weight is absent, or all are 0. A unit's
        reason for having no interval is passed on; the mean stands.

    Raises
    ------
    ValueError : as :func:`mean_interval`, a negative weight.

    Examples
    --------
    >>> found = pooled_mean([30, 2, 0], [20, 20, 0], 0.6, weight=[100, 300, 100])
    >>> float(found.mean), float(found.share), str(found.reason)
    (0.45, 0.8, 'some_not_looked')
    """
    t, units, spread, w, confidence = as_floats(total=total, n=n, k=k, weight=weight, level=level)
    require_not_negative("weight", w)
    found = mean_interval(t, units, spread, level=confidence, rule=rule)
    there = ~np.isnan(found.mean)
    known = np.where(there, w, 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        weights = known / known.sum(axis=-1, keepdims=True)
        share = known.sum(axis=-1) / w.sum(axis=-1)
    part = _weighted(distances(found), weights, there)
    mean = part.centre.sum(axis=-1)
    below, above = (np.sqrt((d**2).sum(axis=-1)) for d in (part.to_low, part.to_high))
    reason = _reason(found.reason, w, known)
    return PooledMean(
        np.where(np.isin(reason, ("no_effort", "no_weight")), np.nan, mean),
        mean - below,
        mean + above,
        there.sum(axis=-1).astype(np.float64),
        share,
        reason,
    )


def _weighted(part: Distances, weights: FloatArray, there: BoolArray) -> Distances:
    """Parts without a mean add nothing; what adds nothing has no say in the limits either."""
    nothing = ~there | (weights == 0)
    return Distances(
        np.where(nothing, 0, weights * part.centre),
        np.where(nothing, 0, weights * part.to_low),
        np.where(nothing, 0, weights * part.to_high),
    )


def _reason(units: TextArray, weight: FloatArray, known: FloatArray) -> TextArray:
    none_known = ~(known.sum(axis=-1) > 0)
    none_weigh = np.isnan(weight).any(axis=-1) | ~(np.nansum(weight, axis=-1) > 0)
    units = np.where(weight == 0, "", units)
    without_limits = [c for c in NO_INTERVAL if c not in ("no_effort", "not_counted")]
    return first_reason(
        none_known.shape,
        ("no_weight", none_weigh),
        ("no_effort", none_known),
        *((code, (units == code).any(axis=-1)) for code in without_limits),
        ("some_not_looked", (units == "no_effort").any(axis=-1)),
        ("some_not_counted", (units == "not_counted").any(axis=-1)),
    )
