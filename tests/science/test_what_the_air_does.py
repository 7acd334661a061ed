"""Scales, humidity, wet periods, infection models with their crops, the mildew index."""

import csv
from importlib.resources import files

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import optimize

from benchwalk.science import climate
from tests.in_turn import each_of
from tests.science.published_values import rows

NAN, INF = np.nan, np.inf
temperatures = st.floats(0.5, 49.5)
humidities = st.floats(1, 100)
# parameters from memory; behaves as the abstract of Cohen 1977 says
DOWNY = climate.WetPeriodModel(
    "Pseudoperonospora cubensis", "cucumber", "Magarey2005", 1, 20, 28, 2, verified=False
)


def half_digit(row):
    return 0.501 * 10 ** -int(row["digits"])


# scales


def test_readings_and_differences_against_the_factors_of_the_unit_table():
    # exact definitions, as in the reference table of units: degC = factor * x + offset
    table = files("benchwalk.reference").joinpath("tables", "units.csv").read_text("utf-8")
    by_key = {r["unit_key"]: r for r in csv.DictReader(table.splitlines())}
    for key, convert in (("deg_f", climate.reading_to_celsius),
                         ("delta_f", climate.difference_to_celsius),
                         ("degree_day_f", climate.difference_to_celsius)):  # fmt: skip
        factor, offset = float(by_key[key]["factor"]), float(by_key[key]["offset"])
        assert_allclose(convert([0, 50, 95]), factor * np.array([0, 50, 95]) + offset)


def test_a_difference_is_not_converted_as_a_reading():
    assert climate.reading_to_celsius(50) == 10
    assert_allclose(climate.difference_to_celsius(50), 27.7778, atol=5e-5)
    assert climate.difference_to_celsius(0) == 0
    # a sum of degree-days of Fahrenheit: 194 of Celsius are 349.2
    assert_allclose(climate.difference_to_fahrenheit(194), 349.2)


def test_thresholds_of_the_mildew_index_are_those_printed_in_celsius():
    # 70, 85 and 95 degF are 21.1, 29.4 and 35 degC
    assert_allclose(climate.reading_to_celsius([70, 85, 95]), [21.1, 29.4, 35], atol=0.05)


@given(st.floats(-40, 140), st.floats(-40, 140))
def test_a_difference_of_readings_is_the_converted_difference(a, b):
    here = climate.reading_to_celsius(a) - climate.reading_to_celsius(b)
    assert_allclose(climate.difference_to_celsius(a - b), here, atol=1e-9)


@given(st.floats(-60, 160))
def test_scales_go_there_and_back(x):
    assert_allclose(climate.reading_to_fahrenheit(climate.reading_to_celsius(x)), x, atol=1e-9)
    assert_allclose(
        climate.difference_to_fahrenheit(climate.difference_to_celsius(x)), x, atol=1e-9
    )


# humidity


@each_of("row", rows("humid_air"))
def test_humid_air_against_published_values(row):
    air = climate.humidity(float(row["temperature"]), float(row["relative_humidity"]))
    found = getattr(air, row["quantity"])
    assert_allclose(found, float(row["value"]), rtol=0, atol=half_digit(row))


@pytest.mark.parametrize(("rh", "printed"), [(85, 55), (95, 59)])
def test_dew_points_against_a_bulletin_in_fahrenheit(rh, printed):
    # a growers' bulletin: at 60 degF dew points of 55 and 59 degF, rounded (computed 55.5, 58.6)
    air = climate.humidity(climate.reading_to_celsius(60), rh)
    assert_allclose(climate.reading_to_fahrenheit(air.dew_point), printed, atol=0.6)


def test_a_leaf_colder_than_the_air_against_a_computed_value():
    # leaf 2 degC below air of 20 degC and 85 %
    air = climate.humidity(20, 85)
    assert_allclose(climate.leaf_deficit(18, air.vapour_pressure), 0.0765, atol=5e-5)


@given(temperatures)
def test_saturation_against_another_form_from_memory(t):
    # Magnus: 0.61094 exp(17.625 T/(T + 243.04)); the two differ by 0.3 % at most
    other = 0.61094 * np.exp(17.625 * t / (t + 243.04))
    assert_allclose(climate.saturation_pressure(t), other, rtol=3e-3)


@given(temperatures, humidities)
def test_air_cooled_to_its_dew_point_is_saturated(t, rh):
    air = climate.humidity(t, rh)
    assert_allclose(0.6108 * np.exp(17.27 * air.dew_point / (air.dew_point + 237.3)),
                    air.vapour_pressure)  # fmt: skip
    assert air.dew_point <= t + 1e-9


@given(temperatures, humidities)
def test_pressure_and_deficit_make_up_saturation(t, rh):
    air = climate.humidity(t, rh)
    assert_allclose(air.vapour_pressure + air.deficit, air.saturation_pressure)
    assert_allclose(climate.leaf_deficit(t, air.vapour_pressure), air.deficit, atol=1e-12)


@given(temperatures, st.floats(1, 99))
def test_more_humid_air_has_less_deficit_and_a_higher_dew_point(t, rh):
    dry, humid = climate.humidity(t, rh), climate.humidity(t, rh + 1)
    assert humid.deficit < dry.deficit
    assert humid.dew_point > dry.dew_point


def test_what_cannot_be_said_of_air_has_no_number():
    air = climate.humidity([NAN, 20, 51, -1, 20, 20, 20], [50, NAN, 50, 50, -2, 103, 0])
    assert_array_equal(
        air.reason,
        ["no_reading", "no_reading", "outside_range", "outside_range", "outside_range", "over_100",
         ""],
    )  # fmt: skip
    assert_array_equal(np.isnan(air.deficit), [True] * 5 + [False] * 2)
    assert air.deficit[5] == 0
    assert air.vapour_pressure[6] == 0
    assert np.isnan(air.dew_point[6])


def test_saturation_is_given_from_freezing_to_fifty_degrees():
    found = climate.saturation_pressure([-0.01, 0, 50, 50.01])
    assert_array_equal(np.isnan(found), [True, False, False, True])
    assert_allclose(found[1], 0.6108)


# wet periods


def test_leaves_are_wet_at_the_dew_point():
    found = climate.wet_by_leaf([10, 12, 14, NAN, 12], [12, 12, 12, 12, NAN])
    assert_array_equal(found, [1, 1, 0, NAN, NAN])


def test_humid_air_is_taken_to_wet_leaves():
    # 89.9 % at 20 degC is within 2 degC of the dew point (18.3), 85 % is not (17.4)
    found = climate.wet_by_humidity([20, 20, 20, 20, NAN, 20], [90, 89.9, 85, 0, 90, NAN])
    assert_array_equal(found, [1, 1, 0, 0, NAN, NAN])
    strict = climate.wet_by_humidity(20, [90, 89.9], humid_from=90, dew_within=1)
    assert_array_equal(strict, [1, 0])


def test_wet_periods_join_over_short_gaps_only():
    # wet at 1-3, 4-5 and 10-11 h, worked by hand
    wet = [0, 1, 1, 0, 1, 0, 0, 0, 0, 0, 1, 0]
    joined = climate.wet_periods(range(12), wet, range(12), longest_dry=4)
    assert_array_equal([joined.start, joined.end, joined.wet_hours], [[1, 10], [5, 11], [3, 1]])
    assert_allclose(joined.temperature, [(1 + 2 + 4) / 3, 10])
    assert_array_equal(joined.reason, ["", ""])
    apart = climate.wet_periods(range(12), wet, longest_dry=0)
    assert_array_equal(apart.wet_hours, [2, 1, 1])
    assert np.isnan(apart.temperature).all()
    whole = climate.wet_periods(range(12), wet, longest_dry=5)
    assert_array_equal([whole.start, whole.end, whole.wet_hours], [[1], [11], [4]])


def test_a_wet_period_beside_the_unknown_was_at_least_so_long_and_says_so():
    found = climate.wet_periods(range(8), [0, 1, NAN, 1, 0, 0, 0, 1], 20, longest_dry=6)
    assert_array_equal(found.wet_hours, [1, 1])
    assert_array_equal(found.reason, ["cut", "cut"])
    first = climate.wet_periods(range(4), [1, 0, 1, 1], 20, longest_dry=0)
    assert_array_equal(first.reason, ["cut", "cut"])


def test_a_reading_stands_for_two_hours_and_no_longer():
    found = climate.wet_periods([0, 1, 2, 8, 9], [0, 1, 1, 0, 0], 20, longest_dry=4)
    assert_array_equal([found.start, found.end, found.wet_hours], [[1], [4], [3]])
    assert_array_equal(found.reason, ["cut"])


def test_no_wet_hour_is_no_period():
    found = climate.wet_periods(range(5), 0, 20, longest_dry=4)
    assert found.start.size == found.wet_hours.size == found.reason.size == 0


def test_a_period_without_any_temperature_has_none_and_keeps_its_hours():
    found = climate.wet_periods(range(5), [0, 1, 1, 0, 0], [20, NAN, 18, 20, 20], longest_dry=1)
    assert_array_equal([found.wet_hours, found.temperature], [[2], [18]])


def test_wetness_that_cannot_be_is_refused():
    with pytest.raises(ValueError, match=r"got wet 0\.5; expected 1, 0, or NaN where not known"):
        climate.wet_periods(range(3), [0, 0.5, 1], longest_dry=4)
    with pytest.raises(ValueError, match="that do not rise; expected two or more rising times"):
        climate.wet_periods([0, 2, 2], [0, 1, 1], longest_dry=4)


wet_series = st.lists(st.sampled_from([0.0, 1.0]), min_size=2, max_size=40)


@given(wet_series, st.integers(0, 12))
def test_joining_keeps_the_wet_hours_and_makes_fewer_periods(wet, dry):
    apart = climate.wet_periods(range(len(wet)), wet, longest_dry=0)
    joined = climate.wet_periods(range(len(wet)), wet, longest_dry=dry)
    assert_allclose(joined.wet_hours.sum(), sum(wet[:-1]))
    assert_allclose(apart.wet_hours.sum(), sum(wet[:-1]))
    assert joined.start.size <= apart.start.size
    assert (joined.start[1:] - joined.end[:-1] > dry).all()


# infection


@each_of("row", rows("infection"))
def test_infection_against_published_values(row):
    w, t = float(row["wet_hours"]), float(row["temperature"])
    if row["model"] == "grape":
        found = climate.botrytis_grape(w, t, outside="extend")
    else:
        found = climate.botrytis_strawberry_flowers(w, t, unverified=True)
    for name in ("index", "probability"):
        if row[name]:
            assert_allclose(getattr(found, name), float(row[name]), rtol=0, atol=half_digit(row))


def test_the_grape_model_is_fastest_at_its_published_optimum():
    # 20.38 degC, computed from the coefficients
    best = optimize.minimize_scalar(
        lambda t: -float(climate.botrytis_grape(12, t).index), bounds=(13, 31), method="bounded"
    )
    assert_allclose(best.x, 20.38, atol=0.005)


def test_the_strawberry_model_is_fastest_near_the_optimum_of_its_abstract():
    # about 20 degC; 20.42 from the coefficients
    best = optimize.minimize_scalar(
        lambda t: -float(climate.botrytis_strawberry_flowers(12, t, unverified=True).index),
        bounds=(6, 29), method="bounded",
    )  # fmt: skip
    assert_allclose(best.x, 20.42, atol=0.005)


def test_classes_are_of_the_index_and_a_probability_never_reaches_the_highest():
    # one open program applies the limits to the probability, where "high" cannot occur
    found = climate.botrytis_grape([1, 12, 14, 24], 20)
    assert_array_equal(climate.risk_class(found.index), ["none", "low", "moderate", "high"])
    assert "high" not in climate.risk_class(climate.botrytis_grape(np.arange(40), 20).probability)
    assert_array_equal(
        climate.risk_class([-0.01, 0, 0.49, 0.5, 0.99, 1, NAN]),
        ["none", "low", "low", "moderate", "moderate", "high", ""],
    )


def test_results_carry_the_crop_of_their_model():
    assert climate.botrytis_grape(12, 20).crop == "grape"
    found = climate.botrytis_strawberry_flowers(12, 20, unverified=True)
    assert found.crop == "strawberry flowers"
    assert climate.hours_needed(DOWNY, 20, unverified=True).crop == "cucumber"
    assert climate.mildew_index([8], [0]).crop == "grape"
    assert climate.mildew_index([8], [0], crop="rose").crop == "rose"


def test_models_from_memory_are_off_until_they_are_switched_on():
    with pytest.raises(climate.UnverifiedModelError, match="expected unverified=True, since its n"):
        climate.botrytis_strawberry_flowers(12, 20)
    with pytest.raises(climate.UnverifiedModelError, match="the wet-period model of cucumber"):
        climate.hours_needed(DOWNY, 20)


def test_outside_the_temperatures_of_a_model_there_is_no_risk_given():
    found = climate.botrytis_grape(12, [11.9, 12, 32, 32.1, NAN])
    assert_array_equal(found.reason, ["outside_range", "", "", "outside_range", "no_reading"])
    assert_array_equal(np.isnan(found.probability), [True, False, False, True, True])
    held = climate.botrytis_grape(12, [5, 12, 36, 32, 40, 40.1], outside="hold")
    assert held.index[0] == held.index[1]
    assert held.index[2] == held.index[3] == held.index[4]
    assert held.reason[5] == "outside_range"
    out = climate.botrytis_strawberry_flowers([12, 12, 32.1], [4.9, 30.1, 20], unverified=True)
    assert_array_equal(out.reason, ["outside_range"] * 3)
    inside = climate.botrytis_strawberry_flowers([12, 12, 32], [5, 30, 20], unverified=True)
    assert_array_equal(inside.reason, [""] * 3)


def test_without_wetness_there_is_no_infection_at_any_temperature():
    found = climate.botrytis_grape([0, 0, NAN], [20, NAN, 20])
    assert_array_equal(found.probability, [0, 0, NAN])
    assert_array_equal(found.reason, ["dry", "dry", "no_reading"])


def test_infection_refuses_what_it_cannot_use():
    with pytest.raises(ValueError, match="got wet_hours -1; expected zero or more"):
        climate.botrytis_grape(-1, 20)
    with pytest.raises(ValueError, match="got outside 'clip'; expected one of none, hold, extend"):
        climate.botrytis_grape(1, 20, outside="clip")


@pytest.mark.parametrize(
    ("t", "response", "hours"),
    [(10, 0.3815, 5.24), (15, 0.7868, 2.54), (26, 0.4797, 4.17), (20, 1, 2)],
)
def test_the_generic_model_against_computed_values(t, response, hours):
    # form of Magarey et al. 2005 seen in open code, parameters from memory
    assert_allclose(climate.temperature_response(t, 1, 20, 28), response, atol=5.01e-5)
    found = climate.hours_needed(DOWNY, t, unverified=True).hours
    assert_allclose(found, hours, atol=0.00501)


def test_the_generic_model_gives_the_picture_of_a_published_table():
    # Cohen 1977 (abstract): cucumber downy mildew needs 2 h at 20 degC, 6 h at 10 to 15
    found = climate.hours_needed(DOWNY, [20, 10, 28, 0.5], unverified=True)
    assert_allclose(found.hours[:2], [2, 5.24], atol=0.005)
    assert_array_equal(found.reason, ["", "", "no_infection", "no_infection"])
    assert np.isnan(found.hours[2:]).all()


def test_more_wet_hours_than_the_limit_are_never_needed():
    model = climate.WetPeriodModel("any", "any", "any", 1, 20, 28, 2, most_hours=6)
    assert climate.hours_needed(model, 2).hours == 6
    assert climate.hours_needed(model, NAN).reason == "no_reading"
    quick = climate.WetPeriodModel("any", "any", "any", 1, 20, 28, 0.5)
    assert climate.hours_needed(quick, 20).hours == 0.5


def test_a_wet_period_model_that_is_none_is_refused():
    def model(low=1, top=20, high=28, few=2, many=INF, crop="rose", source="any"):
        return climate.WetPeriodModel("any", crop, source, low, top, high, few, many)

    with pytest.raises(ValueError, match="got temperatures 1, 28, 20; expected coldest, best"):
        model(top=28, high=20)
    with pytest.raises(ValueError, match="got 9 to 6 wet hours; expected fewest above 0 and"):
        model(few=9, many=6)
    with pytest.raises(ValueError, match="got no crop or no source; expected the crop that"):
        model(crop="")


@given(st.floats(-5, 40), st.floats(0, 10), st.floats(1, 20), st.floats(1, 15))
def test_the_response_is_between_nothing_and_its_best(t, low, rise, fall):
    found = climate.temperature_response([t, low + rise], low, low + rise, low + rise + fall)
    assert 0 <= found[0] <= 1 + 1e-12
    assert_allclose(found[1], 1)


@given(st.floats(0.1, 48), st.floats(12, 32), st.floats(0.1, 5))
def test_probability_is_the_logistic_of_the_index(w, t, more):
    here = climate.botrytis_grape(w, t)
    assert_allclose(here.probability, 1 / (1 + np.exp(-here.index)))
    # longer wetness is worse wherever the model rises with it at all
    longer = climate.botrytis_grape(w + more, t)
    rises = -0.374927 + 0.061601 * t - 0.001511 * t**2 > 0
    assert (longer.index > here.index) == rises


# the mildew index


def test_the_index_day_by_day_against_a_series_worked_from_the_rules():
    # rules of Gubler and Thomas as printed in a farm journal; (hours in band, warmest) of 12 days
    days = [(8, 28), (7, 28), (2, 24), (6, 29), (9, 28), (10, 30), (8, 28), (3, 22), (7, 36),
            (0, 36), (12, 29), (12, 29)]  # fmt: skip
    band = [hours for hours, _ in days]
    hot = [1 if warmest >= 35 else 0 for _, warmest in days]
    found = climate.mildew_index(band, hot)
    assert_array_equal(found.index, [20, 40, 0, 20, 40, 60, 80, 70, 80, 70, 90, 100])


def test_a_hot_day_without_good_hours_takes_ten_and_not_twenty():
    # one of two printed versions has no joint limit, and would give 40
    found = climate.mildew_index([8, 8, 8, 2], [0, 0, 0, 1])
    assert found.index[-1] == 50


def test_the_index_stays_between_nothing_and_a_hundred():
    long = climate.mildew_index([8] * 9 + [0] * 20, 0).index
    assert long.max() == 100
    assert long[-1] == 0


def test_six_hours_and_a_quarter_of_an_hour_are_enough():
    assert climate.mildew_index([6, 6, 5.99], 0).index[-1] == 0
    assert climate.mildew_index([6] * 4, [0, 0, 0, 0.25]).index[-1] == 70
    assert climate.mildew_index([6] * 4, [0, 0, 0, 0.24]).index[-1] == 80


def test_after_a_day_without_readings_the_index_is_unknown():
    found = climate.mildew_index([8, 8, 8, NAN, 8], 0)
    assert_array_equal(found.index, [20, 40, 60, NAN, NAN])
    assert_array_equal(found.reason, ["", "", "", "gap", "gap"])


def test_classes_of_the_index():
    assert_array_equal(
        climate.mildew_class([0, 30, 40, 60, 70, 100, NAN]),
        ["low", "low", "moderate", "moderate", "high", "high", ""],
    )


def test_houses_side_by_side_have_an_index_each():
    band = np.array([[8, 8, 8, 8], [8, 8, 0, 8]])
    found = climate.mildew_index(band, 0).index
    assert_array_equal(found[1], climate.mildew_index(band[1], 0).index)


def test_hours_in_the_band_are_the_longest_stretch_of_a_day():
    # a day in hours: 5 in the band, 1 out, 7 in, 2 at 36, the rest at 15; worked by hand
    day = [24] * 5 + [15] + [24] * 7 + [36] * 2 + [15] * 9
    found = climate.warm_spells(range(49), [*day, *[24] * 25])
    assert_array_equal([found.band_hours, found.hot_hours], [[7, 24], [2, 0]])


def test_a_stretch_begins_anew_at_midnight():
    found = climate.warm_spells(range(49), [15] * 20 + [24] * 8 + [15] * 21)
    assert_array_equal(found.band_hours, [4, 4])


def test_both_ends_of_the_band_are_in_it():
    warm = climate.warm_spells(range(25), 29.4, low=29.4, high=29.4, hot=29.4)
    assert_array_equal([warm.band_hours, warm.hot_hours], [[24], [24]])


def test_a_day_not_covered_in_full_has_no_hours():
    late = climate.warm_spells(range(1, 49), 24)
    assert_array_equal(late.reason, ["gap", ""])
    assert_array_equal(late.band_hours, [NAN, 24])
    early = climate.warm_spells(range(48), 24)
    assert_array_equal(early.hot_hours, [0, NAN])
    gap = climate.warm_spells([*range(10), *range(13, 49)], 24)
    assert_array_equal(gap.reason, ["gap", ""])
    missing = climate.warm_spells(range(25), [24] * 5 + [NAN] + [24] * 19)
    assert_array_equal(missing.reason, ["gap"])


def test_readings_and_hours_that_cannot_be_are_refused():
    with pytest.raises(ValueError, match="that do not rise or are negative; expected two or more"):
        climate.warm_spells([0, 2, 1], 24)
    with pytest.raises(ValueError, match="got band_hours -1; expected zero or more"):
        climate.mildew_index([-1], 0)
    with pytest.raises(ValueError, match="got no crop; expected the crop that the index is for"):
        climate.mildew_index([8], 0, crop="")


hours_a_day = st.lists(st.floats(0, 24), min_size=1, max_size=30)


@given(hours_a_day)
def test_the_index_moves_by_whole_tens_and_never_far(band):
    index = climate.mildew_index(band, 0).index
    assert_array_equal(index % 10, 0)
    assert ((index >= 0) & (index <= 100)).all()
    started = np.logical_or.accumulate(index >= 60)[:-1]
    assert (np.diff(index)[started] >= -10).all()


@settings(max_examples=60)
@given(hours_a_day, st.integers(0, 29))
def test_a_better_day_never_lowers_the_index(band, at):
    better = [*band]
    better[at % len(band)] = 24
    assert (climate.mildew_index(better, 0).index >= climate.mildew_index(band, 0).index).all()


def test_integers_give_what_floats_give():
    assert climate.saturation_pressure(20) == climate.saturation_pressure(20.0)
    assert climate.reading_to_celsius(51) == climate.reading_to_celsius(51.0)
    assert climate.botrytis_grape(12, 20).index == climate.botrytis_grape(12.0, 20.0).index
    assert_array_equal(
        climate.mildew_index([8, 7, 2], 0).index, climate.mildew_index([8.0, 7.0, 2.0], 0.0).index
    )
