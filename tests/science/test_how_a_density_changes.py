"""Difference of two rounds, mean over units, cards read in part or again and again, insect-days."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import integrate, stats
from statsmodels.stats.weightstats import DescrStatsW

from benchwalk.science.density import (
    difference_interval,
    insect_days,
    mean_interval,
    new_catch,
    poisson_interval,
    pooled_mean,
    ratio_interval,
    two_stage_mean,
)
from tests.science.published_values import insect_sprays, rows

NAN, INF = np.nan, np.inf
totals, units, ks = st.integers(0, 400), st.integers(1, 60), st.floats(0.2, 20)


# difference


def test_a_difference_against_limits_recovered_by_hand():
    # Zou and Donner 2008, from the two Poisson intervals of scipy: chi-square quantiles
    def limits(count):
        low = stats.chi2.ppf(0.05, 2 * count) / 2 if count else 0
        return low, stats.chi2.ppf(0.95, 2 * count + 2) / 2

    (l1, u1), (l0, u0) = limits(12), limits(5)
    found = difference_interval(12, 10, 5, 10, INF, rule="exact")
    assert_allclose(found.difference, 0.7)
    assert_allclose(found.low, 0.7 - np.hypot(12 - l1, u0 - 5) / 10)
    assert_allclose(found.high, 0.7 + np.hypot(u1 - 12, 5 - l0) / 10)


def test_differences_of_the_insect_sprays_against_normal_limits_of_statsmodels():
    # InsectSprays (Beall 1942): with many individuals both are close
    sprays = insect_sprays()
    a, d = sprays[0], sprays[3]
    k = 5.0
    found = difference_interval(a.sum(), 12, d.sum(), 12, k)
    variance = sum((m + m**2 / k) / 12 for m in (a.mean(), d.mean()))
    half = stats.norm.ppf(0.95) * np.sqrt(variance)
    assert_allclose(found.difference, a.mean() - d.mean())
    assert_allclose(found.high - found.low, 2 * half, rtol=0.1)


def difference_coverage(mean_now, mean_before, k, n):
    """Exact: probabilities are summed over all pairs of totals."""

    def weights(mean):
        t = np.arange(stats.nbinom.isf(1e-8, n * k, k / (k + mean)) + 1)
        return t, stats.nbinom.pmf(t, n * k, k / (k + mean))

    (now, w1), (before, w0) = weights(mean_now), weights(mean_before)
    found = difference_interval(now[:, None], n, before[None, :], n, k)
    true = mean_now - mean_before
    held = (found.low <= true) & (true <= found.high)
    return (w1[:, None] * w0[None, :])[held].sum()


@pytest.mark.parametrize(
    ("now", "before", "k", "n"),
    [(1, 1, 0.6, 20), (0.2, 1, 0.2, 20), (5, 1, 5, 10), (0, 0.5, 1, 10)],
)
def test_the_interval_of_a_difference_holds_it_as_often_as_it_says(now, before, k, n):
    assert 0.89 <= difference_coverage(now, before, k, n) <= 0.99


def test_none_on_both_occasions_is_a_difference_of_zero_with_limits():
    found = difference_interval(0, 20, 0, 20, 0.6)
    high = mean_interval(0, 20, 0.6).high
    assert (found.difference, found.reason) == (0, "")
    assert_allclose([found.low, found.high], [-high, high])


def test_a_difference_says_why_it_has_no_number_or_no_limits():
    found = difference_interval([5, 5, NAN, 5], [10, 0, 10, 10], 3, 10, [NAN, 1, 1, 0.001])
    assert_array_equal(found.reason, ["no_k", "no_effort", "not_counted", "k_too_small"])
    assert_allclose(found.difference, [0.2, NAN, NAN, 0.2])
    assert np.isnan(found.low).all()
    assert np.isnan(found.high).all()


@settings(max_examples=50)
@given(totals, units, totals, units, ks)
def test_a_difference_turned_round_has_its_limits_exchanged(t1, n1, t0, n0, k):
    there, back = difference_interval(t1, n1, t0, n0, k), difference_interval(t0, n0, t1, n1, k)
    assert_allclose([back.difference, back.low, back.high],
                    [-there.difference, -there.high, -there.low])  # fmt: skip


@settings(max_examples=50)
@given(totals, units, totals, units, ks)
def test_a_difference_and_a_ratio_agree_on_which_round_had_more(t1, n1, t0, n0, k):
    difference = difference_interval(t1, n1, t0, n0, k)
    ratio = ratio_interval(t1, n1, t0, n0, k)
    assert difference.low <= difference.difference <= difference.high
    if ratio.reason == "" and abs(difference.difference) > 1e-12:
        assert (difference.difference > 0) == (ratio.ratio > 1)


@given(totals, units, ks)
def test_one_more_individual_now_raises_the_difference_and_its_limits(t, n, k):
    fewer, more = difference_interval([t, t + 1], n, 7, 12, k).difference
    assert more > fewer


# pooled over units


def test_a_mean_over_units_against_weighted_statistics_of_statsmodels():
    total, n, weight = np.array([30, 4, 11]), np.array([20, 10, 15]), np.array([100, 300, 50])
    found = pooled_mean(total, n, INF, weight)
    assert_allclose(found.mean, DescrStatsW(total / n, weights=weight).mean)
    assert (found.units, found.share, found.reason) == (3, 1, "")


def test_limits_over_units_are_recovered_from_those_of_the_units():
    # Zou and Donner 2008, by hand: weights 1/4 and 3/4
    found = pooled_mean([30, 4], 20, 0.6, [1, 3], level=0.9)
    unit = mean_interval([30, 4], 20, 0.6, level=0.9)
    share = np.array([0.25, 0.75])
    assert_allclose(found.mean, share @ unit.mean)
    assert_allclose(found.mean - found.low, np.linalg.norm(share * (unit.mean - unit.low)))
    assert_allclose(found.high - found.mean, np.linalg.norm(share * (unit.high - unit.mean)))


def test_a_unit_that_was_not_looked_at_is_left_out_and_not_zero():
    found = pooled_mean([30, NAN, 0], [20, 0, NAN], 0.6, [100, 300, 100])
    assert_allclose(found.mean, 1.5)
    assert_allclose(found.share, 0.2)
    assert (found.units, found.reason) == (1, "some_not_looked")
    none = pooled_mean([30, 0], [20, 20], 0.6, [100, 300])
    assert_allclose(none.mean, 0.375)


def test_a_unit_without_a_number_is_left_out_and_said():
    found = pooled_mean([30, NAN], 20, 0.6, [100, 300])
    assert_allclose([found.mean, found.share], [1.5, 0.25])
    assert found.reason == "some_not_counted"


def test_nothing_looked_at_and_nothing_to_weigh_by_have_no_mean():
    found = pooled_mean([[3, 4], [3, 4], [3, 4]], [[0, NAN], [5, 5], [5, 5]], 1,
                        [[1, 1], [0, 0], [1, NAN]])  # fmt: skip
    assert_array_equal(found.reason, ["no_effort", "no_weight", "no_weight"])
    assert np.isnan(found.mean).all()


def test_a_unit_without_a_k_leaves_the_mean_without_an_interval():
    found = pooled_mean([30, 4], 20, [0.6, NAN], [1, 1])
    assert_allclose(found.mean, 0.85)
    assert found.reason == "no_k"
    assert np.isnan([found.low, found.high]).all()


def test_a_unit_of_no_weight_has_no_say():
    found = pooled_mean([30, 4], 20, [0.6, NAN], [1, 0])
    alone = mean_interval(30, 20, 0.6)
    assert_allclose([found.mean, found.low, found.high], [alone.mean, alone.low, alone.high])
    assert found.reason == ""


def test_a_negative_weight_is_refused():
    with pytest.raises(ValueError, match="got weight -1; expected zero or more"):
        pooled_mean([3, 4], 10, 1, [1, -1])


@settings(max_examples=50)
@given(totals, units, ks, st.floats(0.1, 1000))
def test_one_unit_is_its_own_mean(total, n, k, weight):
    found, alone = pooled_mean([total], [n], [k], [weight]), mean_interval(total, n, k)
    assert_allclose([found.mean, found.low, found.high], [alone.mean, alone.low, alone.high])


@settings(max_examples=50)
@given(st.lists(st.tuples(totals, units, st.floats(0.1, 9)), min_size=2, max_size=6), ks)
def test_the_order_of_units_and_the_scale_of_weights_do_not_matter(found_in, k):
    total, n, weight = map(np.array, zip(*found_in, strict=True))
    here = pooled_mean(total, n, k, weight)
    there = pooled_mean(total[::-1], n[::-1], k, 3 * weight[::-1])
    assert_allclose([there.mean, there.low, there.high], [here.mean, here.low, here.high])
    assert total.min() / 60 <= here.mean <= total.max()


# cards of which some squares were counted


def variance_of_all_samples(population, cards, squares):
    """Variance of the estimate, and its mean estimate, over every two-stage sample there is."""
    hung, printed = population.shape
    means, estimates = [], []
    per_card = list(itertools.combinations(range(printed), squares))
    for chosen in itertools.combinations(range(hung), cards):
        for picked in itertools.product(per_card, repeat=cards):
            y = np.array([population[c, list(p)] for c, p in zip(chosen, picked, strict=True)])
            found = two_stage_mean(y, printed, hung)
            means.append(float(found.mean))
            share = cards / hung
            estimates.append(float((1 - share) * found.between / cards + found.within))
    return np.mean(means), np.var(means), np.mean(estimates)


def test_mean_and_variance_of_cards_are_unbiased_over_every_sample_there_is():
    # Cochran 1977, theorem of chapter 10, by enumeration: 3 of 4 cards, 2 of 3 squares
    population = np.array([[2, 3, 7], [0, 1, 0], [4, 2, 9], [1, 1, 5]], float)
    mean, variance, estimate = variance_of_all_samples(population, 3, 2)
    assert_allclose(mean, population.sum(axis=1).mean())
    assert_allclose(estimate, variance)


def test_cards_for_very_many_places_against_the_t_interval_of_scipy():
    y = np.array([[2, 3, 1], [0, 1, 0], [4, 2, 3], [1, 1, 2]], float)
    full = y.mean(axis=1) * 12
    found = two_stage_mean(y, 12, level=0.95)
    low, high = stats.t.interval(0.95, 3, 0, stats.sem(full) / full.mean())
    assert_allclose(found.mean, full.mean())
    assert_allclose([found.low, found.high], full.mean() * np.exp([low, high]))


def test_all_squares_of_all_cards_leave_nothing_unknown():
    y = np.arange(12.0).reshape(3, 4)
    found = two_stage_mean(y, 4, 3)
    assert_allclose([found.mean, found.low, found.high], y.sum(axis=1).mean())


def test_a_card_that_was_not_read_and_a_square_that_was_not_counted_are_no_zeros():
    y = [[2, 3, NAN], [NAN, NAN, NAN], [4, NAN, 2], [0, 0, 0]]
    found = two_stage_mean(y, 10)
    assert_allclose(found.mean, (25 + 30 + 0) / 3)
    assert found.cards == 3


def test_cards_say_why_they_have_no_interval():
    assert two_stage_mean([[NAN, NAN], [NAN, NAN]], 10).reason == "no_effort"
    assert np.isnan(two_stage_mean([[NAN, NAN], [NAN, NAN]], 10).mean)
    one = two_stage_mean([[2, 3], [NAN, NAN]], 10)
    assert (one.mean, one.reason) == (25, "one_card")
    square = two_stage_mean([[2, NAN], [3, 1]], 10, 8)
    assert (square.mean, square.reason) == (20, "one_square")
    none = two_stage_mean([[0, 0], [0, 0]], 10)
    assert (none.mean, none.reason) == (0, "none_counted")
    for found in (one, square, none):
        assert np.isnan([found.low, found.high]).all()


def test_one_square_of_a_card_is_enough_where_cards_stand_for_many_places():
    found = two_stage_mean([[2, NAN], [3, 1], [1, 4]], 10)
    assert found.reason == ""
    assert found.within == 0


def test_cards_that_cannot_be_are_refused():
    with pytest.raises(ValueError, match="got squares counted 3 of squares_printed 2; expected"):
        two_stage_mean([[1, 2, 3], [1, 2, 3]], 2)
    with pytest.raises(ValueError, match="got cards read 2 of cards_hung 1; expected cards read o"):
        two_stage_mean([[1, 2], [1, 2]], 4, 1)
    with pytest.raises(ValueError, match=r"got count of shape \(3,\); expected cards and squares"):
        two_stage_mean([1, 2, 3], 4)


@settings(max_examples=40)
@given(st.lists(st.lists(st.integers(0, 30), min_size=3, max_size=3), min_size=2, max_size=6),
       st.integers(2, 9))  # fmt: skip
def test_more_squares_on_a_card_raise_the_catch_in_proportion(y, factor):
    small, large = two_stage_mean(y, 3), two_stage_mean(y, 3 * factor)
    assert_allclose(large.mean, factor * small.mean)
    assert_allclose(large.low, factor * small.low)


# cards that are left hanging


def test_a_card_left_hanging_is_read_by_differences():
    # worked by hand
    found = new_catch([5, 12, 12, 30], [7, 14, 21, 28])
    assert_array_equal(found.new, [5, 7, 0, 18])
    assert_array_equal(found.days, [7, 7, 7, 7])


def test_a_reading_that_is_missing_leaves_its_days_to_the_next():
    found = new_catch([NAN, 12, NAN, NAN, 30], [7, 14, 21, 28, 35])
    assert_array_equal(found.new, [NAN, 12, NAN, NAN, 18])
    assert_array_equal(found.days, [NAN, 14, NAN, NAN, 21])
    assert_array_equal(found.reason, ["not_counted", "", "not_counted", "not_counted", ""])


def test_fewer_than_before_is_no_catch_and_no_negative_one():
    found = new_catch([20, 15, 18], [7, 14, 21])
    assert_array_equal(found.new, [20, NAN, 3])
    assert_array_equal(found.reason, ["", "fewer_than_before", ""])


def test_readings_out_of_order_are_refused():
    with pytest.raises(ValueError, match="got days that do not rise; expected the days of the lo"):
        new_catch([1, 2], [7, 7])
    with pytest.raises(ValueError, match="got a first reading on day 0; expected days since the"):
        new_catch([1, 2], [0, 7])


@given(st.lists(st.integers(0, 50), min_size=1, max_size=12))
def test_new_catches_add_up_to_what_hangs_there(catches):
    count = np.cumsum(catches)
    found = new_catch(count, 7 * np.arange(1, count.size + 1))
    assert_array_equal(found.new, catches)
    assert found.new.sum() == count[-1]
    assert found.days.sum() == 7 * count.size


# insect-days


@pytest.mark.parametrize("row", rows("areas_under_curves"), ids=lambda r: r["area"])
def test_areas_against_published_values(row):
    days, values = ([float(x) for x in row[key].split(";")] for key in ("days", "values"))
    found = insect_days(days, values, longest_gap=7)
    assert_allclose(found.insect_days, float(row["area"]), rtol=1e-12)
    if row["relative"]:
        assert_allclose(found.insect_days / found.days / 100, float(row["relative"]))


def test_an_area_that_is_misprinted_does_not_come_out():
    # misprint: the prose of the same documentation says 1045 where its plot and the sum say 1015
    assert insect_days([14, 21, 28], [40, 80, 90], longest_gap=7).insect_days != 1045


def test_a_week_not_looked_at_is_bridged_only_as_far_as_one_says():
    day, density = [0, 7, 14, 21], [2, NAN, 4, 6]
    assert_allclose(insect_days(day, density, longest_gap=14).insect_days, 42 + 35)
    found = insect_days(day, density, longest_gap=7)
    assert found.reason == "gap"
    assert np.isnan(found.insect_days)


def test_looks_without_a_number_at_the_ends_shorten_the_time():
    found = insect_days([0, 7, 14, 21], [NAN, 2, 4, NAN], longest_gap=7)
    assert_allclose([found.insect_days, found.days], [21, 7])


def test_nothing_found_has_no_insect_days_and_not_looking_has_no_number():
    assert insect_days([0, 7], [0, 0], longest_gap=7).insect_days == 0
    found = insect_days([[0, 7], [0, 7]], [[NAN, 3], [NAN, NAN]], longest_gap=7)
    assert_array_equal(found.reason, ["one_look", "no_look"])
    assert np.isnan(found.insect_days).all()


def test_days_out_of_order_and_an_unsaid_gap_are_refused():
    with pytest.raises(ValueError, match="got days that do not rise"):
        insect_days([0, 7, 7], [1, 2, 3], longest_gap=7)
    with pytest.raises(ValueError, match="got longest_gap nan; expected days; say how long"):
        insect_days([0, 7], [1, 2], longest_gap=NAN)
    with pytest.raises(ValueError, match="got density -1; expected zero or more"):
        insect_days([0, 7], [1, -1], longest_gap=7)


series = st.lists(st.floats(0, 500), min_size=2, max_size=12)


@given(series)
def test_areas_against_scipy(density):
    day = np.cumsum(np.arange(1, len(density) + 1))
    found = insect_days(day, density, longest_gap=100).insect_days
    assert_allclose(found, integrate.trapezoid(density, day))


@given(series, st.integers(1, 10))
def test_an_area_is_the_sum_of_its_parts(density, cut):
    day = 7 * np.arange(len(density))
    cut = min(cut, len(density) - 1)
    whole = insect_days(day, density, longest_gap=7).insect_days
    parts = [insect_days(day[part], density[part], longest_gap=7)
             for part in (slice(None, cut + 1), slice(cut, None))]  # fmt: skip
    assert_allclose(sum(np.nan_to_num(p.insect_days) for p in parts), whole, atol=1e-9)


@given(series, st.floats(0.1, 10))
def test_an_area_scales_with_density_and_a_look_on_its_line_changes_nothing(density, scale):
    day = 7.0 * np.arange(len(density))
    area = insect_days(day, density, longest_gap=7).insect_days
    scaled = insect_days(day, np.multiply(density, scale), longest_gap=7).insect_days
    assert_allclose(scaled, scale * area)
    finer = np.arange(day[-1] + 1)
    between = insect_days(finer, np.interp(finer, day, density), longest_gap=7).insect_days
    assert_allclose(between, area, atol=1e-9)


def test_integers_give_what_floats_give():
    assert_array_equal(
        two_stage_mean([[1, 2], [3, 4]], 8).high, two_stage_mean([[1.0, 2], [3, 4]], 8.0).high
    )
    assert (
        difference_interval(5, 10, 3, 10, 1).low == difference_interval(5.0, 10.0, 3.0, 10, 1).low
    )
    assert pooled_mean([5, 3], 10, 1, [1, 2]).low == pooled_mean([5.0, 3], 10.0, 1.0, [1.0, 2]).low
    assert poisson_interval(5).high == poisson_interval(5.0).high
