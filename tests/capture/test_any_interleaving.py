"""Any interleaving of edits, sends, losses, repeats and restarts ends in exactly the confirmed.

A few runs of the machine here; 200 of it, and of it with each fault planted, are the business of
``bench/planted_faults.py``. Here each fault is planted before the shortest story that shows it.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis.stateful import run_state_machine_as_test

from tests.capture.in_chromium import serving
from tests.capture.promise import PHONE, SERVER, machine, runs

pytestmark = [pytest.mark.browser, pytest.mark.slow]

RUNS = 4  # own choice for every run of the tests
FOUND_WITHIN = 200
MEASURED = Path(__file__).parent.parent.parent / "bench" / "results" / "planted_faults.json"


def test_every_interleaving_converges_to_exactly_the_confirmed(
    phone, browser_thread, operation_uid
):
    with serving(phone) as network:
        made = machine(phone, browser_thread, network, operation_uid)
        run_state_machine_as_test(made, settings=runs(RUNS))


def killed_at_the_commit(m):
    m.sends(fault="killed_at_commit")


def killed_in_the_middle(m):
    m.sends(fault="killed_mid_batch")


def corrected_after_it_was_sent(m):
    m.sends(fault="none")
    m.corrects_a_plant(number=7, which=0)


def corrected_while_its_answer_is_under_way(m):
    m.corrects_a_plant_while_an_answer_is_under_way(number=7, which=0)


def no_network(m):
    m.sends(fault="no_network")


def a_portal(m):
    m.sends(fault="portal")


STORIES = {
    "acknowledged_before_the_commit": killed_at_the_commit,
    "answered_200_on_a_rollback": killed_in_the_middle,
    "rev_ignored": corrected_after_it_was_sent,
    "deleted by id only": corrected_while_its_answer_is_under_way,
    "a retry that forgets": no_network,
    "any answer with 200 lets go": a_portal,
}
PLANTS = {plant.__name__: plant for plant in SERVER}


def told(stories, phone, browser_thread, operation, broken=None):
    """A plant is counted, a story happens, and everything is sent; one story after another."""
    with serving(phone) as network:
        made = machine(phone, browser_thread, network, operation, broken)
        for story in stories:
            m = made()
            m.counts_a_plant(number=3)
            story(m)
            m.teardown()


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_each_story_ends_well_where_nothing_is_broken(phone, browser_thread, operation_uid):
    told(STORIES.values(), phone, browser_thread, operation_uid)


@pytest.mark.parametrize("name", PLANTS)
@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_server_that_breaks_the_promise_is_found(phone, browser_thread, operation_uid, name):
    with pytest.MonkeyPatch.context() as patch:
        PLANTS[name](patch)
        with pytest.raises(AssertionError, match=r"confirmed|unsent"):
            told([STORIES[name]], phone, browser_thread, operation_uid)


@pytest.mark.parametrize("name", PHONE)
@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_phone_that_breaks_the_promise_is_found(phone, browser_thread, operation_uid, name):
    with pytest.raises(AssertionError, match=r"confirmed|unsent"):
        told([STORIES[name]], phone, browser_thread, operation_uid, PHONE[name])


def test_the_machine_found_every_planted_fault_within_200_runs():
    """By the bench's own runs, no seed chosen: hypothesis derives them from the machine."""
    held = json.loads(MEASURED.read_text(encoding="utf-8"))
    assert set(held["found_after_runs"]) == {*PLANTS, *PHONE}
    assert all(0 < n <= FOUND_WITHIN for n in held["found_after_runs"].values())
    assert held["runs_without_a_fault"] >= FOUND_WITHIN
