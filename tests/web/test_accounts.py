"""Accounts in the records, on both databases: secrets, links, sign-ins, and what was done.

Settings of argon2id (m = 19456 KiB, t = 2, p = 1) are those of OWASP's Password Storage Cheat
Sheet, from memory. Lengths without rules on kinds of characters: NIST SP 800-63B, 5.1.1.2, from
memory.
"""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
import sqlalchemy as sa
from argon2 import PasswordHasher, extract_parameters
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy.exc import DBAPIError

import benchwalk.records as r
from benchwalk.records.accounts import audit, links, passphrases, people, signing_in
from benchwalk.records.accounts.passphrases import PassphraseRefusedError, hash_passphrase
from benchwalk.records.accounts.people import AccountRefusedError
from benchwalk.records.accounts.tokens import digest_of
from benchwalk.records.database import session, writing
from benchwalk.records.setup import set_up

GOOD = "orange ladder seven moss"
BETTER = "wet boots by the door"
NOW = dt.datetime.now


def a_person(engine, operation, role="manager", name="ana", passphrase=GOOD):
    with writing(engine, operation) as s:
        person = people.add_person(s, name.title(), role, name)
        if passphrase:
            people.set_passphrase(s, person, passphrase)
    return person


def begun(engine, operation, person):
    with writing(engine, operation, person) as s:
        return signing_in.begin(s, person, browser="b", source="192.0.2.1")


def who(engine, operation, token):
    with session(engine, operation) as s:
        found = signing_in.signed_in(s, token)
        return found and found.person


def set_back(engine, table, **columns):
    with engine.begin() as c:
        c.execute(sa.update(table).values(**columns))


def test_a_passphrase_is_kept_as_argon2id_with_the_published_settings(published_hashes):
    held = extract_parameters(hash_passphrase(GOOD))
    assert held.type.name == "ID"
    assert (held.memory_cost, held.time_cost, held.parallelism) == (19456, 2, 1)
    assert PasswordHasher().verify(hash_passphrase(GOOD), GOOD)


def test_two_people_with_one_passphrase_have_unlike_hashes():
    assert hash_passphrase(GOOD) != hash_passphrase(GOOD)


@pytest.mark.parametrize("text", ["", "short", "elevenchars", "x" * 257])
def test_a_passphrase_too_short_or_too_long_is_refused_with_its_length(text):
    with pytest.raises(PassphraseRefusedError, match=f"has {len(text)} characters"):
        hash_passphrase(text)


@pytest.mark.parametrize(
    "text",
    [
        "Password 1234",
        "correct horse battery staple",
        "CONTRASEÑA-1234",
        "123456789012",
        "aaaaaaaaaaaaaaaa",
        "abababababababab",
        "Greenhouse 2026",
    ],
)
def test_a_common_passphrase_is_refused_however_it_is_spaced_and_capitalised(text):
    with pytest.raises(PassphraseRefusedError, match="try first"):
        hash_passphrase(text)


@pytest.mark.parametrize(
    "text", ["all lower case words", "ÑANDÚ come lechuga", "🌱🌱🍅 doce letras"]
)
def test_no_kind_of_character_is_asked_for(text):
    assert passphrases.proves(hash_passphrase(text), text)


def test_a_passphrase_typed_with_marks_apart_is_the_same():
    """Unicode NFC: ñ as one sign, and as n with a tilde after it."""
    assert passphrases.proves(hash_passphrase("la caña alta y verde"), "la can\u0303a alta y verde")


@given(st.text(max_size=300))
def test_nothing_proves_a_person_without_a_passphrase(text):
    assert passphrases.proves(None, text) is False


@pytest.mark.parametrize("pin", ["12345", "1234567", "12a456", "１２３４５６", " 12345"])
def test_a_pin_is_six_digits(pin):
    with pytest.raises(PassphraseRefusedError, match="6 digits"):
        passphrases.hash_pin(pin)


@pytest.mark.parametrize("pin", ["000000", "123456", "987654"])
def test_a_pin_that_is_one_digit_or_a_row_is_refused(pin):
    with pytest.raises(PassphraseRefusedError, match="choose another"):
        passphrases.hash_pin(pin)


def test_a_sign_in_name_has_one_spelling(engine, operation):
    a_person(engine, operation, name="ana")
    with session(engine, operation) as s:
        assert signing_in.who_proves(s, "  ANA ", GOOD) is not None
    with (
        writing(engine, operation) as s,
        pytest.raises(AccountRefusedError, match="signs in as 'ana' already"),
    ):
        people.add_person(s, "Another", "scout", "Ana")


@pytest.mark.parametrize(
    ("role", "name"), [("owner", "a"), ("", "a"), ("scout", " "), ("scout", "n" * 65)]
)
def test_a_role_or_name_that_is_none_is_refused(engine, operation, role, name):
    with writing(engine, operation) as s, pytest.raises(AccountRefusedError, match="give"):
        people.add_person(s, name, role, "somebody")


def test_a_wrong_passphrase_a_missing_one_and_an_unknown_name_prove_nobody(engine, operation):
    a_person(engine, operation)
    a_person(engine, operation, name="bea", passphrase=None)
    with session(engine, operation) as s:
        assert signing_in.who_proves(s, "ana", GOOD) is not None
        for name, text in [("ana", BETTER), ("bea", GOOD), ("bea", ""), ("carl", GOOD)]:
            assert signing_in.who_proves(s, name, text) is None


def test_the_token_is_stored_nowhere(engine, operation):
    token = begun(engine, operation, a_person(engine, operation))
    with engine.connect() as c:
        for name, table in r.Base.metadata.tables.items():
            for row in c.execute(sa.select(table)):
                assert token not in str(row), name
                assert token.encode() not in row, name


def test_each_sign_in_has_a_token_of_its_own(engine, operation):
    person = a_person(engine, operation)
    tokens = {begun(engine, operation, person) for _ in range(3)}
    assert len(tokens) == 3
    assert {who(engine, operation, token) for token in tokens} == {person}


@pytest.mark.parametrize("token", ["", "x", "x" * 5000, "\0", "' OR 1=1 --"])
def test_a_token_that_never_was_is_nobodys(engine, operation, token):
    begun(engine, operation, a_person(engine, operation))
    assert who(engine, operation, token) is None


def test_a_sign_in_ends_when_it_was_not_used_for_twelve_hours(engine, operation):
    person = a_person(engine, operation)
    token = begun(engine, operation, person)
    almost = NOW(dt.UTC) - signing_in.IDLE + dt.timedelta(minutes=1)
    set_back(engine, r.SignIn, last_used_at=almost)
    assert who(engine, operation, token) == person
    set_back(engine, r.SignIn, last_used_at=NOW(dt.UTC) - signing_in.IDLE)
    assert who(engine, operation, token) is None


def test_a_sign_in_ends_when_it_is_old_however_much_it_was_used(engine, operation):
    token = begun(engine, operation, a_person(engine, operation))
    set_back(engine, r.SignIn, ends_at=NOW(dt.UTC))
    assert who(engine, operation, token) is None


def test_a_new_passphrase_ends_every_sign_in(engine, operation):
    person = a_person(engine, operation)
    tokens = [begun(engine, operation, person) for _ in range(2)]
    with writing(engine, operation, person) as s:
        people.set_passphrase(s, person, BETTER)
    assert [who(engine, operation, token) for token in tokens] == [None, None]


def test_another_role_ends_every_sign_in(engine, operation):
    a_person(engine, operation)
    grower = a_person(engine, operation, "grower", "bea")
    token = begun(engine, operation, grower)
    with writing(engine, operation) as s:
        people.change_role(s, grower, "scout")
    assert who(engine, operation, token) is None


def test_one_sign_in_can_be_ended_and_only_by_its_person(engine, operation):
    ana, bea = a_person(engine, operation), a_person(engine, operation, "scout", "bea")
    token = begun(engine, operation, ana)
    with writing(engine, operation, bea) as s:
        assert not signing_in.end(s, digest_of(token), person=bea)
    assert who(engine, operation, token) == ana
    with writing(engine, operation, ana) as s:
        assert signing_in.end(s, digest_of(token), person=ana)
    assert who(engine, operation, token) is None


def test_a_sign_in_of_another_operation_is_nobodys(engine, operation):
    token = begun(engine, operation, a_person(engine, operation))
    other = set_up(engine, "B", "UTC").operation
    assert who(engine, other, token) is None


def test_a_link_works_once(engine, operation):
    person = a_person(engine, operation, passphrase=None)
    with writing(engine, operation) as s:
        token = links.make(s, "choose", person)
    with writing(engine, operation) as s:
        links.use(s, links.find(s, token, "choose"))
    with session(engine, operation) as s:
        assert links.find(s, token, "choose") is None


def test_a_link_is_for_one_thing_and_for_a_time(engine, operation):
    person = a_person(engine, operation, passphrase=None)
    with writing(engine, operation) as s:
        token = links.make(s, "choose", person)
        assert links.find(s, token, "set_up", "enter", "pair") is None
        assert links.find(s, token, "choose").person_id == person
    set_back(engine, r.Link, ends_at=NOW(dt.UTC))
    with session(engine, operation) as s:
        assert links.find(s, token, "choose") is None


def test_a_newer_link_takes_the_place_of_the_one_before(engine, operation):
    person = a_person(engine, operation, passphrase=None)
    with writing(engine, operation) as s:
        older, newer = links.make(s, "choose", person), links.make(s, "choose", person)
    with session(engine, operation) as s:
        assert links.find(s, older, "choose") is None
        assert links.find(s, newer, "choose") is not None


def test_nobody_enters_without_a_passphrase_but_in_a_class_or_demo(engine, operation):
    person = a_person(engine, operation)
    with (
        writing(engine, operation) as s,
        pytest.raises(AccountRefusedError, match="class or a demo"),
    ):
        links.offer_entrance(s, person)
    practice = set_up(engine, "P", "UTC", practice=True).operation
    with writing(engine, practice) as s:
        assert links.offer_entrance(s, people.guide(s, "guide"))


def test_the_last_manager_stays_one(engine, operation):
    ana = a_person(engine, operation)
    a_person(engine, operation, name="bea", passphrase=None)
    for refused in (people.remove_person, lambda s, p: people.change_role(s, p, "scout")):
        with (
            writing(engine, operation) as s,
            pytest.raises(AccountRefusedError, match="nobody else"),
        ):
            refused(s, ana)
    carl = a_person(engine, operation, name="carl")
    with writing(engine, operation, carl) as s:
        people.remove_person(s, ana)


def test_a_person_who_is_removed_leaves_a_pseudonym_and_no_secret(engine, operation):
    a_person(engine, operation)
    bea = a_person(engine, operation, "scout", "bea")
    token = begun(engine, operation, bea)
    with writing(engine, operation) as s:
        people.set_pin(s, bea, "204060")
        links.make(s, "choose", bea)
        people.remove_person(s, bea)
    assert who(engine, operation, token) is None
    with session(engine, operation) as s:
        left = people.account(s, bea)
        assert (left.shown, left.name, left.sign_in_name) == ("scout 1", None, None)
        assert (left.has_passphrase, left.has_pin) == (False, False)
        assert s.scalars(sa.select(r.Link).where(r.Link.person_id == bea)).all() == []


def test_what_was_done_is_noted_in_order_with_who_and_without_names_or_secrets(engine, operation):
    ana = a_person(engine, operation)
    with writing(engine, operation, ana) as s:
        bea = people.add_person(s, "Bea", "scout", "bea")
        people.change_role(s, bea, "grower")
    begun(engine, operation, ana)
    with session(engine, operation) as s:
        held = audit.events(s)[::-1]
    assert [e.n for e in held] == list(range(1, len(held) + 1))
    assert [e.kind for e in held] == [
        "person_added",
        "passphrase_set",
        "person_added",
        "person_changed",
        "signed_in",
    ]
    assert [e.by_id for e in held] == [None, None, ana, ana, ana]
    assert held[3].detail == {"role": ["scout", "grower"]}
    said = " ".join(str(e.detail) for e in held)
    assert not {"Ana", "Bea", GOOD} & set(said.split())


@pytest.mark.parametrize(
    "sql", ["UPDATE account_event SET kind = 'x'", "DELETE FROM account_event"]
)
def test_what_was_done_is_never_changed(engine, operation, sql):
    a_person(engine, operation)
    with engine.connect() as c, pytest.raises(DBAPIError, match="never changed"):
        c.exec_driver_sql(sql)


def test_every_kind_of_what_is_done_has_its_words():
    from benchwalk.catalogue import say  # noqa: PLC0415 - only here

    assert all(say(f"web.did_{kind}") for kind in audit.KINDS)


def test_another_operations_people_are_nobody(engine, operation):
    other = set_up(engine, "B", "UTC").operation
    stranger = a_person(engine, other, "scout", "zoe")
    with writing(engine, operation) as s:
        assert people.account(s, stranger) is None
        for act in (
            lambda: people.change_role(s, stranger, "manager"),
            lambda: people.remove_person(s, stranger),
            lambda: people.name_sign_in(s, stranger, "z"),
        ):
            with pytest.raises(AccountRefusedError, match="no such person"):
                act()
        with pytest.raises(AccountRefusedError, match="no name to sign in with"):
            people.set_passphrase(s, uuid.uuid4(), GOOD)


def test_the_command_that_removes_a_person_takes_their_way_in_too(engine, operation):
    from benchwalk.records.exports.persons import remove  # noqa: PLC0415 - only here

    a_person(engine, operation)
    bea = a_person(engine, operation, "scout", "bea")
    token = begun(engine, operation, bea)
    with writing(engine, operation) as s:
        remove(s, people.person_of(s, bea))
    assert who(engine, operation, token) is None
    with session(engine, operation) as s:
        assert people.account(s, bea).sign_in_name is None
