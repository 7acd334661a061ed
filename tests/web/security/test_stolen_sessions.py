"""Session fixation, stolen sessions, and requests that another site sends (CSRF)."""

from __future__ import annotations

import asyncio
import re
from concurrent.futures import ThreadPoolExecutor

import httpx
import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.accounts import people
from benchwalk.records.accounts.tokens import new_token
from benchwalk.records.database import session
from benchwalk.web import Served, create_app, roles
from benchwalk.web.base import COOKIE, KNOWN
from tests.web.conftest import asking
from tests.web.security.conftest import FILLED, GOOD, NOBODY, sign_in


def test_session_fixation_a_cookie_set_before_the_sign_in_never_becomes_it(office):
    with office.browser() as client:
        planted = new_token()
        client.cookies.set(COOKIE, planted)
        answer = sign_in(client, "ana")
        given = answer.cookies[COOKIE]
        assert given != planted
        with asking(office.url, planted) as attacker:
            assert attacker.get("/account").status_code == 303


def test_session_fixation_signing_in_again_ends_the_sign_in_before(office):
    with office.browser("ana") as client:
        older = client.cookies[COOKIE]
        newer = sign_in(client, "ana").cookies[COOKIE]
    with asking(office.url, older) as one, asking(office.url, newer) as two:
        assert one.get("/account").status_code == 303
        assert two.get("/account").status_code == 200


def test_session_theft_signing_out_ends_it_on_the_server(office):
    with office.browser("ana") as client:
        stolen = client.cookies[COOKIE]
        assert client.post("/sign-out").status_code == 303
    with asking(office.url, stolen) as thief:
        assert thief.get("/account").status_code == 303


def test_session_theft_no_script_and_no_other_site_gets_at_the_cookie(office):
    with office.browser() as client:
        cookies = sign_in(client, "ana").headers.get_list("set-cookie")
    assert len(cookies) == 2
    for cookie in cookies:
        assert "HttpOnly" in cookie
        assert "SameSite=lax" in cookie
        assert "Path=/" in cookie
        assert "Domain" not in cookie


def test_over_https_the_cookie_can_be_set_by_this_host_alone(office):
    """Prefix __Host-: Secure, no Domain, Path=/ (draft-ietf-httpbis-rfc6265bis, 4.1.3)."""
    transport = httpx.ASGITransport(create_app(Served(office.engine, office.operation)))

    async def signing_in_over_https():
        async with httpx.AsyncClient(transport=transport, base_url="https://localhost") as client:
            form = {"name": "ana", "passphrase": GOOD}
            return await client.post("/sign-in", data=form, headers={"origin": "https://localhost"})

    # a thread of its own: a browser that other tests left open keeps a loop running in this one
    with ThreadPoolExecutor(1) as alone:
        answer = alone.submit(asyncio.run, signing_in_over_https()).result(timeout=60)
    cookies = answer.headers.get_list("set-cookie")
    assert {c.split("=")[0] for c in cookies} == {f"__Host-{COOKIE}", f"__Host-{KNOWN}"}
    assert all("Secure" in c and "Path=/" in c and "Domain" not in c for c in cookies)
    assert "max-age" in answer.headers["strict-transport-security"]


LURED = [
    {"sec-fetch-site": "cross-site"},
    {"sec-fetch-site": "same-site"},
    {"sec-fetch-site": "none"},
    {"origin": "http://evil.example"},
    {"origin": "null"},
    {"origin": "http://127.0.0.1:1"},
    {},
    {"sec-fetch-site": "cross-site", "authorization": "Bearer x"},
    {"authorization": "Bearer x"},
]


@pytest.mark.parametrize("headers", LURED)
def test_csrf_a_form_of_another_site_changes_nothing(office, headers):
    with office.browser("ana") as client:
        client.headers.pop("sec-fetch-site")
        form = {"name": "Eve", "sign_in_name": "eve", "role": "manager"}
        answer = client.post("/people", data=form, headers=headers)
        assert answer.status_code == 403
        assert "nothing was changed" in answer.text
    with session(office.engine, office.operation) as s:
        assert people.who_has_name(s, "eve") is None


@pytest.mark.parametrize("method", ["post", "put", "patch", "delete"])
def test_csrf_every_method_that_changes_is_held_to_it(office, method):
    with office.browser("ana") as client:
        answer = client.request(method, "/people", headers={"sec-fetch-site": "cross-site"})
        assert answer.status_code == 403


def everything(office):
    """How many rows there are of each kind, but for when a browser was last used."""
    ours = (office.operation, office.other)
    with office.engine.connect() as c:
        return {
            name: c.execute(
                sa.select(sa.func.count()).select_from(table).where(table.c.operation_id.in_(ours))
            ).scalar_one()
            for name, table in r.Base.metadata.tables.items()
            if "operation_id" in table.c and name not in ("sign_in", "known_browser")
        }


def test_csrf_no_route_that_changes_is_open_to_another_site(office):
    """From the application's routes; the browser is signed in, and shows a phone's token too."""
    with office.browser("ana") as client:
        before = everything(office)
        changing = [(m, path) for m, path in sorted(roles.rights()) if m not in ("GET", "HEAD")]
        for method, path in changing:
            address = re.sub(r"{\w+}", NOBODY, path)
            for site in ("cross-site", "same-site", "none"):
                lured = {"sec-fetch-site": site, "authorization": "Bearer x"}
                answer = client.request(method, address, data=FILLED, headers=lured)
                assert answer.status_code == 403, (method, path)
        assert everything(office) == before
    assert len(changing) >= 20


def test_csrf_reading_changes_nothing(office):
    """A link or a picture elsewhere can make a browser read (RFC 9110, 9.2.1: safe methods)."""
    with office.browser("ana") as client:
        before = everything(office)
        for method, path in sorted(roles.rights()):
            # the server's own sign of life: it writes a word to see that it can
            if method == "GET" and path != "/health/ready":
                client.get(re.sub(r"{\w+}", NOBODY, path), headers={"sec-fetch-site": "cross-site"})
        assert everything(office) == before


def test_csrf_a_form_of_this_site_is_taken_by_origin_where_that_is_all_there_is(office):
    with office.browser("ana") as client:
        client.headers.pop("sec-fetch-site")
        form = {"name": "Eve", "sign_in_name": "eve", "role": "scout"}
        answer = client.post("/people", data=form, headers={"origin": office.url})
        assert answer.status_code == 200
