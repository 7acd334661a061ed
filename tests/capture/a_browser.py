"""A Chromium of its own on a profile that outlives it: it can be killed, and started again."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import Browser, BrowserType, Page

from tests.conftest import CHROMIUM

STARTS_WITHIN_S = 20.0


def free_port() -> int:
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        return int(held.getsockname()[1])


class Started:
    """A process of Chromium, and its one page."""

    def __init__(self, launcher: BrowserType, profile: Path) -> None:
        path = shutil.which("chromium")
        if path is None:
            pytest.skip("chromium is not installed; apt-get install chromium")
        port = free_port()
        # started anew as a grower's phone would be: what is not on the disk is gone
        self.process = subprocess.Popen(
            [path, *CHROMIUM, "--headless=new", f"--remote-debugging-port={port}",
             f"--user-data-dir={profile}", "--lang=en-US", "about:blank"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
        )  # fmt: skip
        self.browser: Browser = _connected(launcher, port)
        self.page: Page = self.browser.contexts[0].pages[0]
        self.page.set_viewport_size({"width": 390, "height": 844})

    def kill(self) -> None:
        """Every process of the browser ends at once, with nothing said before."""
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait(STARTS_WITHIN_S)


def _connected(launcher: BrowserType, port: int) -> Browser:
    address = f"http://127.0.0.1:{port}"
    patience = time.monotonic() + STARTS_WITHIN_S
    while True:
        try:
            httpx.get(f"{address}/json/version", trust_env=False).raise_for_status()
            return launcher.connect_over_cdp(address)
        except httpx.TransportError:
            assert time.monotonic() < patience, "chromium did not start"
            time.sleep(0.05)


@contextmanager
def started(launcher: BrowserType, profile: Path) -> Iterator[Started]:
    made = Started(launcher, profile)
    try:
        yield made
    finally:
        if made.process.poll() is None:
            made.kill()
