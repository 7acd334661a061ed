"""Degree-days from readings through the day, with their gaps."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import integrate

from benchwalk.science import degree_days as dd

NAN = np.nan


def steps(levels, hours_each):
    """Times and temperatures of a day in levels, with jumps of a millionth of an hour."""
    begins = np.arange(len(levels)) * hours_each
    at = np.ravel(np.column_stack([begins + 1e-6, begins + hours_each]))
    return np.concatenate([[0], at]), np.repeat(levels, 2)[[0, *range(2 * len(levels))]]


@pytest.mark.parametrize(
    ("cutoff", "expected"),
    [("none", 13.6667), ("horizontal", 12.3333), ("intermediate", 11.0), ("vertical", 5.6667)],
)
def test_a_day_of_three_levels_against_sums_by_hand(cutoff, expected):
    # 8 h each at 15, 22, 34 with thresholds 10 and 30: for "none" (5 + 12 + 24) / 3
    hours, temperature = steps([15, 22, 34], 8)
    found = dd.heat_of_days(hours, temperature, 10, 30, cutoff=cutoff, longest_gap=8)
    assert_allclose(found.degree_days, [expected], atol=5e-5)
    assert_array_equal(found.reason, [""])


@pytest.mark.parametrize("cutoff", dd.CUTOFFS)
def test_readings_against_the_integral_of_scipy(cutoff):
    rng = np.random.default_rng(8)
    hours = np.arange(0, 49, 1.0)
    temperature = 20 + 9 * np.sin(hours / 24 * 2 * np.pi) + rng.normal(0, 2, hours.size)
    found = dd.heat_of_days(hours, temperature, 12, 26, cutoff=cutoff)
    for day in (0, 1):
        fine = np.linspace(24 * day, 24 * day + 24, 240_001)
        t = np.interp(fine, hours, temperature)
        beyond = {"none": 0, "horizontal": 1, "intermediate": 2, "vertical": 0}[cutoff]
        rate = np.maximum(t - 12, 0) - beyond * np.maximum(t - 26, 0)
        if cutoff == "vertical":
            rate = np.where(t > 26, 0, rate)
        expected = integrate.trapezoid(rate, fine) / 24
        assert_allclose(found.degree_days[day], expected, atol=2e-4)


def test_readings_of_a_sine_have_the_heat_of_the_sine():
    hours = np.arange(0, 24.05, 0.1)
    temperature = 15 + 10 * np.sin(hours / 24 * 2 * np.pi)
    found = dd.heat_of_days(hours, temperature, 10, 22)
    assert_allclose(found.degree_days, [dd.single_sine(5, 25, 10, 22).degree_days], rtol=1e-3)


def test_a_gap_of_two_hours_is_bridged_and_a_longer_one_is_not():
    hours = np.array([0, 1, 2, 3, *range(5, 25)])
    assert_array_equal(dd.heat_of_days(hours, np.full(24, 20), 10).reason, [""])
    found = dd.heat_of_days(np.delete(hours, 3), np.full(23, 20), 10)
    assert_array_equal(found.reason, ["gap"])
    assert np.isnan(found.degree_days).all()
    assert_array_equal(found.hours_missing, [3])


def test_half_an_hour_of_a_gap_across_midnight_is_missing_too():
    hours = [*np.arange(23.6), 23.5, *np.arange(26, 49)]
    found = dd.heat_of_days(hours, np.full(len(hours), 20), 10)
    assert_array_equal(found.hours_missing, [0.5, 2])
    assert_array_equal(found.reason, ["gap", "gap"])


def test_an_absent_reading_is_a_gap_and_not_a_temperature():
    hours = np.arange(25)
    temperature = np.where((hours > 3) & (hours < 9), NAN, 20.0)
    found = dd.heat_of_days(hours, temperature, 10)
    assert_array_equal(found.reason, ["gap"])
    assert_array_equal(found.hours_missing, [6])


def test_a_day_with_a_gap_falls_back_on_its_extremes_and_says_so():
    hours = np.concatenate([np.arange(25), np.arange(33, 49)])
    found = dd.heat_of_days(
        hours, np.full(hours.size, 20), 10, 30, minimum=[NAN, 12], maximum=[NAN, 36]
    )
    assert_allclose(found.degree_days, [10, dd.single_sine(12, 36, 10, 30).degree_days])
    assert_array_equal(found.reason, ["", "by_extremes"])
    assert_array_equal(found.hours_missing, [0, 9])


def test_the_hours_before_the_first_and_after_the_last_reading_are_missing():
    found = dd.heat_of_days(np.arange(6, 40), np.full(34, 20), 10)
    assert_array_equal(found.hours_missing, [6, 9])
    assert_array_equal(found.reason, ["gap", "gap"])


def test_a_night_across_midnight_is_shared_between_its_days():
    # 20 to 24 in a line across midnight: half of it before
    found = dd.heat_of_days([0, 23, 25, 48], [20, 20, 24, 24], 20, longest_gap=24)
    assert_allclose(found.degree_days, [1 / 24, (3 + 23 * 4) / 24])


def test_several_thresholds_have_a_row_each():
    hours = np.arange(49)
    temperature = 18 + 8 * np.sin(hours / 24 * 2 * np.pi)
    found = dd.heat_of_days(hours, temperature, [4.3, 9.5, NAN], 30)
    assert found.degree_days.shape == (3, 2)
    alone = dd.heat_of_days(hours, temperature, 9.5, 30)
    assert_allclose(found.degree_days[1], alone.degree_days)
    assert_array_equal(found.reason[2], ["no_threshold"] * 2)


def test_a_negative_day_of_readings_is_zero_and_says_so():
    found = dd.heat_of_days([0, 24], [40, 40], 10, 20, cutoff="intermediate", longest_gap=24)
    assert_array_equal(found.degree_days, [0])
    assert_array_equal(found.reason, ["below_zero"])


def test_readings_out_of_order_and_without_a_temperature_are_refused():
    with pytest.raises(ValueError, match="got hours that are negative or do not rise; expected ri"):
        dd.heat_of_days([0, 2, 2], [20, 20, 20], 10)
    with pytest.raises(ValueError, match="got hours that are negative or do not rise"):
        dd.heat_of_days([-1, 2], [20, 20], 10)
    with pytest.raises(ValueError, match=r"got hours of shape \(2,\) and temperature of shape \(3"):
        dd.heat_of_days([0, 2], [20, 20, 20], 10)
    with pytest.raises(ValueError, match="got no reading but NaN; expected at least one temperatu"):
        dd.heat_of_days([0, 2], [NAN, NAN], 10)


@settings(max_examples=50)
@given(st.lists(st.floats(-5, 45), min_size=25, max_size=49), st.floats(5, 15), st.floats(1, 15))
def test_more_readings_on_the_same_lines_change_nothing(temperature, low, up):
    hours = np.arange(len(temperature), dtype=float)
    finer = np.arange(2 * hours.size - 1) / 2
    coarse = dd.heat_of_days(hours, temperature, low, low + up)
    fine = dd.heat_of_days(finer, np.interp(finer, hours, temperature), low, low + up)
    assert_allclose(fine.degree_days, coarse.degree_days, atol=1e-9)
    assert_array_equal(fine.reason, coarse.reason)
