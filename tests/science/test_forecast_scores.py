"""How forecasts are scored, and the plain rivals, beside formulas and reference libraries."""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import statsmodels.api as sm
from numpy.testing import assert_allclose, assert_array_equal
from scipy.stats import norm
from statsmodels.tsa.holtwinters import Holt

BENCH = Path(__file__).parents[2] / "bench"
sys.path.insert(0, str(BENCH))

import forecast_rivals as rivals  # noqa: E402 - after the path
from forecast_scores import (  # noqa: E402 - after the path
    Asked,
    asked,
    bootstrapped,
    by_series,
    covered,
    crossing_in,
    crps,
    probability_over,
    reliability,
    warned,
    widening,
)
from forecast_seasons import Seasons  # noqa: E402 - after the path


def invented(
    walks: dict[int, list[tuple[int, int]]],
    truth: np.ndarray,
    sprays: tuple[tuple[int, int], ...] = (),
    effort: float = 20,
) -> Seasons:
    """Series of (day, count) on plants, threshold 1, with sprays (series, day) that spare eggs."""
    number = len(walks)
    rows = [(s, day, count) for s, of in walks.items() for day, count in of]
    series, day, count = (np.array(column, dtype=np.int64) for column in zip(*rows, strict=True))
    full = np.full(len(rows), float(effort))
    return Seasons(
        pest=np.full(number, "thrips"),
        card=np.zeros(number, dtype=bool),
        staged=np.zeros(number, dtype=bool),
        house=np.zeros(number, dtype=np.int64),
        threshold=np.ones(number),
        reference=np.full(number, 0.5),
        truth=truth,
        walk_series=series,
        walk_day=day,
        count=count,
        effort=full,
        units=full,
        exposure=np.zeros(len(rows)),
        spray_series=np.array([s for s, _ in sprays], dtype=np.int64),
        spray_day=np.array([d for _, d in sprays], dtype=np.int64),
        spray_kind=np.full(len(sprays), "contact"),
        spray_kill=np.full(len(sprays), 0.8),
        spray_spares=np.ones(len(sprays), dtype=bool),
        temperature=np.full((1, truth.shape[1]), 20.0),
    )


def said_of(truth: float, threshold: float = -20.0) -> Asked:
    one = np.ones((1, 1), dtype=bool)
    return Asked(one, np.array([[truth]]), np.array([[threshold]]), one, one, np.zeros(1, int))


@pytest.mark.parametrize("z", [-2.0, -0.3, 0.0, 1.1])
def test_crps_is_that_of_a_normal_where_the_floor_is_far_gneiting_and_raftery_2007(z):
    """Gneiting and Raftery (2007), Strictly proper scoring rules, eq. (5); from memory."""
    sd = 0.7
    expected = sd * (z * (2 * norm.cdf(z) - 1) + 2 * norm.pdf(z) - 1 / np.sqrt(np.pi))
    got = crps(np.array([[1.0]]), np.array([[sd]]), said_of(1.0 + sd * z))
    assert got[0, 0] == pytest.approx(expected, abs=0.01 * sd)


def test_crps_of_nothing_alive_is_finite_and_small_for_who_said_so():
    nothing = said_of(-np.inf, threshold=0.0)
    near, far = (crps(np.array([[m]]), np.array([[0.5]]), nothing)[0, 0] for m in (-6.0, 0.0))
    assert near < 0.1 < 1 < far


def test_an_80_per_cent_interval_holds_80_per_cent_and_never_a_density_of_nothing():
    z = np.random.default_rng(1).normal(size=20_000)
    held = covered(np.zeros((20_000, 1)), np.ones((20_000, 1)), replaced(z))
    assert held.mean() == pytest.approx(0.8, abs=0.012)  # 4 standard errors
    assert not covered(np.zeros((1, 1)), np.ones((1, 1)), said_of(-np.inf)).any()


def replaced(truth: np.ndarray) -> Asked:
    n = len(truth)
    kept = np.ones((n, 1), dtype=bool)
    return Asked(kept, truth[:, None], np.zeros((n, 1)), kept, kept, np.arange(n))


def test_widening_is_the_factor_that_was_missing():
    z = 1.5 * np.random.default_rng(1).normal(size=20_000)
    asks = replaced(z)
    (factor,) = widening(np.zeros((20_000, 1)), np.ones((20_000, 1)), asks, asks.kept)
    assert factor == pytest.approx(1.5, rel=0.03)
    assert covered(np.zeros((20_000, 1)), np.full((20_000, 1), factor), asks).mean() == 0.8


def test_probabilities_that_are_right_lie_on_the_diagonal_and_bold_ones_do_not():
    rng = np.random.default_rng(2)
    p = rng.random(50_000)
    over = rng.random(50_000) < p
    assert reliability(p, over).worst < 0.03
    assert reliability(np.where(p > 0.5, (1 + p) / 2, p / 2), over).worst > 0.1


def test_bins_of_fewer_than_a_thousand_forecasts_are_refused():
    with pytest.raises(ValueError, match="got 9999 forecasts; expected 10000 or more"):
        reliability(np.zeros(9_999), np.zeros(9_999, dtype=bool))


def test_probability_over_is_the_normal_tail():
    asks = said_of(0.0, threshold=np.log(2.0))
    p = probability_over(np.array([[0.3]]), np.array([[0.5]]), asks)
    assert p[0, 0] == pytest.approx(1 - norm.cdf(np.log(2.0), 0.3, 0.5), abs=1e-12)


def test_forecasts_across_a_later_spray_are_not_asked_and_of_the_first_walk_neither():
    """By hand: walks on days 0, 7, 14, 21; a spray on day 14 is before that day's walk."""
    of = invented({0: [(0, 1), (7, 1), (14, 1), (21, 1)]}, np.ones((1, 40)), ((0, 14),))
    asks = asked(of, (7, 14))
    assert asks.kept.tolist() == [[False, False], [False, False], [True, True], [True, True]]
    assert asks.early[:, 0].tolist() == [False, True, True, False]


def test_rebound_is_7_to_14_days_after_a_spray_that_spared_eggs():
    """By hand: targets on days 21 and 28, then 28 and 35; the spray was on day 14."""
    of = invented({0: [(0, 1), (7, 1), (14, 1), (21, 1)]}, np.ones((1, 40)), ((0, 14),))
    assert asked(of, (7, 14)).rebound[2:].tolist() == [[True, True], [True, False]]


def test_the_truth_asked_for_is_that_of_its_day_and_its_series():
    truth = np.exp(np.arange(80.0).reshape(2, 40))
    of = invented({0: [(0, 1), (3, 1)], 1: [(1, 1), (9, 1)]}, truth)
    assert_allclose(asked(of, (7, 14)).truth, [[7, 14], [10, 17], [48, 55], [56, 63]])


def test_days_until_a_crossing_by_hand():
    truth = np.full((2, 20), 0.5)
    truth[0, 9:] = 2.0
    of = invented({0: [(2, 1), (9, 1)], 1: [(2, 1)]}, truth)
    assert crossing_in(of).tolist() == [7, 0, 200]


def test_warned_of_a_crossing_by_hand():
    """Two series cross on day 20; one is warned 12 days before, one never; 40 others are calm."""
    truth = np.full((42, 40), 0.5)
    truth[:2, 20:] = 2.0
    of = invented({s: [(1, 1), (8, 1), (15, 1)] for s in range(42)}, truth)
    p = np.linspace(0.0, 0.1, len(of.walk_day))
    p[of.walk_series == 0], p[of.walk_series == 1] = [0.0, 0.9, 0.0], 0.0
    got = warned(of, p, np.ones(len(p), dtype=bool))
    assert (got.share, got.days, got.crossings) == (0.5, 12.0, 2)
    calm = of.walk_series >= 2
    assert (p[calm] > got.level).mean() == pytest.approx(0.05, abs=0.01)


def test_interval_by_series_is_as_wide_as_that_of_a_mean_of_series():
    """Equal numbers in a series: the ratio is the mean of means, its error known."""
    rng = np.random.default_rng(3)
    value = np.repeat(rng.normal(size=400), 5)[:, None]
    top, bottom = by_series(value, np.ones_like(value, bool), np.repeat(np.arange(400), 5), 400)
    low, high = bootstrapped(top, bottom, rng, times=4000)
    assert high - low == pytest.approx(2 * 1.96 * value.std() / 20, rel=0.06)


COUNTS = [3, 9, 14, 40, 55, 160]
WEEKS = [7 * n for n in range(6)]


def a_series() -> Seasons:
    return invented({0: list(zip(WEEKS, COUNTS, strict=True))}, np.ones((1, 60)))


def test_last_value_and_mean_of_three_walks_by_hand():
    of = a_series()
    assert rivals.last_value(of, (7,))[0][-1, 0] == pytest.approx(np.log(160.5 / 20))
    assert rivals.walks_mean(of, (7,))[0][-1, 0] == pytest.approx(np.log(255.5 / 60))


def test_trend_of_five_walks_is_the_regression_of_statsmodels_where_its_prior_is_flat(monkeypatch):
    monkeypatch.setattr(rivals, "FIRST_VARIANCE", 1e9)
    alpha = 1 / (20 * rivals.NOISE.k_plants) + rivals.NOISE.so2_plants
    back = np.array(WEEKS[1:]) - WEEKS[-1]
    fit = sm.GLM(
        COUNTS[1:],
        sm.add_constant(back),
        family=sm.families.NegativeBinomial(alpha=alpha),
        offset=np.full(5, np.log(20)),
    ).fit()
    mean, _ = rivals.window_trend(a_series(), (0, 7), slope_sd=1e6)
    assert_allclose(mean[-1], [fit.params[0], fit.params[0] + 7 * fit.params[1]], rtol=1e-6)


def test_smoothing_is_that_of_statsmodels_at_weekly_walks():
    """There a trend's weight is of what the level took: mine is the product of the two."""
    y = np.log((np.array(COUNTS) + 0.5) / 20)
    fit = Holt(y[1:], initialization_method="known", initial_level=y[0], initial_trend=0.0).fit(
        smoothing_level=0.6, smoothing_trend=0.25, optimized=False
    )
    mean, _ = rivals.exponential_smoothing(
        a_series(), (7, 14), level=0.6, trend=0.6 * 0.25, damping=1
    )
    assert_allclose(mean[-1], fit.forecast(2), rtol=1e-9)


def test_dynamic_glm_without_discounts_is_the_regression_of_statsmodels_at_large_counts():
    """Updates one by one are those of all at once where counts tell all."""
    counts = [4000, 9000, 22000, 50000]
    of = invented({0: list(zip(WEEKS[:4], counts, strict=True))}, np.ones((1, 60)), effort=1000.0)
    noise = replace(rivals.NOISE, k_plants=1e6, so2_plants=1e-4)
    mean, sd = rivals.dynamic_glm(
        of, (7,), level_discount=1, slope_discount=1, slope_sd=10, noise=noise
    )
    fit = sm.GLM(
        counts,
        sm.add_constant(np.array(WEEKS[:4]) - 28.0),
        family=sm.families.NegativeBinomial(alpha=1e-4),
        offset=np.full(4, np.log(1000)),
    ).fit(scale=1.0)
    assert mean[-1, 0] == pytest.approx(fit.params[0], abs=0.02)
    assert sd[-1, 0] == pytest.approx(fit.bse[0], rel=0.1)


def test_discounts_widen_what_is_forecast():
    narrow = rivals.dynamic_glm(a_series(), (14,), level_discount=1, slope_discount=1)[1]
    wide = rivals.dynamic_glm(a_series(), (14,), level_discount=0.6, slope_discount=0.9)[1]
    assert (wide > narrow).all()


@pytest.mark.parametrize("name", list(rivals.RIVALS))
def test_a_rival_takes_integers_as_floats(name):
    of = a_series()
    floats = replace(of, count=of.count.astype(float), walk_day=of.walk_day.astype(float))
    for one, other in zip(rivals.RIVALS[name](of, (7,)), rivals.RIVALS[name](floats, (7.0,)),
                          strict=True):  # fmt: skip
        assert_array_equal(one, other)
