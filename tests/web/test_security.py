"""Attacks, each by its name, on the pages as they are served.

Names of attacks as in OWASP's Testing Guide and ASVS 5.0 (from memory).
"""

from __future__ import annotations

import asyncio
import datetime as dt
import html
import re
import statistics
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager

import httpx
import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.accounts import devices, links, people, signing_in
from benchwalk.records.accounts.tokens import new_token
from benchwalk.records.database import session, writing
from benchwalk.records.setup import set_up
from benchwalk.records.sheets.bring import bring
from benchwalk.records.sheets.mappings import Kept
from benchwalk.records.sheets.table import read_table
from benchwalk.web import Served, base, create_app, roles
from benchwalk.web.base import COOKIE, KNOWN, inside
from benchwalk.web.limits import PER_NAME, Limits
from tests.web.conftest import asking, kept_to_its_operation, listening
from tests.web.test_reading_the_week import Text

FIRST = dt.date(2026, 1, 1)
GOOD = "orange ladder seven moss"
BETTER = "wet boots by the door"
HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "'-alert(1)-'",
    "{{ 7 * 7 }}",
    "</title><svg onload=alert(1)>",
    "javascript:alert(1)",
]


class Office:
    """An operation with a manager, a scout and a stranger's operation beside it, served."""

    def __init__(self, engine: sa.Engine, url: str, operation: int, other: int) -> None:
        self.engine, self.url, self.operation, self.other = engine, url, operation, other
        self.ana = self.add("ana", "manager")
        self.bea = self.add("bea", "scout")
        self.zoe = self.add("zoe", "scout", other)

    def add(self, name: str, role: str, operation: int | None = None):
        with writing(self.engine, operation or self.operation) as s:
            person = people.add_person(s, name.title(), role, name)
            people.set_passphrase(s, person, GOOD)
        return person

    @contextmanager
    def browser(self, name: str | None = None):
        """A browser; with a name, one in which that person has signed in by the form."""
        with asking(self.url) as client:
            if name is not None:
                assert sign_in(client, name).status_code == 303
            yield client


def sign_in(client: httpx.Client, name: str, passphrase: str = GOOD, **more: str):
    return client.post("/sign-in", data={"name": name, "passphrase": passphrase} | more)


@pytest.fixture
def office(engine):
    operation, other = (set_up(engine, name, "UTC").operation for name in ("A", "B"))
    with ExitStack() as held:
        held.enter_context(kept_to_its_operation(engine))
        url = held.enter_context(listening(create_app(Served(engine, operation))))
        yield Office(engine, url, operation, other)


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
        answer = alone.submit(asyncio.run, signing_in_over_https()).result()
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


def test_csrf_a_form_of_this_site_is_taken_by_origin_where_that_is_all_there_is(office):
    with office.browser("ana") as client:
        client.headers.pop("sec-fetch-site")
        form = {"name": "Eve", "sign_in_name": "eve", "role": "scout"}
        answer = client.post("/people", data=form, headers={"origin": office.url})
        assert answer.status_code == 200


def test_brute_force_after_ten_wrong_guesses_a_right_one_is_not_looked_at(office):
    with office.browser() as client:
        for n in range(PER_NAME):
            assert sign_in(client, "ana", f"wrong guess {n}").status_code == 401
        answer = sign_in(client, "ana")
        assert answer.status_code == 429
        assert int(answer.headers["retry-after"]) > 0
        assert "Try again in 10 minutes" in answer.text


def test_brute_force_of_a_stranger_does_not_lock_the_person_out_of_a_known_browser(office):
    with office.browser("ana") as hers, office.browser() as stranger:
        hers.post("/sign-out")
        for n in range(PER_NAME + 5):
            sign_in(stranger, "ana", f"wrong guess {n}")
        assert sign_in(stranger, "ana").status_code == 429
        assert sign_in(hers, "ana").status_code == 303


def test_brute_force_a_known_browser_of_one_person_is_none_of_another(office):
    with office.browser("bea") as hers:
        for n in range(PER_NAME):
            sign_in(hers, "ana", f"wrong guess {n}")
        assert sign_in(hers, "ana").status_code == 429


def test_brute_force_of_the_passphrase_of_now_from_an_open_browser_ends_too(office):
    form = {"passphrase": BETTER}
    with office.browser("ana") as client:
        for n in range(PER_NAME):
            answer = client.post("/account/passphrase", data=form | {"current": f"guess {n}"})
            assert "not the passphrase of now" in answer.text
        answer = client.post("/account/passphrase", data=form | {"current": GOOD})
        assert "too many wrong tries" in answer.text.lower()


def test_user_discovery_by_wording_a_name_nobody_has_reads_like_a_wrong_passphrase(office):
    with office.browser() as client:
        pages = [sign_in(client, name, "a wrong guess here") for name in ("ana", "xyz")]
    assert pages[0].status_code == pages[1].status_code == 401
    assert pages[0].text.replace('value="ana"', 'value="xyz"') == pages[1].text
    names = [set(page.headers) for page in pages]
    assert names[0] == names[1]


def test_user_discovery_by_wording_too_many_guesses_at_nobody_read_alike(office):
    with office.browser() as client:
        for name in ("ana", "xyz"):
            for n in range(PER_NAME):
                sign_in(client, name, f"wrong guess {n}")
        pages = [sign_in(client, name, "one more guess") for name in ("ana", "xyz")]
    assert [page.status_code for page in pages] == [429, 429]
    assert pages[0].text.replace('value="ana"', 'value="xyz"') == pages[1].text


@pytest.mark.slow
def test_user_discovery_by_time_a_name_nobody_has_takes_as_long(office):
    """The passphrase is hashed either way: medians within a fifth, and no quick answer."""
    with session(office.engine, office.operation) as s:
        signing_in.who_proves(s, "warm", "warm up the hash")
        took = {name: [] for name in ("ana", "nobody has this name")}
        for _ in range(15):
            for name, times in took.items():
                begun = time.perf_counter()
                signing_in.who_proves(s, name, "a wrong guess here")
                times.append(time.perf_counter() - begun)
    known, unknown = (statistics.median(times) for times in took.values())
    assert 0.8 < known / unknown < 1.25


def test_user_discovery_by_cost_a_name_nobody_has_is_hashed_as_often(office, monkeypatch):
    hashed = []
    monkeypatch.setattr(signing_in, "proves", lambda *given: bool(hashed.append(given)))
    with session(office.engine, office.operation) as s:
        for name in ("ana", "nobody"):
            signing_in.who_proves(s, name, "a guess")
    assert len(hashed) == 2


@pytest.mark.parametrize("text", HOSTILE)
def test_reflected_injection_through_the_sign_in_is_text(office, text):
    with office.browser() as client:
        answer = sign_in(client, text[:60], "a wrong guess here", next=text)
        assert_is_text(answer, text[:60])
        assert_is_text(client.get("/sign-in", params={"next": text}), text)
        assert_is_text(client.get("/", params={"lang": text}, follow_redirects=True), text)
        assert_is_text(client.get(f"/{text}"), text)


@pytest.mark.parametrize("text", HOSTILE)
def test_stored_injection_through_every_field_of_accounts_is_text(office, text):
    with office.browser("ana") as client:
        client.headers["user-agent"] = text
        form = {"name": text, "sign_in_name": text, "role": "scout"}
        answer = client.post("/people", data=form)
        assert_is_text(answer, text, there=True)
        sign_in(client, "ana")
        assert_is_text(client.get("/account"), text, there=True)
        with writing(office.engine, office.operation) as s:
            devices.pair(s, devices.offer_pairing(s).secret, text)
        for path in ("/people", "/people/audit", "/phones"):
            assert_is_text(client.get(path), text, there=path != "/people/audit")
        assert_is_text(client.post("/people", data=form | {"role": text}), text)


LONG = "Date,House,Unit,Plant,Pest,Stage,Count,Notes\n2026-03-02,{0},{0},1,thrips,adult,2,{0}\n"


@pytest.mark.parametrize("text", HOSTILE)
def test_stored_injection_through_an_import_is_text(office, text, tmp_path):
    sheet = tmp_path / "counts.csv"
    quoted = '"' + text.replace('"', '""') + '"'
    sheet.write_text(LONG.format(quoted), encoding="utf-8")
    said = {"answers": {}, "kept": Kept(tmp_path), "rejects": tmp_path / "not-taken.csv"}
    table = read_table(sheet)
    bring(office.engine, office.operation, table, agree=lambda reading, asked: True, **said)
    with session(office.engine, office.operation) as s:
        unit = s.scalars(sa.select(r.Unit)).one()
        assert unit.name == text
    with office.browser("ana") as client:
        assert_is_text(client.get("/"), text, there=True)
        for path in ("/?lang=es", f"/units/{unit.id}", "/ledger", f"/ledger/{unit.id}", "/report"):
            assert_is_text(client.get(path), text)


def assert_is_text(answer: httpx.Response, text: str, *, there: bool = False) -> None:
    """No markup of the text, no script of any text, and the text itself where it has to be."""
    page = Text(answer.text)
    for tag, attributes in page.tags:
        assert tag not in ("img", "iframe", "object"), (tag, attributes)
        assert tag != "script" or attributes["src"].startswith("/static/")
        assert not [name for name in attributes if name.startswith("on") or name == "style"]
        assert not str(attributes.get("href")).strip().startswith("javascript:")
    assert len([tag for tag, _ in page.tags if tag == "title"]) == 1
    shown = page.text + " ".join(str(v) for _, a in page.tags for v in a.values())
    if there:
        assert re.sub(r"\s+", " ", text) in shown


@pytest.mark.parametrize(
    "away",
    [
        "//evil.example",
        "/\\evil.example",
        "https://evil.example",
        "\\\\evil.example",
        "/\t/evil.example",
        "/\n/evil.example",
        "javascript:alert(1)",
        "evil.example",
        "/ok\r\nSet-Cookie: a=b",
        "",
    ],
)
def test_open_redirect_signing_in_leads_to_this_server_only(office, away):
    with office.browser() as client:
        assert sign_in(client, "ana", next=away).headers["location"] == "/"
        assert (
            f'value="{html.escape(away)}"' not in client.get("/sign-in", params={"next": away}).text
            or away == ""
        )


@pytest.mark.parametrize("path", ["/", "/people?role=scout", "/units/1#found"])
def test_signing_in_leads_back_to_where_one_was(path):
    assert inside(path) == path


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2fapp.py",
        "/static/%2e%2e%2f%2e%2e%2frecords/base.py",
        "/static//etc/passwd",
        "/static/%00",
        "/static/vendor/..%5c..%5capp.py",
        "/link/..%2f..%2fpeople",
        "/people/..%2f",
        "/people/%00",
        "/people/1%27%20OR%201=1",
    ],
)
def test_path_tricks_lead_nowhere(office, path):
    with office.browser("ana") as client:
        answer = client.get(httpx.URL(office.url + path))
        assert answer.status_code in (400, 404), answer.text
        assert "def " not in answer.text
        assert "root:" not in answer.text


NOBODY = "01890000-0000-7000-8000-000000000000"
FILLED = {
    "role": "manager",
    "sign_in_name": "zz",
    "sure": "yes",
    "rev": "1",
    "reason": "a reason",
    "field": ["names"],
    "value": ["x"],
}


def theirs(office: Office) -> dict[str, object]:
    """An id of each kind of another operation, by the name that paths have for it."""
    with writing(office.engine, office.other) as s:
        phone = devices.pair(s, devices.offer_pairing(s).secret, "theirs")
        s.add(unit := r.Unit(kind="unit", name="theirs", level=0, opened_on=FIRST))
        s.flush()
        return {"person": office.zoe, "device": phone.device, "unit": unit.id, "record": unit.id}


def everything_of(office: Office, operation: int) -> dict[str, list[object]]:
    """Every row of an operation, by table."""
    with office.engine.connect() as c:
        return {
            name: c.execute(sa.select(table).where(table.c.operation_id == operation)).all()
            for name, table in r.Base.metadata.tables.items()
            if "operation_id" in table.c
        }


def test_another_operations_ids_are_404_everywhere_and_nothing_of_it_changes(office):
    ids = theirs(office)
    before = everything_of(office, office.other)
    asked = 0
    with office.browser("ana") as client:
        for (method, path), who in sorted(roles.rights().items()):
            if "{" not in path or "manager" not in who:
                continue
            address = re.sub(r"{(\w+)}", lambda m: str(ids.get(m[1], NOBODY)), path)
            answer = client.request(method, address, data=FILLED if method == "POST" else None)
            assert answer.status_code == 404, (method, address, answer.text)
            assert "theirs" not in answer.text
            asked += 1
    assert asked >= 5
    assert everything_of(office, office.other) == before


def test_another_operations_link_is_over(office):
    with writing(office.engine, office.other) as s:
        token = links.make(s, "choose", office.zoe)
    with office.browser() as client:
        assert client.get(f"/link/{token}").status_code == 400
        answer = client.post(f"/link/{token}/choose", data={"passphrase": BETTER})
        assert answer.status_code == 400
    with session(office.engine, office.other) as s:
        assert signing_in.who_proves(s, "zoe", BETTER) is None


def test_another_operations_sign_in_opens_nothing(office):
    with writing(office.engine, office.other) as s:
        token = signing_in.begin(s, office.zoe, browser="b", source=None)
    with asking(office.url, token) as client:
        assert client.get("/account").status_code == 303


def test_another_operations_name_and_passphrase_open_nothing(office):
    with office.browser() as client:
        assert sign_in(client, "zoe").status_code == 401


def test_a_right_that_is_taken_away_is_gone_with_the_next_request(office):
    carl = office.add("carl", "manager")
    with office.browser("carl") as his, office.browser("ana") as hers:
        assert his.get("/people").status_code == 200
        assert hers.post(f"/people/{carl}/role", data={"role": "scout"}).status_code == 303
        assert his.get("/people").status_code == 303
        sign_in(his, "carl")
        assert his.get("/people").status_code == 403


def test_privilege_escalation_a_scout_makes_nobody_a_manager(office):
    with office.browser("bea") as client:
        for path in (f"/people/{office.bea}/role", "/people", f"/people/{office.ana}/remove"):
            form = {"role": "manager", "name": "x", "sign_in_name": "x", "sure": "yes"}
            answer = client.post(path, data=form)
            assert answer.status_code == 403, path
    with session(office.engine, office.operation) as s:
        assert people.account(s, office.bea).role == "scout"
        assert people.account(s, office.ana).name == "Ana"


def test_a_set_up_link_makes_one_manager_and_no_second(engine):
    operation = set_up(engine, "A", "UTC").operation
    with writing(engine, operation) as s:
        token = links.make(s, "set_up")
    form = {"name": "Ana", "sign_in_name": "ana", "passphrase": GOOD}
    with listening(create_app(Served(engine, operation))) as url, asking(url) as client:
        assert client.get(f"/link/{token}").status_code == 200
        assert client.get("/people").headers["location"] == "/sign-in?next=/people"
        short = client.post(f"/link/{token}/set-up", data=form | {"passphrase": "short"})
        assert short.status_code == 400
        assert client.post(f"/link/{token}/set-up", data=form).headers["location"] == "/"
        assert client.get("/people").status_code == 200
        again = client.post(f"/link/{token}/set-up", data=form | {"sign_in_name": "eve"})
        assert again.status_code == 400
        assert "was used" in again.text
    with session(engine, operation) as s:
        assert [a.sign_in_name for a in people.accounts(s)] == ["ana"]


def test_looking_at_a_link_uses_nothing_up(office):
    with writing(office.engine, office.operation) as s:
        token = links.make(s, "choose", office.bea)
    with office.browser() as client:
        assert [client.get(f"/link/{token}").status_code for _ in range(3)] == [200, 200, 200]
        assert client.head(f"/link/{token}").status_code == 405
        assert client.post(f"/link/{token}/choose", data={"passphrase": BETTER}).status_code == 303
    with session(office.engine, office.operation) as s:
        assert signing_in.who_proves(s, "bea", BETTER) == office.bea


def test_no_secret_and_no_fault_of_the_program_stands_on_a_page_of_an_error(office, monkeypatch):
    def broken(_):
        raise RuntimeError(f"the passphrase is {GOOD}")

    app = create_app(Served(office.engine, office.operation, summary=broken))
    monkeypatch.setattr(people, "accounts", broken)
    with listening(app) as url, asking(url) as client:
        sign_in(client, "ana")
        answer = client.get("/people")
    assert answer.status_code == 500
    assert GOOD not in answer.text
    assert "Traceback" not in answer.text


def test_what_a_signed_in_person_reads_is_kept_by_no_browser_and_no_proxy(office):
    with office.browser("ana") as client:
        for path in ("/account", "/people", "/phones"):
            assert client.get(path).headers["cache-control"] == "no-store"


def test_limits_are_those_of_one_server(office):
    assert isinstance(Served(office.engine, office.operation).limits, Limits)
    assert base.QUERIES_MOST == 14


def test_refused_sign_ins_are_noted_without_what_was_typed(office):
    typed = "my passphrase by mistake"
    with office.browser() as client:
        sign_in(client, typed, "x")
        sign_in(client, "ana", "x")
    with session(office.engine, office.operation) as s:
        refused = s.scalars(
            sa.select(r.AccountEvent).where(r.AccountEvent.kind == "sign_in_refused")
        ).all()
    assert [e.person_id for e in refused] == [None, office.ana]
    assert all(typed not in str(vars(e)) for e in refused)


ODD = ["", "<b>", "\0", "x" * 400, "-1", "1e99", "9" * 30, "|", "a|b|c", "' OR 1=1 --"]
FIELDS = [*FILLED, "name", "passphrase", "current", "pin", "which", "next", "tally", "number"]


@pytest.mark.parametrize("odd", ODD)
def test_no_form_filled_with_nonsense_breaks_the_program(office, odd):
    ids = {"person": office.bea, "device": NOBODY}
    with office.browser("ana") as client, writing(office.engine, office.operation) as s:
        s.add(unit := r.Unit(kind="unit", name="U", level=0, opened_on=FIRST))
        s.commit()
        ids |= {"unit": unit.id, "record": unit.id}
        for (method, path), who in sorted(roles.rights().items()):
            if method != "POST" or "manager" not in who:
                continue
            address = re.sub(r"{(\w+)}", lambda m: str(ids.get(m[1], NOBODY)), path)
            for form in (dict.fromkeys(FIELDS, odd), dict.fromkeys(FIELDS, odd) | {"rev": "1"}):
                assert client.post(address, data=form).status_code < 500, (address, odd)


@pytest.mark.parametrize("odd", ["\0", "\u202e", "a\nb", "\ud7ff\U0001f345"])
def test_a_phone_of_an_odd_name_is_paired_under_what_can_be_read_of_it(office, odd):
    with writing(office.engine, office.operation) as s:
        code = devices.offer_pairing(s).secret
    with office.browser() as client:
        said = client.post("/api/v1/pair", json={"code": code, "label": f"phone {odd}"})
        assert said.status_code == 200
    with session(office.engine, office.operation) as s:
        assert all(c.isprintable() for c in s.scalars(sa.select(r.Device.label)).one())
