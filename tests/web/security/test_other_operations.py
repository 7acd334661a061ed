"""Ids, links and sign-ins of another operation, and rights that somebody does not have."""

from __future__ import annotations

import datetime as dt
import re

import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.accounts import devices, links, people, signing_in
from benchwalk.records.database import folder_of, session, writing
from benchwalk.records.photos import kept_at
from benchwalk.records.setup import set_up
from benchwalk.records.sync import take
from benchwalk.web import Served, base, create_app, roles
from benchwalk.web.limits import Limits
from benchwalk.web.roles import DEVICE
from tests.web.conftest import asking, listening
from tests.web.security.conftest import (
    BETTER,
    FILLED,
    FIRST,
    GOOD,
    Office,
    sign_in,
)

PHOTO = "ab" * 32


def theirs(office: Office) -> dict[str, str]:
    """An id of each kind of another operation, by the name that paths have for it."""
    with writing(office.engine, office.other) as s:
        phone = devices.pair(s, devices.offer_pairing(s).secret, "theirs")
        s.add(unit := r.Unit(kind="unit", name="theirs", level=0, opened_on=FIRST))
        s.add(walk := r.Walk(walk_on=FIRST, scout_id=office.zoe))
        s.flush()
        seen = {"seen_at": dt.datetime(2026, 1, 1, tzinfo=dt.UTC), "cause": "pest"}
        s.add(r.Sighting(unit_id=unit.id, photo_sha256=PHOTO, words="theirs", **seen))
        token = links.make(s, "calendar", office.zoe)
        ids = {"person": office.zoe, "device": phone.device, "unit": unit.id, "record": unit.id}
        ids |= {"walk": walk.id, "n": 1, "digest": PHOTO, "token": token}
    assert take(office.engine, office.other, phone.device, ["theirs"])[0].answer == "rejected"
    photo = kept_at(folder_of(office.engine), PHOTO)
    photo.parent.mkdir(parents=True, exist_ok=True)
    photo.write_bytes(b"theirs")
    return {name: str(id_) for name, id_ in ids.items()}


def everything_of(office: Office, operation: int) -> dict[str, list[object]]:
    """Every row of an operation, by table."""
    with office.engine.connect() as c:
        return {
            name: c.execute(sa.select(table).where(table.c.operation_id == operation)).all()
            for name, table in r.Base.metadata.tables.items()
            if "operation_id" in table.c
        }


NO_IDS = {"name"}  # of a file that is the same for everybody


def routes_with_ids() -> list[tuple[str, str, frozenset[str]]]:
    """(method, path, who) of every route whose path names a thing."""
    return [
        (method, path, who)
        for (method, path), who in sorted(roles.rights().items())
        if set(re.findall(r"{(\w+)}", path)) - NO_IDS
    ]


def test_another_operations_ids_are_404_everywhere_and_nothing_of_it_changes(office):
    """From the application's routes: one whose path has another kind of id is not let pass."""
    ids = theirs(office)
    before = everything_of(office, office.other)
    with writing(office.engine, office.operation) as s:
        mine = devices.pair(s, devices.offer_pairing(s).secret, "mine")
        shift = devices.begin_shift(s, mine.device, office.bea)
    bearer = {"authorization": f"Bearer {mine.token}", "benchwalk-shift": shift}
    with office.browser("ana") as client, office.browser() as phone:
        phone.headers.update(bearer)
        for method, path, who in routes_with_ids():
            asking = phone if DEVICE in who else client
            sent = {"data": FILLED} if method == "POST" else {"params": {"at": 0, "of": 1}}
            answer = asking.request(method, path.format(**ids), **sent)
            # a link that opens nothing is told so, whoever made it
            expected = (400,) if path.startswith("/link/") else (404,)
            assert answer.status_code in expected, (method, path, answer.text)
            assert "theirs" not in answer.text.replace(ids["token"], "")
    assert len(routes_with_ids()) >= 20
    assert everything_of(office, office.other) == before


def test_another_operations_ids_in_a_form_an_address_or_a_file_of_a_phone_change_nothing(office):
    ids = theirs(office)
    before = everything_of(office, office.other)
    asked = {"unit": ids["unit"], "pest": "thrips", "stage": "adult", "method": "plant_count"}
    with writing(office.engine, office.operation) as s:
        mine = devices.pair(s, devices.offer_pairing(s).secret, "mine").device
    with office.browser("ana") as client:
        assert client.get("/looks", params=asked | {"on": FIRST.isoformat()}).status_code == 404
        device = {"device": ids["device"]}
        assert client.post("/conflicts/release", data=device).status_code == 404
        today = dt.datetime.now(dt.UTC).date().isoformat()
        begun = client.post("/paper", data={"walk_on": today, "scout": ids["person"]})
        assert begun.status_code == 400
        assert client.post("/account/end", data={"which": "00" * 32}).status_code == 404
    at = dt.datetime.now(dt.UTC).isoformat()
    said = {"id": str(r.uuid7()), "rev": 1, "base": 0, "by": str(office.bea), "seen_at": at}
    body = {"unit_id": ids["unit"], "colour": "red", "reason": "x", "position": None}
    item = said | {"offset_s": None, "void": None, "kind": "flag", "body": body}
    told = take(office.engine, office.operation, mine, [item, item | {"by": ids["person"]}])
    assert {answer.answer for answer in told} == {"rejected"}
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
        assert re.findall(r'value="(.*?)"', short.text) == ["Ana", "ana", ""]
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
        assert client.head(f"/link/{token}").status_code == 200
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
    assert base.QUERIES_MOST == 12


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
