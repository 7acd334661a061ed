"""Reflected injection: each parameter of each route, each field of each form, each path.

The routes are those of the application, the forms those of its pages: a new one is attacked
without anybody's doing. Names of attacks: OWASP Testing Guide 4.2, 7.1 (from memory).
"""

from __future__ import annotations

import re
from contextlib import contextmanager
from html.parser import HTMLParser
from pathlib import Path

import pytest

from benchwalk import web
from benchwalk.records.database import open_database
from benchwalk.web import Served, app, create_app
from tests.web.conftest import asking, listening, token_of
from tests.web.security.a_planted_nursery import BODY
from tests.web.security.conftest import FILLED
from tests.web.security.every_page import NO_PAGES, Known, addresses
from tests.web.security.markup import MARK, Markup, made

SHORT = f"\"'><{MARK}>"  # where only a few signs are taken
ATTACKS = (BODY, SHORT)
JSON_ROUTES = ("/api/v1/pair", "/api/v1/shift")
# what is read of a request beside the parameters that a route declares
READ_BY_NAME = re.compile(r'(query_params|cookies|headers)\.get\(\s*"([\w-]+)"')


class Forms(HTMLParser):
    """The forms of a page: (method, action) and what each field holds before anybody types."""

    def __init__(self, source: str) -> None:
        super().__init__()
        self.found: list[tuple[str, str, dict[str, str]]] = []
        self.choosing: str | None = None
        self.feed(source)

    def handle_starttag(self, tag, attrs):
        held = dict(attrs)
        if tag == "form":
            self.found.append((held.get("method", "get").upper(), held.get("action", ""), {}))
        elif tag == "select" and self.found:
            self.choosing = held.get("name")
        elif tag == "option" and self.choosing and self.found:
            self.found[-1][2].setdefault(self.choosing, held.get("value", ""))
        elif tag in ("input", "textarea") and held.get("name") and self.found:
            self.found[-1][2].setdefault(held["name"], held.get("value") or "")


@pytest.fixture(scope="module")
def forms(planted_pages):
    """Each form once, by (method, route of its action): an action, and what its fields hold."""
    held: dict[tuple[str, str], tuple[str, dict[str, str]]] = {}
    for page in planted_pages.values():
        for method, action, fields in Forms(page.text).found:
            key = (method, _route(method, action))
            shape = {re.sub(r"\d+", "1", name) for name in fields}
            if key not in held or shape > {re.sub(r"\d+", "1", n) for n in held[key][1]}:
                held[key] = (action, fields)
    return held


def _route(method: str, action: str) -> str:
    for router in app.ROUTERS:
        for route in router.routes:
            if method in route.methods and route.path_regex.fullmatch(action.partition("?")[0]):
                return route.path
    raise AssertionError(f"a form leads nowhere: {method} {action}")


def declared():
    """(method, path, names) of what each route takes: of its address, and of a form."""
    for router in app.ROUTERS:
        for route in router.routes:
            names = _names(route.dependant)
            yield from ((m, route.path, names) for m in sorted(route.methods))


def _names(dependant) -> set[str]:
    mine = {param.alias for param in (*dependant.query_params, *dependant.body_params)}
    return mine.union(*map(_names, dependant.dependencies))


@pytest.fixture(scope="module")
def attacked(planted, tmp_path_factory):
    """A copy of the planted nursery that requests may change; a new manager's browser each time."""
    path = tmp_path_factory.mktemp("attacked") / "benchwalk.sqlite"
    with planted.engine.connect() as c:
        c.exec_driver_sql("ROLLBACK")
        c.exec_driver_sql(f"VACUUM INTO '{path}'")
        c.exec_driver_sql("BEGIN")
    engine = open_database(f"sqlite:///{path}")
    known = Known(engine, planted.operation, planted.manager)
    with listening(create_app(Served(engine, planted.operation))) as url:

        @contextmanager
        def browser():
            with asking(url, token_of(engine, planted.operation)) as client:
                yield client

        yield known, browser
    engine.dispose()


def faults(answer) -> list[str]:
    """What is wrong with an answer to an attack: a page is what it was, and says no."""
    where = f"{answer.request.method} {answer.request.url.path}: "
    found = [f"{where}{answer.status_code}"] * (answer.status_code >= 500)
    found += [
        f"{where}header {n}" for n, v in answer.headers.items() if MARK in v and n != "location"
    ]
    if "html" in answer.headers.get("content-type", ""):
        found += [where + fault for fault in made(answer.text)]
    return found


def filled(key, forms, names):
    """What a form holds before it is attacked; where no page shows it, what its names suggest."""
    shown = forms.get(key, ("", {}))[1]
    held = dict.fromkeys({*names, *shown}, "1")
    held |= {name: value for name, value in FILLED.items() if name in held}
    return held | {name: value for name, value in shown.items() if value}


def once(fields):
    """Names of fields, one for each that differs in its number only."""
    return {re.sub(r"\d+", "1", name): name for name in sorted(fields)}.values()


def test_reflected_injection_each_parameter_of_each_route_stays_a_text(attacked, forms):
    known, browser = attacked
    asked, found = set(), []
    with browser() as client:
        for method, path, names in declared():
            if method != "GET":
                continue
            address = addresses(path, known)[0]
            for name in names if path in NO_PAGES else {*names, "lang"}:
                for attack in ATTACKS:
                    given = filled((method, path), forms, names) | {name: attack}
                    found += faults(client.get(address.partition("?")[0], params=given))
                    asked.add(name)
    assert found == []
    assert {"next", "house", "pest", "person", "by", "before", "rows", "day", "lang"} <= asked


def test_reflected_and_stored_injection_each_field_of_each_form_stays_a_text(attacked, forms):
    """Also where a form takes the text: what the browser is led to then is read too."""
    known, browser = attacked
    asked, found = {}, []
    for method, path, names in declared():
        if method != "POST" or path in JSON_ROUTES:
            continue
        key = (method, path)
        action = forms.get(key, (addresses(path, known)[0], {}))[0]
        fields = filled(key, forms, names)
        with browser() as client:
            client.follow_redirects = True
            for name in once(fields):
                for attack in ATTACKS:
                    found += faults(client.post(action, data=fields | {name: attack}))
        asked[path] = set(once(fields))
        assert names <= set(fields), path
    assert found == []
    assert len(asked) >= 17
    assert len(set().union(*asked.values())) >= 25
    with browser() as client:
        assert SHORT in Markup(client.get("/people").text).words


def test_reflected_injection_the_name_of_a_file_that_is_handed_in_stays_a_text(attacked):
    _, browser = attacked
    with browser() as client:
        for attack in ATTACKS:
            for content in (attack.encode(), b"{}"):
                sent = {"file": (attack, content, attack.replace("\x1b", ""))}
                assert faults(client.post("/phones/import", files=sent)) == []


def test_reflected_injection_each_part_of_each_path_stays_a_text(attacked):
    _, browser = attacked
    found = []
    with browser() as client:
        for method, path, _ in declared():
            for part in re.findall(r"{\w+}", path):
                for attack in (*ATTACKS, "..%2f..", "%00", "%0d%0aSet-Cookie:%20planted=1"):
                    spelled = attack if "%" in attack[:3] else _quoted(attack)
                    one = path.replace(part, spelled)
                    address = re.sub(r"{\w+}", "01890000-0000-7000-8000-000000000000", one)
                    answer = client.request(method, address)
                    found += faults(answer)
                    assert answer.status_code in (400, 401, 403, 404, 422), (method, address)
                    assert "planted" not in answer.headers.get("set-cookie", "")
    assert found == []


def _quoted(text):
    return "".join(c if c.isalnum() else f"%{byte:02x}" for c in text for byte in c.encode()[:1])


def test_reflected_injection_what_is_read_by_name_of_a_request_stays_a_text(attacked):
    """Cookies, headers and parameters that the sources read by name, and what proxies add."""
    _, browser = attacked
    sources = [p.read_text("utf-8") for p in Path(web.__file__).parent.glob("*.py")]
    read = {kind: set() for kind in ("query_params", "cookies", "headers")}
    for kind, name in READ_BY_NAME.findall("\n".join(sources)):
        read[kind].add(name)
    assert "lang" in read["query_params"]
    assert {"accept-language", "authorization", "user-agent"} <= read["headers"]
    added = {
        "referer",
        "x-forwarded-for",
        "x-forwarded-host",
        "x-forwarded-proto",
        "x-original-url",
    }
    attack = f"<{MARK}>\"' {MARK}=1 <script>{MARK}()</script>"
    with browser() as client:
        for path in ("/", "/account", "/nowhere", "/sign-in", "/api/v1/plan"):
            for name in read["headers"] | added:
                assert faults(client.get(path, headers={name: attack})) == []
            for name in read["query_params"]:
                assert faults(client.get(path, params={name: attack})) == []
            quoted = attack.replace('"', "%22").replace(" ", "%20")
            assert faults(client.get(path, headers={"cookie": f"benchwalk-lang={quoted}"})) == []


@pytest.mark.parametrize("path", JSON_ROUTES)
def test_reflected_injection_a_program_is_told_json_that_no_browser_takes_for_a_page(
    attacked, path
):
    _, browser = attacked
    with browser() as client:
        for field in ("code", "label", "name", "pin"):
            said = (
                {"code": "1", "label": "1"} if path.endswith("pair") else {"name": "1", "pin": "1"}
            )
            answer = client.post(path, json=said | {field: SHORT})
            assert answer.headers["content-type"] == "application/json"
            assert answer.headers["x-content-type-options"] == "nosniff"
            assert answer.status_code in (400, 401, 422)
