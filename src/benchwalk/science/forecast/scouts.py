"""What one scout sees beside another: one offset a scout, shared over all series.

Scouts who walk the same series in turn make a saw of its counts. The offset that makes all counts
together most probable, drawn to 0, takes it out; it enters each update as a known mean and
variance, never as added noise.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from benchwalk.science.arguments import FloatArray
from benchwalk.science.forecast.data import IntArray, Series
from benchwalk.science.forecast.filter import run
from benchwalk.science.forecast.params import DEFAULTS, Params, ScoutOffset

PRIOR_SD = 0.5  # engine start value
STEP, CLIP, ROUNDS, FARTHEST = 0.2, 0.4, 8, 2.0


def scout_offsets(
    series: Series, params: Params = DEFAULTS, *, prior_sd: float = PRIOR_SD
) -> dict[int, ScoutOffset]:
    """Offset of every scout on the log scale, with its sd, by the evidence of all counts.

    The scout with most counts in each circle of scouts who share series is what the others are
    compared with, and has none. A scout who shares no series with another has none either.

    Parameters
    ----------
    series : with ``scout``; -1 is nobody's count and stays so.
    prior_sd : sd of a scout around all scouts, before anything is seen; a difference of two has
        that of two.
    """
    if series.scout is None:
        return {}
    held = _Shared(np.asarray(series.series, np.int64), np.asarray(series.scout, np.int64))
    offsets = {s: ScoutOffset(0.0, 0.0, n) for s, n in held.looks.items()}
    for _ in range(ROUNDS):
        for together in held.apart:
            offsets |= _climbed(series, params, held, offsets, together, prior_sd)
    return offsets


class _Shared:
    """Who counted in which series."""

    def __init__(self, of: IntArray, scout: IntArray) -> None:
        known = scout >= 0
        self.looks = {
            int(s): int(n)
            for s, n in zip(*np.unique(scout[known], return_counts=True), strict=True)
        }
        self.series = {s: frozenset(of[scout == s].tolist()) for s in self.looks}
        self.apart = self._apart(self._compared())

    def _compared(self) -> list[int]:
        """All but the one with most counts of each circle."""
        left, compared = set(self.looks), []
        while left:
            circle, reach = set[int](), frozenset[int]()
            grown = {max(left, key=lambda s: (self.looks[s], -s))}
            while grown - circle:
                circle |= grown
                reach = frozenset().union(*(self.series[s] for s in circle))
                grown = {s for s in left if self.series[s] & reach}
            best = max(circle, key=lambda s: (self.looks[s], -s))
            compared += sorted(circle - {best})
            left -= circle
        return compared

    def _apart(self, scouts: list[int]) -> list[list[int]]:
        """Scouts in sets of which no two share a series, so that each set is moved at once."""
        sets: list[tuple[list[int], set[int]]] = []
        for s in scouts:
            for held, reach in sets:
                if not reach & self.series[s]:
                    held.append(s)
                    reach |= self.series[s]
                    break
            else:
                sets.append(([s], set(self.series[s])))
        return [held for held, _ in sets]


def _climbed(
    series: Series, params: Params, held: _Shared, offsets: dict[int, ScoutOffset],
    together: list[int], prior_sd: float,
) -> dict[int, ScoutOffset]:  # fmt: skip
    """One Newton step of each scout's offset, by three points of the evidence."""
    # a surprise would make the evidence jump as the offset moves
    smooth, points = replace(params, surprise=np.inf), []
    for shift in (-STEP, 0.0, STEP):
        moved = {s: replace(o, mean=o.mean + shift * (s in together)) for s, o in offsets.items()}
        result = run(series, replace(smooth, scouts=moved), horizons=(1.0,))
        total = np.bincount(result.series, result.log_evidence, minlength=series.number)
        points.append(np.asarray(total, float))
    return {s: _one(offsets[s], points, sorted(held.series[s]), prior_sd) for s in together}


def _one(
    offset: ScoutOffset, points: list[FloatArray], series: list[int], prior_sd: float
) -> ScoutOffset:
    low, here, high = (float(p[series].sum()) for p in points)
    # a difference of two scouts, each of whom is unlike all others by the prior's sd
    prior = 2 * prior_sd**2
    slope = (high - low) / (2 * STEP) - offset.mean / prior
    curve = max(-(high - 2 * here + low) / STEP**2, 0.0) + 1 / prior
    mean = offset.mean + float(np.clip(slope / curve, -CLIP, CLIP))
    mean = float(np.clip(mean, -FARTHEST, FARTHEST))
    return ScoutOffset(mean, float(1 / np.sqrt(curve)), offset.looks)
