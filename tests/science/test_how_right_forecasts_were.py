"""How right past forecasts were: replayed walk by walk, without peeking.

Worlds are those of the filter itself, where it must cover what it says (own simulation); scores
against draws and the closed form of a normal.
"""

from dataclasses import replace

import numpy as np
import pytest

from benchwalk.science import forecast
from benchwalk.science.forecast import DEFAULTS, Group, Kind
from benchwalk.science.forecast.calibration import (
    Replay,
    _crps,
    coverage,
    inflation,
    pit,
    reliability,
    replay,
    scores,
)
from tests.science.forecast_makers import lived, weekly

R = 1 / (1 / 12 + 0.10)


def world(seed, series=300, walks=8, group=DEFAULTS.common):
    rng = np.random.default_rng(seed)
    x = lived(rng, series, walks, group)
    return weekly(rng.negative_binomial(R, R / (R + 20 * np.exp(x))).astype(float))


def test_no_count_is_known_to_its_own_forecast_or_to_one_before():
    series = world(1, 20, 6)
    changed = series.count.copy()
    changed[3::6] = 900.0
    one, other = replay(series), replay(replace(series, count=changed))
    walk = np.tile(np.arange(1, 6), 20)
    upto = walk <= 3
    assert (one.mean[upto] == other.mean[upto]).all()
    assert (one.sd[upto] == other.sd[upto]).all()
    assert (one.mean[walk == 4] != other.mean[walk == 4]).all()


def test_counts_of_the_filters_own_world_are_spread_evenly_and_covered():
    """2,100 counts: two standard errors of a share of .8 are .018."""
    held = replay(world(2))
    assert held.n == 2100
    for level in (0.5, 0.8, 0.95):
        assert abs(coverage(held, level).mean() - level) < 0.03
    shares = np.histogram(pit(held), 10, (0, 1))[0] / held.n
    assert np.abs(shares - 0.1).max() < 0.035
    assert inflation(held) == 1.0


def test_forecasts_widened_afterwards_are_those_of_a_passage_that_widens_as_it_goes():
    """Own regression: two ways through the same numbers."""
    series = replace(world(2, 40), threshold=np.linspace(0.2, 4.0, 40))
    plain = forecast.run(series, horizons=(7, 14))
    wide = forecast.run(series, replace(DEFAULTS, inflation=2.5), horizons=(7, 14))
    found = forecast.widened(plain, series, 2.5)
    for said in ("mean", "sd", "over", "now_mean", "now_sd"):
        np.testing.assert_allclose(getattr(found, said), getattr(wide, said), rtol=1e-13)
    assert (found.sd > plain.sd).all()


def test_forecasts_of_the_newest_walks_alone_are_those_of_all_walks_and_replay_the_same():
    """Own regression; a series of which nothing was counted has none."""
    series = replace(world(4, 30, 5), threshold=np.full(30, 1.0))
    every, newest = (forecast.run(series, horizons=(7, 9), newest=n) for n in (False, True))
    rest = np.setdiff1d(np.arange(len(every.series)), every.last)
    for said in ("mean", "sd", "over"):
        one, other = getattr(newest, said), getattr(every, said)
        np.testing.assert_array_equal(one[every.last], other[every.last])
        assert np.isnan(one[rest]).all()
    np.testing.assert_array_equal(replay(series, result=newest).mean, replay(series).mean)


def test_intervals_that_are_too_narrow_are_widened_until_they_cover():
    """A world that moves ten times as much as the filter thinks."""
    series = world(3, group=Group(q=0.14))
    narrow = replace(DEFAULTS, common=Group(q=0.002, sg=0.004), surprise=np.inf)
    held = replay(series, narrow)
    assert coverage(held).mean() < 0.75
    factor = inflation(held)
    assert factor > 1.5
    wider = replace(held, sd=held.sd * np.sqrt(factor))
    assert coverage(wider).mean() == pytest.approx(0.80, abs=0.002)
    few = replay(forecast.until(world(3, 5, 8, Group(q=0.14)), 50.0), narrow)
    assert few.n < 40
    assert inflation(few) == 1.0


def test_scores_are_better_than_those_of_the_last_value_and_say_of_how_many():
    found = scores(replay(world(4)))
    assert found.n == found.n_thresholds == 2100
    assert found.crps < 0.95 * found.crps_last
    assert found.brier < found.brier_last
    assert np.abs(found.reliability.said - found.reliability.happened).max() < 0.09
    assert found.reliability.n.tolist() == [210] * 10
    assert abs(found.coverage - 0.80) < 0.03


def test_without_thresholds_there_is_no_brier_score():
    found = scores(replay(replace(world(5, 20), threshold=np.full(20, np.nan))))
    assert found.n_thresholds == 0
    assert np.isnan(found.brier)
    assert found.crps > 0


def test_one_walk_has_no_score():
    held = replay(weekly([[4], [5]]))
    assert held.n == 0
    assert scores(held) is None
    assert inflation(held) == 1.0


def test_the_ranked_probability_score_is_that_of_draws():
    """E|X - y| - E|X - X'|/2 over 200,000 draws (Gneiting2007, eq. 21; own computation)."""
    rng = np.random.default_rng(6)
    for count, effort, size, mean, sd in (
        (3, 20, 5, -1.0, 0.5), (0, 20, 5, -1.0, 0.5), (900, 20, 30, 3.0, 0.7), (40, 7, 2, 0.5, 1.0)
    ):  # fmt: skip
        x = np.exp(rng.normal(mean, sd, 400_000))
        draws = np.log(rng.negative_binomial(size, size / (size + effort * x)) + 0.5)
        y = np.log(count + 0.5)
        one, other = draws[:200_000], draws[200_000:]
        right = np.abs(draws - y).mean() - np.abs(one - other).mean() / 2
        columns = (0, count, effort, size, mean, sd, 1.0, 7.0, 1.0)
        held = Replay(*(np.array([float(v)]) for v in columns))
        assert _crps(held, held.mean, held.sd)[0] == pytest.approx(right, rel=0.02)


def test_cards_are_scored_by_what_hung_and_not_by_todays_density():
    """A density that falls to a tenth before the reading: the catch is that of the days before."""
    full = np.full(4, 7.0 * 50)
    catch = np.round(full * [2.0, 2.0, 2.0, 2.0 * (5 + 2 * 0.3) / 7])
    series = replace(
        weekly([catch], days=[7, 14, 21, 28], reference=2.0),
        effort=full,
        plants=np.full(4, 50.0),
        kind=np.full(4, Kind.CARD),
        exposure=np.full(4, 7.0),
        treatments=forecast.Treatments(np.array([0]), np.array([26.0]), ("contact",)),
    )
    held, found = replay(series), forecast.run(series)
    assert held.n == 3
    assert held.mean[2] > found.ahead_mean[3] + 0.3


def test_capped_and_infested_counts_are_no_number_to_be_hit():
    kinds = np.array([0, Kind.AT_LEAST, 0, Kind.INFESTED, 0, 0])
    held = replay(replace(weekly([[4, 9, 5, 6, 7, 8]]), kind=kinds))
    assert held.count.tolist() == [8.0]


def test_bins_of_reliability_hold_equal_numbers():
    rng = np.random.default_rng(8)
    said = rng.random(1000)
    found = reliability(said, rng.random(1000) < said)
    assert found.n.tolist() == [100] * 10
    assert np.abs(found.said - (np.arange(10) + 0.5) / 10).max() < 0.06
    assert np.abs(found.said - found.happened).max() < 0.16
