"""How many pests for how long: the area under a density that is followed over time."""

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


@dataclass(frozen=True, eq=False)
class InsectDays:
    """Area under a density; the axis of looks is gone."""

    insect_days: FloatArray  #: [individuals/sample unit x days]
    days: FloatArray  #: from the first look to the last [days]
    reason: TextArray


def insect_days(day: ArrayLike, density: ArrayLike, *, longest_gap: ArrayLike) -> InsectDays:
    """Sum of trapezoids under a density ([Ruppel1983]_); of a disease, [ShanerFinney1977]_.

    Parameters
    ----------
    day : of each look, rising along the last axis. [days]
    density : pests per sample unit, or per cent of disease; NaN where nobody looked or no number
        was written.
    longest_gap : between two looks that is bridged by a line. [days]

    Returns
    -------
    InsectDays : of the time from the first look with a number to the last. "gap" has no number:
        some stretch was not looked at for too long. "one_look" and "no_look" have none either: an
        area needs two. Densities of 0 give 0, which is an answer. Divide by ``days`` for the mean.

    Raises
    ------
    ValueError : days that do not rise, a negative density or gap.

    Examples
    --------
    >>> found = insect_days([14, 21, 28], [40, 80, 90], longest_gap=7)
    >>> float(found.insect_days), float(found.insect_days / found.days)
    (1015.0, 72.5)
    """
    at, y = as_floats(day=day, density=density)
    require_not_negative("density", y)
    require_rising(at)
    widest = np.asarray(longest_gap, np.float64)
    require_not_negative("longest_gap", widest)
    if np.isnan(widest).any():
        raise ValueError("got longest_gap nan; expected days; say how long a gap may be bridged")
    known = ~np.isnan(y)
    before_day, before = last_known(at, known), last_known(y, known)
    step = np.where(known & ~np.isnan(before), at - before_day, 0)
    height = np.where(step > 0, (np.nan_to_num(before) + np.nan_to_num(y)) / 2, 0)
    looks = known.sum(axis=-1)
    reason = first_reason(
        looks.shape,
        ("no_look", looks == 0),
        ("one_look", looks == 1),
        ("gap", np.asarray((step > widest[..., np.newaxis]).any(axis=-1))),
    )
    area = np.where(reason == "", (step * height).sum(axis=-1), np.nan)
    return InsectDays(area, step.sum(axis=-1), reason)


def last_known(values: FloatArray, known: BoolArray) -> FloatArray:
    """The value at the last known place before each, NaN where there is none."""
    places = np.where(known, np.arange(values.shape[-1]), -1)
    last = np.maximum.accumulate(places, axis=-1)[..., :-1]
    last = np.concatenate([np.full((*last.shape[:-1], 1), -1), last], axis=-1)
    found = np.take_along_axis(values, np.maximum(last, 0), axis=-1)
    return np.where(last < 0, np.nan, found)


def require_rising(at: FloatArray) -> None:
    """Refuse days out of order along the last axis."""
    if at.ndim == 0 or not (np.diff(at, axis=-1) > 0).all():
        raise ValueError(
            "got days that do not rise; expected the days of the looks in order, along the last "
            "axis; sort the looks and join those of one day"
        )
