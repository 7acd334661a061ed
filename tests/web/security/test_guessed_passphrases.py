"""Brute force, and finding out who there is by wording, time and cost."""

from __future__ import annotations

import time

import pytest

from benchwalk.records.accounts import people, signing_in
from benchwalk.records.database import session, writing
from benchwalk.web.limits import PER_NAME
from tests.web.security.conftest import (
    BETTER,
    GOOD,
    sign_in,
)


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


def test_brute_force_of_a_stranger_elsewhere_does_not_keep_the_person_from_a_new_browser(office):
    """As a proxy on this machine tells where a request is from (RFC 7239 has its newer form)."""
    with office.browser() as stranger, office.browser() as new:
        stranger.headers["x-forwarded-for"] = "192.0.2.1"
        new.headers["x-forwarded-for"] = "198.51.100.1"
        for n in range(PER_NAME + 5):
            sign_in(stranger, "ana", f"wrong guess {n}")
        assert sign_in(stranger, "ana").status_code == 429
        assert sign_in(new, "ana").status_code == 303


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
            assert "not the passphrase you use now" in answer.text
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
def test_user_discovery_by_time_a_name_nobody_has_takes_as_long(office, published_hashes):
    """The passphrase is hashed either way: quickest within a fifth, and no quick answer.

    Of this thread's processor: what else the machine does is nobody's name.
    """
    with writing(office.engine, office.operation) as s:
        people.set_passphrase(s, office.ana, GOOD)
    with session(office.engine, office.operation) as s:
        signing_in.who_proves(s, "warm", "warm up the hash")
        took = {name: [] for name in ("ana", "nobody has this name")}
        for _ in range(15):
            for name, times in took.items():
                begun = time.thread_time()
                signing_in.who_proves(s, name, "a wrong guess here")
                times.append(time.thread_time() - begun)
    known, unknown = (min(times) for times in took.values())
    assert 0.8 < known / unknown < 1.25


def test_user_discovery_by_cost_a_name_nobody_has_is_hashed_as_often(office, monkeypatch):
    hashed = []
    monkeypatch.setattr(signing_in, "proves", lambda *given: bool(hashed.append(given)))
    with session(office.engine, office.operation) as s:
        for name in ("ana", "nobody"):
            signing_in.who_proves(s, name, "a guess")
    assert len(hashed) == 2
