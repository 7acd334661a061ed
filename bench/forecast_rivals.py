"""Plain ways to forecast, beside which the filter is judged.

Each takes seasons and horizons and gives, for every walk, the mean and standard deviation of the
log density so many days later, from this walk and those before it. Constants were chosen by CRPS,
one at a time, on the seeds of development alone; the factor on each sd is fitted there too.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from forecast_seasons import Seasons
from forecast_worlds import Floats, Ints

Forecasts = tuple[Floats, Floats]
Engine = Callable[[Seasons, Sequence[int]], Forecasts]

HALF = 0.5  # added to a count before its logarithm
FIRST_VARIANCE = 2.5  # of log density before the first walk


@dataclass(frozen=True, eq=False)
class Grid:
    """Walks side by side: shape (series, most walks of a series); nan and 0 past the last."""

    day: Floats
    count: Floats
    effort: Floats
    units: Floats
    there: Floats  # 1 where there is a walk
    at: tuple[Ints, Ints]  # series and number of each walk

    def flat(self, of: Floats) -> Floats:
        return of[self.at]


def grid(of: Seasons) -> Grid:
    first = np.searchsorted(of.walk_series, np.arange(of.series))
    number = np.arange(len(of.walk_day)) - first[of.walk_series]
    shape = (of.series, int(number.max()) + 1)

    def spread(values: Floats, empty: float) -> Floats:
        out = np.full(shape, empty)
        out[of.walk_series, number] = values
        return out

    return Grid(
        day=spread(of.walk_day.astype(float), np.nan),
        count=spread(of.count.astype(float), 0.0),
        effort=spread(of.effort, 0.0),
        units=spread(of.units, 1.0),
        there=spread(np.ones(len(of.walk_day)), 0.0),
        at=(of.walk_series, number),
    )


@dataclass(frozen=True)
class Noise:
    """What a count does not tell of its density: variance of its logarithm."""

    k_plants: float = 0.6
    k_cards: float = 1.5
    so2_plants: float = 0.10
    so2_cards: float = 0.30

    def one_over_r(self, of: Seasons, g: Grid) -> Floats:
        card = of.card[:, None]
        k = np.where(card, self.k_cards, self.k_plants)
        return np.asarray(1 / (g.units * k) + np.where(card, self.so2_cards, self.so2_plants))


NOISE = Noise()


def _ahead(variance: Floats, a_day: float, horizons: Sequence[int]) -> Floats:
    """Sd of the level's variance and of what may come: unknown growth, squared days."""
    h = np.asarray(horizons, dtype=float)
    return np.sqrt(variance[:, None] + (a_day * h) ** 2)


def last_value(of: Seasons, horizons: Sequence[int], growth_sd: float = 0.03) -> Forecasts:
    """Tomorrow is as today."""
    return walks_mean(of, horizons, walks=1, growth_sd=growth_sd)


def walks_mean(
    of: Seasons, horizons: Sequence[int], walks: int = 3, growth_sd: float = 0.04
) -> Forecasts:
    """The mean of the last walks, all counts over all effort."""
    g = grid(of)
    count, effort, units = (_last_sum(x, walks) for x in (g.count, g.effort, g.units * g.there))
    number = _last_sum(g.there, walks)
    mean = np.log((count + HALF) / np.maximum(effort, 1e-9))
    r = NOISE.one_over_r(of, g) * g.units  # of one unit
    so2 = np.where(of.card, NOISE.so2_cards, NOISE.so2_plants)[:, None]
    between = (r - so2 * g.units) / np.maximum(units, 1) + so2 / np.maximum(number, 1)
    variance = g.flat(1 / (count + HALF) + between)
    flat = np.repeat(g.flat(mean)[:, None], len(horizons), axis=1)
    return flat, _ahead(variance, growth_sd, horizons)


def _last_sum(of: Floats, walks: int) -> Floats:
    total = np.cumsum(of, axis=1)
    total[:, walks:] -= total[:, :-walks].copy()
    return total


def window_trend(
    of: Seasons,
    horizons: Sequence[int],
    walks: int = 5,
    slope_mean: float = 0.0,
    slope_sd: float = 0.03,
    growth_sd: float = 0.0,
) -> Forecasts:
    """A line through the log means of the last walks: NB regression, its slope held near a mean."""
    g = grid(of)
    inverse_r = NOISE.one_over_r(of, g)
    mean = np.empty((*g.day.shape, len(horizons)))
    sd = np.empty_like(mean)
    for at in range(g.day.shape[1]):
        span = slice(max(0, at + 1 - walks), at + 1)
        back = np.nan_to_num(g.day[:, span] - g.day[:, [at]])
        level = np.log(of.reference)
        slope = np.full(of.series, slope_mean)
        for _ in range(12):
            log_mean = level[:, None] + slope[:, None] * back
            expected = g.effort[:, span] * np.exp(np.clip(log_mean, -15, 15))
            shrink = 1 / (1 + inverse_r[:, span] * expected)
            score = (g.count[:, span] - expected) * shrink
            weight = expected * (1 + inverse_r[:, span] * g.count[:, span]) * shrink**2
            gradient = (
                score.sum(1) - (level - np.log(of.reference)) / FIRST_VARIANCE,
                (score * back).sum(1) - (slope - slope_mean) / slope_sd**2,
            )
            a = weight.sum(1) + 1 / FIRST_VARIANCE
            b = (weight * back).sum(1)
            c = (weight * back**2).sum(1) + 1 / slope_sd**2
            det = a * c - b**2
            level = level + np.clip((c * gradient[0] - b * gradient[1]) / det, -1.5, 1.5)
            slope = slope + np.clip((a * gradient[1] - b * gradient[0]) / det, -0.1, 0.1)
        for j, h in enumerate(horizons):
            mean[:, at, j] = level + slope * h
            of_line = (c - 2 * b * h + a * h**2) / det
            sd[:, at, j] = np.sqrt(of_line + (growth_sd * h) ** 2)
    return mean[g.at], sd[g.at]


def dynamic_glm(
    of: Seasons,
    horizons: Sequence[int],
    level_discount: float = 0.6,
    slope_discount: float = 0.9,
    slope_mean: float = 0.0,
    slope_sd: float = 0.03,
    noise: Noise = NOISE,
) -> Forecasts:
    """A dynamic NB regression with a local line, by discounts a week (West, Harrison, Migon 1985).

    The state is level and slope; between walks its covariance is divided by the discounts, at a
    walk it is updated at the mode of NB likelihood and prior.
    """
    g = grid(of)
    inverse_r = noise.one_over_r(of, g)
    m = np.stack([np.log(of.reference), np.full(of.series, slope_mean)])
    c = np.zeros((2, 2, of.series))
    c[0, 0], c[1, 1] = FIRST_VARIANCE, slope_sd**2
    discounts = np.array([level_discount, slope_discount])
    mean = np.empty((*g.day.shape, len(horizons)))
    sd = np.empty_like(mean)
    for at in range(g.day.shape[1]):
        if at > 0:
            m, c = _evolved(m, c, np.nan_to_num(g.day[:, at] - g.day[:, at - 1]), discounts)
        there = g.there[:, at] > 0
        m, c = _updated(m, c, g.count[:, at], g.effort[:, at], inverse_r[:, at], there)
        for j, h in enumerate(horizons):
            ahead, spread = _evolved(m, c, np.full(of.series, float(h)), discounts)
            mean[:, at, j], sd[:, at, j] = ahead[0], np.sqrt(spread[0, 0])
    return mean[g.at], sd[g.at]


def _evolved(m: Floats, c: Floats, days: Floats, discounts: Floats) -> tuple[Floats, Floats]:
    ahead = np.stack([m[0] + days * m[1], m[1]])
    moved = np.empty_like(c)
    moved[0, 0] = c[0, 0] + 2 * days * c[0, 1] + days**2 * c[1, 1]
    moved[0, 1] = moved[1, 0] = c[0, 1] + days * c[1, 1]
    moved[1, 1] = c[1, 1]
    wider = discounts[:, None] ** (-days / 14)
    return ahead, moved * wider[:, None] * wider[None, :]


def _updated(
    m: Floats, c: Floats, count: Floats, effort: Floats, inverse_r: Floats, there: Floats
) -> tuple[Floats, Floats]:
    prior, x = m[0], m[0].copy()
    for _ in range(12):
        expected = effort * np.exp(np.clip(x, -20, 15))
        shrink = 1 / (1 + inverse_r * expected)
        weight = expected * (1 + inverse_r * count) * shrink**2
        step = ((count - expected) * shrink - (x - prior) / c[0, 0]) / (weight + 1 / c[0, 0])
        x = x + np.clip(step, -1.5, 1.5)
    variance = 1 / (weight + 1 / c[0, 0])
    gain = c[:, 0] / c[0, 0]
    m_new = m + gain * (x - prior)
    c_new = c + gain[:, None] * gain[None, :] * (variance - c[0, 0])
    return np.where(there, m_new, m), np.where(there, c_new, c)


def exponential_smoothing(
    of: Seasons,
    horizons: Sequence[int],
    level: float = 0.7,
    trend: float = 0.1,
    damping: float = 0.8,
    slope_start: float = 0.0,
    growth_sd: float = 0.02,
) -> Forecasts:
    """Level and damped trend of the log mean (Holt 1957, Gardner 1985); weights are a week's."""
    g = grid(of)
    y = np.log((g.count + HALF) / np.maximum(g.effort, 1e-9))
    noise = 1 / (g.count + HALF) + NOISE.one_over_r(of, g)
    at_level, slope = y[:, 0].copy(), np.full(of.series, slope_start)
    variance = noise[:, 0].copy()
    h = np.asarray(horizons, dtype=float)
    mean = np.empty((*g.day.shape, len(h)))
    sd = np.empty_like(mean)
    for at in range(g.day.shape[1]):
        if at > 0:
            days = np.nan_to_num(g.day[:, at] - g.day[:, at - 1])
            there = (days > 0) & (g.there[:, at] > 0)
            a = np.where(there, 1 - (1 - level) ** (days / 7), 0)
            expected = at_level + slope * _damped(damping, days)
            gap = np.where(there, y[:, at] - expected, 0)
            at_level = np.where(there, expected + a * gap, at_level)
            slope = slope + trend * gap / np.maximum(days, 1)
            spread = variance + (growth_sd * days) ** 2
            variance = np.where(there, a**2 * noise[:, at] + (1 - a) ** 2 * spread, variance)
        mean[:, at] = at_level[:, None] + slope[:, None] * _damped(damping, h)
        sd[:, at] = np.sqrt(variance[:, None] + (growth_sd * h) ** 2)
    return mean[g.at], sd[g.at]


def _damped(damping: float, days: Floats) -> Floats:
    """Days that a trend still counts for, when it shrinks by the damping each week."""
    if damping == 1:
        return np.asarray(days)
    rate = -np.log(damping) / 7
    return np.asarray((1 - np.exp(-rate * days)) / rate)


def told_glm(of: Seasons, horizons: Sequence[int]) -> Forecasts:
    """The dynamic GLM that is told the mean growth of all series of the development seeds."""
    return dynamic_glm(
        of, horizons, level_discount=0.5, slope_discount=0.9, slope_mean=0.035, slope_sd=0.005
    )


RIVALS: dict[str, Engine] = {
    "last value": last_value,
    "mean of 3 walks": walks_mean,
    "NB trend of 5 walks": window_trend,
    "dynamic GLM": dynamic_glm,
    "exponential smoothing": exponential_smoothing,
    "dynamic GLM, told the mean growth": told_glm,
}


def scaled(engine: Engine, factors: Sequence[float]) -> Engine:
    """The engine with its sd times a factor of each horizon."""

    def widened(of: Seasons, horizons: Sequence[int]) -> Forecasts:
        mean, sd = engine(of, horizons)
        return mean, sd * np.asarray(factors)

    return widened
