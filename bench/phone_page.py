"""The phone's page at a quarter of this machine's speed (bench/results/phone_page.json).

In Chromium, its processor slowed four times, on the page and records of the tests: how long a press
and a plant take to be on the disk (IndexedDB, durability strict), whether fast taps are all counted
and bounces are not, how soon the page is ready without network, and how large it is.
"""

from __future__ import annotations

import gzip
import shutil
import statistics
import sys
import tempfile
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, sync_playwright

from benchwalk.web import Served, create_app
from benchwalk.web.capture_pages import shell
from kept import head, keep, options

sys.path[:0] = [str(Path(__file__).parent.parent)]

from tests.capture import on_the_phone as on  # noqa: E402 - after the path to it
from tests.capture.a_greenhouse import AGreenhouse  # noqa: E402
from tests.conftest import CHROMIUM  # noqa: E402
from tests.web.conftest import listening  # noqa: E402

SLOWER = 4
SAVES, STARTS, TAPS = 60, 7, 20
# the page keeps its outbox to itself: saves are timed on an outbox of the same module beside it
SAVE = """async (n) => {
  const { openOutbox } = await import("/phone/outbox.js");
  const never = () => new Promise(() => {});
  const outbox = await openOutbox({ indexedDB, fetch: never, now: Date.now, random: Math.random, wait: never, name: "bench" });
  const examined = [1, 2, 3].map((m) => ({ method: `m${m}`, items: 3, tallies: [{ taxon: "t", stage: "s", how: "counted", number: 0 }] }));
  const took = [];
  for (let i = 0; i < n; i++) {
    const begun = performance.now();
    await outbox.save({ kind: "observation", by: "p", body: { walk_id: "w", unit_id: "u", plants: 1, examined } });
    took.push(performance.now() - begun);
  }
  return took;
}"""  # noqa: E501
PRESS = """async (n) => {
  const keys = [...document.querySelectorAll("button.key")], took = [];
  for (let i = 0; i < n; i++) {
    const figure = keys[i % keys.length].querySelector(".n"), before = figure.textContent;
    const shown = new Promise((on) => new MutationObserver((_, o) => { o.disconnect(); on(); }).observe(figure, { childList: true, characterData: true, subtree: true }));
    const begun = performance.now();
    keys[i % keys.length].dispatchEvent(new PointerEvent("pointerdown", { isPrimary: true, button: 0, bubbles: true }));
    await shown;
    took.push(performance.now() - begun);
    await new Promise((on) => setTimeout(on, 80));
  }
  return took;
}"""  # noqa: E501
HITS = """async ([after, settle]) => {
  const key = document.querySelectorAll("button.key")[0], figure = key.querySelector(".n"), before = Number(figure.textContent);
  const begun = performance.now();
  for (const at of after) {
    await new Promise((on) => setTimeout(on, Math.max(0, begun + at - performance.now())));
    key.dispatchEvent(new PointerEvent("pointerdown", { isPrimary: true, button: 0, bubbles: true }));
  }
  await new Promise((on) => setTimeout(on, settle));
  return Number(figure.textContent) - before;
}"""  # noqa: E501
READY = """new MutationObserver((_, o) => {
  if (document.documentElement.dataset.ready === "yes") { o.disconnect(); window.readyAt = performance.now(); }
}).observe(document, { attributes: true, childList: true, subtree: true });"""  # noqa: E501


def slowed(page: Page) -> None:
    session = page.context.new_cdp_session(page)
    session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})


def ready_ms(page: Page) -> list[float]:
    """From the start of loading until the screen is there, without network, several times."""
    page.context.set_offline(True)
    took = []
    for _ in range(STARTS):
        page.reload()
        page.wait_for_function("() => window.readyAt")
        took.append(page.evaluate("window.readyAt"))
    page.context.set_offline(False)
    return took


def measured(page: Page, url: str, greenhouse: AGreenhouse) -> dict[str, Any]:
    page.add_init_script(READY)
    on.pair(page, url, greenhouse.pairing())
    on.sign_in(page)
    on.begin_walk(page)
    on.enter(page, "Bench 1")
    on.kept_for_later(page)
    slowed(page)
    ready = ready_ms(page)
    presses, saves = page.evaluate(PRESS, SAVES), page.evaluate(SAVE, SAVES)
    page.wait_for_timeout(200)
    nine_a_second = [n * 1000 / 9 for n in range(TAPS)]
    return {
        "slower": SLOWER,
        "press_median_ms": round(statistics.median(presses), 1),
        "save_median_ms": round(statistics.median(saves), 1),
        "save_worst_ms": round(max(saves), 1),
        "ready_median_ms": round(statistics.median(ready)),
        "ready_worst_ms": round(max(ready)),
        "taps_of_20_at_9_a_second": page.evaluate(HITS, [nine_a_second, 800]),
        "presses_of_3_hits_in_30_ms": page.evaluate(HITS, [[0, 15, 30], 500]),
    }


def size() -> dict[str, Any]:
    packed = {name: len(gzip.compress(file.content, 6)) for name, file in shell().items()}
    return {
        "files": len(packed),
        "shell_kb_gz": round(sum(packed.values()) / 1000, 1),
        "words_kb_gz": round(packed["words.json"] / 1000, 1),
    }


def main() -> None:
    asked = options(__doc__).parse_args()
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        greenhouse = AGreenhouse(Path(folder))
        chromium = shutil.which("chromium")
        browser = playwright.chromium.launch(executable_path=chromium, args=CHROMIUM)
        with listening(create_app(Served(greenhouse.engine, greenhouse.n))) as url:
            context = browser.new_context(viewport={"width": 390, "height": 844}, locale="en-US")
            found = measured(context.new_page(), url, greenhouse)
            browser.close()
        greenhouse.engine.dispose()
    # three keys and one for the next plant: counted by a test of the page
    held = head(None) | {"taps_of_three_counts_of_one": 4} | size() | found
    keep("phone_page", held, write=asked.write)


if __name__ == "__main__":
    main()
