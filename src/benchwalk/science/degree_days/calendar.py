"""When stages begin and generations end, from the heat of the days.

No two individuals need the same heat. The heat that a stage takes is gamma distributed with its
thermal constant as the mean and a coefficient of variation that is given, never assumed; stages
are independent of each other. Day numbers count from the start of the first day: 2.5 is noon of
the third.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from benchwalk.science.arguments import (
    FloatArray,
    TextArray,
    first_reason,
    require_not_negative,
    require_positive,
    require_probability,
)

# a stage is entered in the middle of such a part; the error is at most half of it
_PARTS_OF_A_DAY = 8
# below it the gamma function is a step, and its shape too large to compute with
_LEAST_SPREAD = 1e-4
# of a share; sums of shares are whole but for rounding
_TIE = 1e-12


@dataclass(frozen=True, eq=False)
class DayReached:
    """Day on which a sum of heat is reached."""

    day: FloatArray  #: [days since the start of the first day]
    reason: TextArray


@dataclass(frozen=True, eq=False)
class StageCalendar:
    """How a cohort that starts on one day passes through its stages."""

    share_done: FloatArray  #: with each stage at the end of each day, shape (stages, days)
    day: FloatArray  #: on which each share is done with each stage, shape (stages, shares) [days]
    reason: TextArray  #: of each entry of ``day``


def day_reached(degree_days: ArrayLike, heat: ArrayLike, start: ArrayLike = 0.0) -> DayReached:
    """Day on which a sum of degree-days since a start is reached.

    Parameters
    ----------
    degree_days : of each day, shape (days,); NaN where unknown. [degree-days]
    heat : to be reached; broadcasts with start. [degree-days]
    start : day from which heat counts. [days since the start of the first day]

    Returns
    -------
    DayReached : "not_reached" where the days given are too few, "gap" where a day before it has no
        number: the sum is unknown from there on. Heat within a day is spread evenly.

    Raises
    ------
    ValueError : negative degree-days or heat, a start outside the days given.

    Examples
    --------
    >>> day_reached([8, 10, 12, 10], [18, 25, 99]).day
    array([2.        , 2.58333333,        nan])
    """
    daily = _daily(degree_days, 1)
    need, begin = np.broadcast_arrays(np.asarray(heat, np.float64), np.asarray(start, np.float64))
    require_positive("heat", need)
    _check_start(begin, daily.size)
    known = int(np.argmax(np.isnan(daily))) if np.isnan(daily).any() else daily.size
    total = np.concatenate([[0.0], np.cumsum(daily[:known])])
    after_gap = begin > known
    wanted = need + np.interp(np.minimum(begin, known), np.arange(known + 1), total)
    reached = (wanted <= total[-1]) & ~after_gap
    reason = first_reason(
        need.shape,
        ("no_heat", np.isnan(need)),
        ("", reached),
        ("gap", np.asarray(known < daily.size)),
    )
    reason = np.where((reason == "") & ~reached, "not_reached", reason)
    return DayReached(np.where(reached, _first_day(total, wanted), np.nan), reason)


def _first_day(total: FloatArray, wanted: FloatArray) -> FloatArray:
    """Where a sum that may stand still first reaches a value."""
    after = np.clip(np.searchsorted(total, wanted, side="left"), 1, total.size - 1)
    step = total[after] - total[after - 1]
    # beyond the last day a tiny step gives anything; the caller leaves those out
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        part = np.where(step > 0, (wanted - total[after - 1]) / step, 0)
    return np.asarray(after - 1 + np.clip(part, 0, 1))


def generation_ends(degree_days: ArrayLike, constant: float, start: float = 0.0) -> FloatArray:
    """Days on which one generation after another is complete, from a start.

    Parameters
    ----------
    degree_days : of each day, shape (days,); NaN ends what can be said. [degree-days]
    constant : thermal constant of a generation. [degree-days]
    start : of the first. [days since the start of the first day]

    Returns
    -------
    ndarray : one day for each generation that is complete within the days given; may be empty.

    Raises
    ------
    ValueError : as :func:`day_reached`.

    Examples
    --------
    >>> generation_ends([10] * 30, 144.5)
    array([14.45, 28.9 ])
    """
    require_positive("constant", np.asarray(constant, np.float64))
    most = int(np.nansum(_daily(degree_days, 1)) / constant)
    ends = day_reached(degree_days, constant * np.arange(1, most + 1), start)
    return np.asarray(ends.day[ends.reason == ""])


def stage_calendar(
    degree_days: ArrayLike,
    constant: ArrayLike,
    spread: ArrayLike,
    *,
    shares: ArrayLike = (0.1, 0.5, 0.9),
    start: float = 0.0,
) -> StageCalendar:
    """When a cohort is done with each stage, in order.

    Parameters
    ----------
    degree_days : of each day above each stage's own threshold, shape (stages, days), or (days,)
        where all stages have one threshold; NaN where unknown. [degree-days]
    constant : mean heat that each stage takes, shape (stages,). [degree-days]
    spread : coefficient of variation of that heat, one or shape (stages,); 0 for none.
    shares : of the cohort whose days are asked for.
    start : day on which the cohort enters the first stage. [days since the start of the first day]

    Returns
    -------
    StageCalendar : ``share_done`` is NaN from a day without a number on. ``day`` is NaN with
        "not_reached" or "gap".

    Raises
    ------
    ValueError : a constant of 0 or less or absent, a negative spread, shares outside (0, 1),
        negative degree-days, a start outside the days given, numbers of stages that differ.

    Examples
    --------
    >>> found = stage_calendar([10] * 40, constant=[50, 100], spread=0.1)
    >>> found.day.round(1)
    array([[ 4.4,  5. ,  5.7],
           [13.6, 15. , 16.5]])
    """
    need, spreads = np.broadcast_arrays(
        np.atleast_1d(np.asarray(constant, np.float64)), np.asarray(spread, np.float64)
    )
    asked = np.asarray(shares, np.float64)
    require_probability("shares", asked)
    require_positive("constant", need)
    require_not_negative("spread", spreads)
    if np.isnan(need).any() or np.isnan(spreads).any():
        raise ValueError(
            "got NaN among constant or spread; expected a number for each stage; leave out a "
            "stage that nothing is known of"
        )
    daily = np.broadcast_to(_daily(degree_days, 2), (need.size, np.shape(degree_days)[-1]))
    _check_start(np.asarray(start), daily.shape[1])
    times, total = _fine(daily, start)
    done = np.where(times >= start, 1.0, 0.0)
    shares_done = []
    for stage in range(need.size):
        done = _leave(done, total[stage], need[stage], spreads[stage])
        shares_done.append(done)
    return _calendar(times, np.array(shares_done), asked)


def _fine(daily: FloatArray, start: float) -> tuple[FloatArray, FloatArray]:
    """Points in time, the start among them, and the heat of each stage summed up to each."""
    days = daily.shape[1]
    times = np.union1d(np.arange(days * _PARTS_OF_A_DAY + 1) / _PARTS_OF_A_DAY, [start])
    sums = np.concatenate([np.zeros((daily.shape[0], 1)), np.cumsum(daily, axis=1)], axis=1)
    return times, np.array([np.interp(times, np.arange(days + 1), s) for s in sums])


def _leave(entered: FloatArray, total: FloatArray, need: float, spread: float) -> FloatArray:
    """Share that has left a stage, from the share that has entered it at each point in time."""
    arrivals = np.diff(entered, prepend=0.0)
    # the first arrivals come at one moment; later ones on average halfway since the point before
    at = np.concatenate([total[:1], (total[1:] + total[:-1]) / 2])
    first = int(np.argmax(entered > 0))
    at[first] = total[first]
    heat = np.maximum(total[:, np.newaxis] - at[np.newaxis, :], 0)
    some = arrivals > 0
    return np.asarray(_done_after(heat[:, some], need, spread) @ arrivals[some])


def _done_after(heat: FloatArray, need: float, spread: float) -> FloatArray:
    if spread < _LEAST_SPREAD:
        return np.where(heat >= need, 1.0, 0.0)
    shape = spread**-2
    return np.asarray(special.gammainc(shape, heat * shape / need))


def _calendar(times: FloatArray, done: FloatArray, shares: FloatArray) -> StageCalendar:
    at_end = done[:, np.isin(times, np.arange(1, times[-1] + 1))]
    day = np.full((done.shape[0], shares.size), np.nan)
    for stage, curve in enumerate(done):
        known = ~np.isnan(curve)
        reached = shares <= np.max(curve[known], initial=0) + _TIE
        day[stage, reached] = _first_day_at(times[known], curve[known], shares[reached])
    gap = np.isnan(done[:, -1])[:, np.newaxis]
    missing = np.isnan(day)
    reason = first_reason(day.shape, ("gap", missing & gap), ("not_reached", missing))
    return StageCalendar(at_end, day, reason)


def _first_day_at(times: FloatArray, curve: FloatArray, shares: FloatArray) -> FloatArray:
    after = np.clip(np.searchsorted(curve, shares - _TIE, side="left"), 1, curve.size - 1)
    step = curve[after] - curve[after - 1]
    part = np.where(step > 0, (shares - curve[after - 1]) / np.where(step > 0, step, 1), 1)
    return np.asarray(times[after - 1] + np.clip(part, 0, 1) * (times[after] - times[after - 1]))


def _daily(degree_days: ArrayLike, most_dimensions: int) -> FloatArray:
    daily = np.asarray(degree_days, np.float64)
    if not 1 <= daily.ndim <= most_dimensions or not daily.shape[-1]:
        raise ValueError(
            f"got degree-days of shape {daily.shape}; expected one number for each day, days on "
            "the last axis; give at least one day"
        )
    require_not_negative("degree_days", daily)
    return daily


def _check_start(start: FloatArray, days: int) -> None:
    if not ((start >= 0) & (start <= days)).all():
        wrong = start[~((start >= 0) & (start <= days))]
        raise ValueError(
            f"got start {np.atleast_1d(wrong)[0]:g}; expected a day from 0 to {days}, those given; "
            "give the degree-days from the start on"
        )
