"""Distributions written out in numpy, against scipy and against draws."""

import numpy as np
import pytest
import scipy.special
import scipy.stats

from benchwalk.science.forecast.distributions import (
    counts_above,
    incomplete_beta,
    log_beta,
    log_gamma,
    next_count_cdf,
    next_count_chance,
    next_count_quantile,
    normal_cdf,
    normal_quantile,
    tail_quantile,
)

RNG = 20


# distributions, against scipy


def test_distributions_are_those_of_scipy():
    z = np.linspace(-12, 12, 401)
    np.testing.assert_allclose(normal_cdf(z), scipy.stats.norm.cdf(z), rtol=1e-7, atol=1e-15)
    x = np.geomspace(1e-3, 1e6, 200)
    np.testing.assert_allclose(log_gamma(x), scipy.special.gammaln(x), rtol=1e-11, atol=1e-11)
    rng = np.random.default_rng(RNG)
    a, b, p = rng.gamma(1, 30, 300) + 0.05, rng.gamma(1, 30, 300) + 0.05, rng.random(300)
    np.testing.assert_allclose(log_beta(a, b), scipy.special.betaln(a, b), rtol=1e-11, atol=1e-10)
    ours, theirs = incomplete_beta(a, b, p), scipy.special.betainc(a, b, p)
    np.testing.assert_allclose(ours, theirs, rtol=1e-8, atol=1e-12)
    for level in (0.001, 0.05, 0.5, 0.9, 0.975):
        assert normal_quantile(level) == pytest.approx(scipy.stats.norm.ppf(level), abs=1e-9)
    q = np.array([1e-12, 1e-4, 0.02, 0.3, 0.5])
    np.testing.assert_allclose(tail_quantile(q), scipy.stats.norm.isf(q), atol=1e-6)
    y = np.arange(0, 40.0)
    chance = counts_above(y, np.full(40, 8.0), np.full(40, 2.5))
    theirs = scipy.stats.nbinom.sf(y - 1, 2.5, 2.5 / 10.5)
    np.testing.assert_allclose(chance, theirs, rtol=1e-9)


def test_the_interval_of_a_next_count_is_that_of_a_million_draws():
    rng = np.random.default_rng(RNG)
    x = rng.normal(-0.2, 0.6, 1_000_000)
    draws = rng.negative_binomial(5.0, 5.0 / (5.0 + 20 * np.exp(x)))
    one = [np.array([v]) for v in (20.0, 5.0, -0.2, 0.6)]
    for level in (0.1, 0.5, 0.9):
        count = next_count_quantile(level, *one)[0]
        assert abs(count - np.quantile(draws, level)) <= 1
        assert next_count_cdf(np.array([count]), *one)[0] >= level
        assert abs(next_count_cdf(np.array([count]), *one)[0] - (draws <= count).mean()) < 0.003


def test_the_chance_of_a_count_is_that_of_scipy_and_the_step_of_the_distribution():
    """A density known for sure is one negative binomial; of any other the steps add up."""
    count, size = np.arange(60.0), np.full(60, 2.5)
    sure = next_count_chance(count, np.full(60, 8.0), size, np.zeros(60), np.zeros(60))
    np.testing.assert_allclose(sure, scipy.stats.nbinom.pmf(count, 2.5, 2.5 / 10.5), rtol=1e-9)
    given = (np.full(60, 20.0), size, np.full(60, -0.2), np.full(60, 0.6))
    step = np.diff(next_count_cdf(count, *given), prepend=0.0)
    np.testing.assert_allclose(next_count_chance(count, *given), step, rtol=1e-8, atol=1e-14)


def test_a_fraction_comes_to_the_same_alone_and_beside_others_that_take_longer():
    rng = np.random.default_rng(RNG)
    a, b, p = rng.gamma(1, 300, 200) + 0.05, rng.gamma(1, 300, 200) + 0.05, rng.random(200)
    alone = [incomplete_beta(*(v[n : n + 1] for v in (a, b, p)))[0] for n in range(200)]
    np.testing.assert_allclose(incomplete_beta(a, b, p), alone, rtol=1e-11)
