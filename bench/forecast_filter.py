"""The filter as one engine among others: from seasons to its arrays, and to forecasts.

What lay ahead of a walk is not known to its forecast: no count, no treatment, no temperature. The
filter itself takes the temperatures it is given; those after the walk are taken out of its mean
again and the house's mean so far put in their place, as when readings end on the day of the walk.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from benchwalk.science import forecast
from benchwalk.science.forecast import DEFAULTS, Methods, Params
from benchwalk.science.forecast.fit import fit
from forecast_rivals import Engine, Forecasts
from forecast_seasons import SETTINGS, Seasons
from forecast_worlds import Floats, Ints

PESTS = list(SETTINGS["pests"])
# densities are those of evenings, and a treatment without an hour was made at noon
EVENING, NOON = 1.0, 0.5
HOTTEST = 33.0


def filtered(
    params: Params = DEFAULTS,
    methods: Methods | None = None,
    weather_known: bool = False,
    group_of_key: Ints | None = None,
) -> Engine:
    """The filter with these parameters, as an engine.

    Parameters
    ----------
    group_of_key : the group of ``params`` that each :func:`key` has, -1 for what is common.
    """

    def engine(of: Seasons, horizons: Sequence[int]) -> Forecasts:
        given = arrays(of, methods)
        a = np.full(of.series, params.common.a)
        if group_of_key is not None:
            given = replace(given, group=group_of_key[key(of)])
            a = np.array([*(one.a for one in params.groups), params.common.a])[given.group]
        result = forecast.run(given, params, tuple(float(h) for h in horizons))
        if weather_known:
            return result.mean + a[of.walk_series, None] * surprise(of, horizons), result.sd
        return result.mean, result.sd

    return engine


def refitted(of: Seasons) -> Engine:
    """The filter with what it learned from the counts of these seasons, never from the truth."""
    learned = fit(arrays(of), key(of), version="development")
    group_of_key = np.full(2 * len(PESTS), -1, dtype=np.int64)
    group_of_key[key(of)] = learned.group
    return filtered(learned.params, learned.methods, group_of_key=group_of_key)


def key(of: Seasons) -> Ints:
    """A number for each pest and method."""
    return np.asarray(2 * _pest(of) + of.card)


def arrays(of: Seasons, methods: Methods | None = None) -> forecast.Series:
    """Seasons as the filter takes them. No truth, and nothing of how it came about, goes in."""
    pests = SETTINGS["pests"]
    return forecast.Series(
        series=of.walk_series,
        day=of.walk_day + EVENING,
        count=of.count.astype(float),
        effort=of.effort,
        plants=of.units,
        kind=np.where(of.exposure > 0, forecast.Kind.CARD, forecast.Kind.COUNT),
        exposure=of.exposure,
        reference=of.reference,
        threshold=of.threshold,
        pest=_pest(of),
        method=of.card.astype(np.int64),
        house=of.house,
        methods=Methods() if methods is None else methods,
        pests=forecast.Pests(
            np.array([pests[name]["r30"] for name in PESTS]),
            np.array([pests[name]["base"] for name in PESTS]),
        ),
        temperature=forecast.Temperature(0, of.temperature),
        treatments=forecast.Treatments(
            of.spray_series, of.spray_day + NOON, tuple(of.spray_kind.tolist())
        ),
    )


def _pest(of: Seasons) -> Ints:
    return np.array([PESTS.index(name) for name in of.pest.tolist()], dtype=np.int64)


def surprise(of: Seasons, horizons: Sequence[int]) -> Floats:
    """Growth of the days ahead at their temperatures, less that at the house's mean so far.

    Where readings end, the days ahead are at the mean of all readings, as the filter has them.
    """
    pests, pest, house = SETTINGS["pests"], _pest(of), of.house
    r30 = np.array([pests[name]["r30"] for name in PESTS])[pest]
    base = np.array([pests[name]["base"] for name in PESTS])[pest]
    days = np.arange(of.temperature.shape[1]) + 1
    known = np.where(np.isnan(of.temperature), 0, of.temperature)
    so_far = np.cumsum(known, axis=1) / days
    mean = np.nanmean(of.temperature, axis=1, keepdims=True)
    filled = np.where(np.isnan(of.temperature), mean, of.temperature)

    def rate(warmth: Floats) -> Floats:
        above = np.maximum(np.minimum(warmth, HOTTEST) - base[:, None], 0)
        return np.asarray((r30 / (30 - base))[:, None] * above)

    grown = np.pad(np.cumsum(rate(filled[house]), axis=1), ((0, 0), (1, 0)))
    row, at = of.walk_series, of.walk_day + 1
    usual = rate(so_far[house])[row, of.walk_day]
    return np.stack([grown[row, at + h] - grown[row, at] - h * usual for h in horizons], axis=1)
