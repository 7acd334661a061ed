"""The seasons on which forecasts are judged: what lives there, and what is counted of it."""

import sys
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from benchwalk.science.outbreak import Layout, Population, Stage, life_cycle_growing_at

BENCH = Path(__file__).parents[2] / "bench"
sys.path.insert(0, str(BENCH))

from forecast_seasons import SETTINGS, Seasons, joined, seasons, some  # noqa: E402 - after the path
from forecast_worlds import drawn_sprays  # noqa: E402 - after the path


@pytest.fixture(scope="module")
def small() -> Seasons:
    return seasons(7, houses=4)


def same(one: Seasons, other: Seasons) -> bool:
    return all(
        np.array_equal(a, b) for a, b in zip(vars(one).values(), vars(other).values(), strict=True)
    )


def test_the_same_seed_gives_the_same_seasons_and_another_gives_others(small):
    assert same(seasons(7, houses=4), small)
    assert not same(seasons(8, houses=4), small)


def test_half_of_the_series_are_lived_through_stage_by_stage(small):
    assert small.series == 80
    assert small.staged.mean() == 0.5
    assert SETTINGS["units_a_house"] * sum(SETTINGS["houses"].values()) >= 400


def test_walks_are_sorted_days_are_irregular_and_the_last_horizon_is_in_the_season(small):
    same_series = np.diff(small.walk_series) == 0
    gaps = np.diff(small.walk_day)[same_series]
    assert (np.diff(small.walk_series) >= 0).all()
    assert gaps.min() > 0
    assert len(np.unique(gaps)) > 5
    assert small.walk_day.max() + 14 < small.truth.shape[1]


def test_effort_of_a_card_is_cards_times_days_and_of_plants_is_plants(small):
    card = small.card[small.walk_series]
    assert card.any()
    assert_array_equal(small.effort[card], small.units[card] * small.exposure[card])
    assert_array_equal(small.effort[~card], small.units[~card])
    assert set(small.exposure[~card]) == {0.0}


def test_counts_have_the_mean_of_the_truth_at_their_walks():
    """Over many walks; a card's expectation is the mean of the days that it hung."""
    of = seasons(3, houses=12)
    upto = np.cumsum(of.truth, axis=1)
    hung = np.maximum(of.exposure, 1).astype(int)
    flown = (
        upto[of.walk_series, of.walk_day] - upto[of.walk_series, of.walk_day - hung]
    ) * of.units
    for card in (True, False):
        these = (of.card[of.walk_series] == card) & (flown > 5)
        ratio = of.count[these] / flown[these]
        error = ratio.std() / np.sqrt(these.sum())
        assert these.sum() > 300
        assert abs(ratio.mean() - 1) < 4 * error


def test_sprays_that_work_lower_the_truth_and_those_that_fail_do_not_much():
    of = seasons(3, houses=12)
    change = np.log(
        (of.truth[of.spray_series, of.spray_day + 5] + 1e-3)
        / (of.truth[of.spray_series, of.spray_day - 1] + 1e-3)
    )
    contact = of.spray_kind == "contact"
    works, fails = contact & (of.spray_kill > 0.7), contact & (of.spray_kill < 0.3)
    assert np.median(change[works]) < -0.7
    assert np.median(change[fails]) > -0.3


def test_dates_of_sprays_do_not_follow_the_counts():
    """Drawn before anything lives, from the settings and the seed alone."""
    one = drawn_sprays(SETTINGS, np.random.default_rng(4))
    other = drawn_sprays({**SETTINGS, "realised": 9.0}, np.random.default_rng(4))
    assert_array_equal(one.day, other.day)


def test_joined_seasons_keep_each_series_with_its_house_walks_and_sprays(small):
    both = joined([small, small])
    kept = np.arange(both.series) >= small.series
    again = some(both, kept)
    assert_array_equal(again.walk_series, small.walk_series)
    assert_array_equal(again.spray_series, small.spray_series)
    assert_array_equal(again.house, small.house + len(small.temperature))
    assert_array_equal(both.temperature[again.house], small.temperature[small.house])


LIFE = life_cycle_growing_at(0.01, (Stage("egg", 50, 0.8), Stage("larva", 100, 0.7)), 120)
PLANTS = Layout(np.arange(2.0), np.zeros(2), np.zeros(2, dtype=np.int64))


def test_a_host_on_which_half_the_eggs_are_laid_has_half_the_eggs():
    pest = Population(LIFE, PLANTS, np.random.default_rng(1), replicates=50, host=[1.0, 0.5])
    pest.arrive("adult", 200)
    pest.step(8)
    eggs = pest.number("egg").mean(axis=0)
    assert eggs[1] / eggs[0] == pytest.approx(0.5, abs=0.02)  # 4 standard errors


def test_a_host_set_anew_counts_from_the_next_day_in_every_replicate():
    pest = Population(LIFE, PLANTS, np.random.default_rng(1), replicates=3)
    pest.arrive("adult", 100)
    pest.host = [0, 1]
    pest.step(8)
    assert (pest.number("egg") > 0).tolist() == [[False, True]] * 3


@pytest.mark.parametrize("host", [-0.1, [1, np.nan]])
def test_a_host_below_nothing_or_absent_is_refused(host):
    with pytest.raises(ValueError, match="got a host below 0 or absent"):
        Population(LIFE, PLANTS, np.random.default_rng(1), host=host)


def test_a_host_of_integers_is_one_of_floats():
    def eggs(host: object) -> np.ndarray:
        pest = Population(LIFE, PLANTS, np.random.default_rng(1), host=host)
        pest.arrive("adult", 100)
        pest.step(8)
        return pest.number("egg")

    assert_array_equal(eggs([1, 2]), eggs([1.0, 2.0]))
