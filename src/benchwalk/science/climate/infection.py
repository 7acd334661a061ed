"""How likely a wet period is to infect, each model with the crop it was made for.

A model of one crop is no model of another: results carry the crop. Models whose coefficients were
not seen in print are off until the caller switches them on by name.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from benchwalk.science.arguments import (
    BoolArray,
    FloatArray,
    TextArray,
    as_floats,
    first_reason,
    require_not_negative,
)

Outside = Literal["none", "hold", "extend"]
OUTSIDE = ("none", "hold", "extend")


class UnverifiedModelError(ValueError):
    """A model whose numbers nobody has seen in print was asked without saying so."""


@dataclass(frozen=True)
class WetPeriodModel:
    """Cardinal temperatures and wet hours of one pathogen on one crop ([Magarey2005]_).

    Raises
    ------
    ValueError : temperatures out of order, hours out of order, no crop or source.
    """

    pathogen: str
    crop: str
    source: str
    coldest: float  #: [degC]
    best: float  #: [degC]
    warmest: float  #: [degC]
    fewest_hours: float  #: of wetness at the best temperature [h]
    most_hours: float = np.inf  #: that are ever needed; infinity where no limit is known [h]
    verified: bool = True  #: whether the numbers were seen in print

    def __post_init__(self) -> None:
        """Refuse a record that is none."""
        if not self.coldest < self.best < self.warmest:
            raise ValueError(
                f"got temperatures {self.coldest:g}, {self.best:g}, {self.warmest:g}; expected "
                "coldest, best and warmest in rising order; check whether two were exchanged"
            )
        if not 0 < self.fewest_hours <= self.most_hours:
            raise ValueError(
                f"got {self.fewest_hours:g} to {self.most_hours:g} wet hours; expected fewest "
                "above 0 and not above most; check whether the two were exchanged"
            )
        if not (self.crop and self.source):
            raise ValueError(
                "got no crop or no source; expected the crop that the model was made for and the "
                "key of its study; name both"
            )


@dataclass(frozen=True, eq=False)
class HoursNeeded:
    """Wet hours that an infection takes."""

    hours: FloatArray  #: [h]
    crop: str
    reason: TextArray


@dataclass(frozen=True, eq=False)
class InfectionRisk:
    """Infection by one wet period."""

    index: FloatArray  #: on the logit scale; :func:`risk_class` is about this one
    probability: FloatArray
    crop: str
    reason: TextArray


def temperature_response(
    temperature: ArrayLike, coldest: ArrayLike, best: ArrayLike, warmest: ArrayLike
) -> FloatArray:
    """Speed of infection relative to the best temperature ([Magarey2005]_); 0 outside. [degC]

    Examples
    --------
    >>> temperature_response([10, 20, 26, 30], 1, 20, 28).round(4)
    array([0.3815, 1.    , 0.4797, 0.    ])
    """
    t, low, top, high = as_floats(
        temperature=temperature, coldest=coldest, best=best, warmest=warmest
    )
    inside = (t > low) & (t < high)
    safe = np.where(inside, t, top)
    power = (top - low) / (high - top)
    response = (high - safe) / (high - top) * ((safe - low) / (top - low)) ** power
    return np.where(np.isnan(t), np.nan, np.where(inside, response, 0))


def hours_needed(
    model: WetPeriodModel, temperature: ArrayLike, *, unverified: bool = False
) -> HoursNeeded:
    """Wet hours until infection at a temperature: ``min(fewest / response, most)``.

    Parameters
    ----------
    model : of one pathogen on one crop.
    temperature : mean while wet; NaN where unknown. [degC]
    unverified : True to use a model whose numbers were not seen in print.

    Returns
    -------
    HoursNeeded : "no_infection" outside the model's temperatures has no number, however long it is
        wet.

    Raises
    ------
    UnverifiedModelError : the model is not verified and ``unverified`` is False.
    """
    _require_verified(f"the wet-period model of {model.crop}", model.verified, unverified)
    t = np.asarray(temperature, np.float64)
    response = temperature_response(t, model.coldest, model.best, model.warmest)
    with np.errstate(divide="ignore"):
        hours = np.minimum(model.fewest_hours / response, model.most_hours)
    reason = first_reason(t.shape, ("no_reading", np.isnan(t)), ("no_infection", response == 0))
    return HoursNeeded(np.where(reason == "", hours, np.nan), model.crop, reason)


# Broome1995: constant, W, W T, W T**2; and the temperatures it was made at [degC]
_GRAPE = (-2.647866, -0.374927, 0.061601, -0.001511)
_GRAPE_COLDEST, _GRAPE_WARMEST = 12.0, 32.0
# Bulger1987, from memory: constant, W, W T, W T**3; and the ranges of its abstract [degC], [h]
_STRAWBERRY = (-4.268, -0.0901, 0.0294, -2.35e-5)
_STRAWBERRY_COLDEST, _STRAWBERRY_WARMEST, _STRAWBERRY_LONGEST = 5.0, 30.0, 32.0


def botrytis_grape(
    wet_hours: ArrayLike, temperature: ArrayLike, *, outside: Outside = "none"
) -> InfectionRisk:
    """Botrytis on grape berries after one wet period ([Broome1995]_).

    ``index = -2.647866 - 0.374927 W + 0.061601 W T - 0.001511 W T**2``, probability its logistic.
    Coefficients as in several programs that agree; the paper was not read. A wet period ends with a
    dry gap of more than four hours.

    Parameters
    ----------
    wet_hours : of the period. [h]
    temperature : mean while wet. [degC]
    outside : of 12 to 32 degC: "none" gives no number, "hold" takes the nearer end (and none above
        40, as a weather service does), "extend" computes all the same.

    Returns
    -------
    InfectionRisk : no wet hour gives probability 0 ("dry"); "outside_range" has no number.

    Raises
    ------
    ValueError : negative wet hours, an unknown ``outside``.

    Examples
    --------
    >>> found = botrytis_grape([4, 12, 24], 20)
    >>> found.probability.round(4), risk_class(found.index)
    (array([0.1629, 0.5949, 0.9682]), array(['none', 'low', 'high'], dtype='<U20'))
    """
    if outside not in OUTSIDE:
        raise ValueError(
            f"got outside {outside!r}; expected one of {', '.join(OUTSIDE)}; choose one of them"
        )
    w, t = _wet_and_warm(wet_hours, temperature)
    beyond = np.zeros(t.shape, dtype=np.bool_)
    if outside == "none":
        beyond = (t < _GRAPE_COLDEST) | (t > _GRAPE_WARMEST)
    elif outside == "hold":
        beyond = t > _HELD_UNTIL
        t = np.clip(t, _GRAPE_COLDEST, _GRAPE_WARMEST)
    constant, by_w, by_wt, by_wtt = _GRAPE
    index = constant + w * (by_w + by_wt * t + by_wtt * t**2)
    return _risk(index, w, beyond, "grape")


# degC; the weather service's, seen in Fahrenheit
_HELD_UNTIL = 40.0


def botrytis_strawberry_flowers(
    wet_hours: ArrayLike, temperature: ArrayLike, *, unverified: bool = False
) -> InfectionRisk:
    """Botrytis on strawberry flowers after one wet period ([Bulger1987]_); coefficients unverified.

    ``index = -4.268 - 0.0901 W + 0.0294 W T - 2.35e-5 W T**3``, probability its logistic. The form
    behaves as the abstract says; the coefficients are from memory, so it is off by default.

    Parameters
    ----------
    wet_hours, temperature : as :func:`botrytis_grape`; 0 to 32 h and 5 to 30 degC.
    unverified : True to use it all the same.

    Returns
    -------
    InfectionRisk : as :func:`botrytis_grape`.

    Raises
    ------
    UnverifiedModelError : ``unverified`` is False.
    ValueError : negative wet hours.
    """
    _require_verified("the Botrytis model of strawberry flowers", False, unverified)
    w, t = _wet_and_warm(wet_hours, temperature)
    beyond = (t < _STRAWBERRY_COLDEST) | (t > _STRAWBERRY_WARMEST) | (w > _STRAWBERRY_LONGEST)
    constant, by_w, by_wt, by_wttt = _STRAWBERRY
    index = constant + w * (by_w + by_wt * t + by_wttt * t**3)
    return _risk(index, w, beyond, "strawberry flowers")


def risk_class(index: ArrayLike) -> TextArray:
    """Class of an index on the logit scale: none, low from 0, moderate from 0.5, high from 1.

    Of the index, never of the probability, which does not reach 1. "" where there is no index.
    """
    z = np.asarray(index, np.float64)
    return first_reason(
        z.shape, ("high", z >= 1), ("moderate", z >= 0.5), ("low", z >= 0), ("none", z < 0)
    )


def _wet_and_warm(wet_hours: ArrayLike, temperature: ArrayLike) -> list[FloatArray]:
    w, t = as_floats(wet_hours=wet_hours, temperature=temperature)
    require_not_negative("wet_hours", w)
    return [w, t]


def _risk(index: FloatArray, w: FloatArray, beyond: BoolArray, crop: str) -> InfectionRisk:
    dry = w == 0
    reason = first_reason(
        index.shape,
        ("dry", dry),
        ("no_reading", np.isnan(index)),
        ("outside_range", beyond),
    )
    index = np.where(dry, -np.inf, np.where(reason == "", index, np.nan))
    return InfectionRisk(index, np.asarray(special.expit(index)), crop, reason)


def _require_verified(what: str, verified: bool, unverified: bool) -> None:
    if not (verified or unverified):
        raise UnverifiedModelError(
            f"got no leave to use {what}; expected unverified=True, since its numbers are from "
            "memory; compare them with the paper, or say that you use them unread"
        )
