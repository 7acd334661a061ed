"""Development at a temperature, calendars of stages and generations."""

import csv
import dataclasses
from importlib.resources import files

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats
from statsmodels.regression.linear_model import OLS
from statsmodels.tools import add_constant

from benchwalk.science import degree_days as dd
from tests.in_turn import each_of
from tests.science.published_values import rows

NAN, INF = np.nan, np.inf
ALIKE = dd.LinearDevelopment(10, 144.5, "Herbert1981")


def record_of(row):
    parts = (p.split("=") for p in row["parameters"].split(";"))
    parameters = {name: float(value) for name, value in parts}
    return dd.NonlinearDevelopment(row["curve"], parameters, row["source"], -INF, INF)


@each_of("row", rows("linear_development"))
def test_days_of_development_against_values_computed_from_printed_records(row):
    record = dd.LinearDevelopment(float(row["base"]), float(row["constant"]), "printed")
    found = record.days(float(row["temperature"])).days
    assert_allclose(found, float(row["days"]), atol=0.5001 * 10 ** -int(row["digits"]))


@pytest.mark.parametrize(
    "row", rows("measured_durations"), ids=lambda r: f"{r['pest']} {r['temperature']}"
)
def test_days_of_development_are_near_published_measurements(row):
    # a line through all temperatures of a study is within 9 % of each of these measurements
    record = dd.LinearDevelopment(float(row["base"]), float(row["constant"]), row["source"])
    found = record.days(float(row["temperature"])).days
    assert_allclose(found, float(row["measured_days"]), rtol=0.09)


@each_of("row", rows("nonlinear_rates"))
def test_rates_of_curves_against_values_computed_from_printed_parameters(row):
    found = record_of(row).rate(float(row["temperature"])).per_day
    assert_allclose(found, float(row["rate"]), rtol=0, atol=0.501 * 10 ** -int(row["digits"]))


def test_every_curve_of_the_reference_tables_gives_the_rates_that_stand_beside_it():
    # tables nonlinear and nonlinear_checks: parameters seen in devRate, rates computed from them
    def table(name):
        text = files("benchwalk.reference").joinpath("tables", f"{name}.csv").read_text("utf-8")
        return list(csv.DictReader(text.splitlines()))

    parameters = {}
    for row in table("nonlinear"):
        record = parameters.setdefault((row["record_key"], row["model"]), {})
        record[row["parameter"]] = float(row["value"])
    curves = {key: dd.NonlinearDevelopment(model, values, key, -INF, INF)
              for (key, model), values in parameters.items()}  # fmt: skip
    checks = table("nonlinear_checks")
    assert len(checks) > 20
    for row in checks:
        curve, temperature = curves[row["record_key"]], float(row["temp_c"])
        found = curve.rate(temperature).per_day
        if temperature > curve.parameters.get("Tm", INF):
            # the table goes on beyond the optimum, where the paper says nothing
            assert np.isnan(found)
            continue
        assert_allclose(found, float(row["rate_per_day"]), atol=5.01e-6, err_msg=str(row))


def test_a_line_through_published_days_gives_the_published_base_and_constant():
    # Katayama 1997 (abstract): 34.2, 19.2, 12.1, 9.5 days at 15, 20, 25, 30 degC; prints 9.5, 194
    found = dd.fit_line([15, 20, 25, 30], [34.2, 19.2, 12.1, 9.5])
    assert_allclose(found.base, 9.5, atol=0.05)
    assert_allclose(found.constant, 194, atol=1)
    record = found.record("Katayama1997", upper=32)
    assert (record.base, record.upper) == (float(found.base), 32)


def test_a_fitted_line_and_its_errors_against_statsmodels():
    temperature, days = np.array([15, 18, 20, 25, 28]), np.array([30, 22, 19, 12.5, 10.2])
    fit = OLS(1 / days, add_constant(temperature)).fit()
    (intercept, slope), covariance = fit.params, fit.cov_params()
    found = dd.fit_line(temperature, days)
    assert_allclose(found.base, -intercept / slope, rtol=1e-9)
    assert_allclose(found.constant, 1 / slope, rtol=1e-9)
    # by the delta method, from the full covariance
    to_base = np.array([-1 / slope, intercept / slope**2])
    assert_allclose(found.base_se, np.sqrt(to_base @ covariance @ to_base), rtol=1e-6)
    assert_allclose(found.constant_se, fit.bse[1] / slope**2, rtol=1e-9)


def test_the_printed_logan_fit_of_the_moth_is_a_fifth_too_low():
    # its parameters are too rounded (rho * delta is nearly 1): the three fits are of one data set
    by_curve = {
        r["curve"]: record_of(r).rate(25).per_day
        for r in rows("nonlinear_rates")
        if r["species"] == "Tuta absoluta"
    }
    assert_allclose(by_curve["logan10"], by_curve["briere1"], rtol=0.04)
    assert by_curve["logan6"] < 0.8 * by_curve["briere1"]


def test_two_parts_of_a_study_keep_their_own_bases():
    # Liriomyza trifolii, Miller and Isger 1985: egg and larva 147.5 above 10.1, puparium 138.7
    # above 10.8. Mixed, 29.9 days at 20: the sum 286.2 above a base of 10.4 of another fit
    parts = [
        dd.LinearDevelopment(b, k, "MillerIsger1985") for b, k in ((10.1, 147.5), (10.8, 138.7))
    ]
    days = sum(part.days(20).days for part in parts)
    assert_allclose(days, 147.5 / 9.9 + 138.7 / 9.2)
    assert abs(days - 29.9) > 0.05


def test_a_stored_record_without_its_factor_is_no_rate():
    # Lobesia botrana eggs are stored in devRate with a = 1.7; the paper's scale is 1e-4
    assert dd.briere1(25, 1.7, 10.55, 34.0) > 1000
    assert 0.1 < dd.briere1(25, 1.7e-4, 10.55, 34.0) < 0.4


def test_the_optimum_of_briere_is_the_published_one_and_no_temperature_is_faster():
    # Tuta absoluta, Ozgokce et al. 2016: 31.1 degC
    optimum = dd.briere1_optimum(8.893, 37.597)
    assert_allclose(optimum, 31.1, atol=0.05)
    around = dd.briere1(optimum + np.array([-0.01, 0, 0.01]), 0.000027, 8.893, 37.597)
    assert around[1] > max(around[0], around[2])


def test_the_linear_and_the_curved_record_of_one_study_agree_in_the_middle():
    # Zamani et al. 2006: 97.1 degree-days above 6.19, and the Lactin curve of the same data
    line = dd.LinearDevelopment(6.19, 97.1, "Zamani2006").days([20, 25]).days
    assert_allclose(line, [7.0, 5.2], atol=0.05)
    row = next(r for r in rows("nonlinear_rates") if r["species"] == "Aphis gossypii")
    assert_allclose(1 / record_of(row).rate([20, 25]).per_day, [6.75, 4.92], atol=0.005)


@pytest.mark.parametrize(
    ("curve", "parameters"),
    [
        (dd.briere1, (0.000027, 8.893, 37.597)),
        (dd.briere2, (0.000027, 8.893, 37.597, 3)),
        (dd.logan6, (0.037578, 0.154748, 31.412453, 5.784563)),
        (dd.logan10, (0.056, 57, 0.19, 35.891, 1.1)),
        (dd.lactin1, (0.163142, 31.419509, 6.1101)),
        (dd.lactin2, (0.0018, 43.0451, 2.2827, -1.0198)),
    ],
    ids=lambda p: getattr(p, "__name__", ""),
)
def test_no_curve_runs_backwards_in_the_cold_or_the_heat(curve, parameters):
    rates = curve(np.arange(-10, 400), *parameters)
    assert (rates >= 0).all()
    assert (rates[60:] == 0).all()
    assert np.isnan(curve(NAN, *parameters))


def test_nothing_is_said_above_the_optimum_of_taylor():
    rates = dd.taylor_gauss([24.7, 24.8], 0.129, 24.7, 9.3)
    assert rates[0] == 0.129
    assert np.isnan(rates[1])


def test_at_and_below_the_base_development_never_ends_and_says_so():
    found = ALIKE.days([5, 10, NAN])
    assert_array_equal(found.days, [INF, INF, NAN])
    assert_array_equal(found.reason, ["too_cold", "too_cold", "no_reading"])


def test_warmer_than_the_line_holds_has_no_number():
    record = dataclasses.replace(ALIKE, upper=32)
    assert_array_equal(record.rate([32, 33]).reason, ["", "too_warm"])
    assert_array_equal(np.isnan(record.days([32, 33]).days), [False, True])


@pytest.mark.parametrize(
    ("base", "constant", "upper"), [(10, 0, INF), (10, -5, INF), (NAN, 100, INF), (30, 100, 30)]
)
def test_a_record_that_is_none_is_refused(base, constant, upper):
    with pytest.raises(ValueError, match="take all from one study"):
        dd.LinearDevelopment(base, constant, "somewhere", upper)


def test_base_and_constant_come_with_their_source():
    with pytest.raises(ValueError, match="got no source; expected the key of the study"):
        dd.LinearDevelopment(10, 144.5, "")
    with pytest.raises(dataclasses.FrozenInstanceError, match="cannot assign to field 'base'"):
        ALIKE.base = 8.0


def test_a_curve_has_all_its_parameters_or_is_refused():
    with pytest.raises(ValueError, match="got curve 'linear'; expected one of briere1, briere2, l"):
        dd.NonlinearDevelopment("linear", {}, "x", 10, 30)
    with pytest.raises(ValueError, match="got parameters a, t0; expected a, t0, tmax for briere1;"):
        dd.NonlinearDevelopment("briere1", {"a": 1, "t0": 2}, "x", 10, 30)
    with pytest.raises(ValueError, match="a valid range of 30 to 10; expected the key of the stu"):
        dd.NonlinearDevelopment("briere1", {"a": 1, "t0": 2, "tmax": 3}, "x", 30, 10)


def test_a_record_does_not_change_when_its_dictionary_does():
    parameters = {"a": 0.000027, "t0": 8.893, "tmax": 37.597}
    record = dd.NonlinearDevelopment("briere1", parameters, "Ozgokce2016", 15, 34.1)
    before = float(record.rate(25).per_day)
    parameters["a"] = 1
    assert record.rate(25).per_day == before


def test_outside_the_temperatures_of_a_study_there_is_no_rate():
    record = record_of(rows("nonlinear_rates")[3])
    narrow = dataclasses.replace(record, valid_low=15, valid_high=34.1)
    found = narrow.rate([14, 15, 34.1, 35, NAN])
    assert_array_equal(found.reason, ["outside_range", "", "", "outside_range", "no_reading"])
    assert_array_equal(np.isnan(found.per_day), [True, False, False, True, True])


def test_no_line_through_too_little():
    found = dd.fit_line(
        [[15, 20, 25], [20, 20, 20], [15, 20, 25]], [[30, NAN, 12], [18, 19, 20], [9, 12, 30]]
    )
    assert_array_equal(found.reason, ["too_few", "one_temperature", "no_rise"])
    assert np.isnan(found.base).all()
    assert np.isnan(found.constant_se).all()


def test_days_of_no_length_are_refused():
    with pytest.raises(ValueError, match="got days 0; expected days of development above 0"):
        dd.fit_line([15, 20, 25], [30, 0, 12])


# calendars


def test_heat_is_reached_within_the_day_on_which_it_is():
    found = dd.day_reached([8, 10, 12, 10], [18, 25, 30])
    assert_allclose(found.day, [2, 2 + 7 / 12, 3])
    # the last moment of the last day is still there
    assert dd.day_reached([10, 10], 20).day == 2
    assert dd.day_reached([10, 10], 20.1).reason == "not_reached"


def test_the_window_of_one_generation_starts_with_each_application():
    found = dd.day_reached([10] * 40, 144.5, start=[0, 3.5, 20, 30])
    assert_allclose(found.day, [14.45, 17.95, 34.45, NAN])
    assert_array_equal(found.reason, ["", "", "", "not_reached"])


def test_heat_after_a_day_without_a_number_is_unknown():
    found = dd.day_reached([10, 10, NAN, 10], [15, 25, 25], [0, 0, 2.5])
    assert_allclose(found.day, [1.5, NAN, NAN])
    assert_array_equal(found.reason, ["", "gap", "gap"])
    assert_array_equal(dd.day_reached([NAN, 10], 5).reason, "gap")
    assert_array_equal(dd.day_reached([10, 10], NAN).reason, "no_heat")


def test_a_day_of_no_heat_does_not_move_the_day():
    assert_allclose(dd.day_reached([10, 0, 0, 10], [10, 10.5]).day, [1, 3.05])


def test_generations_end_at_multiples_of_their_constant():
    daily = np.tile([8.0, 12.0], 30)
    ends = dd.generation_ends(daily, 144.5)
    total = np.concatenate([[0], np.cumsum(daily)])
    assert_allclose(np.interp(ends, np.arange(61), total), 144.5 * np.arange(1, 5))
    assert dd.generation_ends([5.0], 144.5).size == 0


def test_without_spread_a_stage_ends_when_its_heat_is_reached():
    daily = np.array([8, 11, 9, 12, 10] * 6, dtype=float)
    found = dd.stage_calendar(daily, [40, 65, 30], 0, shares=[0.5])
    expected = dd.day_reached(daily, np.cumsum([40, 65, 30])).day
    assert_allclose(found.day[:, 0], expected, atol=0.2)


def test_one_stage_with_spread_against_gamma_quantiles_of_scipy():
    shares = [0.05, 0.25, 0.5, 0.75, 0.95]
    found = dd.stage_calendar([10] * 60, 200, 0.2, shares=shares)
    assert_allclose(found.day[0], stats.gamma.ppf(shares, 25, scale=8) / 10, atol=0.01)


def test_two_stages_with_spread_against_the_gamma_sum_of_scipy():
    # equal scale: shapes add. Coefficients of variation sqrt(scale / mean)
    shares, scale, means = [0.1, 0.5, 0.9], 4.0, np.array([60.0, 120.0])
    found = dd.stage_calendar([10] * 60, means, np.sqrt(scale / means), shares=shares)
    assert_allclose(found.day[0], stats.gamma.ppf(shares, 15, scale=scale) / 10, atol=0.01)
    assert_allclose(found.day[1], stats.gamma.ppf(shares, 45, scale=scale) / 10, atol=0.02)


def test_stages_with_thresholds_of_their_own_against_a_simulated_cohort():
    rng = np.random.default_rng(5)
    t = 18 + 6 * np.sin(np.arange(120) / 9)
    daily = np.maximum(t - np.array([[8.0], [12.0]]), 0)
    need, spread = np.array([70.0, 90.0]), 0.15
    found = dd.stage_calendar(daily, need, spread)
    day = np.zeros(40_000)
    for stage in (0, 1):
        heat = rng.gamma(spread**-2, need[stage] * spread**2, day.size)
        day = dd.day_reached(daily[stage], heat, day).day
        assert_allclose(found.day[stage], np.quantile(day, [0.1, 0.5, 0.9]), atol=0.12)


def test_share_done_is_given_at_the_end_of_every_day():
    found = dd.stage_calendar([10] * 12, 100, 0.1)
    assert found.share_done.shape == (1, 12)
    expected = stats.gamma.cdf(10 * np.arange(1, 13), 100, scale=1)
    assert_allclose(found.share_done[0], expected, atol=1e-9)


def test_a_cohort_that_starts_later_is_later_by_as_much():
    early = dd.stage_calendar([10] * 60, [50, 100], 0.1)
    late = dd.stage_calendar([10] * 60, [50, 100], 0.1, start=7.3)
    assert_allclose(late.day, early.day + 7.3, atol=0.02)


def test_a_calendar_stops_at_a_day_without_a_number():
    daily = np.array([10.0] * 8 + [NAN] * 30)
    found = dd.stage_calendar(daily, [40, 60], 0.1)
    assert_array_equal(found.reason, [["", "", ""], ["gap", "gap", "gap"]])
    assert np.isnan(found.day[1]).all()
    assert np.isnan(found.share_done[:, 8:]).all()
    unknown = dd.stage_calendar([NAN, 10], 40, 0.1)
    assert_array_equal(unknown.reason, [["gap"] * 3])


def test_days_that_are_too_few_leave_the_later_shares_open():
    found = dd.stage_calendar([10] * 10, 100, 0.1)
    assert_array_equal(found.reason, [["", "", "not_reached"]])


def test_a_calendar_refuses_what_it_cannot_use():
    with pytest.raises(ValueError, match=r"got constant 0; expected more than zero"):
        dd.stage_calendar([10], 0, 0.1)
    with pytest.raises(ValueError, match="got NaN among constant or spread; expected a number fo"):
        dd.stage_calendar([10], [40, NAN], 0.1)
    with pytest.raises(ValueError, match="got start 3; expected a day from 0 to 2, those given"):
        dd.day_reached([10, 10], 5, start=3)
    with pytest.raises(ValueError, match="got degree_days -1; expected zero or more"):
        dd.day_reached([10, -1], 5)
    with pytest.raises(ValueError, match=r"got degree-days of shape \(0,\); expected one number"):
        dd.day_reached([], 5)
    with pytest.raises(ValueError, match=r"got degree-days of shape \(1, 2\); expected one number"):
        dd.day_reached([[10, 10]], 5)
    with pytest.raises(ValueError, match=r"got shares 1; expected a share in \(0, 1\)"):
        dd.stage_calendar([10], 40, 0.1, shares=[0.5, 1])


bases, constants = st.floats(2, 13), st.floats(40, 800)


@given(bases, constants, st.floats(0.5, 25))
def test_days_times_degrees_are_the_constant(base, constant, above):
    record = dd.LinearDevelopment(base, constant, "any")
    assert_allclose(record.days(base + above).days * above, constant)


@given(bases, constants)
def test_a_line_through_days_of_a_record_gives_the_record_back(base, constant):
    record = dd.LinearDevelopment(base, constant, "any")
    t = base + np.array([4, 7, 11, 16])
    found = dd.fit_line(t, record.days(t).days)
    assert_allclose([found.base, found.constant], [base, constant], rtol=1e-6)


@example([0.0, 0.0, 5e-324], 1.0, 1.0)
@given(st.lists(st.floats(0, 25), min_size=3, max_size=40), st.floats(1, 60), st.floats(1, 60))
def test_more_heat_is_reached_no_sooner(daily, heat, more):
    found = dd.day_reached(daily, [heat, heat + more])
    assert found.reason[1] != "" or found.day[1] >= found.day[0]
    assert found.reason[1] != "" or found.reason[0] == ""


@settings(max_examples=40)
@given(st.lists(st.floats(1, 25), min_size=10, max_size=40), st.floats(0.1, 10))
def test_a_calendar_in_other_degrees_is_the_same(daily, scale):
    here = dd.stage_calendar(daily, [20, 35], 0.15)
    there = dd.stage_calendar(np.multiply(daily, scale), np.multiply([20, 35], scale), 0.15)
    assert_allclose(there.share_done, here.share_done, atol=1e-9)


@settings(max_examples=40)
@given(st.lists(st.floats(0, 25), min_size=10, max_size=40), st.floats(0, 0.5))
def test_stages_come_in_order_and_nobody_goes_back(daily, spread):
    done = dd.stage_calendar(daily, [20, 35], spread).share_done
    assert (np.diff(done, axis=1) >= -1e-12).all()
    assert (done[0] >= done[1] - 1e-12).all()


@given(st.floats(15, 30))
def test_integers_give_the_rates_that_floats_give(t):
    whole = int(t)
    assert ALIKE.rate(whole).per_day == ALIKE.rate(float(whole)).per_day
    found = dd.briere1(whole, 0.000027, 8.893, 37.597)
    assert found == dd.briere1(float(whole), 0.000027, 8.893, 37.597)
