"""The power fails at random: what was acknowledged is there, and the records are whole.

The oracle is the model of a disk in `power_loss.py`; SQLite's own promise is section 9 of
sqlite.org/atomiccommit.html and "PRAGMA synchronous" of sqlite.org/pragma.html: in WAL mode FULL
is durable, NORMAL "might roll back following a power loss".
"""

import random
import shutil
import sqlite3

import pytest

import benchwalk.records as r
from benchwalk.records.chain import check
from benchwalk.records.database import open_database, writing
from benchwalk.records.setup import set_up
from tests.keeping.power_loss import PHONE, PROGRAM, cut, record

CUTS = 25  # the bench makes 1,000
POSTS = 40

pytestmark = [
    pytest.mark.kills,
    pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed"),
]


@pytest.fixture
def ready(file):
    """A file with an operation in it, and nothing in a journal."""
    engine = open_database(f"sqlite:///{file}")
    assert set_up(engine, "North (invented)", "UTC").operation == 1
    with writing(engine, 1) as s:
        s.add(r.Device(operation_id=1, label="phone"))
        s.add(r.Person(operation_id=1, pseudonym="P", role="scout"))
    engine.dispose()
    return file, file.read_bytes()


def lost(before, file, steps, seed, into):
    """Ids that were acknowledged and are not there; what opens must be whole besides."""
    acknowledged = cut(before, file, steps, random.Random(seed), into)
    engine = open_database(f"sqlite:///{into / file.name}")
    with engine.connect() as c:
        assert c.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
        assert check(c, 1).faults == ()
    engine.dispose()
    connection = sqlite3.connect(into / file.name)
    held = {row[0] for row in connection.execute("SELECT id FROM ledger")}
    connection.close()
    return len(acknowledged), acknowledged - held


@pytest.mark.parametrize("program", [PROGRAM, PHONE], ids=["edits", "a phone's items"])
def test_no_acknowledged_row_is_lost_at_random_cuts(ready, tmp_path, program):
    file, before = ready
    steps = record(file, POSTS, program=program)
    kinds = {s.what for s in steps}
    assert {"write", "sync", "ack", "new", "folder"} <= kinds
    assert any(s.what == "sync" and s.file == str(file) for s in steps), "a checkpoint was made"
    found = [lost(before, file, steps, seed, tmp_path / "cut") for seed in range(CUTS)]
    assert sum(n for n, _ in found) > 10 * CUTS
    assert [gone for _, gone in found if gone] == []


@pytest.mark.parametrize(
    "broken",
    [{"synchronous": "synchronous=NORMAL"}, {"early": True}, {"early": True, "program": PHONE}],
    ids=["NORMAL", "early", "a phone answered early"],
)
def test_the_same_cuts_find_what_is_not_durable(ready, tmp_path, broken):
    """NORMAL instead of FULL, and an acknowledgement before the commit, each lose rows here.

    Cuts are tried until one of them shows it.
    """
    file, before = ready
    steps = record(file, POSTS, **broken)
    gone = (lost(before, file, steps, seed, tmp_path / "cut")[1] for seed in range(CUTS))
    assert any(gone)
