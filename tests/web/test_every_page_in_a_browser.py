"""Every page in every state, as Chromium lays it out: axe, text, paper, and nothing of a machine.

The pages are those of `tools/every_page.py`, which has to have one for each route that is read.
Rules: WCAG 2 A and AA and best practice as axe-core tests them. The checks of layout are our own.
"""

from __future__ import annotations

import re

import every_page
import pictures
import pytest
from axe_playwright_python.sync_playwright import Axe
from fastapi import APIRouter
from pypdf import PdfReader

from benchwalk.catalogue import LOCALES
from benchwalk.web import app
from tests.web.test_the_page_in_a_browser import AXE, CLIPPED, COVERED, sideways

pytestmark = pytest.mark.browser

WIDTHS = (1440, 1280, 768, 390, 360, 320)  # 320: WCAG 2.2, 1.4.10
A_SHEET = (1047, 718)  # A4 across less 10 mm all round, at 96 pixels an inch
AN_ID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}")
NAMES = {seen.name: seen for seen in every_page.PAGES}
PHONE = "phone-page"  # has styles of its own

#: words broken within: letters of one word on two lines
BROKEN = """() => {
  const found = [];
  for (const e of document.querySelectorAll('main *, header *')) {
    if (e.closest('svg, .vh, code')) continue;
    for (const n of e.childNodes) {
      if (n.nodeType !== 3) continue;
      for (const word of n.data.matchAll(/(?<!\\p{L})\\p{L}{2,24}(?!\\p{L})/gu)) {
        const range = document.createRange();
        range.setStart(n, word.index);
        range.setEnd(n, word.index + word[0].length);
        const tops = new Set([...range.getClientRects()].map(r => Math.round(r.top)));
        if (tops.size > 1) found.push(word[0]);
      }
    }
  }
  return found;
}"""
#: boxes whose content is wider than they are, but for those that are made to be scrolled
SPILLED = """() => [...document.querySelectorAll('body *:not(.vh):not(.skip)')]
  .filter(e => !e.closest('svg, .sideways, .cells') && e.clientWidth && e.tagName !== 'INPUT'
    && e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== 'inline')
  .map(e => e.outerHTML.slice(0, 120))"""
#: targets of a finger that are smaller than 24 px both ways; links within a sentence are let be
SMALL = """() => [...document.querySelectorAll('button, select, input:not([type=hidden]), nav a')]
  .filter(e => !e.closest('.vh') && e.getClientRects().length && !e.classList.contains('vh'))
  .filter(e => Math.min(e.offsetWidth, e.offsetHeight) < 24).map(e => e.outerHTML.slice(0, 120))"""
#: what is folded is laid out too
UNFOLDED = "document.querySelectorAll('details').forEach(e => { e.open = true; })"
#: words that a person reads on the page, but for what has no use on paper; none of a closed list,
#: of what is folded, or for the ear
WORDS = """() => {
  const found = [];
  const all = document.createTreeWalker(document.querySelector('main'), NodeFilter.SHOW_TEXT);
  for (let n = all.nextNode(); n; n = all.nextNode()) {
    const e = n.parentElement;
    if (e.closest('select, summary, .vh, .filters, .onward, .no-print')) continue;
    if (!e.checkVisibility()) continue;
    found.push(...n.data.split(/\\s+/).filter(word => word));
  }
  return [...new Set(found)];
}"""
#: choices of a closed list that are wider than it shows; its arrow takes some 20 px
CUT_CHOICE = """() => [...document.querySelectorAll('select')].filter(e => {
  const style = getComputedStyle(e), pen = document.createElement('canvas').getContext('2d');
  pen.font = style.font;
  const room = e.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight);
  return pen.measureText(e.selectedOptions[0]?.text ?? '').width > room - 4;
}).map(e => e.selectedOptions[0].text)"""
#: lines that begin with the comma of the line before
BEGUN_WITH_A_COMMA = """() => [...document.querySelectorAll('main i')]
  .filter(e => e.textContent.trim()[0] === ',' && getComputedStyle(e).display === 'block')
  .map(e => e.textContent)"""
#: an interval, and the day something is due, on more than one line
SPLIT = """() => [...document.querySelectorAll('.wk .span, .c-due span')].filter(e => {
  const ends = /^\\(?[\\d.]+ \\p{L}+ [\\d.]+\\)?$/u, day = /^\\p{L}{3} \\d+ \\p{L}{3}$/u;
  if (!ends.test(e.textContent) && !day.test(e.textContent)) return false;
  const range = document.createRange();
  range.selectNodeContents(e);
  return new Set([...range.getClientRects()].map(r => Math.round(r.top))).size > 1;
}).map(e => e.textContent)"""
#: what a program calls nothing, a placeholder nothing was put into
LEFT_OVER = re.compile(r"\b(None|NaN|undefined|null)\b|\{\w*\}")
CHECKS = {
    "comma": BEGUN_WITH_A_COMMA,
    "cut choice": CUT_CHOICE,
    "clipped": CLIPPED,
    "covered": COVERED,
    "broken": BROKEN,
    "spilled": SPILLED,
    "split": SPLIT,
}
ALL_CHECKS = f"() => ({{{', '.join(f'{name!r}: ({check})()' for name, check in CHECKS.items())}}})"


@pytest.fixture(scope="module")
def shown(chromium, data_of_the_demo, tmp_path_factory):
    """Every operation served, and the demo's forecasts worked out."""
    folder = tmp_path_factory.mktemp("every_page")
    with (
        every_page.operations(folder, data_of_the_demo()) as operations,
        pictures.Gallery(chromium, operations).open() as gallery,
    ):
        with gallery.opened(NAMES["week"], "en", WIDTHS[0]):
            pass
        yield gallery


def faults(page) -> dict[str, list[str]]:
    """What is wrong with the layout as it is now."""
    found = page.evaluate(ALL_CHECKS)
    found["sideways"] = [pushed] if (pushed := sideways(page)) else []
    return {name: held for name, held in found.items() if held}


def test_every_route_that_shows_a_page_is_among_them():
    assert every_page.unseen() == set()


def test_a_route_without_a_page_in_the_list_is_found():
    stray = APIRouter()
    stray.get("/stray")(lambda: None)
    assert every_page.unseen([*app.ROUTERS, stray]) == {"/stray"}


@pytest.mark.parametrize("locale", LOCALES)
@pytest.mark.parametrize("name", NAMES)
def test_every_page_is_whole_at_every_width_on_paper_and_in_both_languages(
    shown, name, locale, tmp_path
):
    """A page is loaded once and made narrower; English is read by axe at two widths.

    English is printed first: by its width a sheet of paper is one more.
    """
    seen, heard = NAMES[name], pictures.Heard()
    with shown.opened(seen, locale, *A_SHEET, heard=heard) as page:
        if locale == "en" and name != PHONE:
            loses_no_word_on_paper(page, tmp_path / "a.pdf")
        page.wait_for_selector("h1")  # the phone's page draws itself
        assert page.locator(seen.rows).count() >= seen.least
        assert page.locator("h1").count() == 1
        assert page.locator("html").get_attribute("lang") == locale
        page.evaluate(pictures.LAID_OUT)
        page.evaluate(UNFOLDED)
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 900})
            assert faults(page) == {}, width
            if locale == "en" and width in (1440, 390):
                found = Axe().run(page, options=AXE)
                assert found.violations_count == 0, found.generate_report()
        assert page.evaluate(SMALL) == []
        assert AN_ID.findall(without_letters(page)) == []
        assert LEFT_OVER.findall(without_letters(page)) == []
    assert heard.statuses[-1] == seen.status
    assert [said for said in heard.complaints if f"status of {seen.status}" not in said] == []


def test_a_broken_word_a_spilled_box_and_a_small_target_would_be_seen(shown):
    with shown.opened(NAMES["account"], "en", 1440) as page:
        assert faults(page) == {}
        page.evaluate("document.querySelector('h1').style.cssText = 'width: 3ch'")
        assert "broken" in faults(page)
        page.evaluate("document.querySelector('.lede').style.cssText = 'width: 9px; min-width: 0'")
        page.evaluate("document.querySelector('.lede').style.overflowWrap = 'normal'")
        assert "spilled" in faults(page)
        page.evaluate("document.querySelector('main button').style.cssText = 'min-height: 9px'")
        page.evaluate("document.querySelector('main button').style.height = '9px'")
        assert len(page.evaluate(SMALL)) == 1


def test_an_interval_on_two_lines_and_a_word_of_a_program_would_be_seen(shown):
    with shown.opened(NAMES["unit"], "en", 1440) as page:
        assert faults(page) == {}
        page.evaluate("document.querySelector('.wk .times .span').style.width = '5ch'")
        assert list(faults(page)) == ["split"]
        page.evaluate("document.querySelector('h1').textContent = 'For the account None'")
        assert LEFT_OVER.findall(without_letters(page)) == ["None"]


def without_letters(page) -> str:
    """The text of a page but for what is shown letter by letter: links to copy, what came."""
    return page.evaluate(
        "[...document.body.querySelectorAll('*:not(script):not(code)')]"
        ".flatMap(e => [...e.childNodes]).filter(n => n.nodeType === 3 && !n.parentElement.closest("
        "'code')).map(n => n.data).join(' ')"
    )


def loses_no_word_on_paper(page, sheets) -> None:
    """Oracle: a second reading, the words in the PDF as pypdf finds them."""
    words = page.evaluate(WORDS)
    page.emulate_media(media="print")
    assert page.evaluate(CLIPPED) == []
    assert page.evaluate(COVERED) == []
    assert sideways(page) == 0
    page.pdf(path=sheets, prefer_css_page_size=True, print_background=True)
    page.emulate_media(media="screen")
    printed = "".join("".join(one.extract_text().split()) for one in PdfReader(sheets).pages)
    assert [word for word in words if word not in printed] == []
