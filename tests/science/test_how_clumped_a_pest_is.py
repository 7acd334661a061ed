"""Mean, variance and k of the negative binomial, of one round and of many."""

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import optimize, stats

from benchwalk.science.dispersion import (
    PRIOR_K,
    PRIOR_SD,
    ROUNDS_TO_LEARN,
    common_k_by_likelihood,
    common_k_by_moments,
    count_spread,
    k_bias_lowered,
    k_by_likelihood,
    k_by_moments,
    k_by_zero_term,
    k_from_rounds,
)
from tests.in_turn import each_of
from tests.science.published_values import column, counts, insect_sprays, mites

NAN, INF = np.nan, np.inf


def moments(x):
    x = np.asarray(x, dtype=float)
    return x.mean(axis=-1), x.var(axis=-1, ddof=1), x.shape[-1]


def test_mites_on_apple_leaves_against_bliss_and_fisher_1953():
    # Bliss and Fisher 1953, Biometrics 9:176-200: mean 1.147, variance 2.27, k 1.0246 (from memory)
    found = count_spread(mites())
    assert_allclose(found.mean, 1.147, atol=5e-4)
    assert_allclose(found.variance, 2.27, atol=5e-3)
    assert_allclose(k_by_likelihood(mites()).k, 1.0246, atol=5e-5)


def test_frequencies_expected_on_apple_leaves_against_bliss_and_fisher_1953():
    # same table, expected column (from memory, recomputed); three printed digits
    k, mean = float(k_by_likelihood(mites()).k), 172 / 150
    chance = stats.nbinom.pmf(np.arange(8), k, k / (k + mean))
    expected = 150 * np.append(chance, 1 - chance.sum())
    assert_allclose(expected, column("mites_on_apple_leaves", "expected_leaves"), atol=6e-4)


def test_other_ks_of_the_mites_own_values():
    # own values, to the digits given
    mean, variance, n = moments(mites())
    assert_allclose(k_by_likelihood(mites()).k, 1.0245924, atol=6e-8)
    assert_allclose(k_by_moments(mean, variance).k, 1.1666974, atol=6e-8)
    assert_allclose(k_bias_lowered(mean, variance, n).k, 1.1532476, atol=6e-8)
    assert_allclose(k_by_zero_term(mean, 70, n).k, 0.9923061, atol=6e-8)


def test_index_of_dispersion_of_the_mites_own_values():
    found = count_spread(mites())
    assert_allclose(found.variance, 2.2736465, atol=6e-8)
    assert_allclose(found.index, 1.9828313, atol=6e-8)
    assert_allclose(found.p_random, 1.02e-11, rtol=5e-3)
    assert_array_equal(found.n, 150)
    assert found.reason == ""


def test_zero_term_k_solves_its_equation():
    k = k_by_zero_term(172 / 150, 70, 150).k
    assert_allclose(k * np.log1p(172 / 150 / k), np.log(150 / 70), rtol=1e-10)


def test_k_of_corn_borers_against_the_table_of_bliss_and_fisher_1953():
    # Table 3: k 1.764 and 1.333 for treatments 2 and 3 (seen). Its 1.532 and 1.190 for treatments
    # 1 and 4 do not reproduce from the printed frequencies (grouped tails?): own values
    hills = counts("corn_borers", "treatment", "borers", "hills")
    found = [float(k_by_likelihood(hills[t]).k) for t in ("T1", "T2", "T3", "T4")]
    assert_allclose(found[1:3], [1.764, 1.333], rtol=2.5e-3)
    assert_allclose(found, [1.50289, 1.76049, 1.33313, 1.15352], atol=6e-6)
    means = [x.mean() for x in hills.values()]
    assert_allclose(means, [4.033333, 3.166667, 1.483333, 1.508333], atol=6e-7)


def test_moment_k_of_corn_borers_own_values():
    hills = counts("corn_borers", "treatment", "borers", "hills")
    found = [float(k_by_moments(*moments(x)[:2]).k) for x in hills.values()]
    assert_allclose(found, [1.30988, 2.17823, 1.28697, 1.07221], atol=6e-6)


def test_common_k_of_corn_borers_against_a_published_fit():
    # agridat docs, bliss.borers: glm.nb by treatment has theta 1.47 (seen); own value 1.471449
    hills = np.array(list(counts("corn_borers", "treatment", "borers", "hills").values()))
    found = float(common_k_by_likelihood(hills).k)
    assert_allclose(found, 1.47, atol=5e-3)
    assert_allclose(found, 1.471449, atol=6e-7)


def test_k_of_webworms_own_values():
    plots = counts("webworms", "treatment", "webworms", "plots")
    none, spray = plots["T1"], plots["T2"]
    assert_allclose(k_by_likelihood(none).k, 1.911309, atol=6e-7)
    assert_allclose(k_by_likelihood(spray).k, 3.022068, atol=6e-7)
    assert_allclose(k_by_moments(*moments(none)[:2]).k, 2.113981, atol=6e-7)
    assert_allclose(k_by_moments(*moments(spray)[:2]).k, 3.204259, atol=6e-7)


def statsmodels_k(x):
    discrete = pytest.importorskip("statsmodels.discrete.discrete_model")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library's own notes on its optimiser
        fit = discrete.NegativeBinomial(x, np.ones_like(x)).fit(disp=0, maxiter=500)
    return 1 / fit.params[-1]


@pytest.mark.parametrize("data", ["mites", "webworms", "spray C"])
def test_likelihood_k_against_statsmodels(data):
    webworms = counts("webworms", "treatment", "webworms", "plots")["T1"]
    x = {"mites": mites(), "webworms": webworms, "spray C": insect_sprays()[2]}[data]
    assert_allclose(k_by_likelihood(x).k, statsmodels_k(x.astype(float)), rtol=1e-3)


def test_insect_sprays_have_the_means_of_beall_1942():
    # InsectSprays (Beall 1942): sums and variances from memory, recomputed
    found = count_spread(insect_sprays())
    assert_allclose(found.mean, [14.5, 15.33333, 2.083333, 4.916667, 3.5, 16.66667], atol=5e-6)
    assert_allclose(found.variance, [22.2727, 18.2424, 3.9015, 6.2652, 3.0, 38.6061], atol=5e-5)


def test_insect_sprays_k_own_values():
    found = k_by_likelihood(insect_sprays())
    assert_allclose(found.k[2], 3.17703, atol=6e-6)
    assert_allclose(k_by_moments(2.083333333, 3.901515152).k, 2.38715, atol=6e-6)
    assert found.k[4] == INF
    assert found.reason[4] == "not_aggregated"
    assert k_by_moments(3.5, 3.0).k == INF


def test_common_k_of_insect_sprays_against_scipy_optimize():
    # a general fit stopped at 28.09715, where the likelihood is lower by 9e-9
    x = insect_sprays()
    mean = x.mean(axis=1, keepdims=True)
    best = optimize.minimize_scalar(
        lambda k: -stats.nbinom.logpmf(x, k, k / (k + mean)).sum(),
        bounds=(10, 60),
        method="bounded",
        options={"xatol": 1e-9},
    )
    assert_allclose(common_k_by_likelihood(x).k, best.x, rtol=1e-6)
    assert_allclose(common_k_by_likelihood(x).k, 28.09715, rtol=1e-4)


def test_common_k_by_moments_hand_worked():
    # round 1: 4 - 6/10 = 3.4 over 4; round 2: 9 - 12/10 = 7.8 over 9; 11.2/13
    found = common_k_by_moments([2, 3], [6, 12], 10)
    assert_allclose(found.k, 11.2 / 13)
    assert_allclose(common_k_by_moments([2], [6], [10]).k, k_bias_lowered(2, 6, 10).k)


def test_an_absent_round_changes_no_common_k():
    whole = common_k_by_moments([2, 3], [6, 12], [10, 10]).k
    assert_allclose(common_k_by_moments([2, NAN, 3], [6, 4, 12], [10, 10, 10]).k, whole)
    assert_allclose(common_k_by_moments([2, 9, 3], [6, 0, 12], [10, 1, 10]).k, whole)
    x = insect_sprays()[:3]
    absent = np.vstack([x, np.full(12, NAN)])
    assert_allclose(common_k_by_likelihood(absent).k, common_k_by_likelihood(x).k)


def test_counts_that_vary_less_than_the_poisson_have_infinite_k():
    for found in (
        k_by_moments(2, 2),
        k_bias_lowered(2, 1.5, 10),
        k_by_likelihood([2, 2, 2, 3]),
        k_by_zero_term(1.0, 3, 10),  # e^-1 of 10 is 3.7 empty units
        common_k_by_moments([2, 3], [1, 2], [10, 10]),
    ):
        assert found.k == INF
        assert found.reason == "not_aggregated"
    assert k_by_zero_term(1.0, 4, 10).k < INF


def test_nothing_found_says_nothing_of_clumping():
    for found in (
        k_by_moments(0, 0),
        k_bias_lowered(0, 0, 10),
        k_by_likelihood([0, 0, 0]),
        k_by_zero_term(0, 10, 10),
        common_k_by_moments([0, 0], [0, 0], [10, 10]),
        common_k_by_likelihood([[0, 0], [0, 0]]),
    ):
        assert np.isnan(found.k)
        assert found.reason == "none_counted"
    spread = count_spread([0, 0, 0])
    assert spread.mean == 0
    assert np.isnan(spread.index)
    assert spread.reason == "none_counted"


def test_one_unit_has_no_variance():
    assert count_spread([4]).reason == "too_few"
    assert count_spread([4, NAN]).n == 1
    assert np.isnan(count_spread([4]).variance)
    assert count_spread([4]).mean == 4
    assert k_by_moments(4, NAN).reason == "too_few"
    assert k_bias_lowered(4, 5, 1).reason == "too_few"
    assert k_bias_lowered(4, 5, 2).reason == ""
    assert k_by_likelihood([4]).reason == "too_few"
    assert k_by_zero_term(4, 0, 1).reason == "too_few"
    assert common_k_by_moments([4], [5], [1]).reason == "too_few"
    assert common_k_by_likelihood([[4, NAN], [NAN, 3]]).reason == "too_few"


def test_no_units_at_all_is_too_few_and_not_zero():
    found = count_spread([NAN, NAN])
    assert np.isnan(found.mean)
    assert found.reason == "too_few"


def test_everything_on_one_plant_has_no_bias_lowered_k():
    mean, variance, n = moments([7, 0, 0, 0])
    assert k_bias_lowered(mean, variance, n).reason == "one_unit"
    assert np.isnan(k_bias_lowered(mean, variance, n).k)
    assert k_by_likelihood([7, 0, 0, 0]).reason == ""


def test_zero_term_needs_an_empty_unit():
    found = k_by_zero_term(3, 0, 20)
    assert found.reason == "all_infested"
    assert np.isnan(found.k)


def test_units_that_were_not_counted_are_left_out():
    assert_allclose(k_by_likelihood([3, 0, NAN, 4, 9]).k, k_by_likelihood([3, 0, 4, 9]).k)
    assert_allclose(count_spread([3, 0, NAN, 4, 9]).variance, count_spread([3, 0, 4, 9]).variance)


def test_integers_and_floats_agree():
    x = np.array([3, 0, 4, 9, 0, 2])
    assert_array_equal(k_by_likelihood(x).k, k_by_likelihood(x.astype(float)).k)
    assert_array_equal(count_spread(x).index, count_spread(x.astype(float)).index)
    assert_array_equal(k_by_moments(2, 5).k, k_by_moments(2.0, 5.0).k)
    assert_array_equal(
        k_from_rounds(np.array([2, 3]), np.array([5, 9]), np.array([20, 20]), 1).k,
        k_from_rounds([2.0, 3.0], [5.0, 9.0], [20.0, 20.0], 1.0).k,
    )


@given(st.lists(st.integers(0, 50), min_size=3, max_size=30), st.randoms())
def test_the_order_of_plants_does_not_matter(x, random):
    shuffled = random.sample(x, len(x))
    assert_allclose(k_by_likelihood(x).k, k_by_likelihood(shuffled).k, rtol=1e-6)


@given(st.lists(st.integers(0, 50), min_size=3, max_size=30))
def test_no_other_k_is_more_likely(x):
    found = k_by_likelihood(x)
    if found.reason != "":
        return
    mean, k = np.mean(x), float(found.k)

    def loglik(at):
        return stats.nbinom.logpmf(x, at, at / (at + mean)).sum()

    slack = 1e-7 * abs(loglik(k))
    assert loglik(k) >= max(loglik(k / 1.05), loglik(k * 1.05)) - slack


def learned(rng, k, rounds, n=20, mean=3.0, prior=0.6, prior_sd=PRIOR_SD):
    x = rng.negative_binomial(k, k / (k + mean), (rounds, n))
    return k_from_rounds(x.mean(axis=-1), x.var(axis=-1, ddof=1), n, prior, prior_sd)


def test_many_rounds_find_the_k_they_were_drawn_with():
    found = learned(np.random.default_rng(3), k=2.0, rounds=4000)
    assert_allclose(found.k, 2.0, rtol=0.05)
    assert found.weight > 0.99
    assert found.rounds == 4000


def test_growth_between_rounds_is_not_taken_for_clumping():
    rng = np.random.default_rng(4)
    means = np.geomspace(0.5, 50, 2000)[:, None]
    x = rng.negative_binomial(2.0, 2.0 / (2.0 + means), (2000, 20))
    found = k_from_rounds(x.mean(axis=-1), x.var(axis=-1, ddof=1), 20, PRIOR_K["card"])
    assert_allclose(found.k, 2.0, rtol=0.05)


def test_pairs_of_individuals_have_their_dirichlet_multinomial_moments_by_enumeration():
    # hand check of E and V on 3 plants with 4 individuals: all 15 ways, probabilities from scipy
    from benchwalk.science.dispersion.rounds import _Pairs  # noqa: PLC0415 - the one private thing tested

    k, n, s = 0.7, 3, 4
    ways = [(a, b, s - a - b) for a in range(s + 1) for b in range(s + 1 - a)]
    chance = np.array([stats.dirichlet_multinomial.pmf(w, [k] * n, s) for w in ways])
    pairs = np.array([sum(x * (x - 1) for x in w) for w in ways])
    expected, slope, variance = _Pairs.of(
        np.array([s / n]), np.array([1.0]), np.array([float(n)])
    )._moments(np.array([k]))
    assert_allclose(chance.sum(), 1)
    assert_allclose(expected, (chance * pairs).sum())
    assert_allclose(variance, (chance * pairs**2).sum() - (chance * pairs).sum() ** 2)
    step = 1e-6

    def mean_pairs(at):
        return s * (s - 1) * (at + 1) / (n * at + 1)

    numeric = (mean_pairs(k * np.exp(step)) - mean_pairs(k * np.exp(-step))) / (2 * step)
    assert_allclose(slope, numeric, rtol=1e-6)


def test_learned_k_against_the_index_of_morisita_when_the_prior_is_vague():
    # one round: Q = E gives n (k + 1)/(n k + 1) = Morisita's index, for the mites 1.8563851 (own)
    mean, variance, n = moments(mites())
    found = float(k_from_rounds([mean], [variance], [n], 1.0, prior_sd=1e4).k)
    assert_allclose(n * (found + 1) / (n * found + 1), 1.8563851, atol=6e-8)


def test_without_rounds_k_is_the_prior():
    found = k_from_rounds([], [], [], PRIOR_K["plant"])
    assert (float(found.k), float(found.rounds), float(found.weight)) == (0.6, 0, 0)
    assert found.assumed


def test_rounds_that_say_nothing_are_not_counted():
    mean = [0, 0.05, NAN, 3.0, 0.1, 0.2]
    n = [20, 20, 20, 1, 20, 0]
    found = k_from_rounds(mean, [0, 0.05, 1, 2, 0.2, 1], n, 0.6)
    assert found.rounds == 1  # two individuals on twenty plants; the others had fewer, or one plant


def test_nine_rounds_are_assumed_and_ten_are_learned():
    rng = np.random.default_rng(5)
    assert ROUNDS_TO_LEARN == 10
    assert learned(rng, 1.0, 9).assumed
    assert not learned(rng, 1.0, 10).assumed


def test_few_rounds_lean_on_the_prior_and_many_do_not():
    weights = [float(learned(np.random.default_rng(6), 1.0, r).weight) for r in (1, 5, 50)]
    assert weights == sorted(weights)
    assert weights[0] < 0.8 < 0.97 < weights[2]
    tight = k_from_rounds([3], [30], [20], 0.6, prior_sd=1e-3)
    assert_allclose(tight.k, 0.6, rtol=1e-3)
    assert tight.weight < 1e-4


def test_learned_k_lies_between_the_prior_and_what_the_rounds_say():
    vague = float(k_from_rounds([3], [6], [20], 1.0, prior_sd=1e4).k)
    low, high = (float(k_from_rounds([3], [6], [20], p).k) for p in (0.2, 20.0))
    assert 0.2 < low < vague < high < 20


def test_priors_are_by_what_is_counted_on():
    # start values from simulation: own, assumed
    assert dict(PRIOR_K) == {"plant": 0.6, "place": 0.6, "card": 1.5, "disc": 1.5, "trap": 1.5}
    assert PRIOR_SD == 1.0


def test_many_series_at_once_give_what_each_gives_alone():
    mean, variance = np.array([[2.0, 3], [1, 4]]), np.array([[5.0, 9], [2, 30]])
    together = k_from_rounds(mean, variance, 20, [0.6, 1.5])
    for i, prior in enumerate((0.6, 1.5)):
        assert_allclose(together.k[i], k_from_rounds(mean[i], variance[i], 20, prior).k)


@each_of(
    ("call", "words"),
    [
        (lambda: count_spread([1, -1]), "got count -1; expected zero or more"),
        (lambda: k_by_likelihood([1, INF]), "got count inf; expected zero or more"),
        (lambda: k_by_moments(-1, 2), "got mean -1"),
        (lambda: k_by_moments(1, -2), "got variance -2"),
        (lambda: k_bias_lowered(1, 2, -3), "got n -3"),
        (lambda: common_k_by_moments([1], [2], [-3]), "got n -3"),
        (lambda: k_by_zero_term(1, 5, 4), "got empty_units 5 of n 4"),
        (lambda: k_by_zero_term(-1, 5, 6), "got mean -1"),
        (lambda: k_by_zero_term(1, -5, 6), "got empty_units -5"),
        (lambda: k_by_zero_term(1, NAN, -6), "got n -6"),
        (lambda: common_k_by_likelihood([1, 2]), r"shape \(2,\); expected rounds and units"),
        (lambda: k_from_rounds([1], [2], [3], 0), "got prior 0; expected more than zero"),
        (lambda: k_from_rounds([1], [2], [3], 1, 0), "got prior_sd 0"),
        (lambda: k_from_rounds([1], [2], [-3], 1), "got n -3"),
    ],
)
def test_impossible_arguments_are_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
