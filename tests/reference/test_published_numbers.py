"""Numbers of the tables against definitions, published curves and reference libraries."""

import math
from collections import defaultdict

import pytest
import scipy.constants as scipy_constants

from benchwalk.reference import development, growth, practice, quantity_kinds, rows, units
from benchwalk.reference.rows.thermal import Nonlinear, NonlinearCheck, ObservedDuration
from tests.in_turn import each_of

UNITS = {unit.unit_key: unit for unit in units()}
DEVELOPMENT = {row.record_key: row for row in development()}


@each_of(
    ("unit_key", "value"),
    [
        ("ft", scipy_constants.foot),
        ("inch", scipy_constants.inch),
        ("sq_ft", scipy_constants.foot**2),
        ("acre", scipy_constants.acre),
        ("ha", scipy_constants.hectare),
        ("us_gal", scipy_constants.gallon * 1000),
        ("us_fl_oz", scipy_constants.fluid_ounce * 1000),
        ("lb", scipy_constants.lb * 1000),
        ("oz", scipy_constants.oz * 1000),
        ("deg_f", scipy_constants.degree_Fahrenheit),
        ("hour", scipy_constants.hour / scipy_constants.day),
        ("week", scipy_constants.week / scipy_constants.day),
    ],
)
def test_a_factor_against_scipy_constants(unit_key, value):
    assert UNITS[unit_key].factor == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"), [(32, 0), (212, 100), (-40, -40), (60, 15.5556)]
)
def test_a_reading_in_fahrenheit_against_fixed_points(fahrenheit, celsius):
    """Hand-worked: (F - 32) / 1.8."""
    unit = UNITS["deg_f"]
    assert fahrenheit * unit.factor + unit.offset == pytest.approx(celsius, abs=5e-5)


def test_a_difference_in_fahrenheit_has_no_offset():
    assert UNITS["delta_f"].offset == 0
    assert UNITS["delta_f"].base_unit != UNITS["deg_f"].base_unit


@pytest.mark.parametrize(
    ("made_of", "printed", "digits"),
    [
        (lambda f: f["ha"] / f["sq_ft"], 107639, 0.5),
        (lambda f: f["us_gal"] / f["acre"] * f["ha"], 9.35396, 5e-6),
        (lambda f: f["oz"] / f["us_gal"] / 100 * 1000, 74.8915, 5e-5),
        (lambda f: f["lb"] / f["us_gal"] / 100, 1.19826, 5e-6),
        (lambda f: 25 * f["per_sq_ft"], 269.1, 0.05),
    ],
    ids=["sq ft in a hectare", "L/ha in a gal/acre", "mg/L", "g/L in a lb/100 gal", "per m2"],
)
def test_a_composed_rate_against_hand_worked_conversions(made_of, printed, digits):
    """Hand-worked from the international foot and pound and the US gallon."""
    factors = {unit.unit_key: unit.factor for unit in units()}
    assert made_of(factors) == pytest.approx(printed, abs=digits)


def test_a_month_has_no_number_of_days():
    assert UNITS["month"].factor is None
    assert UNITS["year"].factor is None


CURVES = {
    "lactin2": lambda p, t: (
        math.exp(p["rho"] * t)
        - math.exp(p["rho"] * p["tmax"] - (p["tmax"] - t) / p["delta"])
        + p["lambda"]
    ),
    "taylor_gauss": lambda p, t: p["Rm"] * math.exp(-(((t - p["Tm"]) / p["To"]) ** 2) / 2),
    "briere1": lambda p, t: p["a"] * t * (t - p["t0"]) * math.sqrt(p["tmax"] - t),
    "logan10": lambda p, t: (
        p["alpha"]
        * (1 / (1 + p["k"] * math.exp(-p["rho"] * t)) - math.exp(-(p["tmax"] - t) / p["delta"]))
    ),
    "logan6": lambda p, t: (
        p["psi"]
        * (math.exp(p["rho"] * t) - math.exp(p["rho"] * p["tmax"] - (p["tmax"] - t) / p["delta"]))
    ),
}


@each_of("check", rows(NonlinearCheck))
def test_the_parameters_of_a_published_curve_give_its_check_rate(check):
    """Recomputed from the published parameters; rates are kept to five decimals."""
    parameters = defaultdict(dict)
    model = {}
    for row in rows(Nonlinear):
        parameters[row.record_key][row.parameter] = row.value
        model[row.record_key] = row.model
    curve = CURVES[model[check.record_key]]
    rate = curve(parameters[check.record_key], check.temp_c)
    assert rate == pytest.approx(check.rate_per_day, abs=2e-5)


def line_through(points):
    """Base [deg C] and constant [degree-days C] of the least-squares line of rate on deg C."""
    temps = [temp for temp, _ in points]
    rates = [1 / days for _, days in points]
    mean_t, mean_r = sum(temps) / len(temps), sum(rates) / len(rates)
    slope = sum((t - mean_t) * (r - mean_r) for t, r in zip(temps, rates, strict=True)) / sum(
        (t - mean_t) ** 2 for t in temps
    )
    return mean_t - mean_r / slope, 1 / slope


def test_thrips_base_and_constant_against_the_days_of_katayama_1997():
    """Published: egg to adult 34.2, 19.2, 12.1, 9.5 d at 15, 20, 25, 30 C; base 9.5 C, 194 DD."""
    days = [
        (row.temp_c, row.low_days)
        for row in rows(ObservedDuration)
        if (row.source_key, row.measure) == ("Katayama1997", "egg_to_adult")
    ]
    assert sorted(days) == [(15, 34.2), (20, 19.2), (25, 12.1), (30, 9.5)]
    base, constant = line_through(days)
    row = DEVELOPMENT["Katayama1997_1"]
    assert base == pytest.approx(row.base_c, abs=0.05)
    assert constant == pytest.approx(row.constant_dd, abs=1)


def test_shore_fly_base_and_constant_against_the_days_of_ugine_2007():
    """Published: 14.5, 8.2, 7.0 d at 20, 26, 28.5 C (Ugine, Sanderson & Wraight 2007, abstract)."""
    base, constant = line_through([(20, 14.5), (26, 8.2), (28.5, 7.0)])
    row = DEVELOPMENT["Ugine2007_1"]
    assert base == pytest.approx(row.base_c, abs=0.05)
    assert constant == pytest.approx(row.constant_dd, abs=0.05)


def test_the_published_daily_increase_of_scatella_doubles_as_printed():
    """Published: 47 % a day and a doubling time of 1.8 d belong to one r (Ugine 2007, abstract)."""
    [fastest] = [r for r in growth() if r.note and "47 % per day" in r.note]
    assert math.exp(fastest.r_per_day) - 1 == pytest.approx(0.47, abs=0.005)
    assert math.log(2) / fastest.r_per_day == pytest.approx(1.8, abs=0.05)


def test_a_base_is_below_the_upper_limit():
    for row in development():
        if row.base_c is not None and row.upper_c is not None:
            assert row.base_c < row.upper_c


def test_a_fact_of_practice_keeps_its_unknown_end():
    """New England 2016: one unit if below 4000 sq ft; no lower end is stated, and none is made."""
    largest = practice("unit_single_max")
    assert (largest.low, largest.high, largest.unit_key) == (None, 4000, "sq_ft")


def test_a_quantity_without_a_period_is_no_rate():
    kinds = {kind.quantity_kind: kind for kind in quantity_kinds()}
    assert kinds["per_card_per_week"].period_days == 7
    assert kinds["per_card"].period_days is None
