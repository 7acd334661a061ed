"""Stored injection, as a browser takes it: nothing runs, nothing is made, nothing is refused.

Chromium parses by the HTML standard (WHATWG), which the reader in `markup` does not; and it says
by itself what its policy refuses (Content Security Policy Level 3, 5: violation reports).
"""

from __future__ import annotations

import pytest

from benchwalk.web.base import COOKIE
from tests.web.security.every_page import route_of
from tests.web.security.markup import MARK

MADE = f"""() => [...document.querySelectorAll('*')]
    .filter(e => e.localName === '{MARK}' || e.hasAttribute('{MARK}') || e.hasAttribute('style')
        || e.localName === 'img' && !e.src.startsWith(location.origin)
        || e.localName === 'script' && !e.src.startsWith(location.origin)
        || [...e.attributes].some(a => a.name.startsWith('on'))
        || /^[\\s\\x00-\\x1f]*javascript:/i.test(e.getAttribute('href') || ''))
    .map(e => e.outerHTML.slice(0, 200))"""


@pytest.fixture(scope="module")
def tab(chromium, planted_office):
    """A tab of the planted nursery's manager, and what it complained of."""
    context = chromium.new_context()
    url = str(planted_office.base_url)
    token = next(c.value for c in planted_office.cookies.jar if c.name == COOKIE)
    context.add_cookies([{"name": COOKIE, "value": token, "url": url}])
    page, said = context.new_page(), []
    page.on("console", lambda message: said.append(f"{page.url}: {message.text}"))
    page.on("pageerror", lambda error: said.append(f"{page.url}: {error}"))
    page.on(
        "dialog", lambda dialog: (said.append(f"{page.url}: {dialog.message}"), dialog.accept())
    )
    yield page, url, said
    context.close()


def test_stored_injection_a_browser_runs_nothing_makes_nothing_and_refuses_nothing(
    tab, planted_pages
):
    page, url, said = tab
    one_of_each = {}
    for address, answer in planted_pages.items():
        if answer.status_code == 200 and MARK in answer.text:
            one_of_each.setdefault(route_of(address), address)
    made = {}
    for address in one_of_each.values():
        page.goto(url + address)
        made[address] = page.evaluate(MADE)
    assert len(one_of_each) >= 18
    assert {address: found for address, found in made.items() if found} == {}
    assert said == []


def test_a_script_that_a_page_held_would_be_seen(tab):
    """That the test above can fail: what it looks for, made by hand in a page."""
    page, url, said = tab
    page.goto(f"{url}/account")
    page.evaluate(
        f"document.body.innerHTML = '<{MARK}></{MARK}><a href=\" javascript:go()\">x</a>'"
    )
    assert len(page.evaluate(MADE)) == 2
    page.evaluate(
        "document.body.append(Object.assign(document.createElement('script'), {text: 'go()'}))"
    )
    page.wait_for_function("() => true")
    assert any("Content Security Policy" in one for one in said)
    said.clear()
