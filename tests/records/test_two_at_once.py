"""What works once works once when two ask for it at the same time, on both databases."""

from __future__ import annotations

import threading
from collections.abc import Callable

import pytest

from benchwalk.records.accounts import links, people
from benchwalk.records.accounts.people import AccountRefusedError
from benchwalk.records.database import session, writing

PATIENCE_S = 20.0
# long enough for the second to read what the first is about to change, where nothing keeps it
MEANWHILE_S = 0.5


def at_once(engine, operation, act: Callable[..., object]) -> list[object]:
    """What each of two writers got, of whom the second begins while the first is at work."""
    answers: list[object] = []
    read = threading.Event()

    def second():
        with writing(engine, operation) as s:
            finish = act(s)
            read.set()
            answers.append(finish())

    thread = threading.Thread(target=second, daemon=True)
    with writing(engine, operation) as s:
        finish = act(s)
        thread.start()
        read.wait(MEANWHILE_S)
        answers.append(finish())
    thread.join(PATIENCE_S)
    assert not thread.is_alive(), "the second writer waits for ever"
    return answers


@pytest.mark.parametrize("purpose", ["set_up", "choose", "pair"])
def test_a_link_followed_twice_at_once_works_once(engine, operation, purpose):
    with writing(engine, operation) as s:
        token = links.make(s, purpose)

    def follow(s):
        found = links.find(s, token, purpose)
        return lambda: found is not None and (links.use(s, found), True)[1]

    assert at_once(engine, operation, follow) == [True, False]


def test_two_managers_who_demote_each_other_at_once_leave_one(engine, operation):
    with writing(engine, operation) as s:
        both = [people.add_person(s, name, "manager", name) for name in ("ana", "bea")]
        for person in both:
            people.set_passphrase(s, person, "seven wet ladders in a row")
    left = list(both)

    def demote(s):
        people.accounts(s)
        return lambda: demoted(s, left.pop())

    assert at_once(engine, operation, demote) == [None, "account.last_manager"]
    with session(engine, operation) as s:
        assert [a.role for a in people.accounts(s)].count("manager") == 1


def demoted(s, person) -> str | None:
    try:
        people.change_role(s, person, "grower")
    except AccountRefusedError as refused:
        return refused.key
    return None
