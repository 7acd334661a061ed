"""Rows that are drawn when they come near the window are there for whoever looks for them.

Chromium leaves out what `content-visibility: auto` lets it (CSS Containment Module Level 2, 4.3);
what was left out is still found, focused, printed and read to somebody. The rows are those of a
summary built by hand, in a window low enough that most of them are far from it.
"""

from __future__ import annotations

import io
import shutil
from collections.abc import Iterator

import pypdf
import pytest
from playwright.sync_api import Page

from tests.conftest import CHROMIUM
from tests.web.test_the_page_in_a_browser import opened

pytestmark = pytest.mark.browser

LOW = 200  # of the window [px]
LAID_OUT = "e => e.checkVisibility({contentVisibilityAuto: true})"
LAST = "[...document.querySelectorAll('.row-link')].at(-1)"


def wait_for(page: Page, seen: str) -> None:
    """Look at each frame, for five seconds; the page's policy lets nothing look from inside it."""
    page.evaluate(f"""() => new Promise((done, failed) => {{
      setTimeout(() => failed(new Error('not within five seconds')), 5000);
      const look = () => ({seen}) ? done() : requestAnimationFrame(look);
      look();
    }})""")


@pytest.fixture(params=[1440, 390])
def page(request, chromium, address) -> Iterator[Page]:
    with opened(chromium, f"{address}/?lang=en", request.param, LOW) as shown:
        wait_for(shown, f"!({LAID_OUT})({LAST})")
        yield shown


def test_the_first_rows_are_laid_out_and_the_last_wait(page):
    page.locator(".row-link").first.scroll_into_view_if_needed()
    wait_for(page, f"({LAID_OUT})(document.querySelector('.row-link'))")
    assert not page.locator(".row-link").last.evaluate(LAID_OUT)


def test_rows_that_wait_are_in_the_tree_that_a_screen_reader_is_given(chromium, address):
    """Chromium's own tree, as it is while assistive technology is on."""
    listening = chromium.browser_type.launch(
        executable_path=shutil.which("chromium"), args=[*CHROMIUM, "--force-renderer-accessibility"]
    )
    page = listening.new_page(viewport={"width": 1440, "height": LOW})
    page.goto(f"{address}/?lang=en")
    tools = page.context.new_cdp_session(page)
    nodes = tools.send("Accessibility.getFullAXTree")["nodes"]
    named = {(n["role"]["value"], n["name"]["value"]) for n in nodes if "name" in n}
    links = page.locator(".row-link").all_text_contents()
    drawn = page.eval_on_selector_all("tbody .strip > svg", "es => es.map(e => e.ariaLabel)")
    listening.close()
    assert len(drawn) > 5
    assert {("link", name) for name in links} <= named
    assert {("image", sentence) for sentence in drawn} <= named


def test_a_row_that_waits_is_found_by_its_words(page):
    words = page.locator(".row-link").last.text_content()
    assert page.evaluate("words => window.find(words, true)", words)
    wait_for(page, f"({LAID_OUT})({LAST})")


def test_keys_reach_a_row_that_waits(page):
    last = page.locator(".row-link").last
    page.keyboard.press("k")
    assert last.evaluate("e => e === document.activeElement")
    wait_for(page, f"({LAID_OUT})({LAST})")
    box = last.bounding_box()
    assert 0 <= box["y"] < LOW


def test_the_focus_ring_of_a_row_is_not_cut_off(page):
    """Paint containment cuts at the row's edge; a ring of 3 pixels, 2 from the link, needs 5."""
    page.keyboard.press("j")
    row = page.locator(".unit-row").first
    room = row.evaluate("e => parseFloat(getComputedStyle(e).overflowClipMargin)")
    assert room >= 5


def test_every_row_is_printed(page):
    page.emulate_media(media="print")
    assert page.locator(".row-link").last.evaluate(LAID_OUT)
    pdf = pypdf.PdfReader(io.BytesIO(page.pdf(format="A4", landscape=True)))
    text = without_blanks(" ".join(sheet.extract_text() for sheet in pdf.pages))
    names = [without_blanks(name) for name in page.locator(".row-link").all_text_contents()]
    assert [name for name in names if text.count(name) < names.count(name)] == []


def without_blanks(text: str) -> str:
    """A long name may be broken anywhere."""
    return "".join(text.split())


def test_without_scripts_every_row_is_shown_when_it_is_scrolled_to(chromium, address):
    context = chromium.new_context(
        java_script_enabled=False, viewport={"width": 1440, "height": LOW}
    )
    page = context.new_page()
    page.goto(f"{address}/?lang=en")
    page.mouse.move(100, 100)
    page.mouse.wheel(0, 100_000)
    last = page.locator("tbody tr").last
    last.get_by_role("link").first.wait_for(state="visible")
    assert last.locator("td.strip").bounding_box()["height"] > 20
    context.close()


@pytest.mark.parametrize("width", [1440, 1000])
def test_the_head_of_the_table_stays_in_sight_over_its_columns(chromium, address, width):
    with opened(chromium, f"{address}/?lang=en", width, 700) as page:
        page.locator(".unit-row").last.scroll_into_view_if_needed()
        head = page.locator("thead").bounding_box()
        assert -1 <= head["y"] <= 1
        for column in ("c-unit", "c-crop", "c-look", "c-now", "c-dens", "c-due"):
            above = page.locator(f"thead .{column}").bounding_box()
            cell = page.locator(f"tbody .{column}").last.bounding_box()
            assert abs(above["x"] - cell["x"]) < 1, column


def test_a_group_is_reached_by_its_part_of_the_headline_however_many_rows_wait(page):
    page.locator(".sum a").last.click()
    state = page.url.rpartition("#")[2]
    top = f"document.getElementById('{state}').getBoundingClientRect().top"
    wait_for(page, f"{top} < innerHeight && {top} > -200")
    assert page.locator(f"#{state} h2").is_visible()


def test_a_window_that_was_narrower_than_any_screen_leaves_no_size_behind(page):
    """At a width of one pixel a row is thousands high, and would be remembered so."""
    high = "document.documentElement.scrollHeight"
    before, width = page.evaluate(high), page.viewport_size["width"]
    page.set_viewport_size({"width": 1, "height": LOW})
    page.evaluate(f"{LAST}.scrollIntoView()")
    wait_for(page, f"({LAID_OUT})({LAST})")
    frames(page, 3)
    page.evaluate("scrollTo(0, 0)")
    frames(page, 3)
    page.set_viewport_size({"width": width, "height": LOW})
    frames(page, 3)
    assert page.evaluate(high) < 1.5 * before


def frames(page: Page, n: int) -> None:
    """Let the page be drawn a few times."""
    for _ in range(n):
        page.evaluate("() => new Promise(done => requestAnimationFrame(done))")
