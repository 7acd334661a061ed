"""The forecast's filter against exact and simulated answers, and what must not change it."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from benchwalk.science import forecast
from benchwalk.science.forecast import motion
from benchwalk.science.forecast import observation as seen
from benchwalk.science.forecast.filter import DEFAULTS
from tests.science.forecast_series import counted, grown, many, one, sprayed

WEEKS = np.arange(10) * 7.0


def counts_of(y, n, k, so2, kind=forecast.Kind.COUNT):
    columns = (np.array([float(v)]) for v in (y, n, n))
    return seen.Counts(*columns, np.array([kind]), np.array([k]), np.array([so2]))


def on_a_grid(m, v, log_likelihood):
    """Mean, sd and log evidence by summing over a fine grid of log density."""
    grid = np.linspace(m - 9 * np.sqrt(v) - 4, m + 9 * np.sqrt(v) + 4, 30_001)
    logs = log_likelihood(grid) + stats.norm.logpdf(grid, m, np.sqrt(v))
    weights = np.exp(logs - logs.max())
    mean = (weights * grid).sum() / weights.sum()
    sd = np.sqrt((weights * (grid - mean) ** 2).sum() / weights.sum())
    return mean, sd, np.log(weights.sum() * (grid[1] - grid[0])) + logs.max()


# one update


@pytest.mark.parametrize("seed", range(25))
def test_one_update_against_numerical_integration_with_scipys_negative_binomial(seed):
    rng = np.random.default_rng(seed)
    m, v, n = rng.normal(-1, 1.5), rng.uniform(0.05, 3), int(rng.integers(3, 61))
    k, so2 = rng.choice([0.2, 0.6, 2.0]), rng.choice([0.0, 0.1, 0.3])
    r = 1 / (1 / (n * k) + so2)
    y = rng.negative_binomial(r, r / (r + n * np.exp(rng.normal(m, np.sqrt(v)))))
    mean, sd, evidence = on_a_grid(
        m, v, lambda x: stats.nbinom.logpmf(y, r, r / (r + n * np.exp(x)))
    )
    found = seen.learned(np.array([m]), np.array([v]), counts_of(y, n, k, so2))
    assert abs(found.mean[0] - mean) < 0.002 * sd
    assert abs(np.sqrt(found.variance[0]) - sd) < 0.002 * sd
    assert found.log_evidence[0] == pytest.approx(evidence, abs=1e-3)


@pytest.mark.parametrize("y", [1, 7, 40])
def test_a_capped_count_against_numerical_integration_with_scipys_survival_function(y):
    r = 1 / (1 / 12 + 0.1)
    mean, sd, evidence = on_a_grid(
        -1.0, 1.5, lambda x: stats.nbinom.logsf(y - 1, r, r / (r + 20 * np.exp(x)))
    )
    counts = counts_of(y, 20, 0.6, 0.1, forecast.Kind.AT_LEAST)
    found = seen.learned(np.array([-1.0]), np.array([1.5]), counts)
    assert abs(found.mean[0] - mean) < 0.002 * sd
    assert abs(np.sqrt(found.variance[0]) - sd) < 0.002 * sd
    assert found.log_evidence[0] == pytest.approx(evidence, abs=1e-3)


@pytest.mark.parametrize("y", [0, 3, 11])
def test_infested_plants_against_numerical_integration_with_scipys_beta_binomial(y):
    n, k, so2 = 20, 0.6, 0.1

    def log_likelihood(x):
        p = 1 - (1 + np.exp(x) / k) ** -k
        slope = (1 - p) * np.exp(x) / (1 + np.exp(x) / k)
        within = np.clip(slope**2 * so2 / (p * (1 - p)), 1e-6, 0.99)
        return stats.betabinom.logpmf(y, n, p * (1 / within - 1), (1 - p) * (1 / within - 1))

    mean, sd, _ = on_a_grid(-1.0, 1.5, log_likelihood)
    counts = counts_of(y, n, k, so2, forecast.Kind.INFESTED)
    found = seen.learned(np.array([-1.0]), np.array([1.5]), counts)
    assert abs(found.mean[0] - mean) < 0.002 * sd
    assert abs(np.sqrt(found.variance[0]) - sd) < 0.002 * sd


def test_above_60_percent_infested_a_sample_says_no_more_than_at_least():
    # the engine's rule: the density is then k's guess, so more infested plants do not raise it
    some, all_ = (
        seen.learned(
            np.array([3.0]),
            np.array([0.5]),
            counts_of(y, 20, 0.6, 0.1, forecast.Kind.INFESTED),
        )
        for y in (13, 20)
    )
    assert all_.mean[0] == some.mean[0]
    assert 3.0 <= all_.mean[0] < 3.0 + 0.1 * np.sqrt(0.5)


# ten walks


def particles(days, counts, treated_on, seed, number=100_000):
    """The same model by 100,000 particles, resampled at each walk (bootstrap filter)."""
    rng, g, p = np.random.default_rng(seed), DEFAULTS.common, DEFAULTS
    x, d = rng.normal(np.log(0.3), np.sqrt(p.prior_variance), number), rng.normal(0, g.sg, number)
    kill, change, at, treated, out = 0.0, 0.0, days[0], None, []

    def work(day):
        return 0.0 if treated is None else float(np.clip((day - treated) / 2, 0, 1))

    def back(day):
        return 0.0 if treated is None else (1 - np.exp(-0.1 * max(day - treated, 0))) / 0.1

    def moved(x, d, day):
        gap = day - at
        phi = np.exp(-g.rho * gap)
        b = (1 - phi) / g.rho
        own, both = g.sg**2, g.sg**2 * b * (1 - phi)
        of_x = g.q * gap + own * (2 / g.rho * (gap - b) - b * b)
        noise = rng.multivariate_normal([0, 0], [[of_x, both], [both, own * (1 - phi**2)]], number)
        x = x + g.a * 0.1 * gap + b * d - kill * (work(day) - work(at))
        return x + change * (back(day) - back(at)) + noise[:, 0], phi * d + noise[:, 1]

    size = 1 / (1 / (20 * 0.6) + 0.10)
    for day, y in zip(days, counts, strict=True):
        if treated is None and day > treated_on:
            x, d = moved(x, d, treated_on)
            at = treated = treated_on
            kill, change = rng.normal(1.2, 0.8, number), rng.normal(0, 0.05, number)
        x, d = moved(x, d, day)
        at = day
        logs = stats.nbinom.logpmf(y, size, size / (size + 20 * np.exp(x)))
        weights = np.cumsum(np.exp(logs - logs.max()))
        picked = np.searchsorted(weights / weights[-1], (np.arange(number) + rng.random()) / number)
        picked = np.minimum(picked, number - 1)
        x, d = x[picked], d[picked]
        if treated is not None:
            kill, change = kill[picked], change[picked]
        out.append((x.mean(), x.std()))
    return np.array(out).T


@pytest.mark.slow
@pytest.mark.parametrize("seed", [0, 1, 2])
def test_ten_walks_with_a_spray_against_100_000_particles(seed):
    rng = np.random.default_rng(seed)
    counts = counted(rng, grown(rng, 1, WEEKS, kill=1.2, killed_on=30.5))[0]
    found = forecast.run(one(WEEKS, counts, treatments=sprayed(30.5)))
    assert np.nanmax(np.abs(found.residual)) < 3  # a surprise widens the state, particles do not
    mean, sd = particles(WEEKS, counts, 30.5, seed + 100)
    assert (np.abs(found.now_mean - mean) < 0.05 * sd).all()
    assert_allclose(found.now_sd, sd, rtol=0.05)


# what must not change it

counts_given = st.lists(st.integers(0, 200), min_size=2, max_size=12)


@settings(max_examples=40)
@given(counts_given, st.floats(0.01, 100))
def test_another_unit_of_density_leaves_every_probability(counts, unit):
    day = np.arange(len(counts)) * 7.0
    here = one(day, counts, treatments=sprayed(10.0))
    there = one(
        day, counts, np.full(len(day), 20 * unit), plants=np.full(len(day), 20.0),
        threshold=1 / unit, reference=0.3 / unit, treatments=sprayed(10.0),
    )  # fmt: skip
    a, b = forecast.run(here), forecast.run(there)
    assert_allclose(b.over, a.over, rtol=0, atol=1e-9)
    assert_allclose(b.mean, a.mean - np.log(unit), rtol=0, atol=1e-8)


@settings(max_examples=40)
@given(counts_given, st.integers(1, 19))
def test_a_walk_split_in_two_is_the_same_walk(counts, plants):
    day = np.arange(len(counts)) * 7.0
    whole = forecast.run(one(day, counts))
    part = [y // 3 for y in counts]
    split = one(
        np.repeat(day, 2),
        np.ravel(np.column_stack([part, np.subtract(counts, part)])),
        np.tile([float(plants), 20.0 - plants], len(day)),
    )
    assert_allclose(forecast.run(split).mean, whole.mean, rtol=0, atol=1e-12)
    assert_allclose(forecast.run(split).sd, whole.sd, rtol=0, atol=1e-12)


def test_no_effort_and_no_count_change_nothing():
    day, counts = np.array([0.0, 7.0, 14.0]), np.array([3.0, 5.0, 9.0])
    whole = forecast.run(one(day, counts))
    more = one([0, 0, 7, 10, 14], [3, 0, 5, np.nan, 9], np.array([20.0, 0.0, 20.0, 20.0, 20.0]))
    found = forecast.run(more)
    assert_allclose(found.mean, whole.mean, rtol=0, atol=1e-12)
    assert_array_equal(found.walk_of_count, [0, -1, 1, -1, 2])


def test_a_threshold_changes_no_digit_of_an_estimate():
    counts = np.array([3, 5, 9, 30])
    low, high, none = (
        forecast.run(one(WEEKS[:4], counts, threshold=t, treatments=sprayed(16.0)))
        for t in (0.1, 10.0, np.nan)
    )
    for name in ("now_mean", "now_sd", "mean", "sd", "residual", "log_evidence"):
        assert_array_equal(getattr(low, name), getattr(high, name))
        assert_array_equal(getattr(low, name), getattr(none, name))
    assert (low.p_over > high.p_over).all()
    assert np.isnan(none.over).all()


@settings(max_examples=30)
@given(counts_given)
def test_whole_numbers_and_floats_are_the_same(counts):
    day = [7 * n for n in range(len(counts))]
    held = one(day, counts)
    whole = replace(held, count=np.array(counts), effort=np.full(len(counts), 20))
    assert_array_equal(forecast.run(whole).mean, forecast.run(held).mean)


def test_series_side_by_side_are_each_as_if_alone():
    rng = np.random.default_rng(4)
    counts = counted(rng, grown(rng, 7, WEEKS))
    together = forecast.run(many(WEEKS, counts))
    for n in range(7):
        alone = forecast.run(one(WEEKS, counts[n]))
        assert_allclose(together.mean[10 * n : 10 * n + 10], alone.mean, rtol=0, atol=1e-12)


def test_the_order_of_two_ways_of_counting_on_a_day_hardly_matters():
    # within .02 sd of a posterior: each update is exact, and they are taken one after another
    plain, capped = forecast.Kind.COUNT, forecast.Kind.AT_LEAST
    days, effort = [0, 7, 7], np.array([20.0, 10.0, 10.0])
    both = [
        forecast.run(one(days, [4, *counts], effort, kind=np.array([plain, *kinds])))
        for counts, kinds in (((9, 6), (plain, capped)), ((6, 9), (capped, plain)))
    ]
    assert abs(both[0].now_mean[-1] - both[1].now_mean[-1]) < 0.02 * both[0].now_sd[-1]


def test_a_step_goes_on_from_where_a_run_stood():
    series = one(WEEKS, [3, 4, 6, 9, 14, 3, 2, 4, 5, 9], treatments=sprayed(30.0))
    whole = forecast.run(series)
    for day in (5.0, 31.0, 40.0):
        first = forecast.run(forecast.until(series, day))
        then = forecast.step(first.state, forecast.since(series, day))
        assert_allclose(then.mean, whole.mean[len(first.mean) :], rtol=1e-12)


# movements


@settings(max_examples=60)
@given(
    st.floats(-4, 3), st.floats(0.01, 2), st.floats(-4, 3), st.floats(0.01, 2),
    st.integers(1, 500), st.integers(1, 500),
)  # fmt: skip
def test_plants_that_come_in_keep_the_expected_number_of_pests(m, v, m2, v2, came, stood):
    s = np.zeros((motion.ROWS, 1))
    s[motion.X], s[motion.XX] = m, v
    before = stood * np.exp(m + v / 2) + came * np.exp(m2 + v2 / 2)
    motion.mix(s, *(np.array([float(x)]) for x in (came, stood, m2, v2)))
    after = (stood + came) * np.exp(s[motion.X] + s[motion.XX] / 2)
    assert_allclose(after, before, rtol=1e-9)


def test_plants_from_another_series_bring_what_is_on_them():
    day = np.array([0.0, 7.0, 14.0])
    counts = np.array([[0, 0, 1], [60, 80, 120]])
    moves = forecast.Movements(
        series=np.array([0]), day=np.array([10.0]), plants=np.array([100.0]),
        resident=np.array([100.0]), origin=np.array([1]), log_mean=np.array([np.nan]),
        log_sd=np.array([np.nan]),
    )  # fmt: skip
    still, moved = (forecast.run(many(day, counts, **m)) for m in ({}, {"movements": moves}))
    assert moved.ahead_mean[2] > still.ahead_mean[2] + 1
    assert_allclose(moved.mean[3:], still.mean[3:], rtol=1e-12)


# refusals


def test_counts_out_of_order_are_refused():
    with pytest.raises(ValueError, match="not sorted"):
        forecast.run(one([7, 0], [1, 2]))


def test_a_negative_count_is_refused():
    with pytest.raises(ValueError, match="got count -1"):
        forecast.run(one([0, 7], [1, -1]))


def test_unlike_lengths_are_refused():
    with pytest.raises(ValueError, match="lengths"):
        forecast.run(replace(one([0, 7], [1, 2]), count=np.array([1.0])))


def test_a_series_that_was_never_counted_has_no_row():
    found = forecast.run(one([0.0], [np.nan]))
    assert found.mean.shape == (0, 2)
    assert len(found.last) == 0
