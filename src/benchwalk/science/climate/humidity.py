"""How much water the air holds, how much more it could, and at what temperature it gives it up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import FloatArray, TextArray, as_floats, first_reason

# Tetens' form as in FAO56, equation 11 [kPa, -, degC]
_AT_ZERO, _SLOPE, _SHIFT = 0.6108, 17.27, 237.3
# over water, where a greenhouse is [degC]
_COLDEST, _WARMEST = 0.0, 50.0


@dataclass(frozen=True, eq=False)
class Humidity:
    """Water in the air; arrays of one shape."""

    saturation_pressure: FloatArray  #: [kPa]
    vapour_pressure: FloatArray  #: [kPa]
    deficit: FloatArray  #: vapour pressure deficit [kPa]
    dew_point: FloatArray  #: [degC]; NaN in air without water
    reason: TextArray


def saturation_pressure(temperature: ArrayLike) -> FloatArray:
    """Vapour pressure of saturated air: ``0.6108 exp(17.27 T/(T + 237.3))`` ([FAO56]_, eq. 11).

    [degC] -> [kPa]. NaN where absent and outside 0 to 50 degC.

    Examples
    --------
    >>> saturation_pressure([15, 24.5]).round(3)
    array([1.705, 3.075])
    """
    t = np.asarray(temperature, np.float64)
    inside = (t >= _COLDEST) & (t <= _WARMEST)
    safe = np.where(inside, t, 0)
    return np.where(inside, _AT_ZERO * np.exp(_SLOPE * safe / (safe + _SHIFT)), np.nan)


def dew_point(vapour_pressure: ArrayLike) -> FloatArray:
    """Temperature at which air with this vapour pressure is saturated. [kPa] -> [degC]

    The inverse of :func:`saturation_pressure`; NaN at 0 and where absent. Below 0.6108 kPa it is
    below 0 degC, where hoar forms at a slightly higher temperature than the number says.
    """
    e = np.asarray(vapour_pressure, np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        x = np.log(np.where(e > 0, e, np.nan) / _AT_ZERO)
        return _SHIFT * x / (_SLOPE - x)


def humidity(temperature: ArrayLike, relative_humidity: ArrayLike) -> Humidity:
    """Vapour pressure, its deficit and the dew point of air.

    Parameters
    ----------
    temperature : of the air; NaN where there is no reading. [degC]
    relative_humidity : NaN where there is no reading. [%]

    Returns
    -------
    Humidity : "no_reading" and "outside_range" (temperature outside 0 to 50 degC, humidity below
        0 %) have no numbers. Sensors near saturation read a little above 100 %: "over_100" is
        taken as 100. Humidity of 0 has a deficit and no dew point.

    Examples
    --------
    >>> air = humidity(20, 50)
    >>> float(air.deficit.round(4)), float(air.dew_point.round(3))
    (1.1691, 9.27)
    """
    t, rh = as_floats(temperature=temperature, relative_humidity=relative_humidity)
    es = saturation_pressure(t)
    impossible = rh < 0
    ea = np.where(impossible, np.nan, es * np.minimum(rh, 100) / 100)
    reason = first_reason(
        t.shape,
        ("no_reading", np.isnan(t) | np.isnan(rh)),
        ("outside_range", np.isnan(es) | impossible),
        ("over_100", rh > 100),
    )
    return Humidity(es, ea, es - ea, dew_point(ea), reason)


def leaf_deficit(leaf_temperature: ArrayLike, vapour_pressure: ArrayLike) -> FloatArray:
    """Deficit from the inside of a leaf to the air; negative where the leaf is below the dew point.

    [degC], [kPa] -> [kPa]. NaN where absent and outside 0 to 50 degC.
    """
    t, ea = as_floats(leaf_temperature=leaf_temperature, vapour_pressure=vapour_pressure)
    return saturation_pressure(t) - ea
