"""Measures of a list in metres, millilitres and degrees Celsius, against NIST SP 811 (2008)."""

import pytest

from benchwalk.records.sheets.lists.measures import (
    AREA_M2,
    LENGTH_M,
    VOLUME_ML,
    degrees_c,
)


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"), [(32, 0), (212, 100), (-40, -40), (68, 20), (98.6, 37)]
)
def test_readings_in_fahrenheit_against_nist_sp_811_b_8(fahrenheit, celsius):
    assert degrees_c(fahrenheit, "degF") == pytest.approx(celsius, abs=1e-12)


def test_celsius_is_left_as_it_is():
    assert degrees_c(20, "degC") == 20


def test_whole_numbers_and_decimals_give_the_same():
    assert degrees_c(68, "degF") == degrees_c(68.0, "degF")


def test_the_foot_the_square_foot_and_the_us_gallon_against_nist_sp_811_b_8():
    """Printed there: ft 3.048 E-01 m, ft2 9.290304 E-02 m2, gal (US) 3.785412 E-03 m3."""
    assert LENGTH_M["ft"] == 3.048e-01
    assert AREA_M2["ft2"] == pytest.approx(9.290304e-02, rel=1e-12)
    assert VOLUME_ML["us_gal"] == pytest.approx(3.785412e-03 * 1e6, rel=1e-6)
