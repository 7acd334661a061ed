"""What a scout does on the page, for tests and benches that drive it."""

from __future__ import annotations

import re
from typing import Any

from playwright.sync_api import Page, expect

from tests.capture.a_greenhouse import PIN, SIGN_IN

NEXT = re.compile("^Next plant")
UNDO = re.compile("^Undo")
CLEAN = re.compile("^Clean")


def ready(page: Page, url: str) -> None:
    page.goto(f"{url}/phone/")
    page.wait_for_selector("html[data-ready=yes]")


def pair(page: Page, url: str, code: str) -> None:
    ready(page, url)
    page.get_by_label("Pairing code").fill(code)
    page.get_by_role("button", name="Pair", exact=True).click()
    expect(page.get_by_role("heading", name="Who is counting?")).to_be_visible()


def sign_in(page: Page, name: str = SIGN_IN, pin: str = PIN) -> None:
    page.get_by_label("Name for signing in").fill(name)
    page.get_by_label("PIN, 6 digits").fill(pin)
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("heading", name="Walks")).to_be_visible()


def begin_walk(page: Page) -> None:
    page.get_by_role("link", name="A walk of your own").click()
    page.get_by_role("button", name="Start").click()
    expect(page.get_by_role("heading", name=re.compile("^Walk,"))).to_be_visible()


def enter(page: Page, unit: str) -> None:
    page.locator("button.stop", has_text=unit).click()
    expect(page.get_by_role("button", name=NEXT)).to_be_visible()


def key(page: Page, words: str) -> Any:
    """The key of a stage: its words begin its name."""
    return page.get_by_role("button", name=re.compile(f"^{words} ?: "))


def figure(page: Page, words: str) -> str:
    return key(page, words).locator(".n").inner_text()


def next_plant(page: Page, n: int) -> None:
    """The plant is written; the nth is before the scout then."""
    page.get_by_role("button", name=NEXT).click()
    expect(page.locator(".plant")).to_have_text(f"Plant {n}")


def all_sent(page: Page) -> None:
    expect(page.locator(".unsent")).to_contain_text("0 not sent yet", timeout=10_000)
