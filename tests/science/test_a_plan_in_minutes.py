"""A stop table summarised for a scout, what it misses, and when it may not call "under" early."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from benchwalk.science.stopping import (
    HotSpot,
    NegativeBinomialCounts,
    early_under_refused,
    exact_characteristic,
    missed_crossings,
    summarise_plan,
    wald_table,
)
from tests.science.stopping_plans import a_plan

NAN = np.nan
COUNTS = NegativeBinomialCounts(0.8)


def a_table(most=30, fewest=5):
    return wald_table(a_plan(), most, fewest=fewest, cut="middle")


def summary(table, mean, threshold=1.5, each=30, begin=120):
    return summarise_plan(
        table, COUNTS, mean, threshold=threshold, seconds_a_unit=each, seconds_to_begin=begin
    )


def test_minutes_are_the_way_and_the_plants():
    found = summary(a_table(), [0.5, 1.0, 2.0, 4.0])
    exact = exact_characteristic(a_table(), COUNTS, [0.5, 1.0, 2.0, 4.0])
    assert_allclose(found.minutes, 2 + exact.units / 2)
    assert_allclose(found.units, exact.units)
    assert_allclose(found.most_minutes, 2 + 30 / 2)
    assert found.most_units == 30


def test_wrong_is_over_below_the_threshold_and_under_above_it():
    found = summary(a_table(), [1.0, 1.5, 2.0])
    exact = exact_characteristic(a_table(), COUNTS, [1.0, 1.5, 2.0])
    assert_allclose(found.wrong[0], exact.over[0])
    assert_allclose(found.wrong[2], exact.under[2])
    assert np.isnan(found.wrong[1])
    assert found.reason.tolist() == ["", "", ""]


def test_a_fixed_walk_of_twenty_plants_against_scipy():
    # all twenty are looked at, 30 or more individuals are over
    table = wald_table(a_plan(), 20, fewest=20, cut=29)
    found = summary(table, [1.0, 2.0])
    total = stats.nbinom(16, 16 / (16 + 20 * np.array([1.0, 2.0])))
    assert_allclose(found.wrong, [total.sf(29)[0], total.cdf(29)[1]], rtol=1e-9)
    assert_allclose(found.minutes, 12)


@given(st.floats(0, 6), st.floats(0, 600), st.floats(0, 600))
@settings(max_examples=25)
def test_no_plan_takes_longer_than_it_says(mean, each, begin):
    found = summary(a_table(), mean, each=each, begin=begin)
    assert found.minutes <= found.most_minutes + 1e-9
    assert found.minutes >= (begin + 5 * each) / 60 - 1e-6


def test_a_table_left_open_says_how_often():
    table = wald_table(a_plan(), 10)
    found = summary(table, [1.0, 2.0])
    assert (found.open > 0.3).all()
    assert_allclose(summary(a_table(), 1.0).open, 0)


def test_an_absent_mean_has_no_summary():
    found = summary(a_table(), [NAN, 1.0])
    assert found.reason.tolist() == ["no_mean", ""]
    assert np.isnan(found.wrong[0])
    assert np.isnan(found.minutes[0])


def test_missed_crossings_are_exact_at_twice_the_threshold():
    found = missed_crossings(a_table(), 1.5, 0.8)
    clumped = exact_characteristic(a_table(), NegativeBinomialCounts(0.2), 3.0).under
    spot = exact_characteristic(a_table(), HotSpot(0.05, 0.8), 3.0).under
    assert_allclose([found.clumped, found.hot_spot], [clumped, spot])


def test_five_plants_often_miss_a_hot_spot_by_hand():
    # five plants chosen at random all lie outside it with .95**5 = 77 %, and none found is under
    table = wald_table(a_plan(), 5, fewest=5, cut=7)
    found = missed_crossings(table, 1.5, 0.8)
    assert found.hot_spot >= 0.95**5
    assert not found.held


def test_a_plan_that_holds_its_promise_says_so():
    # every plant of 120, called over from 1 on: nothing is missed at twice the threshold
    table = wald_table(a_plan(), 120, fewest=120, cut=0)
    found = missed_crossings(table, 1.5, 0.8)
    assert found.held
    assert found.hot_spot < 0.01
    # at a tenth of it 24 individuals are few enough for five plants in six to hold none
    assert not missed_crossings(table, 0.01, 0.8).held


def test_missed_crossings_of_many_thresholds_and_of_none():
    found = missed_crossings(a_table(), [1.5, 3.0, NAN], 0.8)
    assert found.clumped.shape == (3,)
    assert found.clumped[0] > found.clumped[1]
    assert np.isnan(found.clumped[2])
    assert not found.held[2]


def test_under_is_not_called_early_while_little_is_known():
    # own rules: two walks, arrivals, immigration, and targets that are never early
    assert_array_equal(early_under_refused([0, 1, 2, 30]), ["first_walks", "first_walks", "", ""])
    assert early_under_refused(5, arrivals=True) == "arrivals"
    assert early_under_refused(5, immigration=True) == "immigration"
    assert early_under_refused(NAN) == "first_walks"


@pytest.mark.parametrize("kind", ["regulated", "any_find", "ship", "disease"])
def test_under_is_never_called_early_where_missing_costs_most(kind):
    assert early_under_refused(30, kind=kind) == kind
    assert_array_equal(early_under_refused(30, kind=["action", kind]), ["", kind])


def test_the_gravest_reason_is_given_first():
    assert early_under_refused(0, arrivals=True, kind="ship") == "ship"
    assert early_under_refused(0, arrivals=True) == "first_walks"
    assert early_under_refused(5, arrivals=True, immigration=True) == "arrivals"


def test_integers_and_floats_agree():
    assert summary(a_table(), 2).wrong == summary(a_table(), 2.0).wrong
    whole, floats = (missed_crossings(a_table(), t, k) for t, k in ((2, 1), (2.0, 1.0)))
    assert whole.clumped == floats.clumped
    assert early_under_refused(2) == early_under_refused(2.0) == ""


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: summary(a_table(), -1), "got mean -1; expected zero or more"),
        (lambda: summary(a_table(), 1, threshold=-1), "got threshold -1"),
        (lambda: summary(a_table(), 1, each=-1), "got seconds_a_unit -1"),
        (lambda: summary(a_table(), 1, begin=-1), "got seconds_to_begin -1"),
        (lambda: missed_crossings(a_table(), 0, 1), "got threshold 0; expected more than zero"),
        (lambda: missed_crossings(a_table(), 1, 0), "got k 0; expected more than zero"),
        (lambda: early_under_refused(-1), "got walks_before -1; expected zero or more"),
    ],
)
def test_impossible_arguments_are_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
