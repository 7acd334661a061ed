"""What every page stands on: who may use it, what it is served with, what it asks the database."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
import sqlalchemy as sa
from fastapi import APIRouter
from fastapi.routing import APIRoute
from starlette.routing import Mount

from benchwalk import catalogue
from benchwalk.catalogue import LOCALES
from benchwalk.records.database import migrate, open_database, session
from benchwalk.records.setup import set_up
from benchwalk.web import Served, app, base, create_app, pages, roles
from benchwalk.web.roles import ANYONE, DEVICE
from tests.in_turn import each_of
from tests.web.conftest import (
    ROLES,
    asking,
    kept_to_its_operation,
    leaves_the_operation,
    listening,
    token_of,
)

TEMPLATES = sorted((Path(pages.__file__).parent / "templates").rglob("*.html"))


def routes(routers=app.ROUTERS) -> set[tuple[str, str]]:
    """(method, path) of every route of the routers."""
    held = [route for router in routers for route in router.routes]
    assert all(isinstance(route, APIRoute) for route in held)
    return {(m, route.path) for route in held for m in route.methods}


def test_every_route_has_its_row_in_the_table_of_roles_and_every_row_its_route():
    assert routes() == set(roles.rights())


def test_a_new_route_without_a_row_is_found_and_is_refused_to_everybody(engine, monkeypatch):
    operation = set_up(engine, "A", "UTC").operation
    stray = APIRouter()
    stray.get("/stray")(lambda scope: None)
    monkeypatch.setattr(app, "ROUTERS", (*app.ROUTERS, stray))
    assert routes(app.ROUTERS) - set(roles.rights()) == {("GET", "/stray")}
    with listening(create_app(Served(engine, operation))) as url:
        for role in (None, *ROLES):
            with asking(url, role and token_of(engine, operation, role)) as client:
                assert client.get("/stray").status_code == 403


def test_nothing_but_files_is_served_past_the_table(engine):
    """A mount asks nobody who they are: only the static files may be one."""
    served = create_app(Served(engine, set_up(engine, "A", "UTC").operation))
    mounts = [route for route in served.routes if isinstance(route, Mount)]
    assert [m.path for m in mounts] == ["/static"]


@pytest.mark.parametrize("role", ROLES)
def test_each_role_opens_what_its_rows_say_and_nothing_else(signed_in, role):
    client = signed_in(role)
    for (method, path), who in sorted(roles.rights().items()):
        if method != "GET" or "{" in path or who & {ANYONE, DEVICE}:
            continue
        answer = client.get(path)
        if role in who:
            # 422: the page wants to be told of what, and this role may ask
            assert answer.status_code in (200, 422), path
        else:
            assert answer.status_code == 403, path
            assert "Your role does not open this page" in answer.text


def test_whatever_is_read_is_asked_for_without_its_body_too(signed_in):
    """RFC 9110, 9.1: GET and HEAD; 9.3.2: the same head as GET would have, and no content."""
    client = signed_in("manager")
    for (method, path), who in sorted(roles.rights().items()):
        if method == "GET" and "{" not in path and DEVICE not in who:
            asked = client.get(path)
            headed = client.head(path)
            assert headed.status_code == asked.status_code, path
            assert headed.headers.get("content-type") == asked.headers.get("content-type"), path
            assert headed.content == b"", path


def test_without_a_sign_in_only_rows_of_anyone_are_open(demo_address):
    with asking(demo_address) as client:
        for (method, path), who in sorted(roles.rights().items()):
            address = re.sub(r"{\w+}", "01890000-0000-7000-8000-000000000000", path)
            if ANYONE in who or DEVICE in who:
                continue
            answer = client.request(method, address)
            assert answer.status_code == (303 if method == "GET" else 401), (method, path)


def test_rows_of_a_device_ask_for_its_token(demo_address, demo_tokens):
    with asking(demo_address, demo_tokens["manager"]) as client:
        for (method, path), who in sorted(roles.rights().items()):
            if DEVICE in who:
                assert client.request(method, path).status_code == 401, path


def test_the_navigation_leads_where_the_role_may_go(signed_in):
    for role in ROLES:
        source = signed_in(role).get("/account").text
        for key, path in base.NAVIGATION:
            assert (f'<a href="{path}"' in source) == (role in roles.who_may("GET", path)), key


def test_a_page_sends_at_most_twelve_queries_and_says_how_many(signed_in):
    for path in ("/", "/account", "/people", "/people/audit", "/phones"):
        sent = int(signed_in("manager").get(path).headers["benchwalk-queries"])
        assert 0 < sent <= base.QUERIES_MOST, path


def test_queries_of_one_request_are_not_counted_to_another(signed_in):
    client = signed_in("manager")
    client.get("/people")  # the first asks for the operation's zone, which the server keeps
    counts = {client.get("/people").headers["benchwalk-queries"] for _ in range(3)}
    assert len(counts) == 1


@pytest.mark.parametrize(
    ("statement", "astray"),
    [
        ("SELECT name FROM unit", True),
        ("SELECT unit.operation_id, unit.name FROM unit", True),
        ("SELECT name FROM unit WHERE operation_id = 1", False),
        ("SELECT u.name FROM unit AS u JOIN walk w ON w.id = u.id WHERE u.id = 3", True),
        ("DELETE FROM link WHERE digest = 'x'", True),
        ("INSERT INTO link (operation_id, digest) VALUES (1, 'x')", False),
        ("SELECT zone FROM operation WHERE id = 1", False),
        ("BEGIN IMMEDIATE", False),
    ],
)
def test_a_query_without_its_operation_is_known_when_it_is_seen(statement, astray):
    assert leaves_the_operation(statement) is astray


def test_a_page_that_reads_every_operation_is_found(engine):
    with (
        pytest.raises(AssertionError, match="without its operation"),
        kept_to_its_operation(engine),
        session(engine, 1) as s,
    ):
        s.execute(sa.text("SELECT name FROM unit")).all()


class Written(HTMLParser):
    """Scripts and styles that are written into a page, and attributes that hold code."""

    def __init__(self, source: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.open: str | None = None
        self.feed(source)

    def handle_starttag(self, tag, attrs):
        self.open = tag
        if tag == "style":
            self.found.append("style element")
        if tag == "script" and not dict(attrs).get("src", "").startswith("/static/"):
            self.found.append("script that is no file of this server")
        for name, value in attrs:
            # a template's own words stand among the attributes: those have dots or braces
            if name == "style" or re.fullmatch(r"on[a-z]+|(data-)?hx-on.*", name):
                self.found.append(name)
            if (value or "").strip().lower().startswith(("javascript:", "js:", "data:")):
                self.found.append(f"{name}={value}")

    def handle_data(self, data):
        if self.open == "script" and data.strip():
            self.found.append("script text")

    def handle_endtag(self, tag):
        self.open = None


@each_of("path", TEMPLATES)
def test_no_template_writes_a_script_or_a_style_into_the_page(path):
    assert Written(path.read_text("utf-8")).found == []


@pytest.mark.parametrize(
    "source",
    [
        "<script>go()</script>",
        '<script src="https://other.example/x.js"></script>',
        '<a onclick="go()">x</a>',
        '<p style="color: red">x</p>',
        "<style>p {}</style>",
        '<a href="javascript:go()">x</a>',
        '<form hx-on:click="go()"></form>',
        "<div hx-vals='js:{a: 1}'></div>",
    ],
)
def test_a_script_written_into_a_page_is_found(source):
    assert Written(source).found


@each_of("path", TEMPLATES)
def test_no_template_lets_a_text_through_as_it_is(path):
    assert "| safe" not in path.read_text("utf-8")
    assert "|safe" not in path.read_text("utf-8")
    assert "autoescape" not in path.read_text("utf-8")


def test_the_policy_lets_no_text_of_a_page_be_run():
    from benchwalk.web.guard import CONTENT_SECURITY_POLICY as policy  # noqa: PLC0415, N811

    assert "unsafe" not in policy
    assert "'none'" in policy.split(";")[0]
    assert "*" not in policy
    assert "data:" not in policy


PAGES = ["/sign-in", "/account", "/people", "/people/audit", "/phones", "/nowhere"]
A_MOMENT = r"\w+ \d+ \w+ \d{4} \d\d:\d\d"  # days and months are said by the library of locales
FIXED = re.compile(rf"benchwalk|English|Español|{A_MOMENT}|\[[^\[\]]*\]")


@pytest.fixture
def marked_catalogue(monkeypatch):
    """Every string in brackets: what a page shows outside of them came from no catalogue."""
    texts = {
        key: {locale: f"[{text}]" for locale, text in held.items()}
        for key, held in catalogue.strings().items()
    }
    monkeypatch.setattr(catalogue, "strings", lambda: texts)


class Shown(HTMLParser):
    """What a person reads or hears of a page: text, labels and titles."""

    def __init__(self, source: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.feed(source)

    def handle_starttag(self, tag, attrs):
        names = ("aria-label", "title", "placeholder", "alt")
        self.words += [value for name, value in attrs if name in names]

    def handle_data(self, data):
        self.words.append(data.strip())


def words_of_no_catalogue(source: str) -> list[str]:
    """Texts of a page with a letter outside of brackets; a string may stand within a string."""
    left = []
    for text in Shown(source).words:
        bare = text
        while (less := FIXED.sub("", bare)) != bare:
            bare = less
        left += [bare] if re.search(r"[^\W\d_]", bare) else []
    return left


@pytest.mark.parametrize("locale", LOCALES)
def test_every_word_of_a_page_comes_from_the_catalogue(marked_catalogue, tmp_path, locale):
    """A pseudo-locale: strings are in brackets, names in the records are figures."""
    engine = open_database(f"sqlite:///{tmp_path / 'a.sqlite'}")
    migrate(engine)
    operation = set_up(engine, "7", "UTC").operation
    token = token_of(engine, operation)
    with engine.begin() as c:
        c.exec_driver_sql("UPDATE person SET name = '1', pseudonym = '2'")
        c.exec_driver_sql("UPDATE credential SET sign_in_name = '3', passphrase = 'x'")
        c.exec_driver_sql("UPDATE sign_in SET browser = '4'")
    with listening(create_app(Served(engine, operation))) as url, asking(url, token) as client:
        for path in PAGES:
            source = client.get(path, params={"lang": locale}).text
            assert words_of_no_catalogue(source) == [], path
    engine.dispose()


def test_a_word_written_into_a_template_is_found():
    assert words_of_no_catalogue("<p>[Sign in [Ana]] now</p>") == [" now"]


def test_a_language_that_was_asked_for_stays_when_the_next_address_has_none(signed_in):
    client = signed_in("manager")
    assert client.get("/account?lang=es").headers["content-language"] == "es"
    assert client.get("/people").headers["content-language"] == "es"
    assert client.get("/people?lang=en").headers["content-language"] == "en"


def test_a_form_that_lacks_a_part_is_a_page_that_names_it(signed_in):
    answer = signed_in("manager").post("/people", data={"name": "x"})
    assert answer.status_code == 422
    assert "role is missing; sign_in_name is missing" in answer.text


def test_a_person_who_cannot_be_added_is_not_typed_twice(signed_in):
    typed = {"name": 'Ana "the" Second', "sign_in_name": "manager@here", "role": "advisor"}
    answer = signed_in("manager").post("/people", data=typed)
    assert answer.status_code == 400
    assert 'value="Ana &#34;the&#34; Second"' in answer.text
    assert 'value="manager@here"' in answer.text
    assert '<option value="advisor" selected>' in answer.text


def test_an_id_that_is_none_is_not_found(signed_in):
    assert signed_in("manager").get("/people/none").status_code == 404


@pytest.mark.parametrize("method", ["get", "post"])
def test_an_error_under_api_is_told_to_a_program_in_its_own_way(demo_address, method):
    with asking(demo_address) as client:
        answer = getattr(client, method)("/api/v1/nothing")
        assert answer.status_code == 404
        assert answer.json() == {"error": "not_found", "message": "There is no such page"}
