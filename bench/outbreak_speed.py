"""How fast an outbreak runs, beside its bare random draws in the same run.

A plant-stage-day is one stage present on one plant for one day. The bare draws are the calls of
the random generator that the run itself makes, timed one by one; a share of 1 would be a model
that costs nothing but chance. Goal: 0.6. A figure of the machine it was run on; it fails no test.
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import numpy as np

from benchwalk.science.outbreak import (
    Bench,
    Flight,
    Population,
    Stage,
    life_cycle_growing_at,
    planted,
)
from kept import head, keep, options

SEED = 20
GOAL = 0.6
WARMTH = 10.0
DAYS = 100
ROOT = Path(__file__).parent.parent
CYCLE = life_cycle_growing_at(
    0.0097, (Stage("egg", 46, 0.8), Stage("larva", 90, 0.7), Stage("pupa", 58, 0.8)), 150
)
LAYOUT = planted([Bench(0, 6 * n, 2, 5, 0.25) for n in range(16)])
# founders on every so many plants, flight and replicates of each case
CASES = {
    "few plants infested": (400, None, 4),
    "all plants infested": (1, None, 4),
    "few at first, flying": (400, Flight(0.1, 0.8, 0.05), 4),
    "few at first, flying, one replicate": (400, Flight(0.1, 0.8, 0.05), 1),
}


class TimedDraws:
    """A generator that adds up the time of its draws."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng, self.seconds = rng, 0.0

    def __getattr__(self, name: str) -> Any:
        draw = getattr(self.rng, name)

        def timed(*args: Any, **named: Any) -> Any:
            begun = time.perf_counter()
            drawn = draw(*args, **named)
            self.seconds += time.perf_counter() - begun
            return drawn

        return timed


def run(every: int, flight: Flight | None, replicates: int) -> dict[str, float]:
    rng = TimedDraws(np.random.default_rng(SEED))
    population = Population(CYCLE, LAYOUT, rng, replicates=replicates, flight=flight, room=400)
    founders = np.zeros(LAYOUT.plants, dtype=int)
    founders[::every] = 3
    population.arrive("adult", founders)
    rng.seconds, spent, stage_days = 0.0, 0.0, 0
    for _ in range(DAYS):
        begun = time.perf_counter()
        population.step(WARMTH)
        spent += time.perf_counter() - begun
        stage_days += sum(int((population.number(s) > 0).sum()) for s in CYCLE.names)
    return {
        "plant_stage_days": stage_days,
        "a_second": round(stage_days / spent),
        "a_second_bare_draws": round(stage_days / rng.seconds),
        "share": round(rng.seconds / spent, 2),
    }


def main() -> None:
    asked = options(__doc__).parse_args()
    held = {
        **head(SEED),
        "numpy": np.__version__,
        "goal": GOAL,
        "plants": LAYOUT.plants,
        "days": DAYS,
        "cases": {name: run(*case) for name, case in CASES.items()},
    }
    keep("outbreak_speed", held, write=asked.write)


if __name__ == "__main__":
    main()
