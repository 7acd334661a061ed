"""Every page that reads, over the demo, as Chromium lays it out: axe, clipped text, keys, paper.

Rules: WCAG 2 A and AA and best practice as axe-core tests them. The checks of layout are our own.
"""

from __future__ import annotations

import re

import pytest
import sqlalchemy as sa
from axe_playwright_python.sync_playwright import Axe

import benchwalk.records as r
from benchwalk.catalogue import LOCALES
from benchwalk.demo.ground import id_of
from benchwalk.records.database import session
from benchwalk.report.keys import looks_address
from benchwalk.summarise import summarise
from benchwalk.web import Served, create_app
from benchwalk.web.base import COOKIE
from tests.web.conftest import listening, token_of
from tests.web.test_the_page_in_a_browser import AXE, CLIPPED, COVERED, opened, sideways

pytestmark = pytest.mark.browser

NAMES = (
    *("week", "unit", "unit_not_looked", "looks", "ledger", "record", "report", "calendar"),
    *("calibration", "exports"),
)
WIDTHS = (1440, 768, 390, 360)
A_SHEET = (1047, 718)  # A4 across less 10 mm all round, at 96 pixels an inch


class Remembered:
    """An app as a browser meets it that is signed in and may have been given other cookies."""

    def __init__(self, app, token) -> None:
        self.app, self.cookie = app, f"{COOKIE}={token}".encode()

    async def __call__(self, scope, receive, send) -> None:
        if scope["type"] == "http":
            given = [value for name, value in scope["headers"] if name == b"cookie"]
            others = [header for header in scope["headers"] if header[0] != b"cookie"]
            held = (b"cookie", b"; ".join([*given, self.cookie]))
            scope = scope | {"headers": [*others, held]}
        await self.app(scope, receive, send)


@pytest.fixture(scope="module")
def url(demo_operation):
    """The demo, shown to a grower who is signed in."""
    engine, operation = demo_operation
    app = create_app(Served(engine, operation))
    with listening(Remembered(app, token_of(engine, operation, "grower"))) as address:
        yield address


@pytest.fixture(scope="module")
def paths(demo_operation):
    """A path of each kind of page."""
    with session(*demo_operation) as s:
        week = summarise(s)
        line = next(x for u in week.units for x in u.lines if x.series.per == "per_plant")
        look = s.scalars(sa.select(r.Observation.id).order_by(r.Observation.id).limit(1)).one()
    return {
        "week": "/?",
        "unit": f"/units/{id_of('unit', 'G2')}?",
        "unit_not_looked": f"/units/{week.not_looked[0].unit.id}?",
        "looks": f"{looks_address(line.series)}&",
        "ledger": "/ledger?",
        "record": f"/ledger/{look}?",
        "report": "/report?",
        "calendar": "/calendar?",
        "calibration": "/calibration?",
        "exports": "/exports?",
    }


@pytest.mark.parametrize("locale", LOCALES)
@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_clipped_covered_or_pushed_sideways(chromium, url, paths, name, locale):
    """A page is loaded once and made narrower; English is read by axe at the ends of that."""
    with opened(chromium, f"{url}{paths[name]}lang={locale}", WIDTHS[0]) as page:
        assert page.locator("h1").count() == 1
        page.wait_for_load_state("networkidle")  # where htmx brings what is ahead, after it came
        page.evaluate("for (const e of document.querySelectorAll('details')) e.open = true")
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 900})
            assert sideways(page) == 0, width
            assert page.evaluate(CLIPPED) == [], width
            assert page.evaluate(COVERED) == [], width
            if locale == "en" and width in (1440, 390):
                found = Axe().run(page, options=AXE)
                assert found.violations_count == 0, found.generate_report()


def test_htmx_brings_what_is_ahead_and_without_scripts_a_link_does(chromium, demo_operation, paths):
    """One browser with scripts and one without, on a server that worked nothing out yet."""
    engine, operation = demo_operation
    token = token_of(engine, operation, "grower")
    later = "[href$='/ahead']"
    with listening(Remembered(create_app(Served(engine, operation)), token)) as fresh:
        plain = chromium.new_context(java_script_enabled=False)
        page = plain.new_page()
        page.goto(f"{fresh}{paths['unit']}lang=en")
        assert page.locator(".fan").count() == 0
        page.click(later)
        page.wait_for_url(re.compile("asked=1"))
        assert page.locator(".fan").count() > 0
        plain.close()
    with (
        listening(Remembered(create_app(Served(engine, operation)), token)) as fresh,
        opened(chromium, f"{fresh}{paths['unit']}lang=en", 1440) as page,
    ):
        page.wait_for_selector(".effects")
        assert page.locator(later).count() == 0
        assert page.locator(".fan").count() > 0
        assert page.locator("main").count() == 1


def test_text_cut_off_on_a_units_page_would_be_seen(chromium, url, paths):
    with opened(chromium, f"{url}{paths['unit']}lang=en", 1440) as page:
        lead = "document.querySelector('.stands')"
        page.evaluate(f"{lead}.style.cssText = 'height: 6px; overflow: hidden'")
        assert page.evaluate(CLIPPED) != []


def test_the_week_is_walked_with_keys_alone(chromium, url):
    """j and k step over the rows, Enter opens a unit, and from there a number opens its looks."""
    with opened(chromium, f"{url}/?lang=en", 1440) as page:
        page.keyboard.press("j")
        page.keyboard.press("j")
        page.keyboard.press("k")
        rows = page.locator(".row-link")
        focused = "document.activeElement.textContent"
        assert page.evaluate(focused) == rows.nth(0).text_content()
        page.keyboard.press("ArrowDown")
        assert page.evaluate(focused) == rows.nth(1).text_content()
        page.keyboard.press("Enter")
        page.wait_for_url("**/units/*")
        for _ in range(60):
            page.keyboard.press("Tab")
            if page.evaluate("document.activeElement.matches('a.n')"):
                break
        page.keyboard.press("Enter")
        page.wait_for_url(re.compile(r"/looks\?"))
        assert "make this number" in page.locator("h1").text_content()


def test_without_scripts_every_row_is_reached_by_tab_and_filters_work(chromium, url):
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{url}/?lang=en")
    page.get_by_label("House").select_option("Long House")
    page.get_by_role("button", name="Show").click()
    page.wait_for_url(re.compile("house=Long"))
    assert page.locator(".filtered").text_content().startswith("Shown: 6 of 16.")
    context.close()


def test_slash_leads_to_the_filters_and_typing_there_moves_no_row(chromium, url):
    with opened(chromium, f"{url}/?lang=en", 1440) as page:
        page.keyboard.press("/")
        assert page.evaluate("document.activeElement.id") == "house"
        page.keyboard.press("j")
        assert page.evaluate("document.activeElement.id") == "house"


@pytest.mark.parametrize("locale", LOCALES)
def test_the_first_two_groups_are_printed_on_at_most_two_sheets(chromium, url, locale):
    with opened(chromium, f"{url}/?lang={locale}", A_SHEET[0], A_SHEET[1]) as page:
        page.emulate_media(media="print")
        end = "e => e.getBoundingClientRect().bottom + scrollY"
        assert page.locator("tbody.group").nth(1).evaluate(end) <= 2 * A_SHEET[1]
        assert page.evaluate(CLIPPED) == []
        pdf = page.pdf(format="A4", landscape=True, print_background=True)
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) <= 3


def test_a_picture_scrolls_in_its_own_box_and_begins_at_today(chromium, url, paths):
    with opened(chromium, f"{url}{paths['unit']}lang=en", 390) as page:
        box = page.locator(".sideways").first
        assert box.evaluate("e => e.scrollWidth > e.clientWidth")
        seen = "e => e.querySelector('svg').getBoundingClientRect().right <= innerWidth + 1"
        assert box.evaluate(seen)


def test_the_threshold_line_runs_down_the_week_unbroken(chromium, url):
    with opened(chromium, f"{url}/?lang=en", 1440) as page:
        middle = "e => { const r = e.getBoundingClientRect(); return r.left + r.width / 2 }"
        lines = page.eval_on_selector_all("td.strip .one", f"es => es.map({middle})")
        assert len(lines) > 15
        assert max(lines) - min(lines) < 1
