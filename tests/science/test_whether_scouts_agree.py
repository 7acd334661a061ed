"""Kappas on classes, intraclass correlations and limits on counts, offsets, sensitivity."""

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats
from statsmodels.stats import inter_rater
from statsmodels.stats.proportion import proportion_confint

from benchwalk.science.agreement import (
    FORMS,
    cohen_kappa,
    fleiss_kappa,
    fleiss_kappa_of_counts,
    intraclass_correlation,
    kappa_of_table,
    limits_of_agreement,
    mean_squares,
    ratio_limits,
    repeatability,
    scout_offsets,
    scout_sensitivity,
)
from benchwalk.science.detection import plants_to_inspect
from tests.in_turn import each_of
from tests.science.published_values import rows

NAN = np.nan
# Shrout and Fleiss 1979, table 2: six targets by four judges
JUDGES = np.array([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9],
                   [6, 2, 4, 7]])  # fmt: skip
# Fleiss kappa of ten subjects by fourteen raters in five classes, a widely printed example
FOURTEEN = np.array([
    [0, 0, 0, 0, 14], [0, 2, 6, 4, 2], [0, 0, 3, 5, 6], [0, 3, 9, 2, 0], [2, 2, 8, 1, 1],
    [7, 7, 0, 0, 0], [3, 2, 6, 3, 0], [2, 5, 3, 2, 2], [6, 5, 2, 1, 0], [0, 2, 2, 3, 7],
])  # fmt: skip


def table_of(text):
    return np.array([[float(x) for x in row.split()] for row in text.split(";")])


def peak_flow(meter, reading):
    row = next(r for r in rows("peak_flow") if (r["meter"], r["reading"]) == (meter, reading))
    return np.array([float(x) for x in row["values"].split()])


# kappa


@each_of("row", rows("kappas"))
def test_kappa_against_published_values(row):
    weights = table_of(row["weights"]) if ";" in row["weights"] else row["weights"]
    found = kappa_of_table(table_of(row["table"]), weights=weights)
    digits = 0.501 * 10 ** -int(row["digits"])
    assert_allclose(found.kappa, float(row["kappa"]), rtol=0, atol=digits)
    if row["standard_error"]:
        assert_allclose(found.standard_error, float(row["standard_error"]), rtol=0, atol=digits)


def test_limits_of_kappa_against_published_ones():
    # 95 % of [[20, 5], [10, 15]]: .151092 to .648908 (from memory, of a reference library)
    found = kappa_of_table([[20, 5], [10, 15]])
    assert_allclose([found.low, found.high], [0.151092, 0.648908], atol=5.01e-7)


@pytest.mark.parametrize("weights", ["none", "linear", "quadratic"])
def test_kappa_and_its_error_against_statsmodels(weights):
    table = table_of("38 5 0 1;33 11 3 0;10 14 5 6;3 7 3 10")
    kind = {"none": None, "linear": "linear", "quadratic": "quadratic"}[weights]
    expected = inter_rater.cohens_kappa(table, wt=kind)
    found = kappa_of_table(table, weights=weights)
    assert_allclose(found.kappa, expected.kappa)
    assert_allclose(found.standard_error, expected.std_kappa)
    assert_allclose([found.low, found.high], [expected.kappa_low, expected.kappa_upp])


def test_classes_of_units_make_the_table():
    classes = [[0, 0]] * 20 + [[0, 1]] * 5 + [[1, 0]] * 10 + [[1, 1]] * 15
    found = cohen_kappa(classes)
    assert_allclose(found.kappa, 0.4)
    assert found.units == 50


def test_a_scout_who_did_not_look_is_no_disagreement():
    classes = [[0, 0], [1, 1], [2, 1], [0, 1], [1, NAN], [NAN, 2], [NAN, NAN]]
    found, without = cohen_kappa(classes), cohen_kappa(classes[:4])
    assert (found.kappa, found.units) == (without.kappa, 4)


def test_classes_that_did_not_occur_matter_for_how_far_apart_two_are():
    classes = [[0, 0], [3, 3], [0, 3], [0, 0], [3, 3], [1, 3]]
    seen = cohen_kappa(classes, weights="linear").kappa
    all_of_them = cohen_kappa(classes, weights="linear", categories=range(4)).kappa
    assert seen != all_of_them


def test_kappa_says_why_it_has_no_number():
    assert cohen_kappa(np.full((3, 2), NAN)).reason == "no_units"
    assert cohen_kappa(np.empty((0, 2))).reason == "no_units"
    alike = cohen_kappa([[1, 1], [1, 1]])
    assert alike.reason == "one_class"
    assert np.isnan([alike.kappa, alike.low, alike.standard_error]).all()
    many = kappa_of_table([np.zeros((2, 2)), [[5, 0], [0, 0]], [[20, 5], [10, 15]]])
    assert_array_equal(many.reason, ["no_units", "one_class", ""])


def test_kappa_refuses_what_it_cannot_use():
    with pytest.raises(ValueError, match=r"got classes of shape \(2, 3\); expected \(units, 2\)"):
        cohen_kappa([[1, 2, 3], [1, 2, 3]])
    with pytest.raises(ValueError, match="got class 7; expected one of 0, 1; add it to the catego"):
        cohen_kappa([[0, 7], [1, 1]], categories=[0, 1])
    with pytest.raises(ValueError, match="got weights 'cubic'; expected one of none, linear, quad"):
        kappa_of_table([[1, 2], [3, 4]], weights="cubic")
    with pytest.raises(
        ValueError, match=r"got weights of shape \(2, 2\); expected \(2, 2\) with 0"
    ):
        kappa_of_table([[1, 2], [3, 4]], weights=[[1, 2], [3, 0]])
    with pytest.raises(
        ValueError, match=r"got a table of shape \(1, 2\); expected as many rows as"
    ):
        kappa_of_table([[1, 2]])


tables = st.lists(st.lists(st.integers(0, 40), min_size=3, max_size=3), min_size=3, max_size=3)


@given(tables, st.sampled_from(["none", "linear", "quadratic"]))
def test_exchanged_scouts_and_more_of_the_same_units_have_the_same_kappa(table, weights):
    table = np.array(table) + 1
    here = kappa_of_table(table, weights=weights)
    assert_allclose(kappa_of_table(table.T, weights=weights).kappa, here.kappa, atol=1e-12)
    four = kappa_of_table(4 * table, weights=weights)
    assert_allclose(four.kappa, here.kappa, atol=1e-12)
    assert_allclose(four.standard_error, here.standard_error / 2)


@given(tables)
def test_two_classes_have_one_kappa_whatever_the_weights(table):
    two = np.array(table)[:2, :2] + 1
    found = [kappa_of_table(two, weights=w).kappa for w in ("none", "linear", "quadratic")]
    assert_allclose(found, found[0], atol=1e-12)


@given(st.lists(st.integers(1, 30), min_size=2, max_size=5))
def test_full_agreement_is_one_and_independence_is_nothing(sizes):
    assert_allclose(kappa_of_table(np.diag(sizes)).kappa, 1)
    assert_allclose(kappa_of_table(np.outer(sizes, sizes)).kappa, 0, atol=1e-12)


def test_kappa_of_many_against_a_published_value():
    # .210 from memory, recomputed .2099307
    assert_allclose(fleiss_kappa_of_counts(FOURTEEN).kappa, 0.2099307, atol=5.01e-8)
    assert_allclose(fleiss_kappa_of_counts(FOURTEEN).kappa, inter_rater.fleiss_kappa(FOURTEEN))


def test_kappa_of_many_from_classes_is_that_from_counts():
    classes = np.array([np.repeat(np.arange(5), unit) for unit in FOURTEEN])
    assert_allclose(fleiss_kappa(classes).kappa, 0.2099307, atol=5.01e-8)


def test_units_that_one_scout_looked_at_are_left_out_of_the_kappa_of_many():
    classes = [[0, 0, 1], [1, 1, 1], [0, NAN, 0], [1, NAN, NAN], [NAN, NAN, NAN]]
    found = fleiss_kappa(classes)
    assert found.units == 3
    # worked by hand: pairs agree in 1/3, 1, 1; 4 of 8 classes are 0
    assert_allclose(found.kappa, ((1 / 3 + 1 + 1) / 3 - 0.5) / 0.5)


def test_kappa_of_many_says_why_it_has_no_number():
    assert fleiss_kappa([[NAN, 1], [1, NAN]]).reason == "no_units"
    assert fleiss_kappa([[1, 1], [1, 1]]).reason == "one_class"
    with pytest.raises(
        ValueError, match=r"got classes of shape \(2,\); expected \(units, scouts\)"
    ):
        fleiss_kappa([1, 2])
    with pytest.raises(
        ValueError, match=r"got counts of shape \(2,\); expected \(units, classes\)"
    ):
        fleiss_kappa_of_counts([1, 2])


@given(st.permutations(range(10)), st.permutations(range(5)))
def test_the_order_of_units_and_of_classes_does_not_matter(units, classes):
    found = fleiss_kappa_of_counts(FOURTEEN[units][:, classes]).kappa
    assert_allclose(found, fleiss_kappa_of_counts(FOURTEEN).kappa)


# intraclass correlation


def test_mean_squares_against_published_values():
    # Shrout and Fleiss 1979, table 3, from memory and recomputed
    ms = mean_squares(JUDGES)
    found = [ms.between, ms.within, ms.scout, ms.error]
    assert_allclose(found, [11.241667, 6.263889, 32.486111, 1.019444], atol=5.01e-7)
    # F of the units on 5 and 15 degrees of freedom, from memory of another library
    assert_allclose(ms.between / ms.error, 11.0272, atol=5.01e-5)


@pytest.mark.parametrize("row", rows("shrout_fleiss"), ids=lambda r: r["form"])
def test_intraclass_correlations_against_published_values(row):
    found = intraclass_correlation(JUDGES, row["form"])
    assert_allclose(found.correlation, float(row["printed"]), atol=0.00501)
    assert_allclose(found.correlation, float(row["correlation"]), rtol=0, atol=1e-7)
    assert_allclose(found.low, float(row["low"]), atol=5.01e-4)
    assert_allclose(found.high, float(row["high"]), atol=0.00501)


@pytest.mark.parametrize(("form", "who"), [("1,1", "1"), ("3,1", "3")])
def test_an_f_ratio_at_the_limit_has_half_of_the_tail_by_scipy(form, who):
    ms = mean_squares(JUDGES)
    rest, freedom = (ms.within, 18) if who == "1" else (ms.error, 15)
    found = intraclass_correlation(JUDGES, form, level=0.9)
    for limit, tail in ((found.low, 0.05), (found.high, 0.95)):
        ratio = ms.between / rest * (1 - limit) / (1 + 3 * limit)
        assert_allclose(stats.f.sf(ratio, 5, freedom), tail)


def test_correlation_of_two_way_form_against_the_variance_of_statsmodels():
    # the same mean squares by analysis of variance of a reference library
    y = JUDGES.ravel().astype(float)
    unit, scout = np.repeat(np.arange(6), 4), np.tile(np.arange(4), 6)
    x = np.column_stack([np.ones(24), unit[:, None] == np.arange(1, 6),
                         scout[:, None] == np.arange(1, 4)])  # fmt: skip
    assert_allclose(sm.OLS(y, x).fit().mse_resid, mean_squares(JUDGES).error)
    assert_allclose(sm.OLS(y, x[:, :6]).fit().mse_resid, mean_squares(JUDGES).within)


def test_a_unit_that_one_scout_did_not_look_at_is_left_out():
    more = np.vstack([JUDGES, [5, NAN, 3, 4], [NAN] * 4])
    for form in FORMS:
        found, without = (intraclass_correlation(t, form) for t in (more, JUDGES))
        assert_allclose([found.correlation, found.low], [without.correlation, without.low])
    assert intraclass_correlation(more, "2,1").units == 6


@pytest.mark.parametrize("form", FORMS)
def test_scouts_who_agree_in_full_have_one(form):
    found = intraclass_correlation([[1, 1], [5, 5], [9, 9]], form)
    assert_array_equal([found.correlation, found.low, found.high], [1, 1, 1])


def test_a_constant_between_scouts_matters_to_agreement_and_not_to_consistency():
    table = np.array([[1.0, 3], [5, 7], [9, 11], [2, 4]])
    assert intraclass_correlation(table, "3,1").correlation == 1
    assert intraclass_correlation(table, "2,1").correlation < 0.9
    assert intraclass_correlation(table, "2,1").low < intraclass_correlation(table, "2,1").high <= 1


@pytest.mark.parametrize("form", FORMS)
def test_a_correlation_says_why_it_has_no_number(form):
    found = intraclass_correlation([[[1, 2], [NAN, 3]], [[4, 4], [4, 4]]], form)
    assert_array_equal(found.reason, ["too_few", "no_spread"])
    assert np.isnan([found.correlation, found.low, found.high]).all()


def test_a_correlation_refuses_what_it_cannot_use():
    with pytest.raises(ValueError, match="got form '4,1'; expected one of 1,1; 2,1; 3,1; 1,k; 2,k"):
        intraclass_correlation(JUDGES, "4,1")
    with pytest.raises(
        ValueError, match=r"got counts of shape \(3, 1\); expected \(units, scouts\)"
    ):
        intraclass_correlation([[1], [2], [3]], "1,1")
    with pytest.raises(ValueError, match=r"got level 1; expected a share in \(0, 1\)"):
        intraclass_correlation(JUDGES, "1,1", level=1)


counts_of_three = st.lists(st.tuples(*[st.integers(0, 50)] * 3), min_size=3, max_size=9)


@settings(max_examples=60)
@given(counts_of_three, st.sampled_from(FORMS))
def test_scale_and_shift_of_all_counts_do_not_matter(table, form):
    table = np.array(table, float)
    here = intraclass_correlation(table, form)
    there = intraclass_correlation(3 * table + 7, form)
    if here.reason == "":
        assert_allclose(there.correlation, here.correlation, rtol=1e-6, atol=1e-6)
        assert_allclose(there.low, here.low, rtol=1e-6, atol=1e-6)


@settings(max_examples=60)
@example([(0, 6, 14), (1, 7, 15), (2, 8, 16)])  # scouts who differ by a constant only
@example([(25, 40, 12), (32, 7, 40), (42, 2, 39), (5, 33, 45)])  # hardly any degrees of freedom
@given(counts_of_three)
def test_the_estimate_lies_inside_and_a_mean_is_steadier_than_one_count(table):
    for who in "123":
        one, mean = (intraclass_correlation(table, f"{who},{what}") for what in "1k")
        if one.reason == "" and 0 < one.correlation < 1:
            assert one.low <= one.correlation + 1e-9
            assert one.correlation <= one.high + 1e-9
            assert mean.correlation >= one.correlation - 1e-9


# limits of agreement


def test_peak_flow_against_published_limits():
    # Bland and Altman 1986 print -2.1, 38.8, -79.7, 75.5 from rounded numbers; recomputed here
    found = limits_of_agreement(peak_flow("mini", "1"), peak_flow("large", "1"), multiple=2)
    values = [found.bias, found.deviation, found.low, found.high]
    assert_allclose(values, [-2.117647, 38.765130, -79.6479, 75.4126], atol=5.01e-5)
    assert_allclose(values, [-2.1, 38.8, -79.7, 75.5], atol=0.1)
    usual = limits_of_agreement(peak_flow("mini", "1"), peak_flow("large", "1"))
    assert_allclose([usual.low, usual.high], [-78.0973, 73.8620], atol=5.01e-5)


def test_peak_flow_data_have_the_published_correlation():
    # .94: the correlation that hides the disagreement
    r = np.corrcoef(peak_flow("mini", "1"), peak_flow("large", "1"))[0, 1]
    assert_allclose(r, 0.943279, atol=5.01e-7)


@pytest.mark.parametrize(("meter", "printed"), [("large", 43.2), ("mini", 56.4)])
def test_repeatability_against_published_values(meter, printed):
    # recomputed 43.29 and 56.32; the paper prints 43.2 and 56.4
    found = repeatability(peak_flow(meter, "1"), peak_flow(meter, "2"), multiple=2)
    assert_allclose(found, {"large": 43.29, "mini": 56.32}[meter], atol=0.00501)
    assert_allclose(found, printed, atol=0.1)


def test_errors_of_bias_and_limits_are_those_of_the_paper():
    found = limits_of_agreement(peak_flow("mini", "1"), peak_flow("large", "1"))
    d = peak_flow("large", "1") - peak_flow("mini", "1")
    assert_allclose(found.bias_se, stats.sem(d))
    assert_allclose(found.limit_se, np.sqrt(3 * d.var(ddof=1) / 17))


def test_a_unit_that_one_did_not_look_at_is_left_out_of_the_limits():
    found = limits_of_agreement([4, 7, NAN, 3, 5], [5, 7, 15, NAN, 9])
    alone = limits_of_agreement([4, 7, 5], [5, 7, 9])
    assert_allclose([found.bias, found.low, found.units], [alone.bias, alone.low, 3])
    assert_allclose(repeatability([4, NAN, 5], [5, 3, 9]), repeatability([4, 5], [5, 9]))


def test_limits_say_why_there_are_none():
    found = limits_of_agreement([[4, NAN], [NAN, NAN]], [[6, 2], [1, 2]])
    assert_array_equal(found.reason, ["too_few", "too_few"])
    assert_array_equal(found.bias, [2, NAN])
    assert np.isnan([found.low, found.high]).all()
    assert np.isnan(repeatability([NAN], [3]))


def test_a_scout_who_finds_twice_as_many_has_a_ratio_of_two():
    found = ratio_limits([4, 7, 12, 3], [9, 15, 25, 7])
    assert_allclose([found.ratio, found.low, found.high], 2)
    with pytest.raises(ValueError, match="got first -1; expected zero or more"):
        ratio_limits([-1, 2], [1, 2])


readings = st.lists(st.tuples(st.integers(0, 200), st.integers(0, 200)), min_size=2, max_size=20)


@given(readings)
def test_exchanged_scouts_turn_the_limits_round(pairs):
    a, b = map(np.array, zip(*pairs, strict=True))
    here, there = limits_of_agreement(a, b), limits_of_agreement(b, a)
    assert_allclose([there.bias, there.low, there.high], [-here.bias, -here.high, -here.low])
    ratio, turned = ratio_limits(a, b), ratio_limits(b, a)
    assert_allclose(ratio.ratio * turned.ratio, 1)
    assert_allclose(ratio.low * turned.high, 1)


@given(readings)
def test_a_count_compared_with_itself_has_no_bias_and_no_width(pairs):
    a = np.array(pairs)[:, 0]
    found = limits_of_agreement(a, a)
    assert_array_equal([found.bias, found.low, found.high], 0)
    assert repeatability(a, a) == 0


# offsets


def test_offsets_against_least_squares_of_statsmodels():
    rng = np.random.default_rng(2)
    scouts = np.array([-0.3, 0.1, 0.2])
    counts = rng.poisson(np.exp(rng.normal(2, 0.6, (9, 1)) + scouts)).astype(float)
    counts[[0, 3, 5], [1, 2, 0]] = NAN
    unit, scout = np.nonzero(~np.isnan(counts))
    x = np.column_stack([unit[:, None] == np.arange(9), scout[:, None] == np.arange(1, 3)])
    fit = sm.OLS(np.log1p(counts[unit, scout]), x.astype(float)).fit()
    first = np.array([0, *fit.params[9:]])
    found = scout_offsets(counts)
    assert_allclose(found.offset, first - first.mean())
    contrast = np.zeros((3, 11))
    contrast[:, 9:] = (np.eye(3) - 1 / 3)[:, 1:]
    assert_allclose(found.standard_error, np.sqrt(np.diag(fit.cov_params(r_matrix=contrast))))
    assert_array_equal(found.looked, [8, 8, 8])


def test_offsets_of_scouts_who_share_no_unit_cannot_be_compared():
    found = scout_offsets([[3, 4, NAN, NAN], [NAN, NAN, 5, 6]])
    assert_array_equal(found.reason, ["not_connected"] * 4)
    assert np.isnan(found.offset).all()
    chain = scout_offsets([[3, 4, NAN], [NAN, 4, 6], [2, NAN, NAN]])
    assert not np.isnan(chain.offset).any()


def test_a_scout_who_looked_at_nothing_has_no_offset():
    found = scout_offsets([[4, 9, NAN], [7, 15, NAN], [3, 6, NAN]])
    assert_array_equal(found.reason, ["", "", "not_looked"])
    assert np.isnan(found.offset[2])
    assert_allclose(found.offset[:2].sum(), 0, atol=1e-12)
    assert_array_equal(scout_offsets([[NAN, NAN]]).reason, ["not_looked"] * 2)


def test_offsets_from_one_unit_have_no_error():
    found = scout_offsets([[4, 9]])
    assert_array_equal(found.reason, ["no_rest", "no_rest"])
    assert_allclose(found.offset, [-np.log(2) / 2, np.log(2) / 2])
    assert np.isnan(found.standard_error).all()
    with pytest.raises(ValueError, match=r"got counts of shape \(2,\); expected \(units, scouts\)"):
        scout_offsets([4, 9])


@given(counts_of_three)
def test_offsets_add_up_to_nothing_and_follow_their_scouts(table):
    found = scout_offsets(table).offset
    turned = scout_offsets(np.array(table)[:, ::-1]).offset
    assert_allclose(found.sum(), 0, atol=1e-9)
    assert_allclose(turned, found[::-1], atol=1e-9)


# sensitivity


def test_sensitivity_against_exact_limits_of_statsmodels():
    found = scout_sensitivity([16, 0, 20], 20, level=0.9, rule="exact")
    low, high = proportion_confint([16, 0, 20], 20, alpha=0.1, method="beta")
    assert_allclose(found.sensitivity, [0.8, 0, 1])
    assert_allclose([found.low, found.high], [low, high], atol=1e-12)


def test_a_scout_shown_nothing_infested_has_no_sensitivity():
    found = scout_sensitivity([0, NAN], [0, 10])
    assert_array_equal(found.reason, ["none_known", "not_counted"])
    assert np.isnan(found.sensitivity).all()
    with pytest.raises(
        ValueError, match="got infested 11 of inspected 10; expected infested of at"
    ):
        scout_sensitivity(11, 10)


def test_sensitivity_is_what_a_plan_of_inspection_takes():
    found = scout_sensitivity(16, 20)
    plan = plants_to_inspect(0.05, 200, sensitivity=found.sensitivity)
    assert plan.plants == 64


def test_integers_give_what_floats_give():
    assert kappa_of_table([[20, 5], [10, 15]]).low == kappa_of_table([[20.0, 5], [10, 15]]).low
    whole, broken = (intraclass_correlation(t, "2,1") for t in (JUDGES, JUDGES.astype(float)))
    assert whole.low == broken.low
    assert limits_of_agreement([1, 2], [3, 5]).low == limits_of_agreement([1.0, 2], [3.0, 5]).low
    assert_array_equal(scout_offsets(JUDGES).offset, scout_offsets(JUDGES.astype(float)).offset)
