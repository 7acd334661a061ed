"""Development at a temperature: the straight line of one study, as one record.

``rate = (temperature - base) / constant``. Base and constant are estimated together, and the
errors of one make up for those of the other: two studies with quite different bases agree in days
at 20 and 25 degC. A base of one study with the constant of another does not, so the two are never
given apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import FloatArray, TextArray, first_reason
from benchwalk.science.degree_days.daily import require_finite


@dataclass(frozen=True, eq=False)
class Rate:
    """Share of development done in a day."""

    per_day: FloatArray  #: [1/day]
    reason: TextArray


@dataclass(frozen=True, eq=False)
class Duration:
    """Days that development takes."""

    days: FloatArray  #: [days]
    reason: TextArray


@dataclass(frozen=True)
class LinearDevelopment:
    """Base and constant of one study, with its upper threshold where it has one.

    Raises
    ------
    ValueError : a constant of 0 or less, an upper threshold that is not above the base, a number
        that is absent, no source.
    """

    base: float  #: lower threshold [degC]
    constant: float  #: thermal constant [degree-days C]
    source: str  #: key of the study; both numbers are from it
    upper: float = np.inf  #: of the straight line; infinity where none is known [degC]

    def __post_init__(self) -> None:
        """Refuse a record that is none."""
        if not (np.isfinite(self.base) and 0 < self.constant < np.inf and self.upper > self.base):
            raise ValueError(
                f"got base {self.base:g}, constant {self.constant:g}, upper {self.upper:g}; "
                "expected a base below the upper threshold and a constant above 0; take all from "
                "one study"
            )
        if not self.source:
            raise ValueError(
                "got no source; expected the key of the study that base and constant are from; "
                "name it"
            )

    def rate(self, temperature: ArrayLike) -> Rate:
        """Share of development in a day at a constant temperature. [degC]

        0 at the base and below ("too_cold"); NaN above ``upper`` ("too_warm"), where no line holds.

        Examples
        --------
        >>> thrips = LinearDevelopment(9.5, 194, "Katayama1997")
        >>> thrips.rate([5, 20]).per_day.round(4)
        array([0.    , 0.0541])
        """
        t = np.asarray(temperature, dtype=np.float64)
        require_finite("temperature", t)
        reason = first_reason(
            t.shape,
            ("no_reading", np.isnan(t)),
            ("too_warm", t > self.upper),
            ("too_cold", t <= self.base),
        )
        rate = np.maximum(t - self.base, 0) / self.constant
        return Rate(np.where(t > self.upper, np.nan, rate), reason)

    def days(self, temperature: ArrayLike) -> Duration:
        """Days at a constant temperature; infinite at the base and below ("too_cold"). [degC]

        Examples
        --------
        >>> LinearDevelopment(9.5, 194, "Katayama1997").days([20, 25]).days.round(1)
        array([18.5, 12.5])
        """
        found = self.rate(temperature)
        with np.errstate(divide="ignore"):
            return Duration(1 / found.per_day, found.reason)


@dataclass(frozen=True, eq=False)
class LinearFit:
    """A line through development rates; NaN and a reason where there is none."""

    base: FloatArray  #: [degC]
    constant: FloatArray  #: [degree-days C]
    base_se: FloatArray
    constant_se: FloatArray
    reason: TextArray

    def record(self, source: str, upper: float = np.inf) -> LinearDevelopment:
        """The fit of one study as a record.

        Raises
        ------
        ValueError : there is no fit, or more than one.
        """
        return LinearDevelopment(float(self.base), float(self.constant), source, upper)


def fit_line(temperature: ArrayLike, days: ArrayLike) -> LinearFit:
    """Base and constant from days at constant temperatures, by regression of the rate.

    ``1/days = intercept + slope * temperature``; base = -intercept/slope, constant = 1/slope, with
    the standard errors of [Campbell1974]_. Only temperatures on the straight part belong in it.

    Parameters
    ----------
    temperature : constant, last axis the temperatures of a study. [degC]
    days : of development; NaN where none was measured, which leaves the pair out. [days]

    Returns
    -------
    LinearFit : "too_few" under three pairs, "one_temperature", "no_rise" where development is not
        faster in the warm.

    Raises
    ------
    ValueError : days of 0 or less, shapes that do not broadcast.

    Examples
    --------
    >>> found = fit_line([15, 20, 25, 30], [34.2, 19.2, 12.1, 9.5])
    >>> float(found.base.round(2)), float(found.constant.round(1))
    (9.49, 193.3)
    """
    t, d = np.broadcast_arrays(np.asarray(temperature, np.float64), np.asarray(days, np.float64))
    if (d <= 0).any():
        raise ValueError(
            f"got days {d[d <= 0][0]:g}; expected days of development above 0, or NaN where none "
            "was measured; correct days and try again"
        )
    pair = ~(np.isnan(t) | np.isnan(d))
    n = pair.sum(axis=-1).astype(np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        x_mean = np.where(pair, t, 0).sum(axis=-1) / n
        y_mean = np.where(pair, 1 / d, 0).sum(axis=-1) / n
        x = np.where(pair, t - x_mean[..., np.newaxis], 0)
        y = np.where(pair, 1 / d - y_mean[..., np.newaxis], 0)
        sxx = (x**2).sum(axis=-1)
        slope = (x * y).sum(axis=-1) / sxx
        error = ((y - slope[..., np.newaxis] * x) ** 2).sum(axis=-1) / (n - 2)
        relative = error / sxx / slope**2
        base_se = y_mean / slope * np.sqrt(error / (n * y_mean**2) + relative)
    reason = first_reason(
        n.shape, ("too_few", n < 3), ("one_temperature", sxx == 0), ("no_rise", ~(slope > 0))
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        answers = (x_mean - y_mean / slope, 1 / slope, base_se, np.sqrt(relative) / slope)
    base, constant, b_se, c_se = (np.where(reason == "", a, np.nan) for a in answers)
    return LinearFit(base, constant, b_se, c_se, reason)
