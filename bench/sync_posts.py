"""Eight phones that post 100 counts at once, as a ratio to one (bench/results/sync_posts.json).

The real app over HTTP on SQLite with its full durability. What is timed is a request of one walk's
100 looks, from sending until the answer; the phones of a round start together.
"""

from __future__ import annotations

import random
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path

import httpx

from benchwalk.records.database import migrate, open_database
from benchwalk.web import Served, create_app
from kept import head, keep, options

sys.path[:0] = [str(Path(__file__).parent.parent)]

from tests.capture.a_phone import APhone  # noqa: E402 - after the path to it
from tests.patience import all_ended  # noqa: E402
from tests.web.conftest import listening  # noqa: E402

SEED = 20261125
PHONES, COUNTS, ROUNDS = 8, 100, 6


def post(url: str, token: str, items: list[object], took: list[float]) -> None:
    message = {"version": 1, "epoch": 1, "sent_at": "", "unsent": len(items), "items": items}
    with httpx.Client(base_url=url, trust_env=False, timeout=60) as client:
        headers = {"Authorization": f"Bearer {token}"}
        begun = time.perf_counter()
        answer = client.post("/api/v1/sync", headers=headers, json=message)
        took.append(time.perf_counter() - begun)
    assert {a["answer"] for a in answer.json()["answers"]} == {"applied"}


def one_round(phone: APhone, url: str, tokens: list[str]) -> list[float]:
    took: list[float] = []
    walks = [phone.morning(*(random.randrange(9) for _ in range(COUNTS))) for _ in tokens]
    threads = [
        threading.Thread(target=post, args=(url, token, items, took), daemon=True)
        for token, items in zip(tokens, walks, strict=True)
    ]
    for thread in threads:
        thread.start()
    all_ended(threads)
    return took


def measured() -> dict[str, float | int]:
    random.seed(SEED)
    with tempfile.TemporaryDirectory() as folder:
        engine = open_database(f"sqlite:///{folder}/benchwalk.sqlite")
        migrate(engine)
        phone = APhone(engine)
        tokens = [phone.pair(f"phone {n}")[1] for n in range(PHONES)]
        with listening(create_app(Served(engine, phone.n))) as url:
            one_round(phone, url, tokens[:1])  # the first request imports and compiles
            alone = [t for _ in range(ROUNDS) for t in one_round(phone, url, tokens[:1])]
            together = [t for _ in range(ROUNDS) for t in one_round(phone, url, tokens)]
        engine.dispose()
    return said(alone, together)


def said(alone: list[float], together: list[float]) -> dict[str, float | int]:
    one, eight = statistics.median(alone), statistics.median(together)
    return {
        "phones": PHONES,
        "counts": COUNTS,
        "rounds": ROUNDS,
        "one_s": round(one, 4),
        "eight_median_s": round(eight, 4),
        "median_ratio": round(eight / one, 2),
        "slowest_ratio": round(max(together) / one, 2),
        "counts_per_second_ratio": round(PHONES * one / statistics.median(longest(together)), 2),
    }


def longest(together: list[float]) -> list[float]:
    """The slowest phone of each round: the time until all eight were answered."""
    return [max(together[n : n + PHONES]) for n in range(0, len(together), PHONES)]


if __name__ == "__main__":
    asked = options(__doc__).parse_args()
    keep("sync_posts", head(SEED) | measured(), write=asked.write)
