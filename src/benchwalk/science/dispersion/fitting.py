"""Straight lines by least squares, over the last axis, with some points left out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchwalk.science.arguments import BoolArray, FloatArray, TextArray, first_reason

# a line through two points has no residual
FEWEST_POINTS = 3
# of the squared spread of x, against rounding
SAME = 1e-12


@dataclass(frozen=True, eq=False)
class Line:
    """``y = intercept + slope x``; NaN where there is no line."""

    intercept: FloatArray
    slope: FloatArray
    se_intercept: FloatArray
    se_slope: FloatArray
    r_squared: FloatArray  #: NaN where y does not vary: there is nothing to explain
    residual: FloatArray  #: variance about the line, on two degrees less than there are points
    centre: FloatArray  #: mean of x
    points: FloatArray
    reason: TextArray


def least_squares(x: FloatArray, y: FloatArray, used: BoolArray) -> Line:
    """The line of least squares through the points used, for each row.

    No line with "too_few_rounds" under three points, "one_density" where all x are the same.
    """
    points = np.asarray(used.sum(axis=-1), dtype=np.float64)
    mean_x, mean_y = mean_used(x, used, -1), mean_used(y, used, -1)
    dx = np.where(used, x - mean_x[..., None], 0.0)
    dy = np.where(used, y - mean_y[..., None], 0.0)
    sxx, sxy, syy = (np.sum(p * q, axis=-1) for p, q in ((dx, dx), (dx, dy), (dy, dy)))
    reason = first_reason(
        points.shape,
        ("too_few_rounds", points < FEWEST_POINTS),
        ("one_density", sxx <= SAME * points * np.maximum(mean_x**2, 1)),
    )
    sxx = np.where(reason == "", sxx, np.nan)
    slope = sxy / sxx
    residual = np.maximum(syy - slope * sxy, 0) / np.where(reason == "", points - 2, np.nan)
    varies = syy > SAME * points * np.maximum(mean_y**2, 1)
    r_squared = slope * sxy / np.where(varies, syy, np.nan)
    return Line(
        np.asarray(mean_y - slope * mean_x),
        np.asarray(slope),
        np.asarray(np.sqrt(residual * (1 / np.maximum(points, 1) + mean_x**2 / sxx))),
        np.asarray(np.sqrt(residual / sxx)),
        np.asarray(r_squared),
        np.asarray(residual),
        np.where(reason == "", mean_x, np.nan),
        points,
        reason,
    )


def mean_used(x: FloatArray, used: BoolArray, axis: int | tuple[int, ...]) -> FloatArray:
    """Mean over the points used; 0 where there are none."""
    n = np.maximum(used.sum(axis=axis), 1)
    return np.asarray(np.where(used, x, 0.0).sum(axis=axis) / n)
