"""A phone killed at random moments while it saves, eight rounds (bench/results/phone_kills.json).

The browser is killed with every process of it (SIGKILL) somewhere in a series of plants, and
started again on the same profile, without network all the while. What it had confirmed has to be
in the records once when the server is back: each plant in its place, with what was counted on it.
"""

from __future__ import annotations

import random
import shutil
import sys
import tempfile
import threading
from contextlib import suppress
from pathlib import Path

from playwright.sync_api import BrowserType, Error, sync_playwright

from benchwalk.web import Served, create_app
from kept import head, keep, options

sys.path[:0] = [str(Path(__file__).parent.parent)]

from tests.capture import on_the_phone as on  # noqa: E402 - after the path to it
from tests.capture.a_browser import free_port, started  # noqa: E402
from tests.capture.a_greenhouse import AGreenhouse, on_plants  # noqa: E402
from tests.capture.a_server import a_server  # noqa: E402
from tests.web.conftest import listening  # noqa: E402

SEED, ROUNDS = 20261126, 8


def one_round(
    launcher: BrowserType, profile: Path, url: str, rng: random.Random
) -> tuple[int, int]:
    """The last plant confirmed before the kill, and the one before the scout afterwards."""
    confirmed: list[int] = [0]
    with started(launcher, profile) as phone:
        phone.page.expose_function("confirmed", lambda n: confirmed.append(n))
        on.ready(phone.page, url)
        threading.Timer(rng.uniform(0.2, 3.0), phone.kill).start()
        with suppress(Error):  # killed, as it has to be
            phone.page.evaluate(on.COUNTING, 100_000)
    with started(launcher, profile) as phone:
        on.ready(phone.page, url)
        return max(confirmed), int(phone.page.locator(".plant").inner_text().split()[-1])


def measured(folder: Path, launcher: BrowserType) -> dict[str, int]:
    greenhouse, rng = AGreenhouse(folder), random.Random(SEED)
    port, profile = free_port(), folder / "profile"
    with a_server(folder, port) as server:
        with started(launcher, profile) as phone:
            on.pair(phone.page, server.url, greenhouse.pairing())
            on.sign_in(phone.page)
            on.begin_walk(phone.page)
            on.enter(phone.page, "Bench 1")
            on.kept_for_later(phone.page)
            server.kill()
        rounds = [one_round(launcher, profile, server.url, rng) for _ in range(ROUNDS)]
    app = create_app(Served(greenhouse.engine, greenhouse.n))
    with started(launcher, profile) as phone, listening(app, "localhost", port):
        on.ready(phone.page, server.url)
        on.all_sent(phone.page)
    found, keys = greenhouse.counted(0), on_plants()
    held = greenhouse.held()
    greenhouse.engine.dispose()
    in_place = [n for n, of in enumerate(found) if of == (keys[n % len(keys)],)]
    last = max(confirmed for confirmed, _ in rounds)
    return {
        "rounds": ROUNDS,
        "rounds_that_went_back": sum(resumed <= confirmed for confirmed, resumed in rounds),
        "confirmed": last,
        "in_the_records": len(found),
        "lost": last - len([n for n in in_place if n < last]),
        "said_twice": sum(rev != 1 for rev, _ in held.values()),
    }


def main() -> None:
    asked = options(__doc__).parse_args()
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        if shutil.which("chromium") is None:
            raise SystemExit("chromium is not installed; apt-get install chromium")
        found = measured(Path(folder), playwright.chromium)
    keep("phone_kills", head(SEED) | found, write=asked.write)


if __name__ == "__main__":
    main()
