"""Laws of variance: fitted to rounds, learned over an operation, and printed ones read rightly."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from benchwalk.science.dispersion import (
    ROUNDS_FOR_A_LAW,
    iwao_law,
    iwao_variance,
    k_by_likelihood,
    k_by_moments,
    negative_binomial_variance,
    taylor_a,
    taylor_from_rounds,
    taylor_law,
    taylor_variance,
)
from tests.in_turn import each_of
from tests.science.published_values import column, insect_sprays

NAN, INF = np.nan, np.inf

logs = st.floats(-4, 4)


def sets(name, units, total):
    n, s, squares = (column(name, key) for key in (units, total, "sum_of_squares"))
    with np.errstate(divide="ignore", invalid="ignore"):
        return s / n, np.where(n > 1, (squares - s**2 / n) / (n - 1), NAN)


def test_taylor_and_iwao_of_webworm_blocks_own_values():
    # counts of Beall 1940 (seen); fits own
    mean, variance = sets("webworm_blocks", "plots", "webworms")
    law = taylor_law(mean, variance)
    assert_allclose(law.a, 1.265401, atol=6e-7)
    assert_allclose(law.ln_a, 0.235389, atol=6e-7)
    assert_allclose(law.b, 1.129167, atol=6e-7)
    assert_allclose(law.se_b, 0.045679, atol=6e-7)
    assert_allclose(law.r_squared, 0.924363, atol=6e-7)
    assert law.rounds == 52
    line = iwao_law(mean, variance)
    assert_allclose(line.alpha, 0.046463, atol=6e-7)
    assert_allclose(line.beta, 1.234974, atol=6e-7)
    assert_allclose(line.r_squared, 0.829247, atol=6e-7)


def test_taylor_and_iwao_of_insect_sprays_own_values():
    x = insect_sprays()
    law = taylor_law(x.mean(axis=1), x.var(axis=1, ddof=1))
    assert_allclose(law.a, 1.178544, atol=6e-7)
    assert_allclose(law.ln_a, 0.164280, atol=6e-7)
    assert_allclose(law.b, 1.099422, atol=6e-7)
    assert_allclose(law.se_b, 0.191185, atol=6e-7)
    assert_allclose(law.r_squared, 0.892093, atol=6e-7)
    line = iwao_law(x.mean(axis=1), x.var(axis=1, ddof=1))
    assert_allclose(line.alpha, 0.236545, atol=6e-7)
    assert_allclose(line.beta, 1.028544, atol=6e-7)
    assert_allclose(line.r_squared, 0.994986, atol=6e-7)


def test_taylor_of_ticks_by_brood_own_values():
    # counts of Elston et al. 2001 (seen); broods without ticks or without variance are left out
    law = taylor_law(*sets("ticks_by_brood", "chicks", "ticks"))
    assert law.rounds == 85
    assert_allclose(law.a, 1.115810, atol=6e-7)
    assert_allclose(law.ln_a, 0.109581, atol=6e-7)
    assert_allclose(law.b, 1.303925, atol=6e-7)
    assert_allclose(law.se_b, 0.070280, atol=6e-7)
    assert_allclose(law.r_squared, 0.805722, atol=6e-7)


def test_k_of_ticks_own_values():
    x = np.repeat(column("ticks", "ticks"), column("ticks", "chicks").astype(int))
    assert (x.size, x.sum(), (x == 0).sum()) == (403, 2567, 126)
    assert_allclose(k_by_likelihood(x).k, 0.367583, atol=6e-7)
    assert_allclose(x.var(ddof=1), 172.661469, atol=6e-7)
    assert_allclose(k_by_moments(x.mean(), x.var(ddof=1)).k, 0.243989, atol=6e-7)


def test_the_mean_where_mites_spread_at_random_against_raworth_1986():
    # Raworth 1986, Can. Entomol. (abstract): b 1.64; ln a 1.76 and variance = mean at .0644 mites a
    # leaflet. From the rounded ln a it is .0639
    at = float(np.exp(-1.76 / 0.64))
    assert_allclose(at, 0.0639, atol=5e-5)
    assert_allclose(taylor_variance(at, taylor_a(1.76, "ln"), 1.64), at, rtol=1e-12)
    assert_allclose(at, 0.0644, rtol=0.01)


def test_the_other_pair_of_raworth_1986_does_not_agree_with_itself():
    # the same abstract gives ln a 2.56 and .0136; they differ (ln a 2.75 would agree): a misprint
    given = taylor_variance(0.0136, taylor_a(2.56, "ln"), 1.64)
    assert abs(given / 0.0136 - 1) > 0.15
    assert_allclose(taylor_variance(0.0136, taylor_a(2.75, "ln"), 1.64), 0.0136, rtol=5e-3)


def test_fits_against_scipy_linregress_and_statsmodels():
    mean, variance = sets("ticks_by_brood", "chicks", "ticks")
    used = (mean > 0) & (variance > 0)
    fit = stats.linregress(np.log(mean[used]), np.log(variance[used]))
    law = taylor_law(mean, variance)
    assert_allclose(law.b, fit.slope, rtol=1e-10)
    assert_allclose(law.ln_a, fit.intercept, rtol=1e-10)
    assert_allclose(law.se_b, fit.stderr, rtol=1e-10)
    assert_allclose(law.se_ln_a, fit.intercept_stderr, rtol=1e-10)
    linear = pytest.importorskip("statsmodels.regression.linear_model")
    known = (mean > 0) & np.isfinite(variance)
    m, v = mean[known], variance[known]
    ols = linear.OLS(m + v / m - 1, np.column_stack([np.ones(m.size), m])).fit()
    line = iwao_law(mean, variance)
    assert_allclose([line.alpha, line.beta], ols.params, rtol=1e-9)
    assert_allclose([line.se_alpha, line.se_beta], ols.bse, rtol=1e-9)


@given(logs, st.floats(0.5, 2.5), st.lists(logs, min_size=3, max_size=20, unique=True))
def test_rounds_on_a_law_give_it_back(ln_a, b, ln_means):
    if np.ptp(ln_means) < 0.1:
        return
    m = np.exp(ln_means)
    law = taylor_law(m, taylor_variance(m, np.exp(ln_a), b))
    assert_allclose(law.b, b, rtol=1e-6)
    assert_allclose(law.ln_a, ln_a, atol=1e-6)


@given(st.floats(-0.5, 10), st.floats(1, 4), st.lists(st.integers(1, 60), min_size=3, unique=True))
def test_rounds_on_a_line_of_crowding_give_it_back(alpha, beta, means):
    m = np.array(means, dtype=float)
    line = iwao_law(m, iwao_variance(m, alpha, beta))
    assert_allclose(line.beta, beta, rtol=1e-6)
    assert_allclose(line.alpha, alpha, atol=1e-6)


@given(st.floats(0.1, 20), st.floats(0.1, 10))
def test_a_known_k_is_a_line_of_crowding_from_zero(mean, k):
    assert_allclose(
        iwao_variance(mean, 0, 1 + 1 / k), negative_binomial_variance(mean, k), rtol=1e-9
    )


@given(st.lists(st.tuples(logs, logs), min_size=4, max_size=12), st.floats(0.1, 10))
def test_counting_pests_in_another_unit_leaves_b(rounds, c):
    m, v = np.exp(np.array(rounds)).T
    law, scaled = taylor_law(m, v), taylor_law(c * m, c**2 * v)
    if law.reason != "" or np.ptp(np.log(m)) < 0.1:
        return
    assert_allclose(scaled.b, law.b, rtol=1e-6, atol=1e-6)
    assert_allclose(scaled.ln_a, law.ln_a + (2 - law.b) * np.log(c), rtol=1e-6, atol=1e-5)
    if np.ptp(np.log(v)) > 1e-3:
        assert_allclose(scaled.r_squared, law.r_squared, rtol=1e-6, atol=1e-9)


def test_rounds_of_one_variance_leave_nothing_to_explain():
    law = taylor_law([1, 2, 4], [9, 9, 9])
    assert_allclose(law.b, 0, atol=1e-12)
    assert np.isnan(law.r_squared)


@given(st.lists(st.tuples(logs, logs), min_size=4, max_size=12), st.randoms())
def test_the_order_of_rounds_does_not_matter(rounds, random):
    m, v = np.exp(np.array(rounds)).T
    if np.ptp(np.log(m)) < 0.1:
        return
    order = random.sample(range(len(rounds)), len(rounds))
    assert_allclose(taylor_law(m[order], v[order]).b, taylor_law(m, v).b, rtol=1e-7, atol=1e-9)
    assert_allclose(iwao_law(m[order], v[order]).beta, iwao_law(m, v).beta, rtol=1e-6, atol=1e-8)


def test_an_absent_round_and_one_without_pests_are_left_out():
    m, v = [1, 2, 4, 8], [2, 6, 18, 54]
    more = taylor_law([1, NAN, 2, 0, 4, 3, 8], [2, 5, 6, 0, 18, 0, 54])
    assert_allclose(more.b, taylor_law(m, v).b)
    assert more.rounds == 4
    line = iwao_law([1, NAN, 2, 0, 4, 8, 5], [2, 5, 6, 0, 18, 54, NAN])
    assert_allclose(line.beta, iwao_law(m, v).beta)
    assert line.rounds == 4


def test_two_rounds_or_one_density_make_no_law():
    for fit in (taylor_law, iwao_law):
        few, same = fit([1, 2], [2, 5]), fit([3, 3, 3], [4, 5, 6])
        assert (few.reason, same.reason) == ("too_few_rounds", "one_density")
        assert (few.rounds, same.rounds) == (2, 3)
    assert np.isnan(taylor_law([1, 2], [2, 5]).b)
    assert np.isnan(iwao_law([3, 3, 3], [4, 5, 6]).beta)


def test_many_series_at_once_give_what_each_gives_alone():
    m, v = np.array([[1.0, 2, 4], [2, 5, 9]]), np.array([[2.0, 7, 15], [3, 30, 50]])
    together = taylor_law(m, v)
    for i in range(2):
        assert_allclose(together.b[i], taylor_law(m[i], v[i]).b)


def operation(rng, slopes, rounds, a=2.0, noise=0.3):
    """Rounds of series with the given slopes, all lines meeting at mean 1."""
    ln_m = rng.uniform(-1, 3, (len(slopes), rounds))
    ln_v = np.log(a) + np.array(slopes)[:, None] * ln_m + rng.normal(0, noise, ln_m.shape)
    return np.exp(ln_m), np.exp(ln_v)


def test_series_of_one_law_are_drawn_together():
    m, v = operation(np.random.default_rng(8), [1.5] * 12, 8)
    found = taylor_from_rounds(m, v)
    own = taylor_law(m, v).b
    assert found.reason == ""
    assert np.std(found.b) < 0.5 * np.std(own)
    assert_allclose(found.operation_b, 1.5, atol=0.05)
    assert_allclose(found.operation_a, 2.0, rtol=0.1)
    assert_array_equal(found.rounds, 8)


def test_series_that_differ_keep_what_is_their_own():
    slopes = [1.1, 1.3, 1.5, 1.7, 1.9] * 2
    m, v = operation(np.random.default_rng(9), slopes, 40, noise=0.1)
    found = taylor_from_rounds(m, v)
    assert_allclose(found.b, slopes, atol=0.06)
    assert found.weight.min() > 0.9


def test_shrinking_is_nearer_to_the_truth_than_each_series_alone():
    slopes = np.random.default_rng(10).normal(1.5, 0.1, 60)
    m, v = operation(np.random.default_rng(11), slopes, 6, noise=0.4)
    found, own = taylor_from_rounds(m, v).b, taylor_law(m, v).b
    assert np.mean((found - slopes) ** 2) < 0.7 * np.mean((own - slopes) ** 2)


def test_a_series_without_rounds_gets_the_law_of_the_operation_with_no_weight():
    m, v = operation(np.random.default_rng(12), [1.5] * 5, 8)
    m[4] = NAN
    found = taylor_from_rounds(m, v)
    assert_allclose(found.b[4], found.operation_b)
    assert_allclose(found.a[4], found.operation_a)
    assert (found.weight[4], found.rounds[4]) == (0, 0)


def test_the_law_of_an_operation_is_that_of_its_only_series():
    m, v = operation(np.random.default_rng(13), [1.4], 30)
    found, own = taylor_from_rounds(m, v), taylor_law(m[0], v[0])
    assert_allclose(found.b, own.b)
    assert_allclose(found.a, own.a)


def test_no_a_and_b_are_made_up():
    m, v = operation(np.random.default_rng(14), [1.5] * 3, 6)  # 18 rounds
    assert ROUNDS_FOR_A_LAW == 20
    few = taylor_from_rounds(m, v)
    assert few.reason == "too_few_rounds"
    assert np.isnan(few.a).all()
    assert np.isnan(few.operation_b)
    near = taylor_from_rounds(np.full((3, 8), 2.0) + np.arange(8) / 4, np.full((3, 8), 5.0))
    assert near.reason == "one_density"
    assert np.isnan(near.b).all()
    pairs = operation(np.random.default_rng(15), [1.5] * 12, 2)  # 24 rounds, no residual
    assert taylor_from_rounds(*pairs).reason == "too_few_rounds"


def test_several_operations_at_once_give_what_each_gives_alone():
    m, v = operation(np.random.default_rng(16), [1.5] * 8, 8)
    together = taylor_from_rounds(m.reshape(2, 4, 8), v.reshape(2, 4, 8))
    assert_allclose(together.b[1], taylor_from_rounds(m[4:], v[4:]).b)
    assert_allclose(together.operation_a[0], taylor_from_rounds(m[:4], v[:4]).operation_a)


def test_rounds_exactly_on_a_line_are_answered():
    m = np.tile([1.0, 2, 4, 8, 16], (5, 1))
    found = taylor_from_rounds(m, 2 * m**1.5)
    assert_allclose(found.b, 1.5)
    assert_allclose(found.a, 2)


def test_a_is_read_by_the_base_its_source_names():
    # Kabaluk et al. 2006 (abstract): green peach aphid on potato, ln a 1.81; log10 would be 10 fold
    assert_allclose(taylor_a(1.81, "ln"), 6.11, atol=5e-3)
    assert_allclose(taylor_a(1.81, "log10"), 64.6, atol=0.05)
    with pytest.raises(
        ValueError, match="got base 'e'; expected 'ln' or 'log10'; see in the sourc"
    ):
        taylor_a(1.81, "e")


def test_integers_and_floats_agree():
    m, v = np.array([1, 2, 4]), np.array([2, 7, 15])
    assert_array_equal(taylor_law(m, v).b, taylor_law(m.astype(float), v.astype(float)).b)
    assert_array_equal(iwao_law(m, v).beta, iwao_law(m.astype(float), v.astype(float)).beta)
    assert taylor_variance(2, 3, 2) == taylor_variance(2.0, 3.0, 2.0) == 12
    assert taylor_a(1, "log10") == taylor_a(1.0, "log10") == 10


def test_no_pests_have_no_variance_and_absent_ones_none_to_give():
    assert negative_binomial_variance(0, 0.5) == 0
    assert taylor_variance(0, 2, 1.5) == 0
    assert iwao_variance(0, 0.5, 1.3) == 0
    assert np.isnan(negative_binomial_variance(NAN, 1))
    assert np.isnan(taylor_variance(2, NAN, 1.5))
    assert np.isnan(iwao_variance(2, NAN, 1.5))
    assert negative_binomial_variance(3, INF) == 3


@each_of(
    ("call", "words"),
    [
        (lambda: taylor_law([-1, 2], [1, 1]), "got mean -1; expected zero or more"),
        (lambda: iwao_law([1, 2], [-1, 1]), "got variance -1; expected zero or more"),
        (lambda: taylor_from_rounds([[1, -2]], [[1, 1]]), "got mean -2"),
        (lambda: taylor_from_rounds([1, 2], [1, 1]), r"shape \(2,\); expected series and rounds"),
        (lambda: negative_binomial_variance(1, 0), "got k 0; expected more than zero"),
        (lambda: negative_binomial_variance(-1, 1), "got mean -1"),
        (lambda: taylor_variance(1, -2, 1), "got a -2; expected more than zero"),
        (lambda: taylor_variance(1, 2, 0), "got b 0; expected more than zero"),
        (lambda: taylor_variance(-1, 2, 1), "got mean -1"),
        (lambda: iwao_variance(-1, 0.5, 1.3), "got mean -1"),
    ],
)
def test_impossible_arguments_are_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
