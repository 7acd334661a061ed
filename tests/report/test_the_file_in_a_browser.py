"""The HTML file of the report, opened from disk in a browser, at the widths of a desk and a phone.

Rules: WCAG 2 A and AA and best practice, as axe-core tests them.
"""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe

from benchwalk.catalogue import LOCALES
from benchwalk.report.files import write_report
from tests.report.a_report import a_report
from tests.web.test_the_page_in_a_browser import AXE, sideways

pytestmark = pytest.mark.browser
WIDTHS = (1440, 390)


@pytest.fixture(scope="module", params=LOCALES)
def file(request, tmp_path_factory):
    (path,) = write_report(
        a_report(), tmp_path_factory.mktemp("report"), locale=request.param, only="html"
    )
    return path


@pytest.mark.parametrize("width", WIDTHS)
def test_the_file_opens_from_disk_without_complaint_and_asks_nobody(chromium, file, width):
    page = chromium.new_page(viewport={"width": width, "height": 900})
    complaints, asked = [], []
    page.on("console", lambda message: complaints.append(message.text))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(file.as_uri())
    page.evaluate("document.fonts.ready")
    assert complaints == []
    assert [u for u in asked if not u.startswith(("file:", "data:"))] == []
    assert page.evaluate("document.fonts.check('16px \"Sofia Sans Semi Condensed\"')")
    assert sideways(page) == 0
    page.close()


@pytest.mark.parametrize("width", WIDTHS)
def test_axe_finds_nothing_in_the_file(chromium, file, width):
    page = chromium.new_page(viewport={"width": width, "height": 900})
    page.goto(file.as_uri())
    found = Axe().run(page, options=AXE)
    assert found.violations_count == 0, found.generate_report()
    page.close()
