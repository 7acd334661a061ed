"""Degree-days from the lowest and highest temperature of a day."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import integrate

from benchwalk.science import degree_days as dd
from tests.in_turn import each_of
from tests.science.published_values import rows

NAN, INF = np.nan, np.inf
METHODS = {
    "simple_average": dd.simple_average,
    "modified_average": dd.modified_average,
    "single_sine": dd.single_sine,
    "single_triangle": dd.single_triangle,
    "double_sine": dd.double_sine,
    "double_triangle": dd.double_triangle,
}
ONE_CURVE = (dd.single_sine, dd.single_triangle)
TWO_CURVES = ((dd.double_sine, dd.single_sine), (dd.double_triangle, dd.single_triangle))

temperatures = st.floats(-5, 45)
spans = st.floats(0, 25)
lowers = st.floats(0, 15)
plateaus = st.floats(0.5, 30)
cutoffs = st.sampled_from(dd.CUTOFFS)
curves = st.sampled_from(ONE_CURVE)


def number(cell):
    return float(cell or "inf")


def from_row(row):
    given = [float(row["minimum"]), float(row["maximum"])]
    if row["next_minimum"]:
        given.append(float(row["next_minimum"]))
    chosen = {"cutoff": row["cutoff"]} if row["cutoff"] else {}
    return METHODS[row["method"]](*given, float(row["lower"]), number(row["upper"]), **chosen)


@each_of("row", rows("degree_days_daily"))
def test_a_day_against_published_and_integrated_values(row):
    # half of the last printed digit
    expected, digits = float(row["degree_days"]), int(row["digits"])
    assert_allclose(from_row(row).degree_days, expected, rtol=0, atol=0.501 * 10**-digits)


def rate(temperature, lower, upper, cutoff):
    """Heat at one temperature, as the cut-offs are defined."""
    above = np.maximum(temperature - lower, 0)
    over = np.maximum(temperature - upper, 0)
    if cutoff == "none":
        return above
    if cutoff == "horizontal":
        return above - over
    if cutoff == "intermediate":
        return above - 2 * over
    return np.where(temperature > upper, 0, above)


@each_of("cutoff", dd.CUTOFFS)
@each_of(("mn", "mx"), [(12, 36), (5, 15), (-2, 41), (29, 33), (31, 40)])
def test_the_sine_against_the_integral_of_scipy(mn, mx, cutoff):
    def at(share):
        return rate((mn + mx) / 2 + (mx - mn) / 2 * np.sin(2 * np.pi * share), 10, 30, cutoff)

    x = np.linspace(0, 1, 400_001)
    expected = max(integrate.simpson(at(x), x=x), 0)
    assert_allclose(dd.single_sine(mn, mx, 10, 30, cutoff=cutoff).degree_days, expected, atol=1e-4)


@each_of("cutoff", dd.CUTOFFS)
@each_of(("mn", "mx"), [(12, 36), (5, 15), (-2, 41), (29, 33), (31, 40)])
def test_the_triangle_against_the_integral_of_scipy(mn, mx, cutoff):
    x = np.linspace(0, 1, 400_001)
    expected = max(integrate.simpson(rate(mn + (mx - mn) * x, 10, 30, cutoff), x=x), 0)
    found = dd.single_triangle(mn, mx, 10, 30, cutoff=cutoff).degree_days
    assert_allclose(found, expected, atol=1e-4)


def test_a_cool_day_has_heat_by_the_sine_and_none_by_the_average():
    # 5 / pi, worked by hand
    assert_allclose(dd.single_sine(5, 15, 10).degree_days, 5 / np.pi)
    assert dd.simple_average(5, 15, 10).degree_days == 0


def test_an_average_above_the_upper_threshold_counts_as_the_threshold():
    assert dd.simple_average(90, 110, 50, 88).degree_days == 38
    assert dd.simple_average(90, 110, 50).degree_days == 50


def test_a_day_that_an_intermediate_cutoff_would_make_negative_is_zero_and_says_so():
    # 36 to 40 with 10 and 20: 28 - 2 * 18 = -8
    found = dd.single_sine(36, 40, 10, 20, cutoff="intermediate")
    assert (found.degree_days, found.reason) == (0, "below_zero")


def test_halves_of_a_double_curve_are_summed_before_a_negative_day_is_lifted():
    # 28 to 40 with 10 and 23: 24 - 2 * 11 = 2; 34 to 40: 27 - 2 * 14 = -1; (2 - 1) / 2
    found = dd.double_triangle(28, 40, 34, 10, 23, cutoff="intermediate")
    assert_allclose(found.degree_days, 0.5)
    assert found.reason == ""


@pytest.mark.parametrize(("double", "single"), TWO_CURVES)
def test_without_the_next_minimum_a_double_curve_is_the_single_one_and_says_so(double, single):
    found = double([8, 8], 34, [NAN, 8], 10, 30)
    assert_allclose(found.degree_days, single(8, 34, 10, 30).degree_days)
    assert_array_equal(found.reason, ["no_next_minimum", ""])


@pytest.mark.parametrize("method", METHODS.values(), ids=METHODS)
def test_an_absent_reading_and_an_unknown_threshold_have_no_number(method):
    after = [12.0] if method in (dd.double_sine, dd.double_triangle) else []
    found = method([NAN, 8, 8, 8, NAN], [30, NAN, 30, 30, NAN], *after, [10, 10, NAN, 10, NAN],
                   [30, 30, 30, NAN, NAN])  # fmt: skip
    assert np.isnan(found.degree_days).all()
    assert_array_equal(
        found.reason, ["no_reading", "no_reading", "no_threshold", "no_threshold", "no_reading"]
    )


@pytest.mark.parametrize("method", METHODS.values(), ids=METHODS)
def test_exchanged_and_infinite_temperatures_are_refused(method):
    after = [5] if method in (dd.double_sine, dd.double_triangle) else []
    with pytest.raises(ValueError, match="got minimum 30 of maximum 10; expected minimum of at m"):
        method(30, 10, *after, 8, 30)
    with pytest.raises(ValueError, match="got lower 30 of upper 8; expected lower of at most up"):
        method(10, 30, *after, 30, 8)
    with pytest.raises(ValueError, match="got maximum inf; expected a temperature, or NaN where"):
        method(10, INF, *after, 8, 30)
    with pytest.raises(ValueError, match="got lower -inf; expected a temperature, or NaN where a"):
        method(10, 30, *after, -INF, 30)


def test_a_next_minimum_above_the_maximum_is_refused():
    with pytest.raises(ValueError, match="got next_minimum 35 of maximum 30; expected next_mini"):
        dd.double_sine(10, 30, 35, 8, 30)


@pytest.mark.parametrize("method", ONE_CURVE)
def test_an_unknown_cutoff_is_refused(method):
    with pytest.raises(ValueError, match="got cutoff 'flat'; expected one of none, horizontal, i"):
        method(10, 30, 8, 30, cutoff="flat")


def test_shapes_that_do_not_fit_are_refused():
    with pytest.raises(ValueError, match=r"got arguments of shapes minimum \(2,\), maximum \(3,\)"):
        dd.single_sine([1, 2], [3, 4, 5], 0)


@pytest.mark.parametrize("method", METHODS.values(), ids=METHODS)
def test_integers_give_what_floats_give(method):
    after = [12] if method in (dd.double_sine, dd.double_triangle) else []
    whole = method(8, 34, *after, 10, 30).degree_days
    broken = method(8.0, 34.0, *map(float, after), 10.0, 30.0).degree_days
    assert whole == broken
    assert whole.dtype == np.float64


@pytest.mark.parametrize("method", ONE_CURVE)
def test_days_and_pests_broadcast(method):
    mn, mx = np.array([8, 12, 20]), np.array([20, 34, 30])
    found = method(mn, mx, np.array([[9.5], [4.3]]), 30).degree_days
    assert found.shape == (2, 3)
    assert_allclose(found[1, 2], method(20, 30, 4.3, 30).degree_days)


@settings(max_examples=80)
@given(curves, temperatures, spans, lowers, plateaus, cutoffs)
def test_a_fahrenheit_day_has_nine_fifths_of_the_celsius_heat(method, mn, span, low, up, cutoff):
    def fahrenheit(t):
        return 1.8 * t + 32

    day = (mn, mn + span, low, low + up)
    celsius = method(*day, cutoff=cutoff).degree_days
    found = method(*map(fahrenheit, day), cutoff=cutoff).degree_days
    assert_allclose(found, 1.8 * celsius, atol=1e-9)


@settings(max_examples=80)
@given(curves, temperatures, spans, lowers, plateaus)
def test_each_cutoff_takes_away_at_least_what_the_gentler_one_takes(method, mn, span, low, up):
    none, horizontal, intermediate, vertical = (
        float(method(mn, mn + span, low, low + up, cutoff=c).degree_days) for c in dd.CUTOFFS
    )
    assert none >= horizontal - 1e-9
    assert horizontal >= intermediate - 1e-9
    assert horizontal >= vertical - 1e-9
    assert min(intermediate, vertical) >= -1e-9


@settings(max_examples=80)
@given(curves, temperatures, spans, lowers, plateaus, st.floats(0, 10))
def test_a_warmer_day_has_no_less_heat_without_or_with_a_flat_cutoff(
    method, mn, span, low, up, warmer
):
    for cutoff in ("none", "horizontal"):
        cool = method(mn, mn + span, low, low + up, cutoff=cutoff).degree_days
        warm = method(mn + warmer, mn + span + warmer, low, low + up, cutoff=cutoff).degree_days
        assert warm >= cool - 1e-9


@settings(max_examples=80)
@given(curves, temperatures, spans, lowers, st.floats(0, 20))
def test_heat_depends_on_distances_to_the_threshold_only(method, mn, span, low, shift):
    here = method(mn, mn + span, low, low + 12).degree_days
    there = method(mn + shift, mn + span + shift, low + shift, low + 12 + shift).degree_days
    assert_allclose(there, here, atol=1e-9)


@settings(max_examples=80)
@given(curves, temperatures, spans, lowers)
def test_an_upper_threshold_that_is_never_reached_changes_nothing(method, mn, span, low):
    without = method(mn, mn + span, low, cutoff="none").degree_days
    high = max(mn + span, low) + 1
    for cutoff in dd.CUTOFFS:
        assert_allclose(method(mn, mn + span, low, high, cutoff=cutoff).degree_days, without)
        assert_allclose(method(mn, mn + span, low, INF, cutoff=cutoff).degree_days, without)


@settings(max_examples=80)
@given(temperatures, spans, spans, lowers, plateaus, cutoffs)
def test_a_double_curve_lies_between_the_two_single_ones(mn, span, other, low, up, cutoff):
    mx = mn + span
    after = mx - other
    for double, single in TWO_CURVES:
        found = double(mn, mx, after, low, low + up, cutoff=cutoff).degree_days
        ends = [single(at, mx, low, low + up, cutoff=cutoff).degree_days for at in (mn, after)]
        if cutoff != "intermediate":
            assert_allclose(found, np.mean(ends), atol=1e-9)


@settings(max_examples=80)
@given(temperatures, lowers, plateaus)
def test_a_day_of_one_temperature_has_the_same_heat_by_every_method(t, low, up):
    expected = min(max(t - low, 0), up)
    for method in (dd.simple_average, dd.modified_average, *ONE_CURVE):
        assert_allclose(method(t, t, low, low + up).degree_days, expected, atol=1e-9)
