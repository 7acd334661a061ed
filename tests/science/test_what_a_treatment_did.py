"""Percent control by four formulas, with its interval, from pairs, and against several units."""

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import optimize, stats
from statsmodels.stats.meta_analysis import combine_effects

from benchwalk.science.density import mean_interval, ratio_interval
from benchwalk.science.efficacy import (
    INTERVALS,
    Counts,
    abbott,
    abbott_interval,
    control_against_units,
    henderson_tilton,
    henderson_tilton_interval,
    paired_control,
    schneider_orelli,
    sun_shepard,
)
from tests.in_turn import each_of
from tests.science.published_values import counts, insect_sprays, rows

NAN, INF = np.nan, np.inf
FORMULAS = {f.__name__: f for f in (abbott, henderson_tilton, schneider_orelli, sun_shepard)}
some = st.integers(1, 400)
means = st.floats(0.05, 500)
ks = st.floats(0.2, 20)


@each_of("row", rows("percent_control"))
def test_percent_control_against_published_values(row):
    given_in = [float(row[key]) for key in "abcd" if row[key]]
    found = FORMULAS[row["formula"]](*given_in).percent
    assert_allclose(found, float(row["percent"]), rtol=0, atol=0.501 * 10 ** -int(row["digits"]))


def test_webworms_left_by_sprays_against_computed_values():
    # Beall 1940 (agridat beall.webworms), means of 325 plots; values computed from the counts
    by_treatment = counts("webworms", "treatment", "webworms", "plots")
    mean = {name: values.mean() for name, values in by_treatment.items()}
    found = abbott(mean["T1"], [mean["T2"], mean["T3"], mean["T4"]]).percent
    assert_allclose(found, [63.9560, 39.1209, 70.5495], atol=5.01e-5)


def test_insect_sprays_against_a_computed_value():
    # InsectSprays (Beall 1942): C against A, computed from the counts
    sprays = insect_sprays()
    assert_allclose(abbott(sprays[0].mean(), sprays[2].mean()).percent, 85.6322, atol=5.01e-5)


@given(means, means, means, means)
def test_three_formulas_are_one_identity(cb, ca, tb, ta):
    found = henderson_tilton(cb, ca, tb, ta).percent
    fall, change = 100 * (tb - ta) / tb, 100 * (ca - cb) / cb
    assert_allclose(sun_shepard(fall, change).percent, found, rtol=1e-6, atol=1e-6)
    assert_allclose(schneider_orelli(-change, fall).percent, found, rtol=1e-6, atol=1e-6)


@given(means, means, means)
def test_units_that_began_alike_need_no_count_before(before, ca, ta):
    assert_allclose(
        henderson_tilton(before, ca, before, ta).percent, abbott(ca, ta).percent, atol=1e-9
    )


@given(means, means, means, means, st.floats(0.01, 100))
def test_the_scale_of_either_side_does_not_matter(cb, ca, tb, ta, scale):
    here = henderson_tilton(cb, ca, tb, ta).percent
    assert_allclose(henderson_tilton(scale * cb, scale * ca, tb, ta).percent, here, atol=1e-6)
    assert_allclose(henderson_tilton(cb, ca, scale * tb, scale * ta).percent, here, atol=1e-6)


@given(means, means, means, means)
def test_more_left_is_less_control(cb, ca, tb, ta):
    assert henderson_tilton(cb, ca, tb, ta + 1).percent < henderson_tilton(cb, ca, tb, ta).percent


def test_more_pests_than_without_the_treatment_is_a_negative_answer():
    assert_allclose(abbott(20, 50).percent, -150)
    assert_allclose(henderson_tilton(40, 40, 40, 100).percent, -150)
    assert_allclose(schneider_orelli(40, 10).percent, -50)
    assert_allclose(sun_shepard(-50, 0).percent, -50)
    found = abbott_interval(Counts(20, 20), Counts(50, 20), 2)
    assert_allclose(found.percent, -150)
    assert found.low < -150 < found.high < 0


def test_what_is_undefined_says_so_and_is_no_number():
    found = henderson_tilton([4, 4, 0, NAN, 0], [6, 0, 6, 6, 0], [0, 5, 5, 5, 0], 1)
    assert_array_equal(
        found.reason,
        ["none_before", "none_untreated", "untreated_from_none", "not_counted", "none_before"],
    )
    assert np.isnan(found.percent).all()
    assert abbott(0, 5).reason == "none_untreated"
    assert schneider_orelli(100, 90).reason == "none_untreated"
    assert sun_shepard(90, -100).reason == "none_untreated"


def test_none_left_is_all_of_it():
    assert abbott(50, 0).percent == 100
    assert henderson_tilton(40, 60, 50, 0).percent == 100


def test_counts_and_shares_that_cannot_be_are_refused():
    with pytest.raises(ValueError, match="got treated_after -1; expected zero or more"):
        abbott(10, -1)
    with pytest.raises(ValueError, match="got treated_dead 120 %; expected at most 100 %; give a"):
        schneider_orelli(10, 120)
    with pytest.raises(ValueError, match="got untreated_fall 110 %; expected at most 100 %"):
        sun_shepard(90, -110)


# intervals


def cells(*totals, n=20):
    return [Counts(total, n) for total in totals]


def test_the_log_interval_against_the_interaction_of_a_model_of_statsmodels():
    # negative binomial with log link, treatment x time, k = 2; the four cells are saturated
    rng = np.random.default_rng(4)
    plants = [rng.negative_binomial(2, 2 / (2 + m), 15) for m in (4, 6, 5, 1)]
    y = np.concatenate(plants)
    treated, after = np.repeat([0, 0, 1, 1], 15), np.repeat([0, 1, 0, 1], 15)
    x = np.column_stack([np.ones(60), treated, after, treated * after])
    fit = sm.GLM(y, x, family=sm.families.NegativeBinomial(alpha=0.5)).fit()
    found = henderson_tilton_interval(
        *cells(*(p.sum() for p in plants), n=15), 2, level=0.9, interval="log"
    )
    low, high = fit.conf_int(0.1)[3]
    assert_allclose(found.percent, 100 * (1 - np.exp(fit.params[3])), rtol=1e-6)
    assert_allclose(
        [found.low, found.high], [-100 * np.expm1(high), -100 * np.expm1(low)], rtol=1e-4
    )


def log_likelihood(total, n, k, mean):
    if np.isinf(k):
        return stats.poisson.logpmf(total, n * mean)
    return stats.nbinom.logpmf(total, n * k, k / (k + mean))


def fall_of_likelihood(psi, totals, signs, n, k):
    """Twice the fall of ln likelihood at a contrast, the rest maximised by scipy."""
    totals, signs = np.array(totals, float), np.array(signs, float)

    def minus(free):
        logs = np.append(free, 0.0)
        logs[-1] = signs[-1] * (psi - signs[:-1] @ free)
        return -log_likelihood(totals, n, k, np.exp(logs)).sum()

    start = np.log(np.maximum(totals, 0.5) / n)[:-1]
    best = optimize.minimize(minus, start, method="Nelder-Mead",
                             options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 8000})  # fmt: skip
    return 2 * (log_likelihood(totals, n, k, np.maximum(totals, 1e-300) / n).sum() + best.fun)


@each_of("k", [0.6, 5.0, INF])
@each_of("totals", [(5, 50, 60, 40), (2, 9, 31, 17), (0, 12, 30, 22)])
def test_likelihood_at_the_profile_limits_has_fallen_by_the_square_of_the_quantile(totals, k):
    ta, tb, ca, cb = totals
    found = henderson_tilton_interval(*cells(cb, ca, tb, ta), k, interval="profile")
    ends = [found.low] if ta == 0 else [found.low, found.high]
    for end in ends:
        psi = np.log1p(-float(end) / 100)
        fall = fall_of_likelihood(psi, totals, (1, -1, -1, 1), 20, k)
        assert_allclose(fall, stats.norm.ppf(0.95) ** 2, rtol=1e-4)


@pytest.mark.parametrize("k", [0.6, INF])
def test_likelihood_at_the_profile_limits_of_two_cells_too(k):
    found = abbott_interval(*cells(31, 7), k, interval="profile", level=0.95)
    for end in (found.low, found.high):
        fall = fall_of_likelihood(np.log1p(-float(end) / 100), (7, 31), (1, -1), 20, k)
        assert_allclose(fall, stats.norm.ppf(0.975) ** 2, rtol=1e-4)


def test_recovered_limits_are_those_of_the_ratio_of_two_rounds():
    # Zou and Donner 2008: with one cell each way it is the ratio of two rounds, turned over
    ratio = ratio_interval(7, 20, 31, 20, 0.6)
    found = abbott_interval(Counts(31, 20), Counts(7, 20), 0.6)
    assert_allclose([found.percent, found.low, found.high],
                    100 * (1 - np.array([ratio.ratio, ratio.high, ratio.low])))  # fmt: skip


@pytest.mark.parametrize("interval", INTERVALS)
def test_none_left_after_has_a_lower_limit_only_and_says_so(interval):
    found = henderson_tilton_interval(*cells(40, 60, 50, [0, 5]), 2, interval=interval)
    assert_array_equal(found.percent[:1], 100)
    assert_array_equal(found.high[:1], 100)
    assert_array_equal(found.sides, [1, 2])
    assert_array_equal(found.reason, ["none_after", ""])
    assert found.low[1] < found.low[0] < 100


def test_the_limit_for_none_left_is_that_of_the_profile_in_the_log_interval_too():
    log, profile = (abbott_interval(*cells(60, 0), 2, interval=i) for i in ("log", "profile"))
    assert log.low == profile.low


@pytest.mark.parametrize("interval", INTERVALS)
def test_intervals_say_why_they_have_no_number_or_no_limits(interval):
    found = henderson_tilton_interval(
        Counts([4, 0, 4, 4, NAN, 4, 4, 4], 20),
        Counts([6, 6, 0, 6, 6, 6, 6, 6], [20, 20, 20, 0, 20, 20, 20, 20]),
        Counts([0, 5, 5, 5, 5, 5, 5, 5], 20),
        Counts([1, 1, 1, 1, 1, 1, 1, 1.5], 20),
        [2, 2, 2, 2, 2, NAN, 0.001, 2],
        interval=interval,
    )
    assert_array_equal(
        found.reason,
        ["none_before", "untreated_from_none", "none_untreated", "no_effort", "not_counted",
         "no_k", "k_too_small", "not_whole"],
    )  # fmt: skip
    assert_array_equal(np.isnan(found.percent), [True] * 5 + [False] * 3)
    assert_array_equal(found.sides, [0] * 8)
    assert np.isnan([found.low, found.high]).all()


def test_an_unknown_interval_and_impossible_cells_are_refused():
    with pytest.raises(ValueError, match="got interval 'wald'; expected one of recovered, profile"):
        abbott_interval(*cells(10, 5), 1, interval="wald")
    with pytest.raises(ValueError, match="got total -1; expected zero or more"):
        abbott_interval(*cells(10, -1), 1)
    with pytest.raises(ValueError, match="got k 0; expected more than zero"):
        abbott_interval(*cells(10, 5), 0)
    with pytest.raises(ValueError, match=r"got arguments of shapes total and n 0 \(2,\), total an"):
        abbott_interval(Counts([1, 2, 3], 5), Counts([1, 2], 5), 1)


@settings(max_examples=40)
@given(some, some, some, st.integers(0, 400), ks, st.sampled_from(INTERVALS))
def test_the_estimate_of_an_interval_is_that_of_the_formula_and_lies_inside(cb, ca, tb, ta, k, how):
    found = henderson_tilton_interval(*cells(cb, ca, tb, ta), k, interval=how)
    assert_allclose(found.percent, henderson_tilton(cb, ca, tb, ta).percent, rtol=1e-9, atol=1e-9)
    assert found.low <= found.percent + 1e-9
    assert found.percent <= found.high + 1e-9
    assert found.high <= 100


@settings(max_examples=40)
@given(some, some, st.integers(0, 400), ks, st.sampled_from(INTERVALS))
def test_more_confidence_and_more_clumping_are_wider(ca, tb, ta, k, how):
    def width(k, level):
        found = abbott_interval(*cells(ca, ta), k, level=level, interval=how)
        return np.log1p(-found.low / 100)

    assert width(k, 0.95) >= width(k, 0.9) - 1e-9
    # the limits of counts move in jumps, and may move a little against the rule
    assert width(k, 0.9) >= width(2 * k, 0.9) - (0.02 if how == "recovered" else 1e-9)


@settings(max_examples=40)
@given(some, some, some, some, ks, st.sampled_from(INTERVALS))
def test_treated_and_untreated_exchanged_turn_the_interval_round(cb, ca, tb, ta, k, how):
    here = henderson_tilton_interval(*cells(cb, ca, tb, ta), k, interval=how)
    there = henderson_tilton_interval(*cells(tb, ta, cb, ca), k, interval=how)
    assert_allclose((1 - here.percent / 100) * (1 - there.percent / 100), 1)
    assert_allclose((1 - here.low / 100) * (1 - there.high / 100), 1, rtol=1e-6)


# the same plants


def test_pairs_against_the_robust_regression_of_statsmodels():
    # a ratio of totals is a regression through 0 with weights 1/before; HC3 of its slope
    rng = np.random.default_rng(6)
    b, tb = rng.poisson(6, 14) + 1, rng.poisson(7, 18) + 1
    a, ta = rng.poisson(1.4 * b), rng.poisson(0.4 * tb)
    found = paired_control(b, a, tb, ta, level=0.9)
    fits = [sm.WLS(y, x, weights=1 / x).fit(cov_type="HC3") for x, y in ((b, a), (tb, ta))]
    ratio = [fit.params[0] for fit in fits]
    variance = [fit.bse[0] ** 2 / fit.params[0] ** 2 for fit in fits]
    freedom = sum(variance) ** 2 / (variance[0] ** 2 / 13 + variance[1] ** 2 / 17)
    half = stats.t.ppf(0.95, freedom) * np.sqrt(sum(variance))
    psi = np.log(ratio[1] / ratio[0])
    assert_allclose(found.percent, -100 * np.expm1(psi))
    assert_allclose([found.low, found.high], -100 * np.expm1([psi + half, psi - half]))


def test_pairs_give_the_formula_on_their_totals():
    b, a, tb, ta = [4, 2, 9, 5], [6, 3, 14, 7], [5, 8, 3, 6], [1, 1, 0, 1]
    assert_allclose(
        paired_control(b, a, tb, ta).percent,
        henderson_tilton(sum(b), sum(a), sum(tb), sum(ta)).percent,
    )


def test_a_plant_that_was_not_looked_at_leaves_out_its_pair():
    found = paired_control([4, 2, NAN, 5], [6, 3, 14, 7], [5, 8, 3, 6], [1, NAN, 0, 1])
    alone = paired_control([4, 2, 5], [6, 3, 7], [5, 3, 6], [1, 0, 1])
    assert_allclose([found.percent, found.low], [alone.percent, alone.low])


def test_plants_that_differ_much_but_change_alike_have_a_narrow_interval():
    before = np.array([1, 40, 3, 90, 15, 6, 2, 30])
    found = paired_control(before, 2 * before, before, before)
    assert_allclose([found.percent, found.low, found.high], 50)
    apart = henderson_tilton_interval(*cells(187, 374, 187, 187, n=8), 0.6)
    assert apart.low < 0


def test_pairs_say_why_they_have_no_number_or_no_limits():
    b, a = [4, 2, 9], [6, 3, 14]
    found = [
        paired_control([NAN], [6], b, a),
        paired_control(b, a, [0, 0], [1, 1]),
        paired_control(b, [0, 0, 0], b, a),
        paired_control([0, 0, 0], a, b, a),
        paired_control(b, a, b, [0, 0, 0]),
        paired_control(b, a, [5, 0], [1, 2]),
    ]
    assert [str(f.reason) for f in found] == [
        "no_pairs", "none_before", "none_untreated", "untreated_from_none", "none_after",
        "one_plant",
    ]  # fmt: skip
    assert [bool(np.isnan(f.percent)) for f in found] == [True] * 4 + [False] * 2
    assert all(f.sides == 0 and np.isnan(f.low) and np.isnan(f.high) for f in found)
    assert found[4].percent == 100


def test_pairs_that_are_none_are_refused():
    with pytest.raises(
        ValueError, match=r"got arguments of shapes before \(2,\), after \(3,\); ex"
    ):
        paired_control([1, 2], [1, 2, 3], [1, 2], [1, 2])
    with pytest.raises(ValueError, match=r"got level 1; expected a share in \(0, 1\)"):
        paired_control([1, 2], [1, 2], [1, 2], [1, 2], level=1)


@settings(max_examples=40)
@given(st.lists(st.tuples(some, some), min_size=2, max_size=8))
def test_the_order_of_plants_does_not_matter_and_doubling_all_counts_neither(pairs):
    before, after = map(np.array, zip(*pairs, strict=True))
    here = paired_control([9, 4, 6], [12, 4, 9], before, after)
    there = paired_control([9, 4, 6], [12, 4, 9], 2 * before[::-1], 2 * after[::-1])
    assert_allclose([there.percent, there.low], [here.percent, here.low], rtol=1e-9)


# several untreated units


def test_growth_of_untreated_units_against_the_random_effects_of_statsmodels():
    tb, ta = np.array([40, 25, 60, 33]), np.array([70, 30, 80, 90])
    y = np.log(ta / tb)
    v = 1 / tb + 1 / ta + 2 / (20 * 2.0)
    fit = combine_effects(y, v, method_re="dl")
    found = control_against_units(Counts(tb, 20), Counts(ta, 20), Counts(50, 20), Counts(9, 20), 2)
    assert_allclose(found.between, np.sqrt(fit.tau2))
    assert_allclose(found.percent, 100 * (1 - 9 / 50 / np.exp(fit.mean_effect_re)))
    assert found.untreated_units == 4


def test_limits_against_units_add_up_as_by_hand():
    # Student's t of three degrees of freedom on the growth a fourth unit would have had, joined
    # with the limits of the two treated means (Zou and Donner 2008)
    tb, ta = np.array([40, 25, 60, 33]), np.array([70, 30, 80, 90])
    fit = combine_effects(np.log(ta / tb), 1 / tb + 1 / ta + 0.05, method_re="dl")
    growth = stats.t.ppf(0.95, 3) * np.hypot(fit.sd_eff_w_re, np.sqrt(fit.tau2))
    after, before = mean_interval(9, 20, 2), mean_interval(50, 20, 2)
    up = [np.log(after.high / after.mean), np.log(before.mean / before.low), growth]
    down = [np.log(after.mean / after.low), np.log(before.high / before.mean), growth]
    psi = np.log(9 / 50) - fit.mean_effect_re
    found = control_against_units(Counts(tb, 20), Counts(ta, 20), Counts(50, 20), Counts(9, 20), 2)
    expected = -100 * np.expm1([psi + np.linalg.norm(up), psi - np.linalg.norm(down)])
    assert_allclose([found.low, found.high], expected)


def test_one_untreated_unit_has_the_interval_of_two_samples_and_says_so():
    found = control_against_units(
        Counts([40], 20), Counts([60], 20), Counts(50, 20), Counts(5, 20), INF
    )
    alone = henderson_tilton_interval(*cells(40, 60, 50, 5), INF)
    assert found.reason == "one_untreated"
    assert_allclose(found.percent, alone.percent)
    assert_allclose([found.low, found.high], [alone.low, alone.high], rtol=0.02)


def test_units_that_grew_unlike_widen_the_interval():
    def width(after):
        found = control_against_units(
            Counts([40, 40, 40], 20), Counts(after, 20), Counts(50, 20), Counts(9, 20), 2
        )
        return np.log1p(-found.low / 100) - np.log1p(-found.high / 100)

    assert width([20, 60, 180]) > 1.5 * width([60, 60, 60])


def test_an_untreated_unit_without_counts_is_left_out():
    before, after = Counts([40, NAN, 60, 9], 20), Counts([70, 30, 80, 9], [20, 20, 20, 0])
    found = control_against_units(before, after, Counts(50, 20), Counts(9, 20), 2)
    two = control_against_units(
        Counts([40, 60], 20), Counts([70, 80], 20), Counts(50, 20), Counts(9, 20), 2
    )
    assert found.untreated_units == 2
    assert_allclose([found.percent, found.low], [two.percent, two.low])


def test_an_untreated_unit_with_none_before_gets_half_an_individual():
    found = control_against_units(
        Counts([0, 30], 20), Counts([40, 60], 20), Counts(50, 20), Counts(9, 20), INF
    )
    y, v = np.log([40.5 / 0.5, 2]), np.array([1 / 0.5 + 1 / 40.5, 1 / 30 + 1 / 60])
    fit = combine_effects(y, v, method_re="dl")
    assert_allclose(found.percent, 100 * (1 - 9 / 50 / np.exp(fit.mean_effect_re)))


def test_control_against_units_says_why_it_has_no_number_or_no_limits():
    def against(before, after, treated_before, treated_after, k=2):
        return control_against_units(
            Counts(before, 20), Counts(after, 20), Counts(treated_before, 20),
            Counts(treated_after, 20), k,
        )  # fmt: skip

    none_left = against([40, 60], [70, 80], 50, 0)
    assert (none_left.percent, none_left.sides, none_left.high) == (100, 1, 100)
    assert 50 < none_left.low < 100
    found = [
        against([NAN, 0], [3, 0], 50, 9),
        against([40, 60], [70, 80], 0, 9),
        against([40, 60], [70, 80], NAN, 9),
        against([40, 60], [70, 80], 50, 9, NAN),
    ]
    assert [str(f.reason) for f in found] == [
        "no_untreated", "none_before", "not_counted", "no_k",
    ]  # fmt: skip
    assert [bool(np.isnan(f.percent)) for f in found] == [True, True, True, True]
    assert all(np.isnan(f.low) and f.sides == 0 for f in found)


def test_intervals_hold_true_control_where_untreated_units_differ():
    # simulated, seeded: units' ln growth differs by 0.6; one untreated unit would hold 53 to 72 %
    rng = np.random.default_rng(12)

    def draw(mean):
        return rng.negative_binomial(40, 2 / (2 + mean))

    growth = np.exp(rng.normal(0.3, 0.6, (1500, 6)))
    found = control_against_units(
        Counts(draw(np.full((1500, 5), 5.0)), 20), Counts(draw(5 * growth[:, :5]), 20),
        Counts(draw(np.full(1500, 5.0)), 20), Counts(draw(growth[:, 5]), 20), 2,
    )  # fmt: skip
    held = (found.low <= 80) & (found.high >= 80)
    assert 0.87 <= held.mean() <= 0.97


def test_integers_give_what_floats_give():
    whole = henderson_tilton_interval(*cells(40, 60, 50, 5), 2)
    broken = henderson_tilton_interval(*cells(40.0, 60.0, 50.0, 5.0, n=20.0), 2.0)
    assert (whole.percent, whole.low) == (broken.percent, broken.low)
    assert abbott(100, 20).percent == abbott(100.0, 20.0).percent
    assert paired_control([4, 2], [6, 3], [5, 8], [1, 1]).low == (
        paired_control([4.0, 2.0], [6.0, 3.0], [5.0, 8.0], [1.0, 1.0]).low
    )
