"""Simulated seasons on which forecasts are judged: walks and counts of many series, and the truth.

Settings stand in bench/forecast_settings.json and were committed before the seeds of judging, in
bench/forecast_seeds.json. A series is a bench in a house, one pest, one method; half of the series
come from a model of stages on spots of a bench, half from lines of growth.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from forecast_worlds import (
    Floats,
    Ints,
    Lived,
    Settings,
    Sprays,
    by_growth,
    by_stages,
    drawn_sprays,
    spares,
    temperature,
)

FOLDER = Path(__file__).parent
SETTINGS: Settings = json.loads((FOLDER / "forecast_settings.json").read_text("utf-8"))
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Seasons:
    """Flat arrays; walks are sorted by (series, day), treatments too.

    Truth: density of each day in the unit that is counted, per plant or per card and day.
    """

    pest: NDArray[np.str_]  # of each series
    card: Bools
    staged: Bools  # from the model of stages
    house: Ints
    threshold: Floats
    reference: Floats
    truth: Floats  # (series, days)
    walk_series: Ints
    walk_day: Ints
    count: Ints
    effort: Floats  # plants, or card-days
    units: Floats  # plants, or cards
    exposure: Floats  # days of a card, 0 for plants
    spray_series: Ints
    spray_day: Ints
    spray_kind: NDArray[np.str_]
    spray_kill: Floats  # of the stages that it reaches
    spray_spares: Bools
    temperature: Floats  # (houses, days)

    @property
    def series(self) -> int:
        return len(self.pest)


# columns of walks and sprays that name a series
_POINTS_TO_SERIES = ("walk_series", "spray_series")
_OF_A_WALK = ("walk_series", "walk_day", "count", "effort", "units", "exposure")


def seasons(seed: int, settings: Settings = SETTINGS, houses: int | None = None) -> Seasons:
    """Seasons of a seed; with ``houses``, only so many of each model."""
    parts = []
    for which, name in enumerate(settings["houses"]):
        number = settings["houses"][name] if houses is None else houses
        for n in range(number):
            rng = np.random.default_rng([seed, which, n])
            parts.append(_house(settings, name, n, rng))
    return joined(parts)


def joined(parts: Sequence[Seasons]) -> Seasons:
    """Seasons one after the other."""
    before = np.cumsum([0, *(part.series for part in parts)])
    houses = np.cumsum([0, *(len(part.temperature) for part in parts)])
    columns = {}
    for field in fields(Seasons):
        held = [getattr(part, field.name) for part in parts]
        if field.name in _POINTS_TO_SERIES:
            held = [h + b for h, b in zip(held, before, strict=False)]
        if field.name == "house":
            held = [h + b for h, b in zip(held, houses, strict=False)]
        columns[field.name] = np.concatenate(held)
    return Seasons(**columns)


def some(of: Seasons, kept: Bools) -> Seasons:
    """Only the series that are kept; houses stay."""
    new = np.cumsum(kept) - 1
    columns = {}
    for field in fields(Seasons):
        held = getattr(of, field.name)
        if field.name == "temperature":
            columns[field.name] = held
        elif field.name.startswith("spray_"):
            columns[field.name] = held[kept[of.spray_series]]
        elif field.name in _OF_A_WALK:
            columns[field.name] = held[kept[of.walk_series]]
        else:
            columns[field.name] = held[kept]
    for name in _POINTS_TO_SERIES:
        columns[name] = new[columns[name]]
    return Seasons(**columns)


def upto(of: Seasons, day: int) -> Seasons:
    """What is known in the evening of a day: nothing is seen, sprayed, measured or true after."""
    walks, sprays = of.walk_day <= day, of.spray_day <= day
    columns = {}
    for field in fields(Seasons):
        held = getattr(of, field.name)
        if field.name.startswith("spray_"):
            held = held[sprays]
        elif field.name in _OF_A_WALK:
            held = held[walks]
        elif field.name in ("truth", "temperature"):
            held = held.copy()
            held[:, day + 1 :] = np.nan
        columns[field.name] = held
    return Seasons(**columns)


def _house(settings: Settings, world: str, n: int, rng: np.random.Generator) -> Seasons:
    staged = world == "stages"
    pest = list(settings["pests"])[n % len(settings["pests"])]
    units = settings["units_a_house"]
    warmth = temperature(settings, rng)
    sprays = drawn_sprays(settings, rng)
    model: Callable[..., Lived] = by_stages if staged else by_growth
    lived = model(settings, pest, warmth, sprays, rng)
    thresholds = settings["pests"][pest]["threshold"]
    card = (rng.random(units) < settings["share_of_cards"]) & ("cards" in thresholds)
    catch = settings["card_catch"][0] * np.exp(rng.normal(0, settings["card_catch"][1], (units, 1)))
    truth = np.where(card[:, None], lived.adults * catch, lived.density)
    over = settings["threshold_over_pest"]
    times = rng.choice([float(f) for f in over], units, p=list(over.values()))
    walks = _walks(settings, card, lived, truth, rng)
    order = np.lexsort((sprays.day, sprays.unit))
    return Seasons(
        pest=np.full(units, pest),
        card=card,
        staged=np.full(units, staged),
        house=np.zeros(units, dtype=np.int64),
        threshold=times * [thresholds["cards" if c else "plants"] for c in card],
        reference=np.array([settings["reference"]["cards" if c else "plants"] for c in card]),
        truth=truth,
        temperature=warmth[None],
        spray_series=sprays.unit[order],
        spray_day=sprays.day[order],
        spray_kind=np.array(sprays.kind, dtype="<U20")[order],
        spray_kill=sprays.kill[order],
        spray_spares=_spared(settings, pest, staged, sprays)[order],
        **walks,
    )


def _spared(settings: Settings, pest: str, staged: bool, sprays: Sprays) -> Bools:
    if staged:
        has_eggs = settings["pests"][pest]["stages"][0][0] == "egg"
        return np.full(len(sprays.unit), has_eggs)
    share = settings["simple"]["spared"]["share"]
    pairs = zip(sprays.unit.tolist(), sprays.day.tolist(), strict=True)
    return np.array([spares(unit, day, share) for unit, day in pairs], dtype=bool)


def _walks(
    settings: Settings, card: Bools, lived: Lived, truth: Floats, rng: np.random.Generator
) -> dict[str, NDArray[np.generic]]:
    rows = []
    for unit in range(len(card)):
        days = _walk_days(settings, rng)
        look = _card_catches if card[unit] else _plant_counts
        rows.append((unit, days, *look(settings, lived, truth, unit, days, rng)))
    return {
        "walk_series": np.concatenate([np.full(len(days), unit) for unit, days, *_ in rows]),
        "walk_day": np.concatenate([days for _, days, *_ in rows]),
        **{
            name: np.concatenate([row[2 + at] for row in rows])
            for at, name in enumerate(("count", "effort", "units", "exposure"))
        },
    }


def _walk_days(settings: Settings, rng: np.random.Generator) -> Ints:
    """Planned every week; early, late or left out. The last horizon stays within the season."""
    begin = rng.integers(*settings["first_walk"])
    planned = np.arange(begin, settings["days"] - 18, settings["walk_every"])
    late = settings["walk_late"]
    moved = planned + rng.choice([int(d) for d in late], len(planned), p=list(late.values()))
    kept = rng.random(len(planned)) >= settings["missed"]
    kept[0] = True
    return np.unique(moved[kept]).astype(np.int64)


def _round_error(settings: Settings, method: str, size: int, rng: np.random.Generator) -> Floats:
    """Of a whole walk: the scout, the hour, the weather; the mean is 1."""
    variance = settings["round_variance"][method]
    return np.asarray(np.exp(rng.normal(-variance / 2, np.sqrt(variance), size)))


def _k(settings: Settings, method: str, rng: np.random.Generator) -> float:
    median, sd = settings[f"k_{method}"]
    return float(median * np.exp(rng.normal(0, sd)))


def _plant_counts(
    settings: Settings,
    lived: Lived,
    truth: Floats,
    unit: int,
    days: Ints,
    rng: np.random.Generator,
) -> tuple[Ints, Floats, Floats, Floats]:
    n = int(rng.integers(settings["plants"][0], settings["plants"][1] + 1))
    k, error = _k(settings, "plants", rng), _round_error(settings, "plants", len(days), rng)
    if lived.seen is None:
        mean = np.repeat(truth[unit, days][:, None], n, axis=1)
    else:
        spot = settings["bench"]["plants_a_spot"]
        plants = lived.seen.shape[2] * spot
        chosen = np.argsort(rng.random((len(days), plants)), axis=1)[:, :n] // spot
        mean = np.take_along_axis(lived.seen[unit, days], chosen, axis=1) / spot
        # spots already differ: within one, plants differ less
        k = 2 * k
    on_plants = rng.poisson(error[:, None] * mean * rng.gamma(k, 1 / k, mean.shape))
    full = np.full(len(days), float(n))
    return on_plants.sum(axis=1), full, full, np.zeros(len(days))


def _card_catches(
    settings: Settings,
    lived: Lived,
    truth: Floats,
    unit: int,
    days: Ints,
    rng: np.random.Generator,
) -> tuple[Ints, Floats, Floats, Floats]:
    """Cards hang from the walk before to this one, a week before the first."""
    n = int(rng.integers(settings["cards"][0], settings["cards"][1] + 1))
    hung = np.diff(days, prepend=days[0] - 7)
    k, error = _k(settings, "cards", rng), _round_error(settings, "cards", len(days), rng)
    active = np.exp(rng.normal(0, settings["activity_sd"], truth.shape[1]))
    upto = np.concatenate([[0.0], np.cumsum(truth[unit] * active)])
    # evenings of the day after hanging up to the day of the walk
    flown = upto[days + 1] - upto[days + 1 - hung]
    caught = rng.poisson((error * flown)[:, None] * rng.gamma(k, 1 / k, (len(days), n)))
    cards = np.full(len(days), float(n))
    return caught.sum(axis=1), cards * hung, cards, hung.astype(np.float64)
