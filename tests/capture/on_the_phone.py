"""What a scout does on the page, for tests and benches that drive it."""

# ruff: noqa: E501 - a script of a page reads better unbroken

from __future__ import annotations

import re
import time
from typing import Any

from playwright.sync_api import Page, expect

from tests.capture.a_greenhouse import PIN, SIGN_IN

# plants counted as fast as the phone writes: the nth has one of the nth key, and is confirmed once
# the next one is on the screen
COUNTING = """async (upto) => {
  const keys = [...document.querySelectorAll("button.key")].sort((a, b) => (a.dataset.key < b.dataset.key ? -1 : 1));
  const next = [...document.querySelectorAll(".ph-bar button")].at(-1);
  const plant = () => Number(/[0-9]+/.exec(document.querySelector(".plant").textContent)[0]);
  const wait = (ms) => new Promise((on) => setTimeout(on, ms));
  const shown = async (what) => { while (!what()) await wait(1); };
  while (plant() <= upto) {
    const n = plant(), key = keys[(n - 1) % keys.length], figure = key.querySelector(".n");
    if (figure.textContent === "0") {
      await wait(15);  // no hit on a key is taken for a bounce of the one before
      key.dispatchEvent(new PointerEvent("pointerdown", { isPrimary: true, button: 0, bubbles: true }));
    }
    await shown(() => figure.textContent === "1");
    next.click();
    await shown(() => plant() === n + 1);
    window.confirmed?.(n);
  }
}"""
EMPTY = """async () => {
  const got = (r) => new Promise((on, no) => { r.onsuccess = () => on(r.result); r.onerror = no; });
  const db = await got(indexedDB.open("benchwalk"));
  const left = await got(db.transaction("outbox").objectStore("outbox").count());
  db.close();
  return left === 0;
}"""
PATIENCE = 40_000  # [ms] the machine may be busy with other tests
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
    expect(page.get_by_role("heading", name="Who is counting?")).to_be_visible(timeout=PATIENCE)


def sign_in(page: Page, name: str = SIGN_IN, pin: str = PIN) -> None:
    page.get_by_label("Name to sign in with").fill(name)
    page.get_by_label("PIN, 6 digits").fill(pin)
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("heading", name="Walks")).to_be_visible(timeout=PATIENCE)


def begin_walk(page: Page) -> None:
    page.get_by_role("link", name="A walk of your own").click()
    page.get_by_role("button", name="Start").click()
    expect(page.get_by_role("heading", name=re.compile("^Walk,"))).to_be_visible(timeout=PATIENCE)


def enter(page: Page, unit: str) -> None:
    page.locator("button.stop", has_text=unit).click()
    expect(page.get_by_role("button", name=NEXT)).to_be_visible(timeout=PATIENCE)


def key(page: Page, words: str) -> Any:
    """The key of a stage: its words begin its name."""
    return page.get_by_role("button", name=re.compile(f"^{words} ?: "))


def figure(page: Page, words: str) -> str:
    return key(page, words).locator(".n").inner_text()


def next_plant(page: Page, n: int) -> None:
    """The plant is written; the nth is before the scout then."""
    page.get_by_role("button", name=NEXT).click()
    expect(page.locator(".plant")).to_have_text(f"Plant {n}", timeout=PATIENCE)


def until(page: Page, asked: str) -> None:
    """Until the page says yes; ``wait_for_function`` takes a promise itself for a yes."""
    patience = time.monotonic() + PATIENCE / 1000
    while not page.evaluate(asked):
        assert time.monotonic() < patience, "it did not come to that"
        page.wait_for_timeout(20)


def all_sent(page: Page) -> None:
    """Nothing is left in the outbox, whatever the page says of it."""
    until(page, EMPTY)
    expect(page.locator(".unsent")).to_contain_text("0 not sent yet", timeout=PATIENCE)


def kept_for_later(page: Page) -> None:
    """The page's own files are on the phone: it starts without network now."""
    page.evaluate("() => navigator.serviceWorker.ready")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")


def unsent(page: Page, at_least: int) -> None:
    page.wait_for_function(
        "(n) => parseInt(document.querySelector('.unsent')?.textContent) >= n", arg=at_least
    )


def to_stops(page: Page) -> None:
    """To the line of stops, from wherever the page went on."""
    if not page.locator("ol.stops").is_visible():
        page.get_by_role("link", name="Stops").click()
