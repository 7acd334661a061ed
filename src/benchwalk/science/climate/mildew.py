"""An index of warm spells that favour powdery mildew, made for grapes ([GublerThomas]_)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import (
    FloatArray,
    TextArray,
    as_floats,
    first_reason,
    require_not_negative,
)

#: of the band for grapes, 70 to 85 degF, and of a hot day, 95 degF [degC]
BAND_LOW, BAND_HIGH, HOT = (70 - 32) / 1.8, (85 - 32) / 1.8, (95 - 32) / 1.8
_HOURS = 24.0
# hours in the band that make a good day; hours of heat that make a hot one
_GOOD_HOURS, _HOT_HOURS = 6.0, 0.25
_RISE, _FALL, _BOTH = 20.0, -10.0, 10.0
_STARTED, _HIGHEST = 60.0, 100.0


@dataclass(frozen=True, eq=False)
class WarmSpells:
    """What a day's temperature does for mildew, shape (days,)."""

    band_hours: FloatArray  #: longest stretch in the band [h]
    hot_hours: FloatArray  #: all together [h]
    reason: TextArray


@dataclass(frozen=True, eq=False)
class MildewIndex:
    """Index of each day, 0 to 100; days on the last axis."""

    index: FloatArray
    crop: str  #: "grape", or the crop it is borrowed for: a generic warm-spell index there
    reason: TextArray


def warm_spells(
    hours: ArrayLike,
    temperature: ArrayLike,
    *,
    low: float = BAND_LOW,
    high: float = BAND_HIGH,
    hot: float = HOT,
    longest_gap: float = 2.0,
) -> WarmSpells:
    """Longest stretch in a band of temperature, and hours of heat, of each day.

    Parameters
    ----------
    hours : of each reading since midnight before the first day, rising, shape (readings,); a
        reading stands until the next one, at midnight a stretch begins anew. [h]
    temperature : shape (readings,); NaN where there is no reading. [degC]
    low, high, hot : ends of the band, both in it; heat from ``hot`` on. [degC]
    longest_gap : longest time for which a reading stands. [h]

    Returns
    -------
    WarmSpells : a day that is not covered in full has no numbers ("gap").

    Raises
    ------
    ValueError : times that do not rise or are negative, unequal numbers.
    """
    at, t = as_floats(hours=hours, temperature=temperature)
    if at.ndim != 1 or at.size < 2 or at[0] < 0 or not (np.diff(at) > 0).all():
        raise ValueError(
            f"got hours of shape {at.shape} that do not rise or are negative; expected two or more "
            "rising times since the first midnight; sort the readings of one sensor"
        )
    days = int(np.ceil(at[-1] / _HOURS))
    edges = np.union1d(at, _HOURS * np.arange(days + 1))
    holds = np.searchsorted(at, edges[:-1], side="right") - 1
    known = (holds >= 0) & (edges[1:] <= at[-1]) & (edges[1:] - at[holds] <= longest_gap)
    there = np.where(known, t[holds], np.nan)
    day, length = (edges[:-1] // _HOURS).astype(np.intp), np.diff(edges)
    unknown = np.bincount(day, np.where(np.isnan(there), length, 0), days) > 0
    hot_hours = np.bincount(day, np.where(there >= hot, length, 0), days)
    band = _longest(day, length, (there >= low) & (there <= high), days)
    return WarmSpells(
        np.where(unknown, np.nan, band),
        np.where(unknown, np.nan, hot_hours),
        first_reason((days,), ("gap", unknown)),
    )


def _longest(
    day: np.ndarray[tuple[int], np.dtype[np.intp]],
    length: FloatArray,
    inside: np.ndarray[tuple[int, ...], np.dtype[np.bool_]],
    days: int,
) -> FloatArray:
    longest, run, today = np.zeros(days), 0.0, -1
    for d, hours, good in zip(day.tolist(), length.tolist(), inside, strict=True):
        run = (run if d == today else 0.0) + hours if good else 0.0
        today = d
        longest[d] = max(longest[d], run)
    return longest


def mildew_index(
    band_hours: ArrayLike, hot_hours: ArrayLike, *, crop: str = "grape"
) -> MildewIndex:
    """Index of powdery mildew from day to day ([GublerThomas]_).

    It starts with three days in a row of six hours or more in the band: 20, 40, 60; a day without
    puts it back to 0. Then six hours in the band add 20, fewer take 10, heat for a quarter of an
    hour takes 10, both good hours and heat add 10; a day never takes more than 10.

    Parameters
    ----------
    band_hours, hot_hours : of each day, days on the last axis, as :func:`warm_spells`. [h]
    crop : "grape", or the crop it is borrowed for, which it was not made for.

    Returns
    -------
    MildewIndex : NaN from a day without numbers on ("gap"): the index carries over, and so does
        not knowing it.

    Raises
    ------
    ValueError : negative hours, no crop.

    Examples
    --------
    >>> mildew_index([8, 7, 2, 6, 9, 10, 8, 3], 0).index
    array([20., 40.,  0., 20., 40., 60., 80., 70.])
    """
    band, heat = as_floats(band_hours=band_hours, hot_hours=hot_hours)
    require_not_negative("band_hours", band)
    require_not_negative("hot_hours", heat)
    if not crop:
        raise ValueError("got no crop; expected the crop that the index is for; name it")
    good, hot = band >= _GOOD_HOURS, heat >= _HOT_HOURS
    step = np.where(good, np.where(hot, _BOTH, _RISE), _FALL)
    unknown = np.logical_or.accumulate(np.isnan(band) | np.isnan(heat), axis=-1)
    index = np.empty(band.shape)
    now, started = np.zeros(band.shape[:-1]), np.zeros(band.shape[:-1], dtype=np.bool_)
    for day in range(band.shape[-1]):
        before = np.where(good[..., day], now + _RISE, 0)
        after = np.clip(now + step[..., day], 0, _HIGHEST)
        now = np.where(started, after, before)
        started = started | (now >= _STARTED)
        index[..., day] = now
    return MildewIndex(
        np.where(unknown, np.nan, index), crop, first_reason(band.shape, ("gap", unknown))
    )


def mildew_class(index: ArrayLike) -> TextArray:
    """Class of an index: "low" to 30, "moderate" to 60, "high" above ([GublerThomas]_)."""
    x = np.asarray(index, np.float64)
    return first_reason(x.shape, ("low", x <= 30), ("moderate", x <= 60), ("high", x > 60))
