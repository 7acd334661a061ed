"""The server killed, the browser closed or killed: what was confirmed arrives, once each."""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import BrowserType, Error, Page

from benchwalk.web import Served, create_app
from benchwalk.web.capture_pages import shell
from tests.capture import on_the_phone as on
from tests.capture.a_browser import Started, free_port, started
from tests.capture.a_greenhouse import AGreenhouse, on_plants
from tests.capture.a_server import AServer, a_server
from tests.patience import until
from tests.web.conftest import listening

pytestmark = [pytest.mark.browser, pytest.mark.kills, pytest.mark.slow]
BENCHES = ("Bench 1", "Bench 2", "Bench 3")
PLANTS = 40  # a bench: 120 looks on three


@dataclass
class AShift:
    """A phone that was paired and signed in with network, and has none since."""

    launcher: BrowserType
    profile: Path
    server: AServer
    greenhouse: AGreenhouse
    confirmed: list[int] = field(default_factory=list)

    def begin(self) -> None:
        with started(self.launcher, self.profile) as phone:
            on.pair(phone.page, self.server.url, self.greenhouse.pairing())
            on.sign_in(phone.page)
            on.begin_walk(phone.page)
            on.kept_for_later(phone.page)
            self.server.kill()

    def again(self, phone: Started) -> Page:
        """The page, opened by a fresh browser on the same profile."""
        phone.page.expose_function("confirmed", lambda n: self.confirmed.append(n))
        on.ready(phone.page, self.server.url)
        return phone.page


@pytest.fixture(scope="module")
def shift(tmp_path_factory, sqlite_template, chromium):
    folder = tmp_path_factory.mktemp("records")
    greenhouse = AGreenhouse(folder, sqlite_template)
    launcher = chromium.browser_type
    with a_server(folder, free_port()) as server:
        made = AShift(launcher, tmp_path_factory.mktemp("profile"), server, greenhouse)
        made.begin()
        yield made
    greenhouse.engine.dispose()


@contextmanager
def back_online(shift: AShift) -> Iterator[None]:
    """A server on the same records and the same address."""
    app = create_app(Served(shift.greenhouse.engine, shift.greenhouse.n))
    with listening(app, "localhost", shift.server.port):
        yield


def plant(page: Page) -> int:
    return int(page.locator(".plant").inner_text().split()[-1])


def count(page: Page) -> None:
    page.evaluate(on.COUNTING, max(PLANTS, plant(page)))


def kill_soon(shift: AShift, phone: Started, after_s: float) -> None:
    """Some time after the first plant is confirmed, however slow the machine is."""
    try:
        until(lambda: shift.confirmed, "no plant was confirmed")
        time.sleep(after_s)
    finally:
        phone.kill()  # the page counts for as long as its browser lives


def killed_while_counting(shift: AShift, phone: Started, bench: str, rng: random.Random) -> None:
    """Killed at any moment of a series of plants; some are confirmed before."""
    on.to_stops(phone.page)
    on.enter(phone.page, bench)
    shift.confirmed.clear()
    given = (shift, phone, rng.uniform(0, 1.2))
    threading.Thread(target=kill_soon, args=given, daemon=True).start()
    with pytest.raises(Error, match=r"closed|crashed"):
        phone.page.evaluate(on.COUNTING, 10_000)
    assert shift.confirmed, "it was killed before anything was confirmed"


def test_a_shift_without_network_arrives_once_each(shift):
    """120 looks on three benches; two kills while saving; the server is back at the end."""
    keys, rng = on_plants(), random.Random(9)
    with started(shift.launcher, shift.profile) as phone:
        on.enter(shift.again(phone), BENCHES[0])
        count(phone.page)
        killed_while_counting(shift, phone, BENCHES[1], rng)
    with started(shift.launcher, shift.profile) as phone:
        assert plant(shift.again(phone)) > max(shift.confirmed)
        count(phone.page)
        killed_while_counting(shift, phone, BENCHES[2], rng)
    with started(shift.launcher, shift.profile) as phone:
        page = shift.again(phone)
        assert plant(page) > max(shift.confirmed)
        count(page)
        on.unsent(page, at_least=120)
        with back_online(shift):
            page.evaluate("() => dispatchEvent(new Event('online'))")
            on.all_sent(page)
    for bench in range(3):
        found = shift.greenhouse.counted(bench)
        assert len(found) >= PLANTS
        assert found == [(keys[n % len(keys)],) for n in range(len(found))]
    assert {rev for rev, _ in shift.greenhouse.held().values()} == {1}
    version = shift.greenhouse.app_version()
    assert f'VERSION = "{version}"' in shell()["files.js"].content.decode()
