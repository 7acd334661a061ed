"""Fahrenheit and Celsius: a reading and a difference convert differently.

50 degF as a reading is 10 degC; 50 degF as a difference, a threshold width or a sum of degree-days
is 27.8 degC. There is one function for each, and none that guesses.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import FloatArray

# exact by definition: 180 degF and 100 degC between freezing and boiling, which are 32 and 0
_FAHRENHEIT_PER_CELSIUS = 1.8
_FREEZING = 32.0


def reading_to_celsius(fahrenheit: ArrayLike) -> FloatArray:
    """A temperature that a thermometer shows. [degF] -> [degC]

    Examples
    --------
    >>> float(reading_to_celsius(50))
    10.0
    """
    return (np.asarray(fahrenheit, np.float64) - _FREEZING) / _FAHRENHEIT_PER_CELSIUS


def reading_to_fahrenheit(celsius: ArrayLike) -> FloatArray:
    """A temperature that a thermometer shows. [degC] -> [degF]"""
    return np.asarray(celsius, np.float64) * _FAHRENHEIT_PER_CELSIUS + _FREEZING


def difference_to_celsius(fahrenheit: ArrayLike) -> FloatArray:
    """A difference of two temperatures, or degree-days. [degF] -> [degC]

    Examples
    --------
    >>> float(difference_to_celsius(18))
    10.0
    """
    return np.asarray(fahrenheit, np.float64) / _FAHRENHEIT_PER_CELSIUS


def difference_to_fahrenheit(celsius: ArrayLike) -> FloatArray:
    """A difference of two temperatures, or degree-days. [degC] -> [degF]"""
    return np.asarray(celsius, np.float64) * _FAHRENHEIT_PER_CELSIUS
