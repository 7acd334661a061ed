"""What a person does on the pages that read, over the demo: by keys, by filters, on paper."""

from __future__ import annotations

import re

import pytest
from pypdf import PdfReader

from benchwalk.catalogue import LOCALES
from benchwalk.demo.ground import id_of
from benchwalk.web import Served, create_app
from benchwalk.web.base import COOKIE
from tests.web.conftest import listening, token_of
from tests.web.test_the_page_in_a_browser import CLIPPED, opened

pytestmark = pytest.mark.browser


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
def unit():
    """The path of a unit's page."""
    return f"/units/{id_of('unit', 'G2')}?"


def test_htmx_brings_what_is_ahead_and_without_scripts_a_link_does(chromium, demo_operation, unit):
    """One browser with scripts and one without, on a server that worked nothing out yet."""
    engine, operation = demo_operation
    token = token_of(engine, operation, "grower")
    later = "[href$='/ahead']"
    with listening(Remembered(create_app(Served(engine, operation)), token)) as fresh:
        plain = chromium.new_context(java_script_enabled=False)
        page = plain.new_page()
        page.goto(f"{fresh}{unit}lang=en")
        assert page.locator(".fan").count() == 0
        page.click(later)
        page.wait_for_url(re.compile("asked=1"))
        assert page.locator(".fan").count() > 0
        plain.close()
    with (
        listening(Remembered(create_app(Served(engine, operation)), token)) as fresh,
        opened(chromium, f"{fresh}{unit}lang=en", 1440) as page,
    ):
        page.wait_for_selector(".effects")
        assert page.locator(later).count() == 0
        assert page.locator(".fan").count() > 0
        assert page.locator("main").count() == 1


def test_text_cut_off_on_a_units_page_would_be_seen(chromium, url, unit):
    with opened(chromium, f"{url}{unit}lang=en", 1440) as page:
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


def test_filters_put_the_rows_in_place_where_scripts_run(chromium, url):
    """No page is loaded anew: the focus stays, the address tells, and it is said how many."""
    with opened(chromium, f"{url}/?lang=en", 1440) as page:
        page.evaluate("document.body.dataset.same = 'page'")
        assert page.get_by_role("status").text_content() == ""
        page.focus("#house")
        page.get_by_label("House").select_option("Long House")
        page.wait_for_url(re.compile("house=Long"))
        page.locator("#shown a").wait_for()
        assert page.locator(".row-link").count() == 6
        assert page.get_by_role("status").text_content().startswith("Shown: 6 of 16.")
        assert "over" not in page.locator("#sum").text_content().lower()
        assert page.evaluate("document.activeElement.id") == "house"
        assert page.evaluate("document.body.dataset.same") == "page"
        assert page.locator("main").count() == page.locator(".rowed").count() == 1
        page.locator(".row-link").first.focus()
        page.keyboard.press("j")
        focused = "document.activeElement.textContent"
        assert page.evaluate(focused) == page.locator(".row-link").nth(1).text_content()
        page.go_back()
        page.locator(".row-link").nth(15).wait_for(state="attached")
        assert page.get_by_label("House").input_value() == ""


def test_slash_leads_to_the_filters_and_typing_there_moves_no_row(chromium, url):
    with opened(chromium, f"{url}/?lang=en", 1440) as page:
        page.keyboard.press("/")
        assert page.evaluate("document.activeElement.id") == "house"
        page.keyboard.press("j")
        assert page.evaluate("document.activeElement.id") == "house"


@pytest.fixture(scope="module")
def printed(chromium, url, tmp_path_factory):
    """``printed("/ledger?lang=en")``: the text of each sheet of A4, as pypdf finds it."""

    def sheets(path):
        file = tmp_path_factory.mktemp("printed") / "a.pdf"
        with opened(chromium, f"{url}{path}", 1440) as page:
            page.pdf(path=file, format="A4", prefer_css_page_size=True, print_background=True)
        return ["".join(sheet.extract_text().split()) for sheet in PdfReader(file).pages]

    return sheets


@pytest.mark.parametrize("locale", LOCALES)
def test_the_first_two_groups_are_printed_on_at_most_two_sheets(chromium, url, printed, locale):
    """Oracle: the sheets of the PDF, read a second time; the rows, as the page has them."""
    cells = "['.c-unit', '.c-dens'].map(c => e.querySelector(c).innerText).join(' ')"
    rows = f"es => es.map(e => {cells})"
    with opened(chromium, f"{url}/?lang={locale}", 1440) as page:
        wanted = page.locator("tbody.group").nth(0).locator(".unit-row").evaluate_all(rows)
        wanted += page.locator("tbody.group").nth(1).locator(".unit-row").evaluate_all(rows)
        third = page.locator("tbody.group h2").nth(2).inner_text()
    sheets = printed(f"/?lang={locale}")
    first_two = "".join(sheets[:2])
    assert len(wanted) > 15
    for row in wanted:
        assert all(word in first_two for word in row.split()), row
    assert "".join(third.split()) not in sheets[0]
    assert len(sheets) <= 3


@pytest.mark.parametrize(
    ("path", "heads"),
    [
        ("/?lang=en", ("Crop,phase", "Density,count", "Tenweeks", "Due")),
        ("/ledger?lang=es", ("Cuándo", "Quién", "Registro")),
    ],
)
def test_a_table_that_goes_on_repeats_its_head_on_every_sheet(printed, path, heads):
    sheets = printed(path)
    with_rows = [sheet for sheet in sheets if sheet.count("House/") + sheet.count("phoneof") > 2]
    assert len(with_rows) >= 2
    assert all(head in sheet for sheet in with_rows for head in heads)


def test_a_picture_scrolls_in_its_own_box_and_begins_at_today(chromium, url, unit):
    with opened(chromium, f"{url}{unit}lang=en", 390) as page:
        box = page.locator(".sideways").first
        assert box.evaluate("e => e.scrollWidth > e.clientWidth")
        seen = "e => e.querySelector('svg').getBoundingClientRect().right <= innerWidth + 1"
        assert box.evaluate(seen)
