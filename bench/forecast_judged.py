"""Forecasts on simulated seasons: the filter as shipped beside plain rivals, with what it needs.

The rivals' widths are fitted on the development seeds, everything is scored on the judging seeds.
With ``--docs`` only the page is written from the results.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import scipy

from benchwalk.science.forecast import DEFAULTS, Methods
from forecast_filter import filtered, refitted
from forecast_rivals import RIVALS, Engine, Forecasts, scaled
from forecast_scores import (
    WITHIN_80,
    Asked,
    asked,
    bootstrapped,
    by_series,
    covered,
    crps,
    probability_over,
    reliability,
    warned,
    widening,
)
from forecast_seasons import Bools, Seasons, joined, seasons
from forecast_tables import PAGE, written
from kept import head, keep, run_with_page

FOLDER = Path(__file__).parent
SEEDS = json.loads((FOLDER / "forecast_seeds.json").read_text("utf-8"))
HORIZONS = (7, 14)
BOOT = 20


def figures(of: Seasons, engine: Engine, asks: Asked) -> dict[str, Any]:
    """All scores of an engine."""
    begun = time.process_time()
    mean, sd = engine(of, HORIZONS)
    took = time.process_time() - begun
    p = probability_over(mean, sd, asks)
    over = asks.truth >= asks.threshold
    below = sheet_below(of)
    held = reliability(p[asks.kept], over[asks.kept])
    warnings = warned(of, p[:, 0], asks.kept[:, 0])
    return {
        **scored(mean, sd, asks, asks.kept),
        "brier": each((p - over) ** 2, asks.kept),
        "brier_sheet_below": each((p - over) ** 2, asks.kept & below),
        "reliability_worst": round(held.worst, 4),
        "reliability_said": held.said.round(4).tolist(),
        "reliability_came": held.came.round(4).tolist(),
        "reliability_n": held.number,
        "warned": round(warnings.share, 4),
        "warned_days": round(warnings.days, 2),
        "warned_level": round(warnings.level, 4),
        "crossings": warnings.crossings,
        "seconds_per_1000_series": round(1000 * took / of.series, 3),
    }


def sheet_below(of: Seasons) -> Bools:
    """Walks whose own count is below the threshold: where a warning is worth something."""
    return np.asarray((of.count / of.effort < of.threshold[of.walk_series])[:, None])


def each(value: np.ndarray, kept: Bools) -> list[float]:
    """Mean of each horizon."""
    return [round(float(value[kept[:, j], j].mean()), 4) for j in range(len(HORIZONS))]


def scored(mean: np.ndarray, sd: np.ndarray, asks: Asked, kept: Bools) -> dict[str, Any]:
    """CRPS, coverage and width, with intervals by series."""
    rng = np.random.default_rng(BOOT)
    number = int(asks.series.max()) + 1
    score, inside = crps(mean, sd, asks), covered(mean, sd, asks).astype(float)
    ends = []
    for j in range(len(HORIZONS)):
        column = kept & (np.arange(len(HORIZONS)) == j)
        sums = (by_series(value, column, asks.series, number) for value in (score, inside))
        ends.append([rounded(bootstrapped(*pair, rng)) for pair in sums])
    return {
        "n": int(kept.sum()),
        "crps": each(score, kept),
        "crps_ends": [e[0] for e in ends],
        "cover": each(inside, kept),
        "cover_ends": [e[1] for e in ends],
        "width": each(2 * WITHIN_80 * sd, kept),
    }


def rounded(ends: tuple[float, float]) -> list[float]:
    return [round(end, 4) for end in ends]


def better(mine: Forecasts, other: Forecasts, asks: Asked, kept: Bools) -> dict[str, Any]:
    """Share of the other's CRPS that is saved, both horizons together."""
    number = int(asks.series.max()) + 1
    sums = [by_series(crps(*f, asks), kept, asks.series, number)[0] for f in (mine, other)]
    low, high = bootstrapped(sums[0], sums[1], np.random.default_rng(BOOT))
    saved = 1 - float(sums[0].sum() / sums[1].sum())
    return {"saved": round(saved, 4), "ends": rounded((1 - high, 1 - low))}


def without() -> dict[str, tuple[Engine, Callable[[Seasons], Seasons]]]:
    """The filter with something taken away: the engine, and what it is given."""
    group = DEFAULTS.common
    start = Methods()

    def moved(days: int) -> Callable[[Seasons], Seasons]:
        return lambda of: replace(of, spray_day=of.spray_day + days)

    def same(of: Seasons) -> Seasons:
        return of

    return {
        "as shipped": (filtered(), same),
        "no growth prior": (filtered(replace(DEFAULTS, common=replace(group, a=0.0))), same),
        "no growth deviation": (filtered(replace(DEFAULTS, common=replace(group, sg=0.0))), same),
        "treatment dates unknown": (filtered(), untreated),
        "treatments two days late": (filtered(), moved(2)),
        "treatments two days early": (filtered(), moved(-2)),
        "no round error (so2 = 0)": (filtered(methods=Methods(start.k, 0 * start.so2)), same),
        "temperature ahead known": (filtered(weather_known=True), same),
    }


def untreated(of: Seasons) -> Seasons:
    none = {
        f"spray_{name}": getattr(of, f"spray_{name}")[:0]
        for name in ("series", "day", "kind", "kill", "spares")
    }
    return replace(of, **none)


def ablations(of: Seasons, asks: Asked) -> dict[str, Any]:
    """All forecasts, and those of the three weeks after a treatment, where dates matter."""
    after = soon_after(of)[:, None] & asks.kept
    found = {}
    for name, (engine, given) in without().items():
        mean, sd = engine(given(of), HORIZONS)
        found[name] = {
            **scored(mean, sd, asks, asks.kept),
            "crps_after": each(crps(mean, sd, asks), after),
            "cover_after": each(covered(mean, sd, asks).astype(float), after),
            "n_after": int(after.sum()),
        }
    return found


def soon_after(of: Seasons, days: int = 21) -> Bools:
    """Walks so many days after a treatment."""
    key = of.walk_series * 1000 + of.walk_day
    sprays = np.concatenate([[-(10**9)], np.sort(of.spray_series * 1000 + of.spray_day)])
    last = sprays[np.searchsorted(sprays, key, side="right") - 1]
    return np.asarray(key - last <= days)


def judged(development: Seasons, judging: Seasons) -> dict[str, Any]:
    """Factors from one set of seasons, every score from the other."""
    asks, learned = asked(judging, HORIZONS), asked(development, HORIZONS)
    engines: dict[str, Engine] = {"filter": filtered()}
    factors = {}
    for name, rival in RIVALS.items():
        factors[name] = widening(*rival(development, HORIZONS), learned, learned.kept)
        engines[name] = scaled(rival, factors[name])
    engines["filter, refitted"] = refitted(development)
    said = {name: engine(judging, HORIZONS) for name, engine in engines.items()}
    staged = judging.staged[asks.series][:, None]
    below = asks.kept & sheet_below(judging)
    parts = {
        "all": asks.kept,
        "count below the threshold": below,
        "model of stages": asks.kept & staged,
        "lines of growth": asks.kept & ~staged,
        "plants": asks.kept & ~judging.card[asks.series][:, None],
        "cards": asks.kept & judging.card[asks.series][:, None],
        "walks 2 and 3": asks.kept & asks.early,
        "rebound": asks.kept & asks.rebound,
        "without walks 2, 3 and rebound": asks.kept & ~asks.early & ~asks.rebound,
    }
    return {
        "series": judging.series,
        "walks": len(judging.walk_day),
        "forecasts": int(asks.kept.sum()),
        "factors": factors,
        "engines": {name: figures(judging, engine, asks) for name, engine in engines.items()},
        "saved": {
            mine: {n: better(said[mine], said[n], asks, asks.kept) for n in RIVALS}
            for mine in ("filter", "filter, refitted")
        },
        "saved_sheet_below": {n: better(said["filter"], said[n], asks, below) for n in RIVALS},
        "parts": {n: scored(*said["filter"], asks, kept) for n, kept in parts.items()},
        "ablations": ablations(judging, asks),
    }


def measure(*, write: bool) -> None:
    begun = time.process_time()
    sets = [joined([seasons(seed) for seed in SEEDS[name]]) for name in ("development", "judging")]
    lived = time.process_time() - begun
    held = {
        **head(SEEDS["judging"]),
        "development": SEEDS["development"],
        "numpy": np.__version__,
        "scipy": scipy.__version__,
        "seconds_of_simulation_per_1000_series": round(
            1000 * lived / sum(of.series for of in sets), 2
        ),
        "params": {name: getattr(DEFAULTS.common, name) for name in ("a", "rho", "sg", "q")},
        **judged(*sets),
    }
    keep("forecast_judged", held, write=write)


def main() -> None:
    run_with_page(__doc__, measure, PAGE, written, "forecast_judged")


if __name__ == "__main__":
    main()
