"""Degree-days from readings through the day.

In a greenhouse the curve of a day is no sine: vents, heating and screens shape it. Readings are
joined by straight lines, and the heat under each line is summed exactly. A gap is bridged by its
line up to ``longest_gap``; a day with a longer gap falls back on its lowest and highest
temperature where those are known, and says so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import BoolArray, FloatArray, TextArray, as_floats, first_reason
from benchwalk.science.degree_days.daily import (
    Cutoff,
    above_triangle,
    check_temperatures,
    heat_of,
    require_finite,
    single_sine,
)

HOURS = 24.0
#: common practice, no source [h]
LONGEST_GAP = 2.0


@dataclass(frozen=True, eq=False)
class HeatOfDays:
    """Heat of each day; the last axis is days, those before it are of the thresholds."""

    degree_days: FloatArray  #: [degree-days, of the scale of the readings]
    hours_missing: FloatArray  #: of each day in gaps that are too long, shape (days,) [h]
    reason: TextArray


def heat_of_days(
    hours: ArrayLike,
    temperature: ArrayLike,
    lower: ArrayLike,
    upper: ArrayLike = np.inf,
    *,
    cutoff: Cutoff = "horizontal",
    longest_gap: float = LONGEST_GAP,
    minimum: ArrayLike = np.nan,
    maximum: ArrayLike = np.nan,
) -> HeatOfDays:
    """Degree-days of each day from readings of one sensor.

    Parameters
    ----------
    hours : of each reading since midnight before the first day, rising, shape (readings,). On a
        clock that is not moved in spring and autumn. [h]
    temperature : shape (readings,); NaN where there is no reading. [deg, one scale throughout]
    lower, upper, cutoff : as :func:`single_sine`; several thresholds give a row each.
    longest_gap : between two readings that is bridged by a line. [h]
    minimum, maximum : of each day from another thermometer, shape (days,) or one NaN for none.

    Returns
    -------
    HeatOfDays : "by_extremes" marks a day with a longer gap, from its minimum and maximum by
        :func:`single_sine`; without them the day has no number ("gap"). A gap is never 0 heat.
        The hours before the first and after the last reading of their days are gaps too.

    Raises
    ------
    ValueError : times that do not rise or are negative, unequal numbers of times and readings, no
        reading at all, an infinite reading, lower above upper, minimum above maximum.

    Examples
    --------
    >>> found = heat_of_days([0, 1, 2, 5, 24, 48], [12, 12, 12, 12, 12, 24], 10, longest_gap=24)
    >>> found.degree_days
    array([2., 8.])
    >>> heat_of_days([0, 1, 2, 5, 24], [12] * 5, 10).reason
    array(['gap'], dtype='<U20')
    """
    at, read = _readings(hours, temperature)
    low, high = as_floats(lower=lower, upper=upper)
    days = max(int(np.ceil(np.asarray(hours, dtype=np.float64)[-1] / HOURS)), 1)
    mn, mx = (np.broadcast_to(np.asarray(m, dtype=np.float64), days) for m in (minimum, maximum))
    low, high = low[..., np.newaxis], high[..., np.newaxis]
    check_temperatures(mn, mx, low, high)
    edges, there, covered = _segments(at, read, days, longest_gap)
    heat = _sums(edges, there, covered, low, high, cutoff, days)
    missing = _by_day(np.where(covered, 0.0, np.diff(edges)), edges, days)
    extremes = single_sine(mn, mx, low, high, cutoff=cutoff).degree_days
    gap = missing > 0
    shape = np.broadcast_shapes(low.shape, (days,))
    reason = first_reason(
        shape,
        ("no_threshold", np.isnan(low) | np.isnan(high)),
        ("gap", gap & np.isnan(extremes)),
        ("by_extremes", gap),
        ("below_zero", heat < 0),
    )
    return HeatOfDays(np.where(gap, extremes, np.maximum(heat, 0)), missing, reason)


def _readings(hours: ArrayLike, temperature: ArrayLike) -> tuple[FloatArray, FloatArray]:
    at, read = (np.asarray(a, dtype=np.float64) for a in (hours, temperature))
    if at.shape != read.shape or at.ndim != 1 or not at.size:
        raise ValueError(
            f"got hours of shape {at.shape} and temperature of shape {read.shape}; expected one "
            "time for each reading, in one dimension; give both of one sensor"
        )
    if at[0] < 0 or not (np.diff(at) > 0).all():
        raise ValueError(
            "got hours that are negative or do not rise; expected rising times since the first "
            "midnight; sort the readings and drop repeated times"
        )
    require_finite("temperature", read)
    some = ~np.isnan(read)
    if not some.any():
        raise ValueError(
            "got no reading but NaN; expected at least one temperature; leave out a sensor that "
            "recorded nothing"
        )
    return at[some], read[some]


def _segments(
    at: FloatArray, read: FloatArray, days: int, longest_gap: float
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Times and temperatures at readings and midnights, and which stretches between are covered."""
    edges = np.union1d(at, HOURS * np.arange(days + 1))
    after = np.searchsorted(at, edges[:-1], side="right")
    inside = (after > 0) & (after < at.size)
    covered = np.zeros(edges.size - 1, dtype=np.bool_)
    covered[inside] = np.diff(at)[after[inside] - 1] <= longest_gap
    return edges, np.interp(edges, at, read), covered


def _sums(
    edges: FloatArray,
    there: FloatArray,
    covered: BoolArray,
    low: FloatArray,
    high: FloatArray,
    cutoff: Cutoff,
    days: int,
) -> FloatArray:
    begin, end = there[:-1], there[1:]
    # along a straight line the time at each temperature is that of half a triangle
    heat = heat_of(
        above_triangle, np.minimum(begin, end), np.maximum(begin, end), low, high, cutoff
    )
    part = np.where(covered, heat * np.diff(edges) / HOURS, 0)
    return _by_day(part, edges, days)


def _by_day(parts: FloatArray, edges: FloatArray, days: int) -> FloatArray:
    """Sums of each day; every midnight is an edge, so no part belongs to two days."""
    begins = np.searchsorted(edges, HOURS * np.arange(days))
    return np.add.reduceat(parts, begins, axis=-1)
