"""An office at work: five people open pages while somebody brings in walk after walk.

The records are those of the bench of the week. Each of five people, signed in, opens the week, the
same kept to a house, a unit that it names and the looks behind a number, one page after another.
Meanwhile whole walks are written as an importer writes them, every few seconds. Counted are answers
that are no page, and refused writes; the memory of this process (server and people in one) is read
as it goes: flat is a last third that is at most a tenth above the third before it.
"""

from __future__ import annotations

import datetime as dt
import os
import random
import re
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median
from typing import Any

import httpx
import numpy as np
import sqlalchemy as sa

from benchwalk.records.database import open_database, writing
from benchwalk.records.ledger import write_new
from benchwalk.web.base import COOKIE
from kept import head, keep, options
from week_page import FIRST, SEED, Ground, listening, served, walked

sys.path[:0] = [str(Path(__file__).parent.parent)]

from tests.patience import all_ended  # noqa: E402 - the root has to be on the path first

PEOPLE, UNITS, WEEKS, SECONDS = 5, 40, 60, 300
EVERY_S, SAMPLED_S = 5.0, 2.0  # between two walks that are brought in; between two readings
PAGES = re.compile(r'href="(/(?:units|looks)[^"#]*)"')
MOST_GROWN = 1.10


@dataclass
class Seen:
    """What happened, by every thread."""

    stop: threading.Event = field(default_factory=threading.Event)
    answers: Counter[int] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    took_ms: list[float] = field(default_factory=list)
    walks: int = 0
    memory_mb: list[float] = field(default_factory=list)


def clicking(url: str, token: str, seen: Seen, seed: int) -> None:
    """One person, until it is over."""
    chance = random.Random(seed)
    with httpx.Client(base_url=url, cookies={COOKIE: token}, timeout=120, trust_env=False) as who:
        while not seen.stop.is_set():
            week = opened(who, chance.choice(["/", "/", "/?house=House+1"]), seen)
            onward = PAGES.findall(week)
            for path in chance.sample(onward, min(2, len(onward))):
                opened(who, path.replace("&amp;", "&"), seen)


def opened(who: httpx.Client, path: str, seen: Seen) -> str:
    begun = time.perf_counter()
    try:
        answer = who.get(path)
    except httpx.HTTPError as error:
        seen.wrong.append(f"{path}: {error!r}")
        return ""
    seen.took_ms.append(1000 * (time.perf_counter() - begun))
    seen.answers[answer.status_code] += 1
    if answer.status_code != httpx.codes.OK:
        seen.wrong.append(f"{path}: {answer.status_code}")
    return answer.text


def bringing_in(engine: sa.Engine, operation: int, ground: Ground, seen: Seen) -> None:
    """One walk of all units after another, each the week after the one before."""
    rng = np.random.default_rng(SEED + 2)
    while not seen.stop.wait(EVERY_S):
        day = FIRST + dt.timedelta(weeks=WEEKS + seen.walks)
        try:
            with writing(engine, operation) as s:
                write_new(s, ground.walk(day, rng))
        except sa.exc.SQLAlchemyError as error:
            seen.wrong.append(f"walk of {day}: {error!r}")
        else:
            seen.walks += 1


def memory_mb() -> float:
    """What this process holds of the machine's memory, by Linux' own account (proc(5), statm)."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


@contextmanager
def records(url: str | None) -> Iterator[tuple[sa.Engine, int, Ground]]:
    with tempfile.TemporaryDirectory() as folder:
        engine = open_database(url or f"sqlite:///{Path(folder) / 'bench.sqlite'}")
        yield engine, *walked(engine, "Bench of an office (invented)", UNITS, WEEKS)
        engine.dispose()


def soaked(url: str | None, seconds: float) -> Seen:
    """Let the office work for some seconds; ``url`` names an empty PostgreSQL database."""
    seen = Seen()
    with records(url) as (engine, operation, ground):
        app, _ = served(engine, operation)
        tokens = [served(engine, operation)[1] for _ in range(PEOPLE)]
        with listening(app) as address:
            threads = [
                threading.Thread(target=clicking, args=(address, token, seen, n), daemon=True)
                for n, token in enumerate(tokens)
            ]
            given = (engine, operation, ground, seen)
            threads.append(threading.Thread(target=bringing_in, args=given, daemon=True))
            for thread in threads:
                thread.start()
            until = time.monotonic() + seconds
            while time.monotonic() < until:
                time.sleep(SAMPLED_S)
                seen.memory_mb.append(memory_mb())
            seen.stop.set()
            all_ended(threads)
    return seen


def figures(seen: Seen) -> dict[str, Any]:
    third = len(seen.memory_mb) // 3
    before, last = median(seen.memory_mb[third : 2 * third]), median(seen.memory_mb[2 * third :])
    quick = sorted(seen.took_ms)
    return {
        "pages": sum(seen.answers.values()),
        "walks_brought_in": seen.walks,
        "wrong": seen.wrong[:20],
        "median_ms": round(median(quick), 1),
        "of_100_the_99th_ms": round(quick[int(0.99 * (len(quick) - 1))], 1),
        "memory_mb": [round(m, 1) for m in (seen.memory_mb[0], before, last, max(seen.memory_mb))],
        "flat": last <= MOST_GROWN * before,
    }


def main() -> None:
    parser = options(__doc__)
    parser.add_argument("--seconds", type=float, default=SECONDS)
    parser.add_argument("--database", help="an empty PostgreSQL database; else a SQLite file")
    given = parser.parse_args()
    seen = soaked(given.database, given.seconds)
    kind = "postgresql" if given.database else "sqlite"
    of = {"people": PEOPLE, "units": UNITS, "weeks": WEEKS}
    held = {**head(SEED), **of, "seconds": given.seconds, "database": kind, **figures(seen)}
    keep(f"office_soak_{kind}", held, write=given.write)


if __name__ == "__main__":
    main()
