"""How soon each planted fault of the phone's promise is found, in runs of its machine.

Without a fault the machine is run 200 times and has to end well each time; with one planted, it
is run until it finds it (bench/results/planted_faults.json). Runs are derived by hypothesis from
the machine itself, so that no seed could be chosen.
"""

from __future__ import annotations

import itertools
import sys
import tempfile
import time
from contextlib import contextmanager
from pathlib import Path

import pytest
import sqlalchemy as sa
from hypothesis import Phase
from hypothesis.stateful import run_state_machine_as_test

sys.path[:0] = [str(Path(__file__).parent.parent)]

from tests.capture import promise  # noqa: E402
from tests.capture.a_phone import APhone  # noqa: E402
from tests.capture.in_chromium import chromium_thread, serving  # noqa: E402

import benchwalk.records as r  # noqa: E402 - after the path to the tests
from benchwalk.records.database import migrate, open_database, session  # noqa: E402
from kept import head, keep, options  # noqa: E402

RUNS = 200


@contextmanager
def a_phone():
    with tempfile.TemporaryDirectory() as folder:
        engine = open_database(f"sqlite:///{folder}/benchwalk.sqlite")
        migrate(engine)
        phone = APhone(engine)
        with session(engine, phone.n) as s:
            uid = str(s.scalars(sa.select(r.Operation.uid)).first())
        with serving(phone) as network:
            yield phone, network, uid
        engine.dispose()


def run(thread, broken=None):
    """Runs that began until one failed; all of them where none did."""
    promise.NAMES = itertools.count(1)
    with a_phone() as (phone, network, uid):
        made = promise.machine(phone, thread, network, uid, broken)
        try:
            run_state_machine_as_test(made, settings=promise.runs(RUNS, Phase.generate))
        except AssertionError:
            return next(promise.NAMES) - 1, True
    return next(promise.NAMES) - 1, False


def found(thread):
    held = {}
    for plant in promise.SERVER:
        with pytest.MonkeyPatch.context() as patch:
            plant(patch)
            held[plant.__name__] = run(thread)
    for name, broken in promise.PHONE.items():
        held[name] = run(thread, broken)
    return held


def main() -> None:
    asked = options(__doc__).parse_args()
    begun = time.monotonic()
    with chromium_thread() as thread:
        whole, failed = run(thread)
        assert not failed, "the promise is broken without a planted fault"
        held = found(thread)
    missed = [name for name, (_, was_found) in held.items() if not was_found]
    assert not missed, f"not found within {RUNS} runs: {missed}"
    result = {
        **head("derived by hypothesis from the machine"),
        "runs_without_a_fault": whole,
        "found_after_runs": {name: n for name, (n, _) in held.items()},
        "seconds": round(time.monotonic() - begun),
    }
    keep("planted_faults", result, write=asked.write)


if __name__ == "__main__":
    main()
