"""How long a person waits for ``benchwalk demo`` the first time and the next, and on what.

Budget: under 20 s for the first. A figure of the machine it was run on; it fails no test.
"""

from __future__ import annotations

import datetime as dt
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from benchwalk.demo import scenario
from benchwalk.demo.growing import DAYS, Growing
from benchwalk.demo.scouting import SCOUTS, looks
from kept import head, keep, options

BUDGET_S = 20.0


def waited(data: str) -> tuple[float, float]:
    """Seconds in all, and of a processor: the second says more on a busy machine."""
    before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    command = [sys.executable, "-m", "benchwalk", "demo", "--data", data]
    environment = {k: v for k, v in os.environ.items() if k != "BENCHWALK_DATABASE"}
    subprocess.run(command, check=True, capture_output=True, env=environment)
    in_all, after = time.perf_counter() - begun, resource.getrusage(resource.RUSAGE_CHILDREN)
    busy = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return round(in_all, 2), round(busy, 2)


def growing_and_scouting() -> tuple[float, float]:
    """Seconds to grow the half year, and to look at plants in it; nothing is written."""
    grown, scouted = 0.0, 0.0
    growing, rng = Growing(), np.random.default_rng(scenario.SEED)
    for n in range(DAYS):
        day = scenario.FIRST + dt.timedelta(days=n)
        begun = time.perf_counter()
        growing.live(day)
        grown += time.perf_counter() - begun
        if day.weekday() == 1:
            begun = time.perf_counter()
            for unit in scenario.units().values():
                if unit.alive(day):
                    looks(growing, unit, SCOUTS[0], rng)
            scouted += time.perf_counter() - begun
    return round(grown, 2), round(scouted, 2)


def main() -> None:
    asked = options(__doc__).parse_args()
    with tempfile.TemporaryDirectory() as data:
        first, second = waited(data), waited(data)
        megabytes = sum(p.stat().st_size for p in Path(data).rglob("*.sqlite")) / 1e6
    grown, scouted = growing_and_scouting()
    held = {
        **head(scenario.SEED),
        "budget_s": BUDGET_S,
        "first_s": first[0],
        "first_processor_s": first[1],
        "second_s": second[0],
        "second_processor_s": second[1],
        "of_the_first_growing_s": grown,
        "of_the_first_looking_s": scouted,
        "database_mb": round(megabytes, 1),
    }
    keep("demo_build", held, write=asked.write)


if __name__ == "__main__":
    main()
