"""Mean per plant with its interval, share infested, card catch, change since the last walk."""

import itertools
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats
from statsmodels.stats.proportion import proportion_confint
from statsmodels.stats.rates import confint_poisson

from benchwalk.science.density import (
    DENSITY_LEVEL,
    card_rate,
    infested_interval,
    mean_interval,
    poisson_interval,
    ratio_interval,
)
from benchwalk.science.limits import RULES
from tests.in_turn import each_of
from tests.science.published_values import insect_sprays, rows

NAN, INF = np.nan, np.inf

counts = st.integers(0, 2000)
units = st.integers(1, 80)
ks = st.floats(0.2, 20)
levels = st.floats(0.6, 0.99)


def lower_tail(total, mean, n, k):
    """P(T <= total) by scipy.stats, by its own route."""
    if np.isinf(k):
        return stats.poisson.cdf(total, n * mean)
    return stats.nbinom.cdf(total, n * k, k / (k + mean))


@pytest.mark.parametrize("row", rows("limits"), ids=lambda r: f"{r['rule']} {r['count']}")
def test_limits_against_published_outputs(row):
    count, level = int(row["count"]), float(row["level"])
    if row["distribution"] == "poisson":
        found = poisson_interval(count, level=level, rule=row["rule"])
    else:
        found = infested_interval(count, int(row["trials"]), level=level, rule=row["rule"])
    # half of the last printed digit of either limit
    assert_allclose(found.low, float(row["low"]), atol=0.51 * 10 ** -int(row["digits"]))
    assert_allclose(found.high, float(row["high"]), atol=0.51 * 10 ** -int(row["digits"]))


@each_of("count", [0, 1, 2, 17, 250])
@each_of("alpha", [0.05, 0.1])
def test_exact_poisson_limits_against_statsmodels(count, alpha):
    found = poisson_interval(count, 12.5, level=1 - alpha)
    expected = confint_poisson(count, 12.5, method="exact-c", alpha=alpha)
    assert_allclose([found.low, found.high], np.nan_to_num(expected), rtol=1e-9)


@pytest.mark.parametrize(("infested", "n"), [(0, 20), (1, 20), (7, 20), (19, 20), (20, 20)])
def test_exact_share_against_statsmodels(infested, n):
    found = infested_interval(infested, n, level=0.9, rule="exact")
    expected = proportion_confint(infested, n, alpha=0.1, method="beta")
    assert_allclose([found.low, found.high], expected, rtol=1e-9)


@pytest.mark.parametrize(("infested", "n"), [(0, 20), (1, 20), (7, 20), (20, 20)])
def test_exact_share_against_scipy(infested, n):
    found = infested_interval(infested, n, level=0.95, rule="exact")
    expected = stats.binomtest(infested, n).proportion_ci(0.95, method="exact")
    assert_allclose([found.low, found.high], expected, rtol=1e-9, atol=1e-12)


def test_insect_sprays_poisson_intervals_against_statsmodels():
    # InsectSprays (Beall 1942), sums of twelve plots; exact Poisson limits of a reference library
    total = insect_sprays().sum(axis=1)
    found = mean_interval(total, 12, INF, level=0.9, rule="exact")
    low, high = zip(
        *(confint_poisson(t, 12, method="exact-c", alpha=0.1) for t in total), strict=True
    )
    assert_allclose(found.mean, total / 12)
    assert_allclose(found.low, low, rtol=1e-9)
    assert_allclose(found.high, high, rtol=1e-9)


@settings(max_examples=60)
@given(counts, units, ks, levels)
def test_exact_tails_at_the_limits_are_half_of_alpha_by_scipy(total, n, k, level):
    found = mean_interval(total, n, k, level=level, rule="exact")
    assert_allclose(lower_tail(total, float(found.high), n, k), (1 - level) / 2, rtol=1e-6)
    if total:
        above = 1 - lower_tail(total - 1, float(found.low), n, k)
        assert_allclose(above, (1 - level) / 2, rtol=1e-6)


@settings(max_examples=60)
@given(counts, units, st.one_of(ks, st.just(INF)), levels)
def test_mid_p_tails_at_the_limits_are_half_of_alpha_by_scipy(total, n, k, level):
    found = mean_interval(total, n, k, level=level, rule="mid_p")

    def mid(mean):
        return (lower_tail(total, mean, n, k) + lower_tail(total - 1, mean, n, k)) / 2

    assert_allclose(mid(float(found.high)), (1 - level) / 2, rtol=1e-6)
    if total:
        assert_allclose(1 - mid(float(found.low)), (1 - level) / 2, rtol=1e-6)


@given(st.integers(0, 40), st.integers(1, 40), levels)
def test_mid_p_share_has_tails_of_half_of_alpha_by_scipy(infested, n, level):
    infested = min(infested, n)
    found = infested_interval(infested, n, level=level)

    def mid(p):
        return stats.binom.cdf(infested, n, p) - stats.binom.pmf(infested, n, p) / 2

    if infested < n:
        assert_allclose(mid(float(found.high)), (1 - level) / 2, rtol=1e-6)
    if infested:
        assert_allclose(1 - mid(float(found.low)), (1 - level) / 2, rtol=1e-6)


def acceptability(total, mean, n, k):
    """The smaller tail and the largest opposite tail that does not exceed it, by summing."""
    t = np.arange(0, 4000)
    below = lower_tail(t, mean, n, k)
    above = 1 - below + stats.nbinom.pmf(t, n * k, k / (k + mean))
    if above[total] <= below[total]:
        joined = below[below <= above[total]]
        return above[total] + (joined.max() if joined.size else 0)
    joined = above[above <= below[total]]
    return below[total] + (joined.max() if joined.size else 0)


@each_of("level", [0.8, 0.9, 0.95])
@each_of(("n", "k"), [(10, 0.5), (20, 2.0)])
@each_of("total", [0, 1, 2, 3, 7, 30])
def test_blaker_limits_are_where_acceptability_crosses_alpha_by_brute_force(total, n, k, level):
    found = mean_interval(total, n, k, level=level)
    low, high, alpha = float(found.low), float(found.high), 1 - level
    for outside in (high * (1 + 1e-7), high * 1.01, high * 1.3):
        assert acceptability(total, outside, n, k) <= alpha + 1e-9
    assert acceptability(total, high * (1 - 1e-7), n, k) > alpha - 1e-6
    if total:
        for outside in (low * (1 - 1e-7), low * 0.99, low * 0.7):
            assert acceptability(total, outside, n, k) <= alpha + 1e-9
        assert acceptability(total, low * (1 + 1e-7), n, k) > alpha - 1e-6


MEANS, KS, NS = (0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20), (0.2, 0.5, 1, 2, 5), (10, 15, 20, 30, 60)


def exact_coverage(mean, k, n, rule):
    size, share = n * k, k / (k + mean)
    t = np.arange(stats.nbinom.isf(1e-9, size, share) + 1)
    found = mean_interval(t, n, k, rule=rule)
    weight = stats.nbinom.pmf(t, size, share)
    return weight[(found.low <= mean) & (mean <= found.high)].sum()


@pytest.mark.parametrize("n", NS)
def test_the_interval_holds_the_mean_as_often_as_it_says_in_every_cell(n):
    # exact sums, nothing simulated; bounds of the project: 88 to 94 % where 5 or more are expected
    for mean, k in itertools.product(MEANS, KS):
        share = exact_coverage(mean, k, n, "blaker")
        assert share >= 0.90 - 1e-8, (mean, k)
        if n * mean >= 5:
            assert share <= 0.94, (mean, k)


@pytest.mark.parametrize(("mean", "k", "n"), [(0.5, 0.2, 10), (5, 0.5, 20), (0.1, 5, 15)])
def test_the_interval_holds_the_mean_as_often_as_it_says(mean, k, n):
    assert 0.90 - 1e-8 <= exact_coverage(mean, k, n, "blaker") <= 0.975


def test_mid_p_falls_short_where_the_default_does_not():
    # why mid-P is not the default: own value 0.859 at mean 0.2, k 0.5, 15 plants
    assert_allclose(exact_coverage(0.2, 0.5, 15, "mid_p"), 0.8591, atol=5e-5)


@settings(max_examples=60)
@given(counts, units, st.one_of(ks, st.just(INF)), levels)
def test_rules_are_nested(total, n, k, level):
    exact, blaker, mid_p = (
        mean_interval(total, n, k, level=level, rule=rule) for rule in ("exact", "blaker", "mid_p")
    )
    slack = 1 + 1e-9
    assert exact.low <= blaker.low * slack
    assert blaker.high <= exact.high * slack
    assert exact.low <= mid_p.low * slack
    assert mid_p.high <= exact.high * slack


@settings(max_examples=60)
@given(counts, units, ks, st.sampled_from(RULES))
def test_one_more_individual_raises_mean_and_limits(total, n, k, rule):
    fewer, more = (mean_interval(t, n, k, rule=rule) for t in (total, total + 1))
    assert more.mean > fewer.mean
    assert more.low > fewer.low
    assert more.high > fewer.high


@settings(max_examples=60)
@given(counts, units, ks, st.floats(0.6, 0.94), st.sampled_from(RULES))
def test_more_confidence_is_wider(total, n, k, level, rule):
    sure, surer = (mean_interval(total, n, k, level=lv, rule=rule) for lv in (level, level + 0.05))
    slack = 1 + 1e-9  # where a limit stays at one jump of the acceptability
    assert surer.low <= sure.low * slack
    assert surer.high * slack >= sure.high


@given(st.integers(1, 300), units, ks)
def test_more_clumped_is_wider(total, n, k):
    spread, even = (mean_interval(total, n, at, rule="mid_p") for at in (k, 2 * k))
    assert spread.high > even.high
    assert spread.high - spread.low > even.high - even.low


@given(st.integers(1, 300), st.integers(1, 40), ks, st.sampled_from(RULES))
def test_splitting_a_walk_changes_nothing(total, n, k, rule):
    # one plant of size n k is what n plants of size k add up to
    apart, together = (
        mean_interval(total, n, k, rule=rule),
        mean_interval(total, 1, n * k, rule=rule),
    )
    assert_allclose([apart.low, apart.high], np.divide([together.low, together.high], n), rtol=1e-9)


@given(counts, units, st.sampled_from(["exact", "mid_p"]), st.sampled_from([1e5, 1e7, 1e8, 1e12]))
def test_a_very_large_k_is_the_poisson(total, n, rule, k):
    large, poisson = mean_interval(total, n, k, rule=rule), mean_interval(total, n, INF, rule=rule)
    assert_allclose([large.low, large.high], [poisson.low, poisson.high], rtol=2e-3)


def test_blaker_limits_at_a_very_large_k_are_those_of_the_poisson():
    # its limits jump with k where another total joins, so they are compared where k takes over
    large, poisson = mean_interval([3, 80, 900], 2, 1e7), mean_interval([3, 80, 900], 2, INF)
    assert_array_equal([large.low, large.high], [poisson.low, poisson.high])


def test_a_large_k_is_followed_until_the_poisson_takes_over():
    # exact limits by scipy.stats on both sides of n k = 10 million
    for size in (9.9e6, 1.01e7):
        high = float(mean_interval(2000, 1, size, rule="exact").high)
        assert_allclose(lower_tail(2000, high, 1, size), 0.05, rtol=1e-3)


@given(counts, units, st.floats(0.5, 20))
def test_the_mean_lies_between_its_limits(total, n, k):
    found = mean_interval(total, n, k)
    assert found.low <= found.mean <= found.high
    assert_allclose(found.mean, total / n)
    assert found.reason == ""


def test_looked_and_found_none_is_zero_with_an_upper_limit():
    # mid-P by hand: half of (k/(k + m))^(n k) is 0.05, so 0.1 = (1 + m/k)^(-n k)
    found = mean_interval(0, 20, 0.6, rule="mid_p")
    assert (float(found.mean), float(found.low)) == (0, 0)
    assert_allclose(found.high, 0.6 * (0.1 ** (-1 / 12) - 1), rtol=1e-9)
    assert found.reason == ""
    exact = mean_interval(0, 20, INF, rule="exact")
    assert_allclose(exact.high, -np.log(0.05) / 20, rtol=1e-9)


def test_intervals_are_of_90_percent_unless_said():
    assert DENSITY_LEVEL == 0.90
    assert_array_equal(mean_interval(7, 20, 1).high, mean_interval(7, 20, 1, level=0.9).high)
    assert_array_equal(infested_interval(7, 20).high, infested_interval(7, 20, level=0.9).high)
    assert_array_equal(
        ratio_interval(7, 20, 9, 20, 1).high, ratio_interval(7, 20, 9, 20, 1, level=0.9).high
    )


def test_the_default_rule_of_means_is_blaker_and_of_shares_mid_p():
    assert_array_equal(mean_interval(7, 20, 1).low, mean_interval(7, 20, 1, rule="blaker").low)
    assert_array_equal(infested_interval(7, 20).low, infested_interval(7, 20, rule="mid_p").low)
    assert mean_interval(7, 20, 1).low != mean_interval(7, 20, 1, rule="mid_p").low


def test_not_looked_has_no_mean_and_says_so():
    for n in (0, NAN):
        found = mean_interval(0, n, 1)
        assert np.isnan([found.mean, found.low, found.high]).all()
        assert found.reason == "no_effort"
        assert np.isnan(mean_interval(5, n, 1).mean)  # not infinite
        share = infested_interval(0, n)
        assert np.isnan([share.share, share.low, share.high]).all()
        assert share.reason == "no_effort"


def test_an_absent_count_is_never_zero():
    found = mean_interval([NAN, 0], 20, 1)
    assert_array_equal(np.isnan(found.mean), [True, False])
    assert_array_equal(np.isnan(found.high), [True, False])
    assert_array_equal(found.reason, ["not_counted", ""])
    assert infested_interval(NAN, 20).reason == "not_counted"
    assert np.isnan(infested_interval(NAN, 20).share)


def test_without_k_the_mean_stands_alone():
    found = mean_interval(12, 20, NAN)
    assert found.mean == 0.6
    assert np.isnan([found.low, found.high]).all()
    assert found.reason == "no_k"


def test_a_size_under_a_tenth_bounds_nothing():
    found = mean_interval(3, [1, 1, 10], [0.0999, 0.1, 0.01])
    assert_array_equal(found.reason, ["k_too_small", "", ""])
    assert_array_equal(np.isnan(found.high), [True, False, False])
    assert_allclose(found.mean, [3, 3, 0.3])


def test_a_capped_total_is_a_lower_bound():
    found = mean_interval([12, 12], 20, 1, at_least=[True, False])
    assert_array_equal(found.reason, ["capped", ""])
    assert found.high[0] == INF
    assert found.high[1] < INF
    assert found.low[0] == found.low[1]
    assert_array_equal(found.mean, 0.6)


def test_a_part_of_an_individual_has_no_interval():
    found = mean_interval([7.5, 66 * (1 + 1e-9), 0.01], 20, 1)
    assert_array_equal(found.reason, ["not_whole", "", "not_whole"])
    assert found.mean[0] == 0.375
    assert np.isnan(found.low[0])
    assert_allclose(found.low[1], mean_interval(66, 20, 1).low)
    assert infested_interval(2.5, 20).reason == "not_whole"
    assert infested_interval(2, 20.5).reason == "not_whole"
    assert mean_interval(2, 20.5, 1).reason == ""  # effort may be part of a card


def test_reasons_come_in_order_of_what_is_missing_first():
    found = mean_interval([NAN, NAN, 2.5, 2.5], [0, 5, 5, 5], [NAN, NAN, NAN, 1], at_least=True)
    assert_array_equal(found.reason, ["no_effort", "not_counted", "no_k", "not_whole"])


def test_integers_and_floats_agree():
    whole = mean_interval(np.array([3, 9]), np.array([10, 20]), 1)
    floats = mean_interval([3.0, 9.0], [10.0, 20.0], 1.0)
    assert_array_equal(whole.low, floats.low)
    assert_array_equal(whole.mean, floats.mean)
    assert_array_equal(card_rate(18, 5).per_card_day, card_rate(18.0, 5.0).per_card_day)
    assert_array_equal(infested_interval(3, 20).high, infested_interval(3.0, 20.0).high)
    assert_array_equal(
        ratio_interval(3, 20, 4, 20, 1).low, ratio_interval(3.0, 20.0, 4.0, 20.0, 1.0).low
    )


def test_rows_and_columns_broadcast_and_agree_with_single_rows():
    found = mean_interval([[0], [5], [40]], 20, [0.5, INF], level=[0.9, 0.95])
    assert found.low.shape == found.reason.shape == (3, 2)
    for (i, total), (j, k, level) in itertools.product(
        enumerate((0, 5, 40)), ((0, 0.5, 0.9), (1, INF, 0.95))
    ):
        alone = mean_interval(total, 20, k, level=level)
        assert_allclose([found.low[i, j], found.high[i, j]], [alone.low, alone.high], rtol=1e-9)


def test_no_rows_give_no_rows():
    assert mean_interval([], [], []).low.shape == (0,)
    assert infested_interval([], []).low.shape == (0,)
    assert ratio_interval([], [], [], [], []).low.shape == (0,)


@pytest.mark.slow
def test_ten_thousand_rows_take_less_than_a_second_of_processor_time():
    rng = np.random.default_rng(1)
    total, n = rng.integers(0, 400, 10_000), rng.integers(5, 61, 10_000)
    start = time.process_time()
    mean_interval(total, n, rng.uniform(0.2, 5, 10_000))
    assert time.process_time() - start < 1


def test_all_infested_is_an_answer():
    found = infested_interval(5, 5, rule="exact")
    assert_allclose([found.share, found.low, found.high], [1, 0.05**0.2, 1])
    assert found.reason == ""


@given(st.integers(0, 30), st.integers(1, 30), st.sampled_from(RULES))
def test_clean_plants_mirror_infested_ones(infested, n, rule):
    infested = min(infested, n)
    sick = infested_interval(infested, n, rule=rule)
    clean = infested_interval(n - infested, n, rule=rule)
    assert_allclose([sick.low, sick.high], [1 - clean.high, 1 - clean.low], rtol=1e-9, atol=1e-12)


def test_eighteen_in_five_days_are_25_2_in_seven():
    # card normalisation by days exposed: common practice, no source; hand-worked
    assert_allclose(7 * card_rate(18, 5).per_card_day, 25.2)


def test_a_quarter_of_the_squares_counts_a_quarter_of_the_card():
    # hand-worked: 6 on 3 of 12 squares are 24 on the card, in 8 days 3 a day
    found = card_rate(6, 8, 3, 12)
    assert_allclose(found.per_card_day, 3)
    assert_allclose(found.card_days, 2)
    assert found.reason == ""


def test_a_card_without_days_or_squares_has_no_rate():
    found = card_rate(
        [3, 3, 3, 3, 3, NAN], [0, NAN, 7, 7, 7, 7], [3, 3, 0, NAN, 3, 3], [12] * 4 + [NAN, 12]
    )
    assert_array_equal(
        found.reason,
        ["no_days", "no_days", "no_squares", "no_squares", "no_squares", "not_counted"],
    )
    assert np.isnan(found.per_card_day).all()
    assert_allclose(found.card_days, [NAN] * 5 + [1.75])
    assert card_rate(0, 7).per_card_day == 0


def test_ratio_is_the_quotient_of_the_means_own_value():
    # own value, by the formula with the limits of both means
    found = ratio_interval(36, 20, 18, 30, 0.6)
    assert_allclose(found.ratio, 3)
    now, before = mean_interval(36, 20, 0.6), mean_interval(18, 30, 0.6)
    to_low = np.hypot(np.log(1.8 / now.low), np.log(before.high / 0.6))
    to_high = np.hypot(np.log(now.high / 1.8), np.log(0.6 / before.low))
    assert_allclose([found.low, found.high], [3 * np.exp(-to_low), 3 * np.exp(to_high)])
    assert found.reason == ""


@given(st.integers(1, 300), st.integers(1, 300), units, units, st.floats(0.5, 20))
def test_looking_back_is_the_inverse_of_looking_forward(now, before, n_now, n_before, k):
    there = ratio_interval(now, n_now, before, n_before, k)
    back = ratio_interval(before, n_before, now, n_now, k)
    assert_allclose([back.low, back.high], [1 / there.high, 1 / there.low])
    assert there.low < there.ratio < there.high


def test_a_very_large_round_before_leaves_the_interval_of_now():
    found, now = ratio_interval(40, 20, 2 * 10**8, 10**8, 1e3), mean_interval(40, 20, 1e3)
    assert_allclose([found.low, found.high], [now.low / 2, now.high / 2], rtol=1e-4)


def test_a_pest_that_is_gone_has_ratio_zero_and_an_upper_limit():
    found = ratio_interval(0, 20, 18, 20, 1)
    assert (float(found.ratio), float(found.low)) == (0, 0)
    assert 0 < found.high < 1
    assert found.reason == ""
    now, before = mean_interval(0, 20, 1), mean_interval(18, 20, 1)
    to_high = np.hypot(np.log(now.high / (0.5 / 20)), np.log(0.9 / before.low))
    assert_allclose(found.high, 0.5 / 20 / 0.9 * np.exp(to_high))


def test_a_pest_that_is_new_has_no_ratio_and_no_upper_limit():
    found = ratio_interval(18, 20, 0, 20, 1)
    assert found.reason == "none_before"
    assert np.isnan(found.ratio)
    assert 1 < found.low < INF
    assert found.high == INF


def test_none_twice_has_no_ratio():
    found = ratio_interval(0, 20, 0, 20, 1)
    assert found.reason == "none_counted"
    assert np.isnan([found.ratio, found.low, found.high]).all()


@pytest.mark.parametrize(
    ("now", "before", "k", "reason"),
    [
        ((3, 0), (3, 20), 1, "no_effort"),
        ((3, 20), (3, 0), 1, "no_effort"),
        ((NAN, 20), (3, 20), 1, "not_counted"),
        ((3, 20), (NAN, 20), 1, "not_counted"),
        ((3, 20), (3, 20), NAN, "no_k"),
        ((3, 20), (3, 20), 1e-3, "k_too_small"),
        ((3, 20), (2.5, 20), 1, "not_whole"),
    ],
)
def test_a_change_needs_both_rounds(now, before, k, reason):
    found = ratio_interval(*now, *before, k)
    assert found.reason == reason
    assert np.isnan([found.ratio, found.low, found.high]).all()


def test_every_pair_of_rounds_agrees_with_the_pair_alone():
    found = ratio_interval([[9], [0], [30]], [[20], [10], [20]], [4, 25], [15, 30], 0.8)
    assert found.low.shape == found.reason.shape == (3, 2)
    for (i, now), (j, before) in itertools.product(
        enumerate(((9, 20), (0, 10), (30, 20))), enumerate(((4, 15), (25, 30)))
    ):
        alone = ratio_interval(*now, *before, 0.8)
        assert_allclose([found.low[i, j], found.high[i, j]], [alone.low, alone.high], rtol=1e-9)
        assert_allclose(found.ratio[i, j], alone.ratio)


@pytest.mark.parametrize(("mean", "ratio", "k"), [(0.5, 1, 0.6), (2, 0.5, 1.5), (0.5, 5, 5)])
def test_the_interval_of_a_change_holds_it_as_often_as_it_says(mean, ratio, k):
    # exact sums over pairs of totals of ten plants with at least one individual
    sides = []
    for m in (mean * ratio, mean):
        t = np.arange(stats.nbinom.isf(1e-7, 10 * k, k / (k + m)) + 1)
        sides.append((t, stats.nbinom.pmf(t, 10 * k, k / (k + m))))
    (now, w_now), (before, w_before) = sides
    found = ratio_interval(now[:, None], 10, before[None, :], 10, k)
    weight = np.where(found.reason == "none_counted", 0, w_now[:, None] * w_before[None, :])
    held = (found.low <= ratio) & (ratio <= found.high)
    assert 0.9 <= weight[held].sum() / weight.sum() <= 0.96


@each_of(
    ("call", "words"),
    [
        (lambda: mean_interval(-1, 20, 1), "got total -1; expected zero or more"),
        (lambda: mean_interval(INF, 20, 1), "got total inf; expected zero or more"),
        (lambda: mean_interval(1, -20, 1), "got n -20; expected zero or more"),
        (lambda: mean_interval(1, 20, 0), "got k 0; expected more than zero"),
        (lambda: mean_interval(1, 20, -1), "got k -1; expected more than zero"),
        (lambda: mean_interval(1, 20, 1, level=1), r"got level 1; expected a share in \(0, 1\)"),
        (lambda: mean_interval(1, 20, 1, level=0), "got level 0; expected"),
        (lambda: mean_interval(1, 20, 1, level=NAN), "got level nan; expected"),
        (lambda: mean_interval(1, 20, 1, rule="wald"), "got rule 'wald'; expected one of blaker"),
        (lambda: mean_interval([1, 2], [1, 2, 3], 1), r"total \(2,\), n \(3,\)"),
        (lambda: infested_interval(6, 5), "got infested 6 of inspected 5; expected infested of at"),
        (lambda: infested_interval(-1, 5), "got infested -1"),
        (lambda: infested_interval(NAN, -5), "got inspected -5"),
        (lambda: infested_interval(1, 5, level=2), "got level 2"),
        (lambda: card_rate(-1, 7), "got count -1"),
        (lambda: card_rate(1, -7), "got days -7"),
        (lambda: card_rate(1, 7, -3, 12), "got squares_counted -3"),
        (lambda: card_rate(1, 7, NAN, -12), "got squares_printed -12"),
        (lambda: card_rate(1, 7, 13, 12), "got squares_counted 13 of squares_printed 12"),
        (lambda: ratio_interval(-1, 20, 3, 20, 1), "got total -1"),
        (lambda: ratio_interval([1, 2], 20, [3, 4, 5], 20, 1), r"total_now \(2,\), n_now \(\)"),
        (lambda: poisson_interval(-1), "got total -1"),
    ],
)
def test_impossible_arguments_are_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
