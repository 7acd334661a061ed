"""Development rates that are no straight line: rise, optimum and fall.

Each function is named after who wrote it down and takes that paper's parameters. Below and above
the temperatures at which a curve crosses 0 the rate is 0: development does not run backwards.

The forms of Logan and Lactin subtract nearly equal numbers: parameters printed with three decimals
can move a rate by 20 %. Compare a record with the observed days before it is used.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import FloatArray, first_reason
from benchwalk.science.degree_days.daily import require_finite
from benchwalk.science.degree_days.development import Rate


def _temperature(temperature: ArrayLike) -> FloatArray:
    t = np.asarray(temperature, dtype=np.float64)
    require_finite("temperature", t)
    return t


def _not_negative(rate: FloatArray, temperature: FloatArray, tmax: float) -> FloatArray:
    # a curve may rise again above tmax; NaN stays NaN
    return np.where(temperature >= tmax, 0, np.maximum(rate, 0))


def briere1(temperature: ArrayLike, a: float, t0: float, tmax: float) -> FloatArray:
    """``a T (T - t0) sqrt(tmax - T)`` ([Briere1999]_). [degC] -> [1/day]

    Examples
    --------
    >>> float(briere1(25, 0.000027, 8.893, 37.597).round(5))
    0.03859
    """
    return briere2(temperature, a, t0, tmax, 2)


def briere2(temperature: ArrayLike, a: float, t0: float, tmax: float, m: float) -> FloatArray:
    """``a T (T - t0) (tmax - T)**(1/m)``; m = 2 is :func:`briere1` ([Briere1999]_)."""
    t = _temperature(temperature)
    rate = a * t * (t - t0) * np.maximum(tmax - t, 0) ** (1 / m)
    return np.where(t <= t0, 0, _not_negative(rate, t, tmax))


def briere1_optimum(t0: float, tmax: float) -> float:
    """Temperature at which :func:`briere1` is fastest, from its derivative. [degC]"""
    root = np.sqrt(16 * tmax**2 + 9 * t0**2 - 16 * t0 * tmax)
    return float((4 * tmax + 3 * t0 + root) / 10)


def _difference(t: FloatArray, rho: float, tmax: float, delta: float) -> FloatArray:
    # above tmax both terms only overflow
    t = np.minimum(t, tmax)
    return np.asarray(np.exp(rho * t) - np.exp(rho * tmax - (tmax - t) / delta))


def logan6(temperature: ArrayLike, psi: float, rho: float, tmax: float, delta: float) -> FloatArray:
    """``psi (exp(rho T) - exp(rho tmax - (tmax - T)/delta))`` ([Logan1976]_, six parameters)."""
    t = _temperature(temperature)
    return _not_negative(psi * _difference(t, rho, tmax, delta), t, tmax)


def logan10(
    temperature: ArrayLike, alpha: float, k: float, rho: float, tmax: float, delta: float
) -> FloatArray:
    """``alpha (1/(1 + k exp(-rho T)) - exp(-(tmax - T)/delta))`` ([Logan1976]_, ten parameters)."""
    t = _temperature(temperature)
    fall = np.exp(-(tmax - np.minimum(t, tmax)) / delta)
    return _not_negative(alpha * (1 / (1 + k * np.exp(-rho * t)) - fall), t, tmax)


def lactin1(temperature: ArrayLike, rho: float, tmax: float, delta: float) -> FloatArray:
    """``exp(rho T) - exp(rho tmax - (tmax - T)/delta)`` ([Lactin1995]_)."""
    return lactin2(temperature, rho, tmax, delta, 0)


def lactin2(
    temperature: ArrayLike, rho: float, tmax: float, delta: float, intercept: float
) -> FloatArray:
    """:func:`lactin1` plus an intercept, which gives a lower threshold ([Lactin1995]_)."""
    t = _temperature(temperature)
    return _not_negative(_difference(t, rho, tmax, delta) + intercept, t, tmax)


def taylor_gauss(
    temperature: ArrayLike, fastest: float, optimum: float, width: float
) -> FloatArray:
    """``fastest exp(-((T - optimum)/width)**2 / 2)`` ([Taylor1981]_); NaN above the optimum.

    The paper fits the rising half; nothing is known of the other.
    """
    t = _temperature(temperature)
    rate = fastest * np.exp(-(((t - optimum) / width) ** 2) / 2)
    return np.where(t > optimum, np.nan, rate)


# names of parameters as records have them
_CURVES: Mapping[str, tuple[Callable[..., FloatArray], tuple[str, ...]]] = {
    "briere1": (briere1, ("a", "t0", "tmax")),
    "briere2": (briere2, ("a", "t0", "tmax", "m")),
    "logan6": (logan6, ("psi", "rho", "tmax", "delta")),
    "logan10": (logan10, ("alpha", "k", "rho", "tmax", "delta")),
    "lactin1": (lactin1, ("rho", "tmax", "delta")),
    "lactin2": (lactin2, ("rho", "tmax", "delta", "lambda")),
    "taylor_gauss": (taylor_gauss, ("Rm", "Tm", "To")),
}
CURVES = tuple(_CURVES)


@dataclass(frozen=True)
class NonlinearDevelopment:
    """A curve with all its parameters, of one study, and the temperatures it was fitted to.

    Raises
    ------
    ValueError : an unknown curve, parameters that are not exactly those of the curve, no source,
        a valid range upside down.
    """

    curve: str
    parameters: Mapping[str, float]
    source: str
    valid_low: float  #: coldest temperature of the study; -infinity where it is not known [degC]
    valid_high: float  #: warmest [degC]

    def __post_init__(self) -> None:
        """Refuse a record that is none; later changes of the mapping do not reach it."""
        if self.curve not in _CURVES:
            raise ValueError(
                f"got curve {self.curve!r}; expected one of {', '.join(CURVES)}; choose one"
            )
        wanted = _CURVES[self.curve][1]
        if set(self.parameters) != set(wanted):
            raise ValueError(
                f"got parameters {', '.join(sorted(self.parameters))}; expected "
                f"{', '.join(wanted)} for {self.curve}; take all from one study"
            )
        if not self.source or not self.valid_low < self.valid_high:
            raise ValueError(
                f"got source {self.source!r} and a valid range of {self.valid_low:g} to "
                f"{self.valid_high:g}; expected the key of the study and its coldest and warmest "
                "temperature; name them"
            )
        object.__setattr__(self, "parameters", MappingProxyType(dict(self.parameters)))

    def rate(self, temperature: ArrayLike) -> Rate:
        """Share of development in a day; NaN outside the temperatures of the study. [degC]

        Examples
        --------
        >>> parameters = {"a": 0.000027, "t0": 8.893, "tmax": 37.597}
        >>> moth = NonlinearDevelopment("briere1", parameters, "Ozgokce2016", 15, 34.1)
        >>> moth.rate([20, 36]).reason
        array(['', 'outside_range'], dtype='<U20')
        """
        t = _temperature(temperature)
        function, names = _CURVES[self.curve]
        rate = function(t, *(self.parameters[name] for name in names))
        outside = (t < self.valid_low) | (t > self.valid_high)
        reason = first_reason(t.shape, ("no_reading", np.isnan(t)), ("outside_range", outside))
        return Rate(np.where(outside, np.nan, rate), reason)
