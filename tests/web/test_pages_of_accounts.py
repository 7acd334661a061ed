"""The pages of accounts in Chromium: by keyboard, without script, at each width, both languages."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager

import pytest
from playwright.sync_api import Browser

from benchwalk.catalogue import LOCALES, say
from benchwalk.records.accounts import devices, links, people, signing_in
from benchwalk.records.database import migrate, open_database, session, writing
from benchwalk.records.setup import set_up
from benchwalk.web import Served, create_app
from benchwalk.web.base import COOKIE
from tests.web.conftest import listening, token_of
from tests.web.test_accounts import GOOD

pytestmark = pytest.mark.browser
LONG_NAME = "Maximiliana Wolfeschlegelsteinhausenbergerdorff de los Invernaderos"[:64]


class Nursery:
    """An operation with a manager signed in, a scout with a long name, a phone, and a link."""

    def __init__(self, folder) -> None:
        self.engine = open_database(f"sqlite:///{folder / 'a.sqlite'}")
        migrate(self.engine)
        self.operation = set_up(self.engine, "North", "America/New_York").operation
        self.token = token_of(self.engine, self.operation)
        with writing(self.engine, self.operation) as s:
            self.scout = people.add_person(s, LONG_NAME, "scout", "max")
            devices.pair(s, devices.offer_pairing(s).secret, "phone 3 of " + LONG_NAME[:40])
            self.link = links.make(s, "choose", self.scout)
            signing_in.begin(
                s, people.who_has_name(s, "manager@here"), browser="x" * 190, source=None
            )


@pytest.fixture(scope="module")
def nursery(tmp_path_factory) -> Iterator[Nursery]:
    made = Nursery(tmp_path_factory.mktemp("nursery"))
    with listening(create_app(Served(made.engine, made.operation))) as made.url:
        yield made
    made.engine.dispose()


@contextmanager
def browsing(chromium: Browser, nursery: Nursery, width=1440, *, signed=True, script=True):
    """A page that fails the test when the browser complains of anything."""
    with ExitStack() as held:
        size = {"width": width, "height": 900}
        context = chromium.new_context(viewport=size, java_script_enabled=script)
        held.callback(context.close)
        if signed:
            context.add_cookies([{"name": COOKIE, "value": nursery.token, "url": nursery.url}])
        page = context.new_page()
        complaints: list[str] = []
        page.on("console", lambda message: complaints.append(message.text))
        yield page
        # a browser says of a refusal that it is one, and that is how it is meant here
        assert [c for c in complaints if "401 (Unauthorized)" not in c] == []


def test_a_person_chooses_a_passphrase_and_signs_in_by_keyboard_alone_and_without_script(
    chromium, nursery
):
    with writing(nursery.engine, nursery.operation) as s:
        person = people.add_person(s, "Bea", "grower", "bea")
        link = links.make(s, "choose", person)
    with browsing(chromium, nursery, signed=False, script=False) as page:
        page.goto(f"{nursery.url}/link/{link}?lang=en")
        page.focus("#passphrase")
        page.keyboard.type(GOOD)
        page.keyboard.press("Enter")
        page.wait_for_url(f"{nursery.url}/")
        page.goto(f"{nursery.url}/account")
        page.focus("form[action='/sign-out'] button")
        page.keyboard.press("Enter")
        page.wait_for_url("**/sign-in")
        page.keyboard.press("Tab")
        page.focus("#name")
        page.keyboard.type("Bea")
        page.keyboard.press("Tab")
        page.keyboard.type(GOOD)
        page.keyboard.press("Enter")
        page.wait_for_url(f"{nursery.url}/")


def test_a_wrong_passphrase_is_told_on_the_form_and_the_name_stays(chromium, nursery):
    with browsing(chromium, nursery, signed=False, script=False) as page:
        page.goto(f"{nursery.url}/sign-in?lang=en")
        page.fill("#name", "bea")
        page.fill("#passphrase", "not the one")
        page.click("main button")
        assert "do not go together" in page.inner_text("#fault")
        assert page.input_value("#name") == "bea"
        assert page.input_value("#passphrase") == ""


def test_a_manager_adds_somebody_and_gets_a_link_to_hand_over(chromium, nursery):
    with browsing(chromium, nursery) as page:
        page.goto(f"{nursery.url}/people?lang=en")
        page.fill("#name", "Carl")
        page.fill("#sign_in_name", "carl")
        page.select_option("#role", "applicator")
        page.click("main form button")
        link = page.inner_text("section.caution code")
    token = link.rsplit("/", 1)[1]
    assert link.startswith(f"{nursery.url}/link/")
    with session(nursery.engine, nursery.operation) as s:
        assert links.find(s, token, "choose").person_id == people.who_has_name(s, "carl")


def test_the_picture_to_pair_a_phone_holds_the_secret_where_no_log_does(chromium, nursery):
    with browsing(chromium, nursery) as page:
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.goto(f"{nursery.url}/phones?lang=en")
        page.click("form[action='/phones/pair'] button")
        box = page.locator("svg.qr").bounding_box()
        typed = page.locator("section.caution code").last.inner_text()
    assert min(box["width"], box["height"]) > 150
    with writing(nursery.engine, nursery.operation) as s:
        assert devices.pair(s, typed, "phone 9").token
    assert not [url for url in asked if "#" in url or typed in url]


@pytest.mark.parametrize("locale", LOCALES)
def test_a_page_that_a_role_does_not_open_says_so(signed_in, locale):
    answer = signed_in("scout").get("/people", params={"lang": locale})
    assert answer.status_code == 403
    assert say("page.not_allowed_title", locale) in answer.text
    assert say("web.not_allowed_what", locale) in answer.text
