"""The write lock is a file that every program sees; checkpoints happen under it."""

import subprocess
import sys
import threading
import time
from types import SimpleNamespace

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records import database
from benchwalk.records.database import open_database, session, writing
from benchwalk.records.lock import FileLock, LockedError, alone, open_lock, write_lock
from tests.patience import all_ended, killed, line_of

HOLDER = """
import sys, time
from pathlib import Path
from benchwalk.records.lock import FileLock
lock = FileLock(Path(sys.argv[1]))
lock.take()
print("held", flush=True)
time.sleep(60)
"""


@pytest.fixture
def elsewhere():
    """Another program that holds a lock file."""
    started = []

    def hold(path):
        child = subprocess.Popen(
            [sys.executable, "-c", HOLDER, str(path)], stdout=subprocess.PIPE, text=True
        )
        started.append(child)
        assert line_of(child) == "held"
        return child

    yield hold
    for child in started:
        killed(child)


def test_a_write_waits_for_the_program_that_holds_the_lock(on_file, file, elsewhere):
    child = elsewhere(write_lock(file).path)
    done = threading.Event()

    def write():
        with writing(on_file.s.get_bind(), on_file.n) as s:
            s.add(r.AirSpace(name="B"))
        done.set()

    thread = threading.Thread(target=write, daemon=True)
    thread.start()
    assert not done.wait(0.3)
    child.kill()  # a program that dies gives its lock back
    thread.join(10)
    assert done.is_set()


def test_patience_ends_in_a_sentence(file, elsewhere):
    lock = write_lock(file)
    elsewhere(lock.path)
    with pytest.raises(LockedError, match=r"held by another program since 0\.05 s; wait"):
        lock.take(patience_s=0.05)
    assert not lock.held


def test_whoever_waited_longest_looks_most_often(tmp_path, monkeypatch):
    held, lock, now, pauses = FileLock(tmp_path / "x"), FileLock(tmp_path / "x"), [0.0], []
    assert held.try_take()

    def sleep(seconds):
        pauses.append(seconds)
        now[0] += seconds

    clock = SimpleNamespace(sleep=sleep, monotonic=lambda: now[0])
    monkeypatch.setattr("benchwalk.records.lock.time", clock)
    monkeypatch.setattr("benchwalk.records.lock.random", SimpleNamespace(uniform=lambda *_: 1))
    with pytest.raises(LockedError, match="wait"):
        lock.take(patience_s=0.5)
    assert pauses == sorted(pauses, reverse=True)
    assert pauses[0] > 20 * pauses[-1] > 0
    held.give_back()


def test_two_locks_of_one_program_exclude_each_other_and_a_lock_taken_twice_is_one(tmp_path):
    one, other = FileLock(tmp_path / "x"), FileLock(tmp_path / "x")
    assert one.try_take()
    assert one.try_take()
    assert not other.try_take()
    one.give_back()
    one.give_back()
    assert other.try_take()
    other.give_back()
    assert (tmp_path / "x").exists()


def test_a_reader_needs_no_write_lock(on_file, file, elsewhere):
    elsewhere(write_lock(file).path)
    with session(on_file.s.get_bind(), on_file.n) as s:
        assert s.scalars(sa.select(r.Unit.name)).all() == ["U1", "U2"]


def fails_half_way(engine, operation, lock):
    with writing(engine, operation) as s:
        s.execute(sa.text("SELECT 1"))
        assert not lock.try_take()
        raise ZeroDivisionError("half way")


@pytest.mark.parametrize("how", ["commit", "rollback", "an edit", "an error"])
def test_the_lock_is_held_until_after_the_commit_and_no_longer(on_file, file, how):
    lock, engine = write_lock(file), on_file.s.get_bind()
    if how == "an edit":  # begins as a reader, and takes the lock at its first write
        with session(engine, on_file.n) as s:
            unit = s.scalars(sa.select(r.Unit)).first()
            assert lock.try_take()
            lock.give_back()
            unit.closed_on = unit.opened_on.replace(year=2027)
            s.flush()
            assert not lock.try_take()
            s.commit()
    elif how == "an error":
        with pytest.raises(ZeroDivisionError, match="half way"):
            fails_half_way(engine, on_file.n, lock)
    else:
        with session(engine.execution_options(benchwalk_writes=True), on_file.n) as s:
            s.execute(sa.text("SELECT 1"))
            assert not lock.try_take()
            getattr(s, how)()
    assert lock.try_take()
    lock.give_back()


def test_settings_of_every_connection(on_file):
    """Values of sqlite.org/pragma.html: synchronous 2 is FULL; 0 switches autocheckpoints off."""
    asked = ("journal_mode", "synchronous", "foreign_keys", "wal_autocheckpoint")
    with on_file.s.get_bind().connect() as c:
        found = {p: c.exec_driver_sql(f"PRAGMA {p}").scalar() for p in asked}
    assert found == {
        "journal_mode": "wal",
        "synchronous": 2,
        "foreign_keys": 1,
        "wal_autocheckpoint": 0,
    }


def test_a_long_journal_is_written_back_under_the_lock(on_file, file, monkeypatch):
    seen, engine = [], on_file.s.get_bind()

    def held_at_checkpoint(statement):
        if "wal_checkpoint" in statement:
            seen.append(write_lock(file).try_take())

    with engine.connect() as c:
        c.connection.dbapi_connection.set_trace_callback(held_at_checkpoint)
    monkeypatch.setattr(database, "CHECKPOINT_BYTES", 1)
    with writing(engine, on_file.n) as s:
        s.add(r.AirSpace(name="B"))
    assert seen == [False]


def test_a_checkpoint_is_not_made_again_at_every_commit(on_file, monkeypatch):
    """A journal that was written back is begun anew, and is short: its length tells."""
    engine, made = on_file.s.get_bind(), []
    monkeypatch.setattr(database, "CHECKPOINT_BYTES", 300_000)
    with engine.connect() as c:
        c.connection.dbapi_connection.set_trace_callback(
            lambda statement: made.append(statement) if "wal_checkpoint" in statement else None
        )
    for n in range(60):
        with writing(engine, on_file.n) as s:
            s.add(r.AirSpace(name=f"air {n}"))
    assert 2 <= len(made) <= 20


def test_nobody_opens_the_records_while_they_are_being_replaced(file, monkeypatch):
    monkeypatch.setattr(database, "OPEN_PATIENCE_S", 0.02)
    engine = open_database(f"sqlite:///{file}")
    with alone(file), pytest.raises(LockedError, match="held by another program"):
        engine.connect()
    with engine.connect() as c:
        assert c.execute(sa.select(sa.func.count()).select_from(r.Operation)).scalar() == 0
        with (
            pytest.raises(LockedError, match="open in a server or another command; end it"),
            alone(file),
        ):
            pass
    engine.dispose()
    assert open_lock(file, shared=False).try_take()


def test_eight_writers_lose_nothing_and_leave_no_gap(on_file, file):
    engine = on_file.s.get_bind()
    failed = []

    def write(n):
        try:
            for k in range(5):
                with writing(engine, on_file.n) as s:
                    s.add(r.AirSpace(name=f"air {n} {k}"))
        except Exception as error:  # noqa: BLE001 - told by the assertion below
            failed.append(error)

    threads = [threading.Thread(target=write, args=(n,), daemon=True) for n in range(8)]
    began = time.monotonic()
    for t in threads:
        t.start()
    all_ended(threads)
    assert failed == []
    assert time.monotonic() - began < 60
    with session(engine, on_file.n) as s:
        assert len(s.scalars(sa.select(r.AirSpace.name)).all()) == 41
        seqs = s.scalars(sa.select(r.Ledger.seq).order_by(r.Ledger.seq)).all()
    assert list(seqs) == list(range(1, len(seqs) + 1))
