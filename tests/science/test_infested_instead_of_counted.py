"""The mean from how many units are infested, the other way round, and how sure that is."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from benchwalk.science.density import infested_interval
from benchwalk.science.precision import half_width, standard_error
from benchwalk.science.stopping import (
    InfestedUnits,
    PresenceLine,
    exact_characteristic,
    infested_share,
    kono_sugino_line,
    mean_from_infested,
    mean_of_share,
    predicted_mean,
    share_at_mean,
    share_line,
    units_for_presence,
    wald_lines,
    wald_table,
    wilson_room_share,
)
from tests.in_turn import each_of
from tests.science.published_values import counts, mites, rows

NAN, INF = np.nan, np.inf
TAYLOR = (2.586, 1.511)

means = st.floats(0.01, 50)
ks = st.floats(0.1, 20)
tallies = st.integers(0, 10)


def printed_line():
    return PresenceLine.printed(
        0.9, 1.2, residual=0.08, rounds=40, centre=-0.4, beta_variance=0.0025
    )


@each_of("row", rows("presence"))
def test_shares_and_means_against_the_table_to_its_digits(row):
    mean, first, second = (float(row[key]) for key in ("mean", "first", "second"))
    share, atol = float(row["share"]), 0.6 * 10.0 ** -int(row["digits"])
    if row["relation"] == "negative binomial":
        assert_allclose(infested_share(mean, first, tally=second), share, atol=atol)
    elif row["relation"] == "taylor":
        assert_allclose(wilson_room_share(mean, first, second), share, atol=atol)
    else:
        found = predicted_mean(share * 1000, 1000, printed_line(), TAYLOR, level=0.9)
        assert_allclose(found.mean, mean, atol=atol)


def test_means_at_half_infested_own_values():
    # k .5 exact 1.5; k 2 exact 2 (sqrt 2 - 1)
    found = mean_of_share(0.5, [0.5, 1.0246, 2])
    assert_allclose(found, [1.5, 0.9907794, 2 * (np.sqrt(2) - 1)], atol=6e-8)


def test_standard_error_of_the_mean_at_half_infested_own_value():
    found = mean_from_infested(25, 50, 1.0246)
    assert_allclose(found.mean, 0.9907794, atol=6e-8)
    assert_allclose(found.standard_error, 0.2781746, atol=6e-8)


def test_parts_of_the_variance_own_values():
    found = predicted_mean(25, 50, printed_line(), TAYLOR, level=0.9).variance
    assert_allclose(found.sampling, 0.0599434, atol=6e-8)
    assert_allclose(found.line, 0.0020028, atol=6e-8)
    assert_allclose(found.residual, 0.08)
    assert_allclose(found.within, 0.0412980, atol=6e-8)
    assert_allclose(found.total, 0.1006482, atol=6e-8)


def test_the_residual_is_the_largest_part_against_binns_and_bostanian_1990():
    # Binns and Bostanian 1990, JEE 83:420 (abstract): formulas that omit it are far too sure
    found = predicted_mean(100, 200, printed_line(), TAYLOR, level=0.9).variance
    assert found.residual - found.within > found.sampling + found.line


def test_webworm_plots_without_webworms_own_values():
    plots = counts("webworms", "treatment", "webworms", "plots")
    clean = [np.mean(plots[t] == 0) for t in ("T1", "T2", "T3", "T4")]
    assert_allclose(clean, [0.36, 0.630769, 0.498462, 0.698462], atol=6e-7)
    # the negative binomial with the k of these plots leaves nearly as many clean
    for treatment, k in (("T1", 1.911309), ("T2", 3.022068)):
        x = plots[treatment]
        assert_allclose(infested_share(x.mean(), k), np.mean(x > 0), atol=0.015)


def test_share_of_leaves_infested_is_near_that_of_the_mites():
    # 80 of 150 leaves (Bliss and Fisher 1953); the tallies too
    for tally in range(4):
        found = infested_share(172 / 150, 1.0245924, tally=tally)
        assert_allclose(found, np.mean(mites() > tally), atol=0.03)


@given(means, ks, tallies)
def test_shares_against_scipy_nbinom(mean, k, tally):
    expected = stats.nbinom.sf(tally, k, k / (k + mean))
    assert_allclose(infested_share(mean, k, tally), expected, rtol=1e-8, atol=1e-14)
    expected = stats.poisson.sf(tally, mean)
    assert_allclose(infested_share(mean, INF, tally), expected, rtol=1e-8, atol=1e-14)


@given(means, st.one_of(ks, st.just(INF)), tallies)
def test_the_mean_comes_back_from_its_share(mean, k, tally):
    share = infested_share(mean, k, tally)
    assume(1e-9 < share < 1 - 1e-6)
    assert_allclose(mean_of_share(share, k, tally), mean, rtol=1e-5)


@given(means, ks, tallies, st.floats(1.01, 3))
def test_more_pests_infest_more_and_a_higher_tally_fewer(mean, k, tally, factor):
    here = infested_share(mean, k, tally)
    assert infested_share(mean * factor, k, tally) >= here
    assert infested_share(mean, k, tally + 1) <= here


@given(means, st.floats(0.5, 10), st.floats(0.8, 2))
def test_wilson_and_room_is_the_negative_binomial_with_the_k_of_taylors_variance(mean, a, b):
    ratio = a * mean ** (b - 1)
    assume(ratio > 1.001)
    k = mean / (ratio - 1)
    assert_allclose(wilson_room_share(mean, a, b), infested_share(mean, k), rtol=1e-7)


def test_wilson_and_room_at_a_variance_of_the_mean_and_below():
    assert_allclose(wilson_room_share(2, 1, 1), 1 - np.exp(-2))
    assert_allclose(wilson_room_share(2, 1 + 1e-7, 1), 1 - np.exp(-2), rtol=1e-6)
    # r = 0.5: ln(.5) / (.5 - 1) = 1.386294, more plants infested than at random
    assert_allclose(wilson_room_share(2, 0.5, 1), 1 - np.exp(-2 * 2 * np.log(2)))
    assert wilson_room_share(0, 2, 1.5) == 0


@given(st.integers(1, 59), ks, tallies)
def test_standard_error_is_the_slope_of_the_mean_times_that_of_the_share(infested, k, tally):
    found = mean_from_infested(infested, 60, k, tally)
    p, step = infested / 60, 1e-6
    slope = (mean_of_share(p + step, k, tally) - mean_of_share(p - step, k, tally)) / (2 * step)
    assert_allclose(found.standard_error, slope * np.sqrt(p * (1 - p) / 60), rtol=1e-4)


def test_standard_error_with_independent_plants_by_hand():
    # tally 0, Poisson: m = -ln(1 - p), dm/dp = 1/(1 - p)
    found = mean_from_infested(15, 50, INF)
    assert_allclose(found.mean, -np.log(0.7))
    assert_allclose(found.standard_error, np.sqrt(0.3 * 0.7 / 50) / 0.7)


@given(st.integers(0, 40), ks, tallies)
def test_limits_are_those_of_the_share(infested, k, tally):
    found, share = mean_from_infested(infested, 40, k, tally), infested_interval(infested, 40)
    assert_allclose(found.low, mean_of_share(share.low, k, tally))
    assert_allclose(found.high, mean_of_share(share.high, k, tally))
    if found.reason == "":
        assert found.low < found.mean < found.high


def test_none_or_all_infested_have_a_bound_and_no_mean():
    found = mean_from_infested([0, 30], 30, 0.8)
    assert_array_equal(found.reason, ["none_infested", "all_infested"])
    assert np.isnan(found.mean).all()
    assert np.isnan(found.standard_error).all()
    assert found.low[0] == 0
    assert 0 < found.high[0] < 0.2
    assert 5 < found.low[1] < found.high[1] == INF


def test_absent_counts_keep_their_reasons():
    found = mean_from_infested([0, NAN, 3, 2.5], [0, 20, 20, 20], [0.8, 0.8, NAN, 0.8])
    assert_array_equal(found.reason, ["no_effort", "not_counted", "no_k", "not_whole"])
    assert np.isnan(found.mean).all()
    assert np.isnan(found.standard_error).all()


def sets():
    mean = np.array([0.05, 0.2, 0.6, 1.5, 3.0, 8.0, 0.4, 2.2])
    share = np.array([0.04, 0.15, 0.33, 0.5, 0.72, 0.93, 0.22, 0.66])
    return mean, share


def test_lines_against_scipy_linregress():
    mean, share = sets()
    x, y = np.log(-np.log(1 - share)), np.log(mean)
    fit, line = stats.linregress(x, y), kono_sugino_line(mean, share)
    assert_allclose([line.alpha, line.beta], [fit.intercept, fit.slope])
    assert_allclose(line.beta_variance, fit.stderr**2)
    assert_allclose(line.residual, np.sum((y - fit.intercept - fit.slope * x) ** 2) / 6)
    assert_allclose([line.centre, line.rounds], [x.mean(), 8])
    back, reverse = stats.linregress(y, x), share_line(mean, share)
    assert_allclose([reverse.start, reverse.slope], [back.intercept, back.slope])


def test_variance_of_a_prediction_against_statsmodels():
    linear = pytest.importorskip("statsmodels.regression.linear_model")
    mean, share = sets()
    x = np.log(-np.log(1 - share))
    fit = linear.OLS(np.log(mean), np.column_stack([np.ones(8), x])).fit()
    at = np.log(-np.log(1 - 0.3))
    found = predicted_mean(30, 100, kono_sugino_line(mean, share), TAYLOR, level=0.9).variance
    expected = fit.get_prediction([[1.0, at]]).var_pred_mean
    assert_allclose(found.line, expected[0])
    assert_allclose(found.residual, fit.mse_resid)


def test_the_two_lines_are_no_inverses():
    mean, share = sets()
    line, reverse = kono_sugino_line(mean, share), share_line(mean, share)
    assert 1 / line.beta > reverse.slope
    r = stats.linregress(np.log(mean), np.log(-np.log(1 - share))).rvalue
    assert_allclose(reverse.slope, r**2 / line.beta)


def test_rounds_on_a_line_give_it_back_both_ways():
    share = np.array([0.05, 0.2, 0.5, 0.8])
    mean = np.exp(0.9 + 1.2 * np.log(-np.log(1 - share)))
    line, reverse = kono_sugino_line(mean, share), share_line(mean, share)
    assert_allclose([line.alpha, line.beta], [0.9, 1.2])
    assert_allclose(share_at_mean(mean, reverse), share)
    assert_allclose(line.residual, 0, atol=1e-20)
    assert share_at_mean(0, reverse) == 0


def test_a_line_leaves_out_rounds_without_a_logarithm():
    mean, share = sets()
    more = kono_sugino_line([*mean, 0, 5, NAN, 2], [*share, 0, 1, 0.5, NAN])
    assert_allclose(more.beta, kono_sugino_line(mean, share).beta)
    assert more.rounds == 8
    assert kono_sugino_line(mean[:2], share[:2]).reason == "too_few_rounds"
    assert kono_sugino_line([1, 2, 3], [0.4, 0.4, 0.4]).reason == "one_density"
    assert np.isnan(kono_sugino_line(mean[:2], share[:2]).beta)
    assert share_line(mean[:2], share[:2]).reason == "too_few_rounds"


def test_limits_of_a_predicted_mean_are_normal_on_its_log():
    found = predicted_mean(25, 50, printed_line(), TAYLOR, level=0.9)
    half = stats.norm.ppf(0.95) * np.sqrt(found.variance.total)
    assert_allclose([found.low, found.high], found.mean * np.exp([-half, half]))


def test_a_predicted_mean_without_an_answer_has_its_reason():
    none = PresenceLine.printed(
        NAN, 1.2, residual=0.08, rounds=40, centre=-0.4, beta_variance=0.0025
    )
    found = predicted_mean([0, NAN, 0, 50], [0, 50, 50, 50], printed_line(), TAYLOR, level=0.9)
    assert_array_equal(found.reason, ["no_effort", "not_counted", "none_infested", "all_infested"])
    assert np.isnan(found.mean).all()
    assert np.isnan(found.variance.total).all()
    for lacking in (
        predicted_mean(25, 50, none, TAYLOR, level=0.9),
        predicted_mean(25, 50, printed_line(), (NAN, 1.5), level=0.9),
        predicted_mean(25, 50, kono_sugino_line([1.0, 2], [0.3, 0.5]), TAYLOR, level=0.9),
    ):
        assert lacking.reason == "no_law"
        assert np.isnan(lacking.mean)
        assert np.isnan(lacking.high)


@given(st.floats(0.03, 0.97), st.floats(0.3, 0.8))
def test_units_for_a_precision_reach_it(share, relative):
    found = units_for_presence(share, printed_line(), TAYLOR, standard_error(relative))
    if found.reason == "cannot_reach":
        many = predicted_mean(share * 1e9, 1e9, printed_line(), TAYLOR, level=0.9)
        assert many.variance.total > relative**2 * 0.99
        return
    n = float(found.exact)
    reached = predicted_mean(share * n, n, printed_line(), TAYLOR, level=0.9).variance.total
    assert reached <= relative**2 * (1 + 1e-6)
    fewer = predicted_mean(share * n * 0.99, n * 0.99, printed_line(), TAYLOR, level=0.9)
    assert fewer.variance.total > relative**2 * (1 - 1e-9)


def test_no_number_of_plants_beats_the_residual():
    # the residual alone is 0.08, so SE/mean 0.25 (0.0625) is out of reach
    found = units_for_presence(0.5, printed_line(), TAYLOR, standard_error([0.25, 0.35]))
    assert_array_equal(found.reason, ["cannot_reach", ""])
    assert np.isnan(found.units[0])
    # .35: (2.9972 - 2.0649) / (.1225 - .0020 - .08) = 23.0 and without the residual 2.9972 / .1205
    assert_allclose(found.exact[1], 2.99717133 / (0.1225 - 0.00200282), rtol=1e-6)


def test_units_for_presence_without_an_answer():
    found = units_for_presence([NAN, 0, 1], printed_line(), TAYLOR, standard_error(0.4))
    assert_array_equal(found.reason, ["no_mean", "none_infested", "all_infested"])
    assert units_for_presence(0.5, printed_line(), (NAN, 1), standard_error(0.4)).reason == "no_law"
    few = kono_sugino_line([1.0, 2], [0.3, 0.5])
    assert units_for_presence(0.5, few, TAYLOR, standard_error(0.4)).reason == ["no_law"]


def test_units_for_presence_know_a_half_width_from_a_standard_error():
    z = stats.norm.ppf(0.95)
    se = units_for_presence(0.5, printed_line(), TAYLOR, standard_error(0.4)).exact
    half = units_for_presence(0.5, printed_line(), TAYLOR, half_width(0.4 * z, 0.9)).exact
    assert_allclose(half, se)
    with pytest.raises(TypeError, match=r"got precision 0.4; expected standard_error\(D\)"):
        units_for_presence(0.5, printed_line(), TAYLOR, 0.4)


def test_a_plan_of_infested_plants_by_way_of_its_means():
    # flowers with more than 3 thrips, k 0.8: means 2 and 6 become shares; true mean 2 is "under"
    low, high = infested_share([2.0, 6.0], 0.8, tally=3)
    lines = wald_lines(InfestedUnits(), low, high, alpha=0.1, beta=0.1)
    table = wald_table(lines, 500)
    found = exact_characteristic(table, InfestedUnits(), infested_share([2.0, 6.0], 0.8, tally=3))
    assert found.under[0] > 0.9
    assert found.under[1] < 0.1
    # a scout who writes "at least 3" has tally 2, and the plan does not hold
    other = exact_characteristic(table, InfestedUnits(), infested_share(2.0, 0.8, tally=2))
    assert other.under < found.under[0] - 0.05


def test_integers_and_floats_agree():
    assert infested_share(2, 2, 1) == infested_share(2.0, 2.0, 1.0)
    assert mean_from_infested(5, 20, 1).mean == mean_from_infested(5.0, 20.0, 1.0).mean
    assert wilson_room_share(2, 3, 2) == wilson_room_share(2.0, 3.0, 2.0)
    whole = predicted_mean(5, 20, printed_line(), (2, 2), level=0.9)
    floats = predicted_mean(5.0, 20.0, printed_line(), (2.0, 2.0), level=0.9)
    assert whole.mean == floats.mean
    assert_array_equal(
        kono_sugino_line(np.array([1, 2, 3]), [0.2, 0.4, 0.5]).beta,
        kono_sugino_line([1.0, 2.0, 3.0], [0.2, 0.4, 0.5]).beta,
    )


def test_ends_of_the_scale():
    assert infested_share(0, 0.5) == 0
    assert mean_of_share(0, 0.5) == 0
    assert mean_of_share(1, 0.5) == INF
    assert mean_of_share([0, 1], 0.5, tally=2).tolist() == [0, INF]
    assert mean_of_share(1, INF) == INF
    assert np.isnan(infested_share(NAN, 1))
    assert np.isnan(mean_of_share(NAN, 1))


@each_of(
    ("call", "words"),
    [
        (lambda: infested_share(-1, 1), "got mean -1; expected zero or more"),
        (lambda: infested_share(1, 0), "got k 0; expected more than zero"),
        (lambda: infested_share(1, 1, -1), "got tally -1; expected zero or more"),
        (lambda: mean_of_share(1.2, 1), r"got share 1.2; expected a share in \[0, 1\], or NaN"),
        (lambda: mean_of_share(-0.1, 1), "got share -0.1"),
        (lambda: mean_of_share(0.5, -1), "got k -1"),
        (lambda: wilson_room_share(-1, 2, 1.5), "got mean -1"),
        (lambda: wilson_room_share(1, 0, 1.5), "got a 0"),
        (lambda: wilson_room_share(1, 1, 0), "got b 0"),
        (lambda: mean_from_infested(6, 5, 1), "got infested 6 of inspected 5"),
        (lambda: mean_from_infested(1, 5, 0), "got k 0"),
        (lambda: kono_sugino_line([1, 2], [0.5, 1.5]), "got share 1.5"),
        (lambda: share_line([-1, 2], [0.5, 0.5]), "got mean -1"),
        (lambda: share_at_mean(-1, share_line(*sets())), "got mean -1"),
        (lambda: predicted_mean(6, 5, printed_line(), TAYLOR, level=0.9), "got infested 6 of insp"),
        (lambda: predicted_mean(-6, 5, printed_line(), TAYLOR, level=0.9), "got infested -6"),
        (lambda: predicted_mean(1, -5, printed_line(), TAYLOR, level=0.9), "got inspected -5"),
        (lambda: predicted_mean(1, 5, printed_line(), (0, 1), level=0.9), "got a 0"),
        (lambda: predicted_mean(1, 5, printed_line(), (1, 0), level=0.9), "got b 0"),
        (lambda: predicted_mean(1, 5, printed_line(), TAYLOR, level=1), "got level 1"),
        (
            lambda: units_for_presence(1.5, printed_line(), TAYLOR, standard_error(0.4)),
            "got share 1.5",
        ),
        (
            lambda: units_for_presence(0.5, printed_line(), (0, 1), standard_error(0.4)),
            "got a 0",
        ),
        (
            lambda: units_for_presence(0.5, printed_line(), (1, 0), standard_error(0.4)),
            "got b 0",
        ),
        (
            lambda: PresenceLine.printed(1, 1, residual=-1, rounds=9, centre=0, beta_variance=0),
            "got residual -1",
        ),
        (
            lambda: PresenceLine.printed(1, 1, residual=1, rounds=0, centre=0, beta_variance=0),
            "got rounds 0",
        ),
        (
            lambda: PresenceLine.printed(1, 1, residual=1, rounds=9, centre=0, beta_variance=-1),
            "got beta_variance -1",
        ),
    ],
)
def test_impossible_arguments_are_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
