"""What phones said and the records could not take is read, compared, and settled by a person."""

from __future__ import annotations

import json
from contextlib import contextmanager

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.accounts import devices
from benchwalk.records.database import session, writing
from benchwalk.records.ledger import verify
from benchwalk.records.sync import bring
from benchwalk.web import Served, create_app
from tests.capture.a_phone import APhone, changed
from tests.web.conftest import asking, kept_to_its_operation, listening, token_of

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)


@pytest.fixture
def phone(engine, small):
    return APhone(engine, small)


@pytest.fixture
def office(phone):
    """``office("grower")``: a browser of somebody of a role."""
    with (
        kept_to_its_operation(phone.engine),
        listening(create_app(Served(phone.engine, phone.n))) as url,
    ):

        @contextmanager
        def signed_in(role="grower"):
            with asking(url, token_of(phone.engine, phone.n, role)) as client:
                yield client

        yield signed_in


@pytest.fixture
def grower(office):
    with office() as client:
        yield client


def two_words(phone):
    """A look with 3 in the records, and the same rev with 9 beside it; the look."""
    walk, visit, look = phone.morning(3)
    assert phone.sends(walk, visit, look) == ["applied"] * 3
    assert phone.sends(changed(look, 1, 9)) == ["conflict"]
    return look


def settled(phone):
    with session(phone.engine, phone.n) as s:
        return [(a.settled_how, a.settled_by_id, a.body) for a in s.scalars(sa.select(r.Aside))]


def settle(client, how, n=1):
    return client.post(f"/conflicts/{n}/settle", data={"how": how})


def test_both_versions_stand_side_by_side_and_what_differs_is_marked(phone, grower):
    two_words(phone)
    assert 'href="/conflicts/1"' in grower.get("/conflicts").text
    page = grower.get("/conflicts/1").text
    rows = [row for row in page.split("<tr") if "differs" in row]
    assert len(rows) == 1
    assert ">3</b>" in rows[0]
    assert ">9</b>" in rows[0]
    assert [f'value="{way}"' in page for way in ("held", "sent", "both", "left", "released")] == [
        True,
        True,
        True,
        False,
        False,
    ]


def test_keeping_what_the_records_say_changes_no_record(phone, grower):
    look = two_words(phone)
    before = phone.ledger(look["id"])
    assert settle(grower, "held").status_code == 303
    assert len(phone.ledger(look["id"])) == len(before)
    assert phone.held()[look["id"]] == (1, 3)
    ((how, by, body),) = settled(phone)
    assert how == "held"
    assert by is not None
    assert json.loads(body)["body"]["examined"][0]["tallies"][0]["number"] == 9


def test_taking_the_phones_word_is_a_new_rev_by_the_scout_typed_by_who_settled(phone, grower):
    look = two_words(phone)
    assert settle(grower, "sent").status_code == 303
    assert phone.held()[look["id"]] == (2, 9)
    first, second = phone.ledger(look["id"])
    assert (first.rev, second.rev) == (1, 2)
    assert str(second.by_id) == phone.person
    assert second.typed_by_id == settled(phone)[0][1]
    assert second.typed_by_id != second.by_id
    assert second.device_id == phone.device


def test_keeping_both_is_a_look_of_its_own_beside_the_first(phone, grower):
    look = two_words(phone)
    assert settle(grower, "both").status_code == 303
    held = phone.held()
    assert held.pop(look["id"]) == (1, 3)
    assert list(held.values()) == [(1, 9)]


def test_the_ledger_is_whole_after_each_way(phone, grower):
    """Oracle: the chain, recomputed from its first row."""
    for how in ("held", "sent", "both"):
        two_words(phone)
        n = len(settled(phone))
        assert settle(grower, how, n).status_code == 303
    with session(phone.engine, phone.n) as s:
        assert verify(s, phone.n) is None


def test_what_was_settled_is_not_settled_again_and_stays_to_be_read(phone, grower):
    look = two_words(phone)
    settle(grower, "held")
    again = settle(grower, "sent")
    assert again.status_code == 400
    assert "settled already" in again.text
    assert phone.held()[look["id"]] == (1, 3)
    assert "kept what the records said" in grower.get("/conflicts").text.lower()
    assert "Kept what the records said" in grower.get("/conflicts/1").text


def test_a_phone_that_offers_it_again_after_it_was_settled_opens_nothing(phone, grower):
    look = two_words(phone)
    settle(grower, "held")
    assert phone.sends(changed(look, 1, 9)) == ["conflict"]
    assert "Nothing waits to be settled" in grower.get("/conflicts").text


def test_two_visits_of_one_unit_cannot_both_hold(phone, grower):
    walk = phone.walk()
    visit = phone.visit(walk)
    phone.sends(walk, visit, phone.visit(walk, "open", id=visit["id"]))
    page = grower.get("/conflicts/1").text
    assert 'value="both"' not in page
    assert settle(grower, "both").status_code == 400


def test_what_the_records_still_forbid_stays_aside_and_says_why(phone, grower):
    phone.sends(phone.visit({"id": str(r.uuid7())}))  # of no walk: the phone offers it again itself
    walk, visit, look = phone.morning(3)
    del look["body"]["plants"]
    look["body"]["plants"] = -1
    assert phone.sends(walk, visit, look)[-1].startswith("rejected broken_rule")
    answer = settle(grower, "released")
    assert answer.status_code == 400
    assert "still set aside" in answer.text
    spanish = grower.get("/conflicts", params={"lang": "es"}).text
    assert "Los registros lo prohíben. <i>Una comprobación" in spanish
    assert settled(phone)[0][0] is None
    assert phone.held() == {}


def test_the_rule_that_was_broken_and_the_field_at_fault_are_said_in_spanish(phone, grower):
    walk, visit, look = phone.morning(3)
    visit["body"] |= {"state": "skipped", "reason": "closed"}
    unread = look | {"id": str(r.uuid7()), "body": look["body"] | {"seen": 3}}
    assert phone.sends(walk, visit, look, unread)[2:] == [
        "rejected broken_rule",
        "rejected malformed",
    ]
    page = grower.get("/conflicts", params={"lang": "es"}).text
    assert "<i>Una unidad saltada no tiene revisiones.</i>" in page
    assert "<i>Campo: body.</i>" in page
    assert "skipped unit" not in page


def test_what_cannot_be_read_is_shown_letter_by_letter_and_may_only_be_left_out(phone, grower):
    assert phone.sends({"kind": "look", "<b>": 1}) == ["rejected malformed"]
    page = grower.get("/conflicts/1").text
    assert "&lt;b&gt;" in page
    assert "<b>&#34;" not in page
    assert settle(grower, "released").status_code == 400
    assert settle(grower, "left").status_code == 303
    assert settled(phone)[0][0] == "left"


def exported(phone, items):
    with session(phone.engine, phone.n) as s:
        uid = str(s.scalars(sa.select(r.Operation.uid).where(r.Operation.id == phone.n)).one())
    told = {"file": "benchwalk-phone", "version": 1, "operation": uid, "device": str(phone.device)}
    return json.dumps(told | {"epoch": 1, "made_at": "x", "items": items}).encode()


def test_a_revoked_phones_file_waits_and_a_person_lets_all_of_it_in(phone, grower):
    with writing(phone.engine, phone.n) as s:
        devices.revoke(s, phone.device)
    morning = phone.morning(1, 0, 4)
    bring(phone.engine, phone.n, exported(phone, list(reversed(morning))), "f")
    assert phone.held() == {}
    page = grower.get("/conflicts").text
    assert f"Take all {len(morning)} of phone 1" in page
    answer = grower.post("/conflicts/release", data={"device": str(phone.device)})
    assert f"Taken: {len(morning)}. Still waiting: 0." in answer.text
    assert sorted(number for _, number in phone.held().values()) == [0, 1, 4]
    with session(phone.engine, phone.n) as s:
        assert verify(s, phone.n) is None
    assert [a[0] for a in settled(phone)] == ["released"] * len(morning)


def test_bringing_the_file_again_after_it_was_let_in_adds_nothing(phone, grower):
    with writing(phone.engine, phone.n) as s:
        devices.revoke(s, phone.device)
    file = exported(phone, phone.morning(5))
    bring(phone.engine, phone.n, file, "f")
    grower.post("/conflicts/release", data={"device": str(phone.device)})
    answers = bring(phone.engine, phone.n, file, "f")
    assert {a.answer for a in answers} == {"duplicate"}


@pytest.mark.parametrize("role", ["scout", "applicator", "advisor"])
def test_only_growers_and_managers_settle(phone, office, role):
    look = two_words(phone)
    with office(role) as client:
        assert client.get("/conflicts").status_code == 403
        assert client.get("/conflicts/1").status_code == 403
        assert settle(client, "sent").status_code == 403
        assert (
            client.post("/conflicts/release", data={"device": str(phone.device)}).status_code == 403
        )
    assert phone.held()[look["id"]] == (1, 3)


def test_what_is_aside_in_another_operation_is_not_there(phone, grower, engine):
    other = APhone(engine)
    two_words(other)
    assert grower.get("/conflicts/1").status_code == 404
    assert settle(grower, "sent").status_code == 404
    assert grower.post("/conflicts/release", data={"device": str(other.device)}).status_code == 404
    assert "Nothing waits to be settled" in grower.get("/conflicts").text
