"""Phones: paired once by a code, known by a token that can be taken back, held by a PIN."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.accounts import audit, devices, people
from benchwalk.records.accounts.people import AccountRefusedError
from benchwalk.records.accounts.tokens import LETTERS
from benchwalk.records.database import session, writing
from benchwalk.records.setup import set_up


def paired(engine, operation, typed=False):
    with writing(engine, operation) as s:
        offered = devices.offer_pairing(s)
        return devices.pair(s, offered.typed if typed else offered.secret, "phone 3")


def a_scout(engine, operation, name="ana", pin="204060"):
    with writing(engine, operation) as s:
        person = people.add_person(s, name, "scout", name)
        people.set_pin(s, person, pin)
    return person


@pytest.mark.parametrize("typed", [False, True])
def test_a_phone_is_paired_by_the_picture_or_by_typing(engine, operation, typed):
    made = paired(engine, operation, typed)
    with session(engine, operation) as s:
        found = devices.phone_of(s, made.token)
        assert (found.device, found.label) == (made.device, "phone 3")


def test_a_typed_code_is_read_however_it_is_spaced_and_never_has_letters_like_digits(
    engine, operation
):
    with writing(engine, operation) as s:
        code = devices.offer_pairing(s).typed
        assert len(code) == 8
        assert not set("01OILU") & set(LETTERS)
        assert devices.pair(s, f" {code[:4].lower()}-{code[4:]} ", "p").token


def test_a_code_pairs_one_phone_only(engine, operation):
    with writing(engine, operation) as s:
        offered = devices.offer_pairing(s)
        devices.pair(s, offered.secret, "first")
        for code in (offered.secret, offered.typed):
            with pytest.raises(AccountRefusedError, match="not known, was used, or"):
                devices.pair(s, code, "second")


def test_a_code_is_good_for_ten_minutes(engine, operation):
    with writing(engine, operation) as s:
        offered = devices.offer_pairing(s)
        held = s.scalars(sa.select(r.Link)).one()
        assert held.ends_at - held.made_at == dt.timedelta(minutes=10)
        held.ends_at = dt.datetime.now(dt.UTC)
        s.flush()
        with pytest.raises(AccountRefusedError, match="ten minutes"):
            devices.pair(s, offered.secret, "late")


def test_a_code_of_another_operation_pairs_nothing(engine, operation):
    other = set_up(engine, "B", "UTC").operation
    with writing(engine, other) as s:
        offered = devices.offer_pairing(s)
    with writing(engine, operation) as s, pytest.raises(AccountRefusedError, match="not known"):
        devices.pair(s, offered.secret, "stray")


def test_a_phone_that_is_taken_back_opens_nothing(engine, operation):
    made = paired(engine, operation)
    scout = a_scout(engine, operation)
    with writing(engine, operation) as s:
        shift = devices.begin_shift(s, made.device, scout)
        devices.revoke(s, made.device)
    with session(engine, operation) as s:
        assert devices.phone_of(s, made.token) is None
        assert devices.on_shift(s, made.device, shift) is None


def test_a_phone_that_is_not_there_cannot_be_taken_back(engine, operation):
    other = set_up(engine, "B", "UTC").operation
    stranger = paired(engine, other).device
    with writing(engine, operation) as s:
        for device in (uuid.uuid4(), stranger):
            with pytest.raises(AccountRefusedError, match="no such phone"):
                devices.revoke(s, device)


@pytest.mark.parametrize("token", ["", "x" * 10_000, "' OR 1=1"])
def test_a_token_that_never_was_is_no_phones(engine, operation, token):
    paired(engine, operation)
    with session(engine, operation) as s:
        assert devices.phone_of(s, token) is None


def test_a_token_opens_its_own_scope_only(engine, operation):
    made = paired(engine, operation)
    with session(engine, operation) as s:
        assert devices.phone_of(s, made.token, "office") is None


def test_a_name_and_pin_say_who_holds_the_phone(engine, operation):
    scout = a_scout(engine, operation)
    with session(engine, operation) as s:
        assert devices.who_holds(s, "Ana", "204060") == scout
        for name, pin in [("ana", "204061"), ("nobody", "204060"), ("ana", "")]:
            assert devices.who_holds(s, name, pin) is None


def test_a_shift_ends_by_itself_and_with_the_next_scout(engine, operation):
    made, ana = paired(engine, operation), a_scout(engine, operation)
    bea = a_scout(engine, operation, "bea", "305070")
    with writing(engine, operation) as s:
        first = devices.begin_shift(s, made.device, ana)
        assert devices.on_shift(s, made.device, first).person == ana
        second = devices.begin_shift(s, made.device, bea)
        assert devices.on_shift(s, made.device, first) is None
        held = s.scalars(sa.select(r.Shift).where(r.Shift.ended_at.is_(None))).one()
        assert held.ends_at - held.started_at == devices.SHIFT
        held.ends_at = dt.datetime.now(dt.UTC)
        s.flush()
        assert devices.on_shift(s, made.device, second) is None


def test_a_shift_belongs_to_one_phone(engine, operation):
    made, other = paired(engine, operation), paired(engine, operation)
    scout = a_scout(engine, operation)
    with writing(engine, operation) as s:
        shift = devices.begin_shift(s, made.device, scout)
        assert devices.on_shift(s, other.device, shift) is None


def test_a_new_pin_ends_the_shifts_of_the_old_one(engine, operation):
    made, scout = paired(engine, operation), a_scout(engine, operation)
    with writing(engine, operation) as s:
        shift = devices.begin_shift(s, made.device, scout)
        people.set_pin(s, scout, "908070")
        assert devices.on_shift(s, made.device, shift) is None


def test_pairing_and_taking_back_are_noted(engine, operation):
    made = paired(engine, operation)
    with writing(engine, operation) as s:
        devices.revoke(s, made.device)
        kinds = [e.kind for e in audit.events(s)][::-1]
    assert kinds == ["link_made", "link_used", "phone_paired", "phone_revoked"]
