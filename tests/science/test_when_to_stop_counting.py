"""Lines of Wald and limits of Iwao, and what they do: by formula and exactly."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import optimize

import benchwalk.science.stopping as package
from benchwalk.science.stopping import (
    NEVER_OVER,
    HotSpot,
    InfestedUnits,
    NegativeBinomialCounts,
    PoissonCounts,
    StopTable,
    exact_characteristic,
    iwao_limits,
    iwao_most_units,
    iwao_table,
    wald_characteristic,
    wald_lines,
    wald_table,
)
from tests.in_turn import each_of
from tests.science.published_values import rows
from tests.science.stopping_plans import a_plan, ruin

NAN, INF = np.nan, np.inf
# long enough for less than 1e-13 to be left open
ENDLESS = 20_000

lows = st.floats(0.1, 5)
ratios = st.floats(1.3, 4)
ks = st.floats(0.2, 20)
errors = st.floats(0.01, 0.3)


def lines_of(row):
    k = float(row["k"] or "nan")
    counts = InfestedUnits() if row["counts"] == "infested" else NegativeBinomialCounts(k)
    low, high, alpha, beta = (float(row[key]) for key in ("low", "high", "alpha", "beta"))
    return wald_lines(counts, low, high, alpha=alpha, beta=beta)


@pytest.mark.parametrize("row", rows("stopping_lines"), ids=lambda r: f"{r['counts']} {r['low']}")
def test_lines_against_the_table_to_its_digits(row):
    found, atol = lines_of(row), 0.6 * 10.0 ** -int(row["digits"])
    assert_allclose(found.slope, float(row["slope"]), atol=2 * atol)
    assert_allclose(found.over, float(row["over"]), atol=2 * atol)
    if row["under"]:
        assert_allclose(found.under, float(row["under"]), atol=2 * atol)
    assert found.fewest_to_be_under == int(row["fewest"])


def test_the_example_of_wald_1947():
    # Wald 1947 (from memory): shares .1 and .3, alpha .02, beta .03: slope .186, -2.58 and 2.88
    found = wald_lines(InfestedUnits(), 0.1, 0.3, alpha=0.02, beta=0.03)
    assert_allclose(found.slope, 0.186, atol=5e-4)
    assert_allclose(found.under, -2.58, atol=5e-3)
    assert_allclose(found.over, 2.88, atol=5e-3)


def test_the_lower_line_of_that_example_by_hand():
    # ln(.03/.98) / ln(.3 x .9 / (.1 x .7)) = -3.486355 / 1.349927
    found = wald_lines(InfestedUnits(), 0.1, 0.3, alpha=0.02, beta=0.03)
    assert_allclose(found.under, np.log(0.03 / 0.98) / np.log(0.27 / 0.07), rtol=1e-14)
    assert_allclose(found.under, -2.582626, atol=6e-7)


@each_of("row", rows("stopping_characteristics"))
def test_error_rates_and_units_against_the_table_to_its_digits(row):
    lines = lines_of(row)
    mean = float(lines.slope) if row["at"] == "slope" else float(row[row["at"]])
    formula = wald_characteristic(lines, mean)
    exact = exact_characteristic(wald_table(lines, ENDLESS), lines.counts, mean)
    assert_allclose(formula.under, float(row["wald_under"]), atol=5.1e-5)
    assert_allclose(formula.units, float(row["wald_units"]), atol=5.1e-3)
    assert_allclose(exact.under, float(row["exact_under"]), atol=5.1e-5)
    assert_allclose(exact.units, float(row["exact_units"]), atol=5.1e-3)
    assert exact.open < 1e-12


@pytest.mark.parametrize(
    ("k", "mean", "h"),
    [(1.0246, 0.5, 3.0757), (1.0246, 3, -2.1377), (INF, 0.5, 2.6599), (INF, 3, -2.4516)],
)
def test_the_root_h_at_other_means_own_values(k, mean, h):
    # by way of P(under) = (A**h - 1) / (A**h - B**h), A = 9, B = 1/9; four digits of h
    found = wald_characteristic(a_plan(k=k), mean).under
    assert_allclose(found, (9.0**h - 1) / (9.0**h - 9.0**-h), rtol=5e-4)


@each_of("mean", [0.3, 0.9, 1.41, 2.5, 6.0])
@each_of("k", [0.8, INF])
def test_the_root_against_scipy_brentq(k, mean):
    lines = a_plan(k=k)
    d, slope = float(lines.log_ratio), float(lines.slope)

    def log_expectation(h):
        u = h * d
        grown = mean * np.expm1(u)
        return (grown if np.isinf(k) else -k * np.log1p(-grown / k)) - u * slope

    side = 1 if mean < slope else -1
    end = 60.0 if np.isinf(k) or side < 0 else np.log1p(k / mean) / d * (1 - 1e-12)
    h = optimize.brentq(log_expectation, side * 1e-3, side * end, xtol=1e-13)
    assert_allclose(
        wald_characteristic(lines, mean).under, (9.0**h - 1) / (9.0**h - 9.0**-h), rtol=1e-7
    )


@each_of("p", [0.2, 0.4, 0.5, 0.6, 0.75])
@each_of("steps", [2, 3, 6])
def test_formulas_and_exact_sums_against_the_gamblers_ruin(p, steps):
    # Feller 1968, vol. I, chapter XIV, eqs. (2.4), (3.4) (from memory): with shares .4 and .6 a
    # clean unit is a game lost, an infested one a game won, and no total passes a line
    alpha = 1 / (1 + 1.5**steps)
    lines = wald_lines(InfestedUnits(), 0.4, 0.6, alpha=alpha, beta=alpha)
    lost, games = ruin(p, steps, steps)
    exact = exact_characteristic(wald_table(lines, ENDLESS), InfestedUnits(), p)
    formula = wald_characteristic(lines, p)
    for found in (exact, formula):
        assert_allclose(found.under, lost, rtol=1e-9)
        assert_allclose(found.units, games, rtol=1e-9)


def test_true_error_rates_are_below_the_nominal_ones_and_units_above_the_formula():
    for row in rows("stopping_characteristics"):
        lines = lines_of(row)
        if row["at"] == "slope":
            continue
        mean = float(row[row["at"]])
        exact = exact_characteristic(wald_table(lines, ENDLESS), lines.counts, mean)
        wrong = exact.over if row["at"] == "low" else exact.under
        assert wrong < float(row["alpha" if row["at"] == "low" else "beta"])
        assert exact.units > wald_characteristic(lines, mean).units


@given(lows, ratios, ks, errors, errors)
def test_the_formula_keeps_its_error_rates_at_the_two_means(low, ratio, k, alpha, beta):
    found = wald_characteristic(a_plan(low, ratio, k, alpha, beta), [low, low * ratio])
    assert_allclose(found.over[0], alpha, rtol=1e-5)
    assert_allclose(found.under[1], beta, rtol=1e-5)


@given(lows, ratios, ks)
@settings(max_examples=25)
def test_chances_of_the_endings_add_up_to_one(low, ratio, k):
    lines = a_plan(low, ratio, k)
    mean = low * np.array([0, 0.3, 1, 1.5, 2, 4])
    for table in (wald_table(lines, 30), wald_table(lines, 12, fewest=4, cut="middle")):
        found = exact_characteristic(table, lines.counts, mean)
        assert_allclose(found.under + found.over + found.open, 1, atol=1e-9)
        assert (found.units <= table.most_units).all()
        assert (np.array([found.under, found.over, found.open]) >= 0).all()


@given(lows, ratios, ks)
@settings(max_examples=25)
def test_more_pests_are_called_under_less_often(low, ratio, k):
    lines = a_plan(low, ratio, k)
    mean = low * np.linspace(0, 6, 13)
    formula = wald_characteristic(lines, mean).under
    exact = exact_characteristic(wald_table(lines, 40, cut="middle"), lines.counts, mean).under
    assert (np.diff(formula) <= 1e-12).all()
    assert (np.diff(exact) <= 1e-12).all()


@given(st.floats(0.05, 0.4), st.floats(0.05, 0.4), errors, errors, st.floats(0.02, 0.98))
@settings(max_examples=25)
def test_clean_and_infested_may_be_exchanged(low, gap, alpha, beta, share):
    here = wald_lines(InfestedUnits(), low, low + gap, alpha=alpha, beta=beta)
    there = wald_lines(InfestedUnits(), 1 - low - gap, 1 - low, alpha=beta, beta=alpha)
    assert_allclose(there.slope, 1 - here.slope, rtol=1e-9)
    assert_allclose([there.under, there.over], [-here.over, -here.under], rtol=1e-9)
    assert_allclose(
        wald_characteristic(there, 1 - share).over,
        wald_characteristic(here, share).under,
        atol=1e-7,
    )
    exact = [
        exact_characteristic(wald_table(lines, 60), InfestedUnits(), p)
        for lines, p in ((here, share), (there, 1 - share))
    ]
    assert_allclose(exact[1].over, exact[0].under, atol=1e-7)
    assert_allclose(exact[1].units, exact[0].units, rtol=1e-7)


@given(lows, ratios, st.floats(0.05, 20))
@settings(max_examples=25)
def test_a_huge_k_is_the_poisson(low, ratio, mean):
    near = a_plan(low, ratio, 1e9)
    poisson = wald_lines(PoissonCounts(), low, low * ratio, alpha=0.1, beta=0.1)
    for key in ("slope", "under", "over"):
        assert_allclose(getattr(near, key), getattr(poisson, key), rtol=1e-6)
    assert_allclose(
        wald_characteristic(near, mean).under, wald_characteristic(poisson, mean).under, atol=1e-6
    )
    table = wald_table(poisson, 25, cut="middle")
    assert_allclose(
        exact_characteristic(table, NegativeBinomialCounts(1e9), mean).under,
        exact_characteristic(table, PoissonCounts(), mean).under,
        atol=1e-6,
    )


@given(lows, ratios, st.integers(2, 5))
def test_poisson_plants_looked_at_in_groups_have_the_same_lines(low, ratio, group):
    one = wald_lines(PoissonCounts(), low, low * ratio, alpha=0.1, beta=0.1)
    many = wald_lines(PoissonCounts(), group * low, group * low * ratio, alpha=0.1, beta=0.1)
    assert_allclose(many.slope, group * one.slope, rtol=1e-9)
    assert_allclose(many.over, one.over, rtol=1e-9)
    assert_allclose(
        wald_characteristic(many, group * low).units * group,
        wald_characteristic(one, low).units,
        rtol=1e-6,
    )


@given(lows, ratios, ks, st.floats(0.01, 0.1), st.floats(1.1, 3))
def test_fewer_errors_take_wider_lines_and_more_plants(low, ratio, k, alpha, factor):
    strict, loose = (a_plan(low, ratio, k, a, a) for a in (alpha, alpha * factor))
    assert strict.over > loose.over
    assert strict.under < loose.under
    assert strict.slope == loose.slope
    units = [float(wald_characteristic(lines, low).units) for lines in (strict, loose)]
    assert units[0] > units[1]


@given(lows, ratios, ks, st.integers(2, 30))
@settings(max_examples=20)
def test_a_longer_table_leaves_less_open(low, ratio, k, most):
    lines = a_plan(low, ratio, k)
    mean = [low, low * ratio]
    short, long = (
        exact_characteristic(wald_table(lines, n), lines.counts, mean) for n in (most, most + 5)
    )
    assert (long.open <= short.open + 1e-12).all()
    assert (long.under >= short.under - 1e-12).all()
    assert (long.over >= short.over - 1e-12).all()


def test_near_the_slope_the_formula_has_no_step():
    lines = a_plan()
    mean = float(lines.slope) * (1 + np.array([-1e-3, -1e-6, -1e-7, 0, 1e-7, 1e-6, 1e-3]))
    found = wald_characteristic(lines, mean)
    assert_allclose(found.under, 0.5, atol=2e-3)
    assert_allclose(found.units, found.units[3], rtol=1e-3)
    assert (np.diff(found.under) <= 0).all()


def test_a_clean_unit_is_under_after_the_fewest_plants():
    lines = a_plan()
    exact = exact_characteristic(wald_table(lines, 100), lines.counts, 0)
    assert (exact.under, exact.over) == (1, 0)
    assert exact.units == lines.fewest_to_be_under == 7  # 8.743 / 1.4065 is 6.2
    formula = wald_characteristic(lines, 0)
    assert (formula.under, formula.over) == (1, 0)
    assert_allclose(formula.units, -lines.under / lines.slope)


def test_a_unit_infested_throughout_is_over():
    lines = wald_lines(InfestedUnits(), 0.1, 0.25, alpha=0.1, beta=0.1)
    exact = exact_characteristic(wald_table(lines, 100), InfestedUnits(), 1)
    formula = wald_characteristic(lines, 1)
    assert exact.over == formula.over == 1
    assert exact.units == 3  # 2 + 3 x 0.166 is under 3
    assert_allclose(formula.units, lines.over / (1 - lines.slope))


def test_many_means_in_any_shape_give_what_each_gives_alone():
    table, counts = wald_table(a_plan(), 30, cut="middle"), NegativeBinomialCounts(0.8)
    together = exact_characteristic(table, counts, [[2.0, 0.5], [NAN, 2.0]])
    assert together.reason.tolist() == [["", ""], ["no_mean", ""]]
    assert np.isnan(together.under[1, 0])
    assert np.isnan(together.units[1, 0])
    alone = exact_characteristic(table, counts, 0.5)
    assert_allclose(together.under[0, 1], alone.under)
    assert_allclose(together.units[0, 1], alone.units)
    assert together.under[0, 0] == together.under[1, 1]


def test_lines_of_many_plans_at_once_give_what_each_gives_alone():
    k = [0.5, 1.0246, INF]
    together = wald_lines(NegativeBinomialCounts(k), 1, 2, alpha=0.1, beta=0.1)
    found = wald_characteristic(together, [[0.7], [1.6]])
    for i, each in enumerate(k):
        alone = a_plan(k=each)
        assert_allclose(together.over[i], alone.over)
        assert_allclose(found.units[:, i], wald_characteristic(alone, [0.7, 1.6]).units)


def test_a_plan_tried_on_more_clumped_plants_is_wrong_more_often():
    table = wald_table(a_plan(k=0.8), 40, cut="middle")
    under = [
        float(exact_characteristic(table, NegativeBinomialCounts(k), 2.0).under)
        for k in (5, 0.8, 0.2)
    ]
    assert under == sorted(under)


def test_nothing_in_stopping_is_drawn_at_random():
    for path in Path(package.__file__).parent.glob("*.py"):
        source = path.read_text("utf-8")
        assert "default_rng" not in source
        assert ".random" not in source
        assert "import random" not in source
        assert ".rvs" not in source


def test_absent_means_and_ks_have_no_lines():
    found = wald_lines(NegativeBinomialCounts([0.8, NAN]), [[NAN], [1]], 2, alpha=0.1, beta=0.1)
    assert found.reason.tolist() == [["no_means", "no_means"], ["", "no_k"]]
    assert_array_equal(np.isnan(found.over), [[True, True], [False, True]])
    characteristic = wald_characteristic(found, [[1.0, 1.0], [NAN, 1.0]])
    assert characteristic.reason.tolist() == [["no_means", "no_means"], ["no_mean", "no_k"]]
    assert np.isnan(characteristic.under).all()
    assert np.isnan(characteristic.over).all()
    assert np.isnan(characteristic.units).all()
    assert np.isnan(characteristic.open).all()


INFESTED = InfestedUnits()


@each_of(
    ("call", "words"),
    [
        (lambda: a_plan(ratio=0.5), "got low 1 and high 0.5; expected 0 < low < high; check"),
        (lambda: a_plan(low=0), "got low 0 and high 0; expected 0 < low < high"),
        (lambda: a_plan(alpha=0.6, beta=0.4), "got alpha 0.6 and beta 0.4; expected a sum below 1"),
        (lambda: a_plan(alpha=0), r"got alpha 0; expected a share in \(0, 1\)"),
        (lambda: a_plan(beta=1), r"got beta 1; expected a share in \(0, 1\)"),
        (lambda: a_plan(k=0), "got k 0; expected more than zero"),
        (
            lambda: wald_lines(INFESTED, 1, 2, alpha=0.1, beta=0.1),
            "got high 2; expected a share of units infested, at most 1; for individuals",
        ),
        (lambda: a_plan(low=-1), "got low -1; expected zero or more"),
        (lambda: wald_characteristic(a_plan(), -1), "got mean -1; expected zero or more"),
        (
            lambda: exact_characteristic(wald_table(a_plan(), 5), INFESTED, 1.5),
            "got mean 1.5; expected a share of units infested",
        ),
        (
            lambda: exact_characteristic(wald_table(a_plan(), 5), PoissonCounts(), -1),
            "got mean -1; expected zero or more",
        ),
        (lambda: wald_table(a_plan(k=[1, 2]), 5), r"got lines of shape \(2,\); expected one pair"),
        (lambda: wald_table(a_plan(k=NAN), 5), r"got lines without an answer \(no_k\); expected"),
        (lambda: wald_table(a_plan(), 5, fewest=6), "got fewest 6 and most 5 units; expected 1 <="),
        (lambda: wald_table(a_plan(), 0), "got fewest 1 and most 0 units"),
        (lambda: wald_table(a_plan(), 5, fewest=0), "got fewest 0 and most 5 units"),
        (lambda: HotSpot(0, 1), r"got share 0; expected a share in \(0, 1\]"),
        (lambda: HotSpot(0.5, -1), "got k -1; expected more than zero"),
        (lambda: iwao_limits(-1, 2, (0.5, 1.3), 2), "got n -1; expected zero or more"),
        (lambda: iwao_limits(1, 2, (0.5, 1.3), 0), "got t 0; expected more than zero"),
        (lambda: iwao_most_units(2, (0.5, 1.3), 2, 0), "got half_width 0; expected more than zero"),
        (
            lambda: iwao_table(5, (0.5, 0.5), 2, 10),
            "got a line of alpha 0.5, beta 0.5; expected a variance above 0 at mean 5",
        ),
        (
            lambda: StopTable(np.array([0, 1]), np.array([3]), None),
            r"got limits of shapes \(2,\) and \(1,\); expected two rows of one length",
        ),
        (
            lambda: StopTable(np.array([], dtype=int), np.array([], dtype=int), None),
            r"got limits of shapes \(0,\) and \(0,\)",
        ),
        (
            lambda: StopTable(np.array([-1, 3]), np.array([4, 3]), None),
            "got limits 3 and 3 after 2 units; expected the lower one below the upper one",
        ),
        (
            lambda: StopTable(np.array([5, 3]), np.array([NEVER_OVER, 4]), None),
            "got limits 5 and 4 after 1 units; expected the lower one below",
        ),
        (
            lambda: StopTable(np.array([-1, 3]), np.array([4, NEVER_OVER]), None),
            "got a table that ends without an upper limit and without a cut",
        ),
    ],
)
def test_impossible_arguments_are_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
