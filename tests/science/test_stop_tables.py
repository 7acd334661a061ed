"""Stop tables: limits that are whole, where they come from, and what any of them does exactly."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from benchwalk.science.stopping import (
    NEVER_OVER,
    NEVER_UNDER,
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
    without_early_under,
)
from tests.science.stopping_plans import a_plan, ruin

INF = np.inf

lows = st.floats(0.1, 5)
ratios = st.floats(1.3, 4)
ks = st.floats(0.2, 20)


def test_an_uneven_ruin_by_exact_sums():
    n = np.arange(1, 4000)
    table = StopTable(
        np.floor((n - 3) / 2).astype(np.int64), np.ceil((n + 7) / 2).astype(np.int64), None
    )
    for p in (0.3, 0.5, 0.55):
        lost, games = ruin(p, 3, 7)
        found = exact_characteristic(table, InfestedUnits(), p)
        assert_allclose([found.under, found.units], [lost, games], rtol=1e-10)


@pytest.mark.parametrize("k", [0.3, 2.0, INF])
def test_a_fixed_number_of_plants_against_scipy(k):
    table = wald_table(a_plan(k=k), 15, fewest=15, cut=20)
    mean = np.array([0.4, 1.3, 3.0])
    size, total = 15 * k, 15 * mean
    total = stats.poisson(total) if np.isinf(k) else stats.nbinom(size, size / (size + total))
    at_most = total.cdf(20)
    found = exact_characteristic(table, NegativeBinomialCounts(k), mean)
    assert_allclose(found.under, at_most, rtol=1e-10)
    assert_allclose(found.units, 15)
    assert_allclose(found.open, 0)


def test_every_path_of_four_plants_counted_one_by_one():
    table = wald_table(a_plan(k=0.8), 4, cut="middle")
    mean = 1.4
    chance = stats.nbinom.pmf(np.arange(60), 0.8, 0.8 / (0.8 + mean))
    under, over, units = 0.0, 0.0, 0.0
    # what is above 59 on one plant is over; three plants below that and any fourth
    for path in itertools.product(range(26), repeat=4):
        weight = np.prod(chance[list(path)])
        for n in range(1, 5):
            total = sum(path[:n])
            is_under = total <= (table.cut if n == 4 else table.under[n - 1])
            if is_under or total >= table.over[n - 1] or n == 4:
                under, units = under + weight * is_under, units + weight * n
                over += weight * (not is_under)
                break
    found = exact_characteristic(table, NegativeBinomialCounts(0.8), mean)
    assert_allclose(found.under, under, atol=1e-6)
    assert_allclose(found.over, over, atol=1e-4)
    assert_allclose(found.units, units, atol=4e-4)


@given(lows, ratios, ks)
@settings(max_examples=20)
def test_without_an_early_under_nothing_is_missed_more_often(low, ratio, k):
    table = wald_table(a_plan(low, ratio, k), 20, cut="middle")
    mean = low * np.array([0, 0.5, 1, 2, 4])
    counts = NegativeBinomialCounts(k)
    plain, late = (
        exact_characteristic(t, counts, mean) for t in (table, without_early_under(table))
    )
    assert (late.under <= plain.under + 1e-12).all()
    assert (late.units >= plain.units - 1e-9).all()


def test_nothing_is_decided_before_the_fewest_plants():
    table = wald_table(a_plan(), 20, fewest=8, cut="middle")
    assert (table.under[:7] == NEVER_UNDER).all()
    assert (table.over[:7] == NEVER_OVER).all()
    found = exact_characteristic(table, NegativeBinomialCounts(0.8), [0, 1, 50])
    assert (found.units >= 8).all()
    assert_allclose(found.units[2], 8, atol=1e-3)


def test_waiting_for_the_fewest_plants_is_the_same_as_counting_them_at_once():
    # by hand: no decision at one plant, all at two; total of two plants from scipy
    table = StopTable(np.array([NEVER_UNDER, 1]), np.array([NEVER_OVER, 2]), None)
    found = exact_characteristic(table, NegativeBinomialCounts(0.8), 1.2)
    assert_allclose(found.under, stats.nbinom.cdf(1, 1.6, 0.8 / 2.0), rtol=1e-12)
    assert_allclose(found.units, 2)


def test_a_total_is_whole_where_a_line_meets_it_exactly():
    # d = ln 3 and ln 9 / ln 3 = 2: lines from -2 and 2; 2.0000000000000004 in floats
    lines = wald_lines(InfestedUnits(), 0.1, 0.25, alpha=0.1, beta=0.1)
    table = wald_table(lines, 13)
    assert_array_equal(table.under[:13], [-1] * 12 + [0])
    assert_array_equal(table.over[:6], [3] * 6)
    flat = wald_table(wald_lines(InfestedUnits(), 0.4, 0.6, alpha=1 / 3.25, beta=1 / 3.25), 4)
    assert_array_equal(flat.under, [-1, 0, 0, 1])
    assert_array_equal(flat.over, [2, 2, 3, 3])


def test_a_table_is_cut_where_it_is_asked_to():
    lines = a_plan()
    slope = float(lines.slope)
    assert wald_table(lines, 20, cut="middle").cut == int(20 * slope)
    assert wald_table(lines, 20, cut=40).cut == 40
    assert wald_table(lines, 20).cut is None
    decided = exact_characteristic(wald_table(lines, 20, cut=40), lines.counts, [1, 2])
    assert_allclose(decided.open, 0)
    assert_allclose(decided.under + decided.over, 1)


@given(st.floats(0.05, 30), ks)
def test_chances_of_a_count_against_scipy_nbinom(mean, k):
    found = np.exp(NegativeBinomialCounts(k).log_chances(np.array([mean]), 40)[0])
    assert_allclose(found, stats.nbinom.pmf(np.arange(41), k, k / (k + mean)), rtol=1e-8)


def test_chances_of_other_counts_against_scipy():
    found = np.exp(PoissonCounts().log_chances(np.array([3.0]), 20)[0])
    assert_allclose(found, stats.poisson.pmf(np.arange(21), 3), rtol=1e-10)
    found = np.exp(InfestedUnits().log_chances(np.array([0.3]), 3)[0])
    assert_allclose(found, [0.7, 0.3, 0, 0])


@given(st.floats(0.02, 1), st.floats(0.05, 5), ks)
def test_a_hot_spot_holds_its_share_and_its_mean(share, mean, k):
    found = HotSpot(share, k).log_chances(np.array([mean]), 60)[0]
    inside = stats.nbinom.pmf(np.arange(61), k, k / (k + mean / share))
    assert_allclose(np.exp(found[1:]), share * inside[1:], rtol=1e-8)
    assert_allclose(np.exp(found[0]), 1 - share + share * inside[0], rtol=1e-8)


def test_a_hot_spot_over_the_whole_unit_is_no_hot_spot():
    table = wald_table(a_plan(), 30, cut="middle")
    spot, plain = (
        exact_characteristic(table, counts, [0.5, 2.0])
        for counts in (HotSpot(1, 0.8), NegativeBinomialCounts(0.8))
    )
    assert_allclose(spot.under, plain.under, rtol=1e-10)


def test_limits_of_iwao_own_values():
    found = iwao_limits([10, 20, 50, 100], 2, (0.5, 1.3), 1.96)
    assert_allclose(found.under, [7.298, 22.036, 71.597, 159.832], atol=6e-4)
    assert_allclose(found.over, [32.702, 57.964, 128.403, 240.168], atol=6e-4)
    assert_allclose(iwao_most_units(2, (0.5, 1.3), 1.96, 0.5), 64.5389, atol=6e-5)


def test_limits_of_iwao_at_their_last_unit_are_as_far_as_the_half_width():
    n = float(iwao_most_units(2, (0.5, 1.3), 1.96, 0.5))
    found = iwao_limits(n, 2, (0.5, 1.3), 1.96)
    assert_allclose([found.under / n, found.over / n], [1.5, 2.5])


def test_limits_of_iwao_are_no_test_of_their_level():
    # repeated after each plant, a 10 % test is wrong far more often at the critical mean itself
    table = iwao_table(2, (0, 1 + 1 / 0.8), 1.645, 60, fewest=5)
    found = exact_characteristic(table, NegativeBinomialCounts(0.8), 2)
    assert found.under + found.over > 0.3


def test_a_table_of_iwao_lies_within_its_limits():
    table = iwao_table(2, (0.5, 1.3), 1.96, 40, fewest=5, cut="middle")
    limits = iwao_limits(np.arange(1, 41), 2, (0.5, 1.3), 1.96)
    assert (table.under[4:] <= np.maximum(limits.under[4:], -1)).all()
    assert (table.over[4:] >= limits.over[4:]).all()
    assert (table.over[4:] < limits.over[4:] + 1).all()
    assert table.cut == 80


def test_integers_and_floats_agree():
    whole = wald_lines(PoissonCounts(), 1, 2, alpha=0.1, beta=0.1)
    floats = wald_lines(PoissonCounts(), 1.0, 2.0, alpha=0.1, beta=0.1)
    assert whole.over == floats.over
    table = wald_table(whole, 30, cut="middle")
    assert_array_equal(
        exact_characteristic(table, PoissonCounts(), np.array([1, 2])).under,
        exact_characteristic(table, PoissonCounts(), [1.0, 2.0]).under,
    )
    assert_array_equal(
        iwao_limits(10, 2, (1, 2), 2).over, iwao_limits(10.0, 2.0, (1.0, 2.0), 2.0).over
    )
    assert wald_characteristic(whole, 1).units == wald_characteristic(whole, 1.0).units


def test_a_limit_of_iwao_that_is_whole_is_met_by_that_number_hand_worked():
    # variance 4 at mean 4: 1 unit 4 +/- 2, 4 units 16 +/- 4, 9 units 36 +/- 6
    table = iwao_table(4, (0, 1), 1, 9)
    assert_array_equal(table.under[[0, 3, 8]], [2, 12, 30])
    assert_array_equal(table.over[[0, 3, 8]], [6, 20, 42])


def test_counts_without_a_k_have_no_characteristic():
    table = wald_table(a_plan(), 10, cut="middle")
    for counts in (NegativeBinomialCounts(np.nan), HotSpot(0.05, np.nan)):
        found = exact_characteristic(table, counts, [0.5, np.nan])
        assert_array_equal(found.reason, ["no_k", "no_k"])
        assert np.isnan(found.under).all()
        assert np.isnan(found.units).all()


@pytest.mark.parametrize("counts", [NegativeBinomialCounts([1, 2]), HotSpot(0.05, [1, 2])])
def test_several_ks_at_once_are_refused_by_the_exact_sums(counts):
    with pytest.raises(ValueError, match=r"got k of shape \(2,\); expected one k; ask for each k"):
        exact_characteristic(wald_table(a_plan(), 10), counts, 1.0)
