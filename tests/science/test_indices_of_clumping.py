"""Mean crowding, Morisita's and Green's index of the counts of one round."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from benchwalk.science.dispersion import (
    count_spread,
    green_index,
    k_by_moments,
    mean_crowding,
    mean_crowding_of_individuals,
    morisita,
)
from tests.science.published_values import insect_sprays, mites

NAN = np.nan

rounds = st.lists(st.integers(0, 40), min_size=2, max_size=30).filter(lambda x: sum(x) >= 2)


def test_crowding_of_the_mites_own_values():
    # own values on the counts of Bliss and Fisher 1953
    found = mean_crowding(mites())
    assert_allclose(found.crowding, 2.1294979, atol=6e-8)
    assert_allclose(found.patchiness, 1.8571203, atol=6e-8)
    assert_allclose(mean_crowding_of_individuals(mites()).crowding, 2.1162791, atol=6e-8)


def test_morisita_of_the_mites_own_values():
    found = morisita(mites())
    assert_allclose(found.index, 1.8563851, atol=6e-8)
    assert_allclose(found.uniform, 0.8134385, atol=6e-8)
    assert_allclose(found.clumped, 1.2086956, atol=6e-8)
    assert_allclose(found.standardised, 0.5021765, atol=6e-8)
    assert_allclose(found.chi_square, 295.441860, atol=6e-7)
    assert_allclose(found.p_random, 1.02e-11, rtol=5e-3)


def test_green_index_of_the_mites_own_value():
    assert_allclose(green_index(mites()).index, 0.00574755, atol=6e-9)


def test_the_two_forms_of_crowding_differ_by_the_variance_they_use():
    # by hand: 3 0 4 9 0 2, mean 3, squares 110: n - 1 gives 11.2, n gives 56/6
    x = [3, 0, 4, 9, 0, 2]
    assert_allclose(mean_crowding(x).crowding, 3 + 11.2 / 3 - 1)
    assert_allclose(mean_crowding_of_individuals(x).crowding, 3 + 56 / 6 / 3 - 1)
    assert_allclose(mean_crowding_of_individuals(x).crowding, (6 + 12 + 72 + 2) / 18)


def test_marks_of_morisita_against_scipy_chi2():
    x = insect_sprays()
    n, total = 12, x.sum(axis=1)
    found = morisita(x)
    assert_allclose(found.clumped, (stats.chi2.ppf(0.975, 11) - n + total) / (total - 1))
    assert_allclose(found.uniform, (stats.chi2.ppf(0.025, 11) - n + total) / (total - 1))
    assert_allclose(found.p_random, stats.chi2.sf(found.chi_square, 11))


def test_standardised_morisita_in_each_of_its_four_pieces_hand_worked():
    # 10 units, chi-square points 2.700 and 19.023 on 9 degrees; S = 20: Mu .66843, Mc 1.52752
    even, spread = [2] * 10, [4, 3, 3, 2, 2, 2, 1, 1, 1, 1]
    loose, heap = [6, 3, 3, 2, 2, 1, 1, 1, 1, 0], [14, 2, 1, 1, 1, 1, 0, 0, 0, 0]
    found = morisita([even, spread, loose, heap])
    assert_allclose(found.index, 10 * np.array([20, 30, 46, 184]) / 380)
    low, high = 0.668442, 1.527511
    pieces = [
        -0.5 + 0.5 * (200 / 380 - low) / low,
        -0.5 * (300 / 380 - 1) / (low - 1),
        0.5 * (460 / 380 - 1) / (high - 1),
        0.5 + 0.5 * (1840 / 380 - high) / (10 - high),
    ]
    assert_allclose(found.standardised, pieces, atol=2e-5)


@given(rounds)
def test_morisita_and_the_index_of_dispersion_have_one_chi_square(x):
    spread = count_spread(x)
    assert_allclose(morisita(x).chi_square, spread.index * (len(x) - 1), rtol=1e-9, atol=1e-9)


@given(rounds)
def test_patchiness_is_one_more_than_the_inverse_of_k(x):
    spread = count_spread(x)
    assume(spread.variance > spread.mean)
    k = k_by_moments(spread.mean, spread.variance).k
    assert_allclose(mean_crowding(x).patchiness, 1 + 1 / k, rtol=1e-9)


@given(rounds)
def test_morisita_is_the_patchiness_of_individuals_against_random_pairs(x):
    total = sum(x)
    found = mean_crowding_of_individuals(x).patchiness * total / (total - 1)
    assert_allclose(morisita(x).index, found, rtol=1e-9)


@given(st.integers(2, 30), st.integers(2, 60))
def test_everything_on_one_unit_is_the_upper_end_of_each_index(n, total):
    x = [total] + [0] * (n - 1)
    assert_allclose(green_index(x).index, 1, rtol=1e-9)
    assert_allclose(morisita(x).index, n, rtol=1e-9)
    assert_allclose(mean_crowding_of_individuals(x).crowding, total - 1, rtol=1e-9)
    assume(morisita(x).clumped <= n)
    assert_allclose(morisita(x).standardised, 1, rtol=1e-9)


@given(rounds)
def test_standardised_morisita_keeps_the_side_and_the_bounds(x):
    found = morisita(x)
    assert -1 <= found.standardised <= 1 + 1e-12
    assert np.sign(found.standardised) == np.sign(found.index - 1)
    assert (found.standardised > 0.5) == (found.index > found.clumped)


@given(rounds, st.randoms())
def test_the_order_of_plants_does_not_matter_to_an_index(x, random):
    shuffled = random.sample(x, len(x))
    for index in (green_index, morisita):
        assert_allclose(index(shuffled).index, index(x).index, rtol=1e-9, atol=1e-12)
    assert_allclose(mean_crowding(shuffled).crowding, mean_crowding(x).crowding, atol=1e-9)


@given(rounds)
def test_units_that_were_not_counted_change_no_index(x):
    gap = [*x, NAN]
    for index in (morisita, green_index):
        assert_allclose(index(gap).index, index(x).index, rtol=1e-12, atol=1e-14)
    for index in (mean_crowding, mean_crowding_of_individuals):
        assert_allclose(index(gap).patchiness, index(x).patchiness, rtol=1e-12)


def test_integers_and_floats_agree():
    x = np.array([3, 0, 4, 9, 0, 2])
    for index in (morisita, green_index):
        assert_array_equal(index(x).index, index(x.astype(float)).index)
    assert_array_equal(mean_crowding(x).crowding, mean_crowding(x.astype(float)).crowding)


@pytest.mark.parametrize(
    ("x", "reason"),
    [([5], "too_few"), ([NAN, NAN], "too_few"), ([0, 0, 0], "none_counted")],
)
def test_without_plants_or_pests_there_is_no_index(x, reason):
    for found in (mean_crowding(x), morisita(x), green_index(x)):
        assert found.reason == reason
    assert np.isnan(mean_crowding(x).crowding)
    assert np.isnan(mean_crowding(x).patchiness)
    assert np.isnan(morisita(x).standardised)
    assert np.isnan(green_index(x).index)


def test_one_individual_has_no_pairs():
    for found in (morisita([1, 0, 0]), green_index([1, 0, 0])):
        assert found.reason == "one_individual"
        assert np.isnan(found.index)
    assert mean_crowding_of_individuals([1, 0, 0]).crowding == 0


def test_individuals_on_one_plant_are_crowded_and_nothing_or_nobody_is_not():
    assert mean_crowding_of_individuals([5]).crowding == 4
    assert mean_crowding_of_individuals([NAN]).reason == "too_few"
    assert mean_crowding_of_individuals([0, 0]).reason == "none_counted"
    assert np.isnan(mean_crowding_of_individuals([0, 0]).crowding)


@pytest.mark.parametrize(
    "index", [mean_crowding, mean_crowding_of_individuals, morisita, green_index]
)
def test_a_negative_count_is_refused(index):
    with pytest.raises(ValueError, match="got count -1; expected zero or more"):
        index([1, -1])
