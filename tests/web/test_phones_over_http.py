"""A phone over HTTP: paired by a code, held by a PIN, and what becomes of guesses at either."""

from __future__ import annotations

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.accounts import devices, people
from benchwalk.records.database import session, writing
from benchwalk.web import Served, create_app
from benchwalk.web.limits import PER_NAME
from tests.web.conftest import asking, listening
from tests.web.test_phones import a_scout

PIN = "204060"


@pytest.fixture
def phone(engine, operation):
    with listening(create_app(Served(engine, operation))) as url, asking(url) as client:
        yield client


def offered(engine, operation):
    with writing(engine, operation) as s:
        return devices.offer_pairing(s)


def pair(phone, engine, operation):
    code = offered(engine, operation).secret
    said = phone.post("/api/v1/pair", json={"code": code, "label": "phone 3"})
    assert said.status_code == 200
    phone.headers["authorization"] = f"Bearer {said.json()['token']}"
    return said.json()


def take(phone, name="ana", pin=PIN):
    return phone.post("/api/v1/shift", json={"name": name, "pin": pin})


def test_a_phone_is_paired_and_a_scout_takes_it(phone, engine, operation):
    scout = a_scout(engine, operation, pin=PIN)
    paired = pair(phone, engine, operation)
    said = take(phone, "Ana")
    assert said.status_code == 200
    assert said.headers["cache-control"] == "no-store"
    assert said.json()["person"] == str(scout)
    with session(engine, operation) as s:
        device = s.scalars(sa.select(r.Device)).one()
        assert str(device.id) == paired["device"]
        assert devices.on_shift(s, device.id, said.json()["shift"]).person == scout


@pytest.mark.parametrize("token", ["", "Bearer", "Bearer nothing", "Basic eDp5"])
def test_without_the_token_of_a_phone_nobody_takes_one(phone, engine, operation, token):
    a_scout(engine, operation, pin=PIN)
    phone.headers["authorization"] = token
    said = take(phone)
    assert said.status_code == 401
    assert said.json()["error"] == "not_signed_in"


def test_a_phone_that_was_taken_back_is_told_401(phone, engine, operation):
    a_scout(engine, operation, pin=PIN)
    pair(phone, engine, operation)
    with writing(engine, operation) as s:
        devices.revoke(s, s.scalars(sa.select(r.Device.id)).one())
    assert take(phone).status_code == 401


def test_brute_force_of_a_pin_ends_after_ten_guesses_on_that_phone_only(phone, engine, operation):
    a_scout(engine, operation, pin=PIN)
    pair(phone, engine, operation)
    for n in range(PER_NAME):
        said = take(phone, pin=f"90{n:04}")
        assert said.status_code == 400
        assert said.json()["error"] == "account.wrong_pin"
    assert take(phone).status_code == 429
    phone.headers.pop("authorization")
    pair(phone, engine, operation)
    assert take(phone).status_code == 200


def test_brute_force_of_a_code_ends_after_ten_guesses(phone, engine, operation):
    code = offered(engine, operation).typed
    for n in range(PER_NAME):
        said = phone.post("/api/v1/pair", json={"code": f"ZZZZ{n:04}", "label": "x"})
        assert said.status_code == 400
        assert said.json()["error"] == "account.pair_code"
    said = phone.post("/api/v1/pair", json={"code": code, "label": "x"})
    assert said.status_code == 429
    assert int(said.headers["retry-after"]) > 0
    with session(engine, operation) as s:
        assert s.scalars(sa.select(r.Device)).all() == []


def test_user_discovery_a_name_nobody_has_reads_like_a_wrong_pin(phone, engine, operation):
    a_scout(engine, operation, pin=PIN)
    pair(phone, engine, operation)
    wrong, nobody = take(phone, pin="111213"), take(phone, name="nobody")
    assert (wrong.status_code, wrong.json()) == (nobody.status_code, nobody.json())


@pytest.mark.parametrize(
    "body", [{}, {"code": "x"}, {"code": "", "label": "x"}, {"code": 1, "label": "x"}, [], None]
)
def test_a_message_of_another_shape_is_refused_in_words(phone, body):
    said = phone.post("/api/v1/pair", json=body)
    assert said.status_code == 422
    assert said.json()["error"] == "web.fields"


def test_a_person_without_a_pin_takes_no_phone(phone, engine, operation):
    with writing(engine, operation) as s:
        people.add_person(s, "Bea", "scout", "bea")
    pair(phone, engine, operation)
    assert take(phone, "bea").status_code == 400


@pytest.mark.parametrize("role", people.ROLES)
def test_only_who_may_scout_takes_a_phone_and_holds_it(phone, engine, operation, role):
    """The plan names the same people (docs/phone-protocol.md: who may scout here)."""
    scout = a_scout(engine, operation, pin=PIN)
    pair(phone, engine, operation)
    shift = take(phone).json()["shift"]
    with writing(engine, operation) as s:
        people.change_role(s, scout, role)
    again = take(phone)
    with session(engine, operation) as s:
        device = s.scalars(sa.select(r.Device.id)).one()
        held = devices.on_shift(s, device, shift)
    if role in ("scout", "grower", "manager"):
        assert again.status_code == 200
    else:
        assert again.json()["error"] == "account.no_scout"
        assert held is None
