"""The page of the summary built by hand, served on a free port of the loopback interface."""

from __future__ import annotations

import shutil
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

import httpx
import pytest
import uvicorn
from playwright.sync_api import Browser, sync_playwright

from benchwalk.web import create_app
from benchwalk.web.app import Load
from tests.report.a_summary import a_summary

STARTED_WITHIN_S = 20.0
CHROMIUM = [
    "--no-sandbox",  # the tests may run as root
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@contextmanager
def served(load: Load) -> Iterator[str]:
    """The address of an app that is listening while the block runs."""
    config = uvicorn.Config(create_app(load), host="127.0.0.1", port=0, log_level="warning")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    patience = time.monotonic() + STARTED_WITHIN_S
    while not server.started:
        assert time.monotonic() < patience, "the server did not start"
        time.sleep(0.02)
    port = server.servers[0].sockets[0].getsockname()[1]
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join()


@pytest.fixture(scope="session")
def address() -> Iterator[str]:
    summary = a_summary()
    with served(lambda: summary) as url:
        yield url


@pytest.fixture(scope="session")
def empty_address() -> Iterator[str]:
    """An operation where nobody has walked yet."""
    with served(lambda: None) as url:
        yield url


@pytest.fixture
def client(address: str) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=address, trust_env=False) as asking:
        yield asking


@pytest.fixture
def empty(empty_address: str) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=empty_address, trust_env=False) as asking:
        yield asking


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    path = shutil.which("chromium")
    if path is None:
        pytest.skip("chromium is not installed; apt-get install chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=CHROMIUM)
        yield browser
        browser.close()
