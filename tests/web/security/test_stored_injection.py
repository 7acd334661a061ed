"""Stored injection: every free text of the records holds an attack, and every page is read.

What a text may break out of, and what a browser runs: OWASP's cross-site scripting prevention
(rules of output encoding by context) and Testing Guide 4.2, 7.2 (from memory).
"""

from __future__ import annotations

import pytest

from tests.web.security.a_planted_nursery import NOT_FREE, free_columns
from tests.web.security.every_page import NO_PAGES, get_routes, route_of
from tests.web.security.markup import Markup, as_shown, made

# columns whose text stands on a page of another than its own record
SHOWN = {
    "operation.name": {"/", "/units/{unit}", "/looks"},
    "unit.name": {"/", "/units/{unit}", "/paper/{walk}", "/paper/{walk}/sheet", "/looks"},
    "house.name": {"/", "/units/{unit}", "/paper/{walk}", "/looks"},
    "person.name": {"/account", "/people", "/people/{person}", "/ledger", "/paper"},
    "person.pseudonym": {"/people", "/people/{person}"},
    "credential.sign_in_name": {"/account", "/people/{person}", "/link/{token}"},
    "device.label": {"/phones"},
    "taxon.names": {"/", "/units/{unit}", "/looks", "/paper/{walk}/{unit}"},
    "stage.names": {"/", "/units/{unit}", "/looks", "/paper/{walk}/{unit}"},
    "method.names": {"/", "/units/{unit}", "/looks", "/paper/{walk}/{unit}"},
    "method.item": {"/units/{unit}"},
    "observation.note": {"/looks"},
    "visit.note": {"/units/{unit}"},
    "visit.reason": {"/units/{unit}"},
    "planting.cultivar": {"/units/{unit}"},
    "sighting.words": {"/units/{unit}"},
    "flag.reason": {"/units/{unit}"},
    "application.what": {"/units/{unit}"},
}


@pytest.fixture(scope="module")
def words(planted_pages):
    """What each page says, by its route."""
    said = {}
    for address, answer in planted_pages.items():
        said.setdefault(route_of(address), []).append(Markup(answer.text).words)
    return {route: " ".join(texts) for route, texts in said.items()}


@pytest.fixture(scope="module")
def seen(planted, words):
    """The routes whose pages show a text of a column whole."""
    shown = {
        column: [as_shown(t).strip() for t in texts] for column, texts in planted.texts.items()
    }
    return {
        column: {route for route, said in words.items() if any(text in said for text in texts)}
        for column, texts in shown.items()
    }


def test_every_column_of_text_holds_an_attack_or_says_what_keeps_one_out(planted):
    assert set(free_columns()) - set(planted.texts) == set(NOT_FREE)
    assert set(planted.aside) == {"applied", "conflict", "rejected"}


def test_every_route_that_is_read_is_a_page_here_or_says_who_reads_it(planted_pages):
    opened = {
        route_of(address) for address, answer in planted_pages.items() if answer.status_code < 400
    }
    assert sorted(opened | set(NO_PAGES)) == get_routes()
    assert not opened & set(NO_PAGES)


def test_every_link_of_a_page_that_holds_attacks_leads_where_it_says(planted_pages):
    lost = {a: p.status_code for a, p in planted_pages.items() if p.status_code not in (200, 303)}
    assert lost == {"/looks": 422}  # without what it is asked for


def test_stored_injection_no_text_becomes_an_element_an_attribute_or_a_script(planted_pages):
    faults = {a: made(p.text) for a, p in planted_pages.items() if p.status_code == 200}
    assert [(address, found) for address, found in faults.items() if found] == []


def test_every_attack_is_shown_somewhere_as_the_text_it_is(seen):
    assert [column for column, routes in seen.items() if not routes] == []


@pytest.mark.parametrize("column", SHOWN)
def test_an_attack_stands_on_each_page_that_shows_its_field(seen, column):
    assert SHOWN[column] <= seen[column]
