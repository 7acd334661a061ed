"""Guesses: how many are looked at, and that a stranger's do not shut the person out."""

from __future__ import annotations

import pytest

from benchwalk.web.limits import (
    FROM_EVERYWHERE,
    PER_NAME,
    PER_SOURCE,
    REMEMBERED,
    WINDOW_S,
    Limits,
    network,
)


class Clock:
    def __init__(self) -> None:
        self.at = 1000.0

    def __call__(self) -> float:
        return self.at


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def limits(clock):
    return Limits(clock)


def test_a_name_is_guessed_at_ten_times_from_one_place_and_then_nothing_is_looked_at_there(limits):
    for _ in range(PER_NAME):
        assert limits.wait_s("192.0.2.1", "ana") == 0
        limits.wrong("192.0.2.1", "ana")
    assert 0 < limits.wait_s("192.0.2.1", "ana") <= WINDOW_S + 1
    assert limits.wait_s("192.0.2.1", "bea") == 0


def test_a_stranger_at_one_address_shuts_nobody_out_at_another(limits):
    for _ in range(FROM_EVERYWHERE):
        if limits.wait_s("192.0.2.1", "ana") == 0:
            limits.wrong("192.0.2.1", "ana")
    assert limits.wait_s("192.0.2.1", "ana") > 0
    assert limits.wait_s("198.51.100.1", "ana") == 0


def test_a_name_is_guessed_at_a_hundred_times_from_wherever(limits):
    for n in range(FROM_EVERYWHERE):
        assert limits.wait_s(f"192.0.2.{n}", "ana") == 0
        limits.wrong(f"192.0.2.{n}", "ana")
    assert 0 < limits.wait_s("198.51.100.1", "ana") <= WINDOW_S + 1
    assert limits.wait_s("198.51.100.1", "bea") == 0


def test_a_source_is_slowed_whatever_names_it_guesses(limits):
    for n in range(PER_SOURCE):
        limits.wrong("192.0.2.1", f"name {n}")
    assert limits.wait_s("192.0.2.1", "another") > 0
    assert limits.wait_s("192.0.2.2", "another") == 0


def test_a_strangers_guesses_do_not_shut_the_persons_own_browser_out(limits):
    for n in range(FROM_EVERYWHERE):
        limits.wrong(f"192.0.2.{n % 50}", "ana")
    assert limits.wait_s("198.51.100.1", "ana") > 0
    assert limits.wait_s("198.51.100.1", "ana", "her browser") == 0


def test_a_known_browser_has_a_limit_of_its_own(limits):
    for _ in range(PER_NAME):
        limits.wrong("192.0.2.1", "ana", "her browser")
    assert limits.wait_s("192.0.2.1", "ana", "her browser") > 0
    assert limits.wait_s("192.0.2.9", "ana") == 0


def test_guesses_are_forgotten_after_ten_minutes(limits, clock):
    for _ in range(PER_NAME):
        limits.wrong("192.0.2.1", "ana")
    clock.at += WINDOW_S
    assert limits.wait_s("192.0.2.1", "ana") == 0


def test_the_wait_that_is_told_is_enough_and_not_a_second_more(limits, clock):
    for _ in range(PER_NAME):
        limits.wrong("192.0.2.1", "ana")
        clock.at += 7
    told = limits.wait_s("192.0.2.1", "ana")
    clock.at += told - 1.5
    assert limits.wait_s("192.0.2.1", "ana") > 0
    clock.at += 1.5
    assert limits.wait_s("192.0.2.1", "ana") == 0


def test_whoever_has_one_account_cannot_wipe_the_count_of_guesses_at_others(limits):
    for n in range(PER_SOURCE):
        limits.wrong("192.0.2.1", f"name {n}")
        limits.right("192.0.2.1", "mine")
    assert limits.wait_s("192.0.2.1", "another") > 0


def test_being_right_forgets_the_guesses_for_the_name(limits):
    for _ in range(PER_NAME - 1):
        limits.wrong("192.0.2.1", "ana")
    limits.right("192.0.2.1", "ana")
    limits.wrong("192.0.2.1", "ana")
    assert limits.wait_s("192.0.2.1", "ana") == 0


def test_guesses_cannot_fill_the_memory(limits):
    for n in range(REMEMBERED + 50):
        limits.wrong(f"source {n}", f"name {n}")
    assert len(limits._wrong) == REMEMBERED


@pytest.mark.parametrize(
    ("source", "counted"),
    [
        ("192.0.2.7", "192.0.2.7"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("2001:db8:1:2::9", "2001:db8:1:2::/64"),
        ("testclient", "testclient"),
    ],
)
def test_an_address_of_version_6_is_counted_by_its_network(source, counted):
    """RFC 4291, 2.5.4: an interface picks the last 64 bits of its address itself."""
    assert network(source) == counted
