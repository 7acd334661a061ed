"""Learning from an operation's own past: what a known world was made with is found again.

The worlds are those of the filter itself with other numbers (own simulation).
"""

from dataclasses import replace

import numpy as np
import pytest

from benchwalk.science import forecast
from benchwalk.science.forecast import DEFAULTS, Group, Methods, Programmes
from benchwalk.science.forecast.fit import fit, k_of_rounds
from benchwalk.science.forecast.some import some
from tests.science.forecast_makers import lived, same, sprayed, weekly

WORLD = Group(a=0.6, rho=0.015, sg=0.015, q=0.05)


def seen(rng, series, walks, group=WORLD, so2=0.10):
    x = lived(rng, series, walks, group)
    r = 1 / (1 / (20 * 0.6) + so2)
    return rng.negative_binomial(r, r / (r + 20 * np.exp(x))).astype(float)


def test_motion_moves_towards_that_of_the_world_and_the_evidence_rises():
    series = weekly(seen(np.random.default_rng(1), 150, 10))
    start = replace(DEFAULTS, common=replace(DEFAULTS.common, sg=0.03))
    found = fit(series, np.zeros(150, int), start, version="2026-11-25")
    common = found.params.common
    assert abs(np.log(common.a / WORLD.a)) < 0.3 * abs(np.log(DEFAULTS.common.a / WORLD.a))
    assert abs(np.log(common.q / WORLD.q)) < 0.6 * abs(np.log(DEFAULTS.common.q / WORLD.q))
    assert common.sg < start.common.sg
    assert found.log_evidence > found.log_evidence_before + 5
    assert (found.params.version, found.series, found.counts) == ("2026-11-25", 150, 1500)
    assert found.group.tolist() == [-1] * 150
    assert found.params.surprise == DEFAULTS.surprise


def test_a_group_of_series_enough_has_its_own_numbers_and_one_of_few_keeps_the_common():
    rng = np.random.default_rng(2)
    fast, slow = replace(WORLD, a=0.9), replace(WORLD, a=0.2)
    counts = np.vstack([seen(rng, 60, 8, fast), seen(rng, 60, 8, slow), seen(rng, 10, 8)])
    key = np.repeat([7, 3, 5], [60, 60, 10])
    found = fit(weekly(counts), key, version="v")
    slow_group, fast_group = found.params.groups
    assert fast_group.a > 1.15 * slow_group.a
    assert (fast_group.n, slow_group.n) == (60, 60)
    assert found.group.tolist() == [1] * 60 + [0] * 60 + [-1] * 10


def test_nothing_counted_leaves_the_defaults():
    found = fit(weekly([[np.nan, np.nan]]), [0], version="v")
    assert found.params == DEFAULTS
    assert found.counts == 0


def test_a_class_that_does_less_than_thought_is_found_out_and_its_spread_stays():
    rng = np.random.default_rng(3)
    # ten sprays a hundred: a spray of nothing, in a world as the defaults have it
    series = sprayed(weekly(seen(rng, 100, 8, DEFAULTS.common)), 25.0)
    found = fit(series, np.zeros(100, int), version="v")
    held = found.params.classes["contact"]
    assert held.log_kill < 0.5
    assert held.log_kill_sd == DEFAULTS.classes["contact"].log_kill_sd
    assert found.params.classes["systemic"] == DEFAULTS.classes["systemic"]


def test_the_round_error_of_a_method_is_learned():
    wide = weekly(seen(np.random.default_rng(4), 120, 10, DEFAULTS.common, so2=0.5))
    found = fit(replace(wide, methods=Methods()), np.zeros(120, int), version="v")
    assert 0.2 < found.methods.so2[0] < 0.6
    assert found.methods.so2[1] == Methods().so2[1]


def test_what_a_programme_does_to_growth_is_learned_and_stays_0_while_there_are_few():
    rng = np.random.default_rng(5)
    n, walks = 80, 10
    x = lived(rng, n, walks, DEFAULTS.common, start=2.0)
    # growth .05 a day less from day 14 on, over the ramp
    lost = 0.05 * np.maximum(np.arange(walks) * 7.0 - 21.0, 0)
    r = 1 / (1 / 12 + 0.10)
    counts = rng.negative_binomial(r, r / (r + 20 * np.exp(x - lost))).astype(float)
    series = weekly(counts)
    running = Programmes(np.arange(n), np.full(n, 14.0), np.full(n, 200.0))
    found = fit(replace(series, programmes=running), np.zeros(n, int), version="v")
    assert -0.09 < found.params.programme_growth < -0.015
    few = Programmes(np.arange(5), np.full(5, 14.0), np.full(5, 200.0))
    kept = fit(replace(series, programmes=few), np.zeros(n, int), version="v")
    assert kept.params.programme_growth == 0.0


def test_clumping_within_rounds_is_that_of_their_world():
    """2,000 rounds of 40 plants, negative binomial of k .8 by numpy."""
    rng = np.random.default_rng(6)
    plants = rng.negative_binomial(0.8, 0.8 / (0.8 + 1.5), (2000, 40))
    mean, variance = plants.mean(axis=1), plants.var(axis=1, ddof=1)
    assert k_of_rounds(mean, variance, 40) == pytest.approx(0.8, rel=0.05)
    assert np.isnan(k_of_rounds([0.01], [0.01], [40]))
    assert k_of_rounds([2.0], [1.0], [40]) == np.inf


def test_some_of_the_series_are_filtered_as_among_all():
    rng = np.random.default_rng(7)
    series = sprayed(weekly(rng.integers(0, 20, (6, 4)).astype(float)), 9.0, number=5)
    which = np.array([4, 1])
    few, all_ = forecast.run(some(series, which)), forecast.run(series)
    rows = np.concatenate([np.flatnonzero(all_.series == n) for n in which])
    np.testing.assert_allclose(few.mean, all_.mean[rows], atol=1e-12)
    same(forecast.run(some(series, np.arange(6))), all_)


def test_keys_that_are_not_one_for_each_series_are_refused():
    with pytest.raises(ValueError, match="expected one for each of 1 series"):
        fit(weekly([[1, 2]]), [0, 0], version="v")
