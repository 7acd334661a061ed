"""A scout with a phone: paired, signed in, a walk, its plants, and what arrives of them."""

from __future__ import annotations

import pytest
import sqlalchemy as sa
from playwright.sync_api import expect

import benchwalk.records as r
from benchwalk.records.database import session
from benchwalk.web import Served, create_app
from tests.capture import on_the_phone as on
from tests.capture.a_greenhouse import AGreenhouse
from tests.web.conftest import listening

pytestmark = pytest.mark.browser
LARVA = "Western flower thrips, larva"


@pytest.fixture(scope="module")
def greenhouse(tmp_path_factory, sqlite_template):
    made = AGreenhouse(tmp_path_factory.mktemp("greenhouse"), sqlite_template)
    yield made
    made.engine.dispose()


@pytest.fixture(scope="module")
def url(greenhouse):
    with listening(create_app(Served(greenhouse.engine, greenhouse.n))) as address:
        yield address


@pytest.fixture(scope="module")
def page(chromium, url, greenhouse):
    context = chromium.new_context(viewport={"width": 390, "height": 844}, locale="en-US")
    made = context.new_page()
    on.pair(made, url, greenhouse.pairing())
    on.sign_in(made)
    yield made
    context.close()


def test_from_pairing_to_the_records(page, greenhouse):
    on.begin_walk(page)
    on.enter(page, "Bench 1")
    on.key(page, LARVA).click()
    expect(on.key(page, LARVA).locator(".n")).to_have_text("1")
    on.next_plant(page, 2)
    on.next_plant(page, 3)
    on.all_sent(page)
    assert sorted(greenhouse.held().values()) == [(1, 0), (1, 1)]
    with session(greenhouse.engine, greenhouse.n) as s:
        looks = s.scalars(sa.select(r.Observation)).all()
        assert {len(e.tallies) for o in looks for e in o.examined} == {1, 2, 3}
        assert [v.state for v in s.scalars(sa.select(r.Visit))] == ["open"]
