"""When leaves are wet, and for how long at a time.

A wetness sensor or a leaf temperature is trusted first. The rule by humidity is for houses that
have neither: wet from 90 % on, or within 2 degC of the dew point.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import FloatArray, TextArray, as_floats, first_reason
from benchwalk.science.climate.humidity import humidity

#: common practice, no source [%], [degC]
HUMID_FROM, DEW_WITHIN = 90.0, 2.0
#: between two readings that is bridged; common practice, no source [h]
LONGEST_GAP = 2.0


@dataclass(frozen=True, eq=False)
class WetPeriods:
    """Stretches of wetness in order of time, each an entry of every array."""

    start: FloatArray  #: [h]
    end: FloatArray  #: [h]
    wet_hours: FloatArray  #: without dry gaps that were bridged [h]
    temperature: FloatArray  #: mean while wet; NaN where no reading has one [degC]
    reason: TextArray


def wet_by_leaf(leaf_temperature: ArrayLike, dew_point: ArrayLike) -> FloatArray:
    """1 where a leaf is at the dew point or below, 0 where above, NaN where not known. [degC]"""
    leaf, dew = as_floats(leaf_temperature=leaf_temperature, dew_point=dew_point)
    return np.where(np.isnan(leaf) | np.isnan(dew), np.nan, leaf <= dew)


def wet_by_humidity(
    temperature: ArrayLike,
    relative_humidity: ArrayLike,
    *,
    humid_from: ArrayLike = HUMID_FROM,
    dew_within: ArrayLike = DEW_WITHIN,
) -> FloatArray:
    """1 where the air is so humid that leaves are taken to be wet, 0 where not, NaN where unknown.

    Parameters
    ----------
    temperature, relative_humidity : of the air. [degC], [%]
    humid_from : wet at this humidity and above. [%]
    dew_within : wet where the dew point is this near to the temperature. [degC, a difference]

    Examples
    --------
    >>> wet_by_humidity([20, 20, float("nan")], [95, 60, 95])
    array([ 1.,  0., nan])
    """
    t, rh, humid, within = as_floats(
        temperature=temperature, relative_humidity=relative_humidity,
        humid_from=humid_from, dew_within=dew_within,
    )  # fmt: skip
    air = humidity(t, rh)
    # air of 0 % has no dew point, and is dry
    near = t - np.where(rh == 0, -np.inf, air.dew_point) <= within
    return np.where(np.isnan(air.vapour_pressure), np.nan, (rh >= humid) | near)


def wet_periods(
    hours: ArrayLike,
    wet: ArrayLike,
    temperature: ArrayLike = np.nan,
    *,
    longest_dry: float,
    longest_gap: float = LONGEST_GAP,
) -> WetPeriods:
    """Wet stretches of one sensor, joined over short dry gaps.

    Parameters
    ----------
    hours : of each reading, rising, shape (readings,); a reading stands until the next one. [h]
    wet : 1, 0, or NaN where not known; shape (readings,).
    temperature : at each reading. [degC]
    longest_dry : gap that a wet period survives; spores dry out in a longer one. [h]
    longest_gap : longest time for which a reading stands; later is not known. [h]

    Returns
    -------
    WetPeriods : "cut" marks a period that begins with the readings, or begins or ends where nothing
        is known, or that the last reading does not end: it was at least so long. No wet hour gives
        arrays of length 0.

    Raises
    ------
    ValueError : times that do not rise, unequal numbers, wetness other than 0, 1 and NaN.

    Examples
    --------
    >>> found = wet_periods(range(9), [0, 1, 1, 0, 1, 0, 0, 0, 0], 18, longest_dry=1)
    >>> found.start, found.end, found.wet_hours
    (array([1.]), array([5.]), array([3.]))
    """
    at, state, warm = as_floats(hours=hours, wet=wet, temperature=temperature)
    _check(at, state)
    ends_dry = state[-1] == 0
    begin, end, state, warm = _stretches(at, state, warm, longest_gap)
    first, last = _joined(begin, end, state, longest_dry)
    rows = [slice(i, j) for i, j in zip(first, last + 1, strict=True)]
    length = np.where(state == 1, end - begin, 0.0)
    known_warm = np.where(np.isnan(warm), 0, length)
    hours_wet = np.array([length[r].sum() for r in rows])
    warmed = np.array([(known_warm[r] * np.nan_to_num(warm[r])).sum() for r in rows])
    known = np.array([known_warm[r].sum() for r in rows])
    unknown = np.concatenate([[True], np.isnan(state), [not ends_dry]])
    reason = first_reason(hours_wet.shape, ("cut", unknown[first] | unknown[last + 2]))
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = warmed / known
    return WetPeriods(begin[first], end[last], hours_wet, mean, reason)


def _check(at: FloatArray, state: FloatArray) -> None:
    if at.ndim != 1 or at.size < 2 or not (np.diff(at) > 0).all():
        raise ValueError(
            f"got hours of shape {at.shape} that do not rise; expected two or more rising times in "
            "one dimension; sort the readings of one sensor"
        )
    wrong = ~(np.isin(state, (0, 1)) | np.isnan(state))
    if wrong.any():
        raise ValueError(
            f"got wet {state[wrong][0]:g}; expected 1, 0, or NaN where not known; compare the "
            "sensor with its own threshold first"
        )


def _stretches(
    at: FloatArray, state: FloatArray, warm: FloatArray, longest_gap: float
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Begin, end, state and temperature of the stretch after each reading, and of each gap."""
    until = np.minimum(at[1:], at[:-1] + longest_gap)
    begin = np.ravel(np.column_stack([at[:-1], until]))
    end = np.ravel(np.column_stack([until, at[1:]]))
    nothing = np.full(until.shape, np.nan)
    states = np.ravel(np.column_stack([state[:-1], nothing]))
    warmth = np.ravel(np.column_stack([warm[:-1], nothing]))
    there = end > begin
    return begin[there], end[there], states[there], warmth[there]


def _joined(
    begin: FloatArray, end: FloatArray, state: FloatArray, longest_dry: float
) -> tuple[np.ndarray[tuple[int], np.dtype[np.intp]], np.ndarray[tuple[int], np.dtype[np.intp]]]:
    """First and last stretch of each period."""
    wet = np.flatnonzero(state == 1)
    if not wet.size:
        return wet, wet
    gaps = begin[wet[1:]] - end[wet[:-1]]
    unknown = np.concatenate([[0], np.cumsum(np.isnan(state))])
    apart = (gaps > longest_dry) | (unknown[wet[1:]] > unknown[wet[:-1]])
    return wet[np.concatenate([[True], apart])], wet[np.concatenate([apart, [True]])]
