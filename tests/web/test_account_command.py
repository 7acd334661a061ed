"""Accounts from the command line: the same rules, links that open the same pages."""

from __future__ import annotations

import json

import pytest
from typer.testing import CliRunner

from benchwalk.cli import app
from benchwalk.records.accounts import links, people, signing_in
from benchwalk.records.database import address, open_database, session
from benchwalk.records.setup import only_operation
from tests.web.test_accounts import GOOD, begun


@pytest.fixture
def run(tmp_path):
    def running(*words):
        return CliRunner().invoke(app, [*words, "--data", str(tmp_path)])

    assert running("init", "North").exit_code == 0
    return running


@pytest.fixture
def records(tmp_path, run):
    engine = open_database(address(tmp_path))
    yield engine, only_operation(engine)
    engine.dispose()


def token_of(said) -> str:
    return said.output.strip().rsplit("/", 1)[1]


def test_a_person_who_was_added_chooses_a_passphrase_by_the_printed_link(run, records):
    token = token_of(run("account", "add", "Ana", "--role", "grower"))
    with session(*records) as s:
        person = links.find(s, token, "choose").person_id
        held = people.account(s, person)
        assert (held.name, held.role, held.has_passphrase) == ("Ana", "grower", False)


def test_the_list_tells_who_can_come_in_and_no_secret(run, records):
    run("account", "add", "Ana", "--role", "grower", "--as", "anita")
    assert "Ana (grower 1): growing; no passphrase yet" in run("account", "list").output
    listed = json.loads(run("account", "list", "--json").output)
    assert listed[0]["signs_in_as"] == "anita"
    assert not [value for value in listed[0].values() if "argon2" in str(value)]


def test_another_link_takes_the_place_of_the_first(run, records):
    first = token_of(run("account", "add", "Ana", "--role", "grower"))
    second = token_of(run("account", "link", "ANA"))
    with session(*records) as s:
        assert links.find(s, first, "choose") is None
        assert links.find(s, second, "choose") is not None


def test_ending_ends_every_sign_in(run, records):
    run("account", "add", "Ana", "--role", "grower")
    engine, operation = records
    with session(engine, operation) as s:
        person = people.who_has_name(s, "ana")
    token = begun(engine, operation, person)
    assert "1 sign-in of ana ended" in run("account", "end", "ana").output
    with session(engine, operation) as s:
        assert signing_in.signed_in(s, token) is None


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("link", "nobody"), "nobody signs in as 'nobody'; known are: ana"),
        (("role", "ana", "--role", "owner"), "'owner' is no role; give one of scout"),
        (("add", "Ana", "--role", "scout"), "somebody signs in as 'ana' already"),
        (("add", " ", "--role", "scout"), "a name has 1 to 64 characters"),
    ],
)
def test_what_cannot_be_done_is_told_and_changes_nothing(run, records, words, told):
    run("account", "add", "Ana", "--role", "grower")
    said = run("account", *words)
    assert said.exit_code == 1
    assert told in said.output
    with session(*records) as s:
        assert [(a.sign_in_name, a.role) for a in people.accounts(s)] == [("ana", "grower")]


def test_no_passphrase_is_taken_on_the_command_line(run):
    """A command line is kept in histories and seen by everybody on the machine."""
    for command in ("add", "link", "role", "end", "list"):
        assert "passphrase " + GOOD not in run("account", command, "--help").output
        assert "--passphrase" not in run("account", command, "--help").output
