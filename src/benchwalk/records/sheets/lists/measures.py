"""The one place where the measures of a list become metres, litres and degrees Celsius."""

from __future__ import annotations

FOOT_M = 0.3048  # exact, NIST SP 811 (2008), appendix B.8
US_GALLON_ML = 3785.411784  # exact, 231 cubic inches of 2.54 cm: NIST SP 811 (2008), B.8
FAHRENHEIT_ZERO, FAHRENHEIT_STEP = 32, 1.8  # NIST SP 811 (2008), B.8: t/degC = (t/degF - 32)/1.8

LENGTH_M = {"m": 1.0, "ft": FOOT_M}
AREA_M2 = {"m2": 1.0, "ft2": FOOT_M**2}
PLANTS_PER_M2 = {"plants_per_m2": 1.0, "plants_per_ft2": 1 / FOOT_M**2}
VOLUME_ML = {"mL": 1.0, "L": 1000.0, "us_gal": US_GALLON_ML}
PERCENT = {"percent": 1.0, "fraction": 100.0}


def degrees_c(reading: float, unit: str) -> float:
    """A temperature read, in degC [degC], from degC or degF."""
    return reading if unit == "degC" else (reading - FAHRENHEIT_ZERO) / FAHRENHEIT_STEP
