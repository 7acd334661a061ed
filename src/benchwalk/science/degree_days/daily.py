"""Degree-days of a day from its lowest and highest temperature.

Two curves through the two readings: a sine ([BaskervilleEmin1969]_) and a triangle
([Sevacherian1977]_). For either, the area above a threshold and the share of the day above it are
known in closed form, and every cut-off is a sum of the two ([Zalom1983]_ writes it as six cases).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import (
    BoolArray,
    FloatArray,
    TextArray,
    as_floats,
    first_reason,
    require_at_most,
)

Cutoff = Literal["none", "horizontal", "intermediate", "vertical"]
CUTOFFS = ("none", "horizontal", "intermediate", "vertical")


@dataclass(frozen=True, eq=False)
class DegreeDays:
    """Heat above the lower threshold; arrays of one shape."""

    degree_days: FloatArray  #: [degree-days, of the scale of the readings]
    reason: TextArray


@dataclass(frozen=True, eq=False)
class Above:
    """What a temperature curve does above a threshold in one day."""

    area: FloatArray  #: [degree-days]
    share: FloatArray  #: of the day


Curve = Callable[[FloatArray, FloatArray, FloatArray], Above]


def above_sine(minimum: FloatArray, maximum: FloatArray, threshold: FloatArray) -> Above:
    """Area and share of a day above a threshold, for a sine from minimum to maximum."""
    middle, half = (maximum + minimum) / 2, (maximum - minimum) / 2
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        phase = np.arcsin(np.clip((threshold - middle) / half, -1, 1))
        area = ((middle - threshold) * (np.pi / 2 - phase) + half * np.cos(phase)) / np.pi
    return _within(minimum, maximum, threshold, Above(area, 0.5 - phase / np.pi))


def above_triangle(minimum: FloatArray, maximum: FloatArray, threshold: FloatArray) -> Above:
    """Area and share of a day above a threshold, for straight lines from minimum to maximum."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        share = (maximum - threshold) / (maximum - minimum)
        area = (maximum - threshold) * share / 2
    return _within(minimum, maximum, threshold, Above(area, share))


def _within(
    minimum: FloatArray, maximum: FloatArray, threshold: FloatArray, crossing: Above
) -> Above:
    never, always = maximum <= threshold, minimum >= threshold
    area = np.where(always, (maximum + minimum) / 2 - threshold, crossing.area)
    share = np.where(always, 1, crossing.share)
    return Above(np.where(never, 0, area), np.where(never, 0, share))


def simple_average(
    minimum: ArrayLike, maximum: ArrayLike, lower: ArrayLike, upper: ArrayLike = np.inf
) -> DegreeDays:
    """Mean of lowest and highest temperature, less the lower threshold; 0 where that is negative.

    Parameters
    ----------
    minimum, maximum : of the day; NaN where there is no reading. [deg, one scale throughout]
    lower : threshold of development. [same scale]
    upper : the mean counts as no warmer than this; infinity for no upper threshold. [same scale]

    Returns
    -------
    DegreeDays : a day from 5 to 15 with lower 10 has none, and has 1.6 by :func:`single_sine`.

    Raises
    ------
    ValueError : minimum above maximum, lower above upper, an infinite reading.

    Examples
    --------
    >>> float(simple_average(40, 100, 50).degree_days)
    20.0
    """
    mn, mx, low, high = _checked(minimum, maximum, lower, upper)
    heat = np.maximum(np.minimum((mn + mx) / 2, high) - low, 0)
    return DegreeDays(heat, _missing(mn, mx, low, high))


def modified_average(
    minimum: ArrayLike, maximum: ArrayLike, lower: ArrayLike, upper: ArrayLike
) -> DegreeDays:
    """Mean of lowest and highest temperature after both are moved between the thresholds.

    Parameters and errors as :func:`simple_average`.

    Examples
    --------
    >>> float(modified_average(40, 100, 50, 86).degree_days)
    18.0
    """
    mn, mx, low, high = _checked(minimum, maximum, lower, upper)
    heat = (np.clip(mn, low, high) + np.clip(mx, low, high)) / 2 - low
    return DegreeDays(heat, _missing(mn, mx, low, high))


def single_sine(
    minimum: ArrayLike,
    maximum: ArrayLike,
    lower: ArrayLike,
    upper: ArrayLike = np.inf,
    *,
    cutoff: Cutoff = "horizontal",
) -> DegreeDays:
    """Area between the thresholds and a sine curve from lowest to highest temperature.

    Parameters
    ----------
    minimum, maximum : of the day; NaN where there is no reading. [deg, one scale throughout]
    lower : threshold of development. [same scale]
    upper : above it development stops rising; infinity for no upper threshold. [same scale]
    cutoff : what a temperature above ``upper`` adds: "none" as if there were no upper threshold,
        "horizontal" as much as ``upper``, "intermediate" as much less than ``upper`` as it lies
        above, "vertical" nothing.

    Returns
    -------
    DegreeDays : "no_reading" and "no_threshold" have no number. "below_zero" marks a day that
        an intermediate cut-off would make negative, and that counts as 0.

    Raises
    ------
    ValueError : minimum above maximum, lower above upper, an infinite reading, an unknown cut-off.

    Examples
    --------
    >>> found = single_sine([15, 5], [35, 15], lower=10, upper=30)
    >>> found.degree_days.round(2)
    array([13.91,  1.59])
    """
    return _one_curve(above_sine, minimum, maximum, lower, upper, cutoff)


def single_triangle(
    minimum: ArrayLike,
    maximum: ArrayLike,
    lower: ArrayLike,
    upper: ArrayLike = np.inf,
    *,
    cutoff: Cutoff = "horizontal",
) -> DegreeDays:
    """Area between the thresholds and straight lines from lowest to highest temperature and back.

    Parameters, answers and errors as :func:`single_sine`.

    Examples
    --------
    >>> float(single_triangle(15, 35, lower=10, upper=30).degree_days)
    14.375
    """
    return _one_curve(above_triangle, minimum, maximum, lower, upper, cutoff)


def double_sine(
    minimum: ArrayLike,
    maximum: ArrayLike,
    next_minimum: ArrayLike,
    lower: ArrayLike,
    upper: ArrayLike = np.inf,
    *,
    cutoff: Cutoff = "horizontal",
) -> DegreeDays:
    """Half a day up from this day's minimum, half a day down to the next day's ([Allen1976]_).

    Parameters
    ----------
    minimum, maximum : of the day, as :func:`single_sine`.
    next_minimum : of the day after; NaN where there is none yet.
    lower, upper, cutoff : as :func:`single_sine`.

    Returns
    -------
    DegreeDays : where there is no next minimum the day's own stands for it ("no_next_minimum").

    Raises
    ------
    ValueError : as :func:`single_sine`, and a next minimum above the day's maximum.

    Examples
    --------
    >>> float(double_sine(8, 34, 12, lower=10, upper=30).degree_days.round(4))
    11.4114
    """
    return _two_curves(above_sine, minimum, maximum, next_minimum, lower, upper, cutoff)


def double_triangle(
    minimum: ArrayLike,
    maximum: ArrayLike,
    next_minimum: ArrayLike,
    lower: ArrayLike,
    upper: ArrayLike = np.inf,
    *,
    cutoff: Cutoff = "horizontal",
) -> DegreeDays:
    """As :func:`double_sine`, with straight lines.

    Examples
    --------
    >>> float(double_triangle(8, 34, 12, lower=10, upper=30).degree_days.round(4))
    11.7028
    """
    return _two_curves(above_triangle, minimum, maximum, next_minimum, lower, upper, cutoff)


def _one_curve(
    curve: Curve,
    minimum: ArrayLike,
    maximum: ArrayLike,
    lower: ArrayLike,
    upper: ArrayLike,
    cutoff: Cutoff,
) -> DegreeDays:
    mn, mx, low, high = _checked(minimum, maximum, lower, upper)
    heat = heat_of(curve, mn, mx, low, high, cutoff)
    return _answer(heat, _missing(mn, mx, low, high))


def _two_curves(
    curve: Curve,
    minimum: ArrayLike,
    maximum: ArrayLike,
    next_minimum: ArrayLike,
    lower: ArrayLike,
    upper: ArrayLike,
    cutoff: Cutoff,
) -> DegreeDays:
    mn, mx, after, low, high = as_floats(
        minimum=minimum, maximum=maximum, next_minimum=next_minimum, lower=lower, upper=upper
    )
    check_temperatures(mn, mx, low, high)
    require_finite("next_minimum", after)
    require_at_most("next_minimum", after, "maximum", mx)
    no_next = np.isnan(after)
    down = np.where(no_next, mn, after)
    # halves are summed before a negative day is lifted to 0: one half may outweigh the other
    heat = (
        heat_of(curve, mn, mx, low, high, cutoff) + heat_of(curve, down, mx, low, high, cutoff)
    ) / 2
    missing = _missing(mn, mx, low, high)
    answer = _answer(heat, missing)
    return DegreeDays(
        answer.degree_days, np.where((answer.reason == "") & no_next, _NO_NEXT, answer.reason)
    )


_NO_NEXT = "no_next_minimum"


def heat_of(
    curve: Curve,
    minimum: FloatArray,
    maximum: FloatArray,
    lower: FloatArray,
    upper: FloatArray,
    cutoff: Cutoff,
) -> FloatArray:
    """Degree-days of a curve under a cut-off; negative where an intermediate cut-off makes it so.

    Raises
    ------
    ValueError : a cut-off that is not in CUTOFFS.
    """
    if cutoff not in CUTOFFS:
        raise ValueError(
            f"got cutoff {cutoff!r}; expected one of {', '.join(CUTOFFS)}; choose one of them"
        )
    heat = curve(minimum, maximum, lower).area
    beyond = curve(minimum, maximum, upper)
    if cutoff == "none":
        return heat
    if cutoff == "intermediate":
        return heat - 2 * beyond.area
    if cutoff == "horizontal":
        return heat - beyond.area
    plateau = np.where(np.isinf(upper), 0, upper - lower)
    return heat - beyond.area - plateau * beyond.share


def _checked(
    minimum: ArrayLike, maximum: ArrayLike, lower: ArrayLike, upper: ArrayLike
) -> list[FloatArray]:
    given = as_floats(minimum=minimum, maximum=maximum, lower=lower, upper=upper)
    check_temperatures(*given)
    return given


def check_temperatures(
    minimum: FloatArray, maximum: FloatArray, lower: FloatArray, upper: FloatArray
) -> None:
    """Refuse infinite readings and exchanged pairs; NaN means absent and passes."""
    require_finite("minimum", minimum)
    require_finite("maximum", maximum)
    require_finite("lower", lower)
    require_at_most("minimum", minimum, "maximum", maximum)
    require_at_most("lower", lower, "upper", upper)


def require_finite(name: str, values: FloatArray) -> None:
    """Refuse an infinite temperature; NaN means absent and passes."""
    infinite = np.isinf(values)
    if infinite.any():
        raise ValueError(
            f"got {name} {values[infinite][0]:g}; expected a temperature, or NaN where absent; "
            f"correct {name} and try again"
        )


def _missing(
    minimum: FloatArray, maximum: FloatArray, lower: FloatArray, upper: FloatArray
) -> TextArray:
    return first_reason(
        minimum.shape,
        ("no_reading", np.isnan(minimum) | np.isnan(maximum)),
        ("no_threshold", np.isnan(lower) | np.isnan(upper)),
    )


def _answer(heat: FloatArray, missing: TextArray) -> DegreeDays:
    answered: BoolArray = missing == ""
    reason = np.where(answered & (heat < 0), "below_zero", missing)
    return DegreeDays(np.where(answered, np.maximum(heat, 0), np.nan), reason)
