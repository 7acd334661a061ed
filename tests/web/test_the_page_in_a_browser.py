"""The page as Chromium lays it out: readable by machines, nothing clipped or covered, printable.

Rules: WCAG 2 A and AA and best practice as axe-core tests them. Widths: office screens, a tablet,
phones. The checks of layout are our own.
"""

from __future__ import annotations

import io
import re
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
import pictures
import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Browser, Page

from benchwalk.catalogue import LOCALES
from benchwalk.report.targets import RUBRIC
from tests.report.pictures import Pixels, like

pytestmark = pytest.mark.browser

WIDTHS = [1440, 1000, 901, 768, 390, 360, 320]  # 320: WCAG 2.2, 1.4.10
AXE = {
    "resultTypes": ["violations"],  # writing down what passes takes four times as long
    "runOnly": {
        "type": "tag",
        "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    },
}


# pages that no test shows anything on now; a new one costs half a second of the processor
SPARE: defaultdict[Browser, list[Page]] = defaultdict(list)


@contextmanager
def opened(browser: Browser, url: str, width: int, height: int = 900) -> Iterator[Page]:
    """The page; it fails the test when the browser complains or asks another host for anything."""
    page = SPARE[browser].pop() if SPARE[browser] else browser.new_page()
    page.set_viewport_size({"width": width, "height": height})
    complaints: list[str] = []
    asked: list[str] = []
    told = {
        "console": lambda message: complaints.append(message.text),
        "pageerror": lambda error: complaints.append(str(error)),
        "request": lambda request: asked.append(request.url),
    }
    for event, hears in told.items():
        page.on(event, hears)
    page.goto(url)
    page.evaluate("document.fonts.ready")
    yield page
    host = re.match(r"http://[^/]+/", url)[0]
    assert [u for u in asked if not u.startswith(host)] == []
    assert complaints == []
    for event, hears in told.items():
        page.remove_listener(event, hears)
    page.emulate_media(media="null")
    page.context.clear_cookies()
    page.goto("about:blank")
    SPARE[browser].append(page)


def sideways(page: Page) -> int:
    """How far the page can be pushed to the side [px]."""
    return page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )


CLIPPED = """() => {
  const found = [];
  for (const e of document.querySelectorAll('body *')) {
    if (e.closest('svg') || e.closest('.vh') || e.closest('.skip')) continue;
    if (!e.checkVisibility()) continue;  // in what is folded
    const own = [...e.childNodes].filter(n => n.nodeType === 3 && n.data.trim());
    if (!own.length) continue;
    const box = e.getBoundingClientRect();
    if (!box.width) continue;
    const cut = getComputedStyle(e).overflow !== 'visible'
      && (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1);
    for (const n of own) {
      const range = document.createRange();
      range.selectNodeContents(n);
      for (const r of range.getClientRects()) {
        const cell = e.closest('td, th, li, p, section, main, header') || e;
        const c = cell.getBoundingClientRect();
        if (cut || r.left < -1 || r.right > innerWidth + 1 || r.right > c.right + 1.5)
          found.push(n.data.trim().slice(0, 60) + ' in ' + cell.tagName);
      }
    }
  }
  return found;
}"""


COVERED = """() => {
  const texts = [];
  for (const e of document.querySelectorAll('main *, header *')) {
    if (e.closest('svg') || e.closest('.vh') || e.closest('thead')) continue;
    if (!e.checkVisibility()) continue;
    for (const n of e.childNodes) {
      if (n.nodeType !== 3 || !n.data.trim()) continue;
      const range = document.createRange();
      range.selectNodeContents(n);
      for (const r of range.getClientRects())
        if (r.width > 1) texts.push({of: n, t: n.data.trim().slice(0, 40), r});
    }
  }
  const found = [];
  texts.sort((a, b) => a.r.top - b.r.top);
  for (let i = 0; i < texts.length; i++)
    for (let j = i + 1; j < texts.length && texts[j].r.top < texts[i].r.bottom; j++) {
      const a = texts[i], b = texts[j];
      if (a.of === b.of) continue;
      const w = Math.min(a.r.right, b.r.right) - Math.max(a.r.left, b.r.left);
      const h = Math.min(a.r.bottom, b.r.bottom) - Math.max(a.r.top, b.r.top);
      if (w > 1.5 && h > 5) found.push(a.t + ' / ' + b.t);
    }
  return found;
}"""


@pytest.mark.parametrize("locale", LOCALES)
def test_nothing_scrolls_sideways_is_clipped_or_covers_other_text(chromium, address, locale):
    """The week is loaded once and made narrower; English is read by axe at two widths."""
    with opened(chromium, f"{address}/?lang={locale}", WIDTHS[0]) as page:
        page.evaluate(pictures.LAID_OUT)  # rows far from the window too
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 900})
            assert sideways(page) == 0, width
            assert page.evaluate(CLIPPED) == [], width
            assert page.evaluate(COVERED) == [], width
            if locale == "en" and width in (1440, 390):
                found = Axe().run(page, options=AXE)
                assert found.violations_count == 0, found.generate_report()


def test_clipped_and_covered_text_would_be_seen(chromium, address):
    with opened(chromium, f"{address}/?lang=en", 1440) as page:
        page.evaluate("document.querySelector('h1').style.cssText = 'height:4px;overflow:hidden'")
        assert page.evaluate(CLIPPED) != []
        page.evaluate("document.querySelector('.lede').style.marginTop = '-30px'")
        assert page.evaluate(COVERED) != []
        page.evaluate("document.querySelector('form').style.minWidth = '2000px'")
        assert sideways(page) > 0


@pytest.mark.parametrize("locale", LOCALES)
def test_with_letters_twice_as_large_a_phone_still_does_not_scroll_sideways(
    chromium, address, locale
):
    """WCAG 2.2, success criterion 1.4.4: text at 200 %."""
    with opened(chromium, f"{address}/?lang={locale}", 390) as page:
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        assert sideways(page) == 0
        assert page.evaluate(CLIPPED) == []


BOXES = "es => es.map(e => e.getBoundingClientRect()).map(r => [r.left, r.right, r.top])"


def rubric_line(picture: Pixels, box: list[float]) -> float:
    """Where the red line of a strip stands, over its marks: a pixel under its upper edge [px]."""
    left, right, top = box
    row = picture[round(top) + 1 : round(top) + 2, round(left) : round(right)]
    found = np.flatnonzero(like(row, RUBRIC, 60)[0])
    assert found.size in (1, 2), f"one line of one or two pixels, found at {found}"
    return left + float(found.mean()) + 0.5


@pytest.mark.parametrize("locale", LOCALES)
def test_in_the_picture_the_threshold_line_of_every_strip_stands_under_the_axis(
    chromium, address, locale
):
    for width in (1440, 390):
        with opened(chromium, f"{address}/?lang={locale}", width, 6000) as page:
            page.wait_for_function("document.fonts.status === 'loaded'")
            picture = np.asarray(Image.open(io.BytesIO(page.screenshot())).convert("RGB"))
            act = page.eval_on_selector_all("thead .tick-act", BOXES)[0]
            strips = page.eval_on_selector_all("tbody .strip > svg", BOXES)
            lines = [rubric_line(picture, box) for box in strips]
            assert len(lines) > 5
            assert max(lines) - min(lines) < 1
            assert abs(lines[0] - (act[0] + act[1]) / 2) < 3


def test_every_strip_has_its_sentence_and_no_strip_is_drawn_without_a_threshold(chromium, address):
    with opened(chromium, f"{address}/?lang=en", 1440) as page:
        labels = page.eval_on_selector_all(
            "tbody .strip > svg", "es => es.map(e => e.getAttribute('aria-label'))"
        )
        assert "2.4 times the threshold, interval 1.5 to 3.7; walk before 1.1" in labels
        assert labels.count("no count") == 4  # units nobody looked at
        assert page.eval_on_selector_all(".no-strip svg", "es => es.length") == 0


def test_targets_for_a_finger_are_large_enough(chromium, address):
    """WCAG 2.2, success criterion 2.5.8: 24 px, links inside a sentence left out."""
    with opened(chromium, f"{address}/?lang=es", 390) as page:
        sizes = page.eval_on_selector_all(
            ".nav a, .rule a",
            "es => es.map(e => e.getBoundingClientRect()).map(r => Math.min(r.width, r.height))",
        )
        assert min(sizes) >= 24


@pytest.mark.parametrize("width", [1440, 390])
def test_the_table_keeps_its_rows_and_cells_for_a_screen_reader(chromium, address, width):
    with opened(chromium, f"{address}/?lang=en", width) as page:
        tree = page.locator("table").aria_snapshot()
        assert tree.count("rowheader") > 10
        assert tree.count("columnheader") == (9 if width > 900 else 1)
        assert "heading" in tree


@pytest.mark.parametrize("locale", LOCALES)
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_prints_on_both_papers_in_few_pages(chromium, address, locale, paper):
    with opened(chromium, f"{address}/?lang={locale}", 1440) as page:
        pdf = page.pdf(format=paper, landscape=True, print_background=True)
    assert pdf[:5] == b"%PDF-"
    pages = len(re.findall(rb"/Type\s*/Page\b", pdf))
    assert 2 <= pages <= 5


def test_nothing_that_is_only_for_the_screen_is_printed(chromium, address):
    with opened(chromium, f"{address}/?lang=en", 1440) as page:
        page.emulate_media(media="print")
        assert not any(part.is_visible() for part in page.locator(".nav, .filters").all())
        assert page.locator("thead").evaluate("e => getComputedStyle(e).display") == (
            "table-header-group"
        )
        assert page.evaluate(CLIPPED) == []


def test_the_languages_lead_to_each_other(chromium, address):
    with opened(chromium, f"{address}/?lang=en", 390) as page:
        page.get_by_role("link", name="Español").click()
        page.wait_for_url("**lang=es")
        assert page.locator("html").get_attribute("lang") == "es"
        page.get_by_role("link", name="English").click()
        page.wait_for_url("**lang=en")
        assert page.locator("html").get_attribute("lang") == "en"


def test_a_part_of_the_headline_leads_to_its_units(chromium, address):
    with opened(chromium, f"{address}/?lang=en", 1440) as page:
        page.get_by_role("link", name="not looked 4").click()
        assert page.url.endswith("#not_looked")
        assert page.locator("#not_looked h2").is_visible()
