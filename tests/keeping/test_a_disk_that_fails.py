"""A full or failing disk: nothing more is acknowledged, it is said, and reading goes on."""

import errno
import json
import resource
import shlex
import shutil
import signal
import subprocess
import sys
import textwrap

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records import database
from benchwalk.records.database import open_database, session, stopped, writing
from benchwalk.records.disk import DiskFailedError, failed
from benchwalk.records.ledger import verify
from benchwalk.records.setup import set_up

# posts until it is refused, tries twice more, reads, and says what it acknowledged
PROGRAM = textwrap.dedent("""
    import json, sys
    from pathlib import Path
    import shutil
    import sqlalchemy as sa
    import benchwalk.records as r
    from benchwalk.records.database import open_database, session, stopped, writing
    from benchwalk.records.disk import DiskFailedError

    source, file, posts = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
    if not file.exists():
        shutil.copyfile(source, file)
    engine = open_database(f"sqlite:///{file}")

    def post(n):
        with writing(engine, 1) as s:
            s.add(air := r.AirSpace(name=f"air {n} " + "x" * 2000))
        return str(air.id)

    acknowledged, refusals = [], []
    for n in range(posts):
        try:
            acknowledged.append(post(n))
        except DiskFailedError as refusal:
            refusals.append(str(refusal))
            if len(refusals) == 3:
                break
    with session(engine, 1) as s:
        held = [str(i) for i in s.scalars(sa.select(r.AirSpace.id))]
    engine.dispose()
    fresh = open_database(f"sqlite:///{file}")
    with session(fresh, 1) as s:
        after = [str(i) for i in s.scalars(sa.select(r.AirSpace.id))]
    print(json.dumps([acknowledged, refusals, held, after, stopped(engine)]))
""")


@pytest.fixture
def ready(file):
    engine = open_database(f"sqlite:///{file}")
    set_up(engine, "North (invented)", "UTC")
    engine.dispose()
    return file


def said_by(command, **options):
    ran = subprocess.run(command, capture_output=True, text=True, timeout=300, **options)
    assert ran.stdout.strip(), ran.stderr[-2000:]
    return json.loads(ran.stdout.splitlines()[-1])


def stopped_and_lost_nothing(said):
    acknowledged, refusals, held, after, reason = said
    assert len(refusals) == 3
    assert all("nothing more is recorded until the program is started again" in r for r in refusals)
    assert len(acknowledged) > 3
    assert set(acknowledged) == set(held) <= set(after)
    assert reason


def program(ready, file, posts=4000):
    return [sys.executable, "-c", PROGRAM, str(ready), str(file), str(posts)]


@pytest.mark.kills
@pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed")
@pytest.mark.parametrize("call", ["fdatasync", "pwrite64"])
def test_an_injected_eio_ends_acknowledging_at_once(ready, tmp_path, call):
    """EIO from the system itself (strace's injection), at a sync and at a write."""
    log = tmp_path / "calls"
    first = {"fdatasync": 12, "pwrite64": 90}[call]
    inject = ["-e", f"trace={call}", "-e", f"inject={call}:error=EIO:when={first}"]
    copied = tmp_path / "failing" / "benchwalk.sqlite"
    copied.parent.mkdir()
    command = ["strace", "-o", str(log), *inject, *program(ready, copied, posts=40)]
    said = said_by(command)
    assert "INJECTED" in log.read_text()
    stopped_and_lost_nothing(said)
    assert "disk I/O error" in said[4]


@pytest.mark.kills
def test_a_full_disk_ends_acknowledging_at_once(ready, tmp_path):
    """A file system of 6 MB in memory, where mounting is allowed; else a limit to a file's size."""
    small = tmp_path / "small"
    small.mkdir()
    copied = small / "benchwalk.sqlite"
    if may_mount(small):
        mount = f"mount -t tmpfs -o size=6m tmpfs {small} && exec "
        said = said_by(["unshare", "-m", "sh", "-c", mount + shlex.join(program(ready, copied))])
        assert "full" in said[4]
    else:
        said = said_by(program(ready, copied), preexec_fn=six_megabytes)
    stopped_and_lost_nothing(said)


def may_mount(folder):
    tried = ["unshare", "-m", "mount", "-t", "tmpfs", "tmpfs", str(folder)]
    return subprocess.run(tried, capture_output=True, timeout=60).returncode == 0


def six_megabytes():
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (6 << 20, 6 << 20))


@pytest.mark.kills
def test_a_file_that_may_not_grow_ends_acknowledging_at_once(ready, tmp_path):
    copied = tmp_path / "limited" / "benchwalk.sqlite"
    copied.parent.mkdir()
    said = said_by(program(ready, copied), preexec_fn=six_megabytes)
    stopped_and_lost_nothing(said)


def test_full_by_sqlite_s_own_limit_is_refused_and_reading_goes_on(on_file):
    """max_page_count (sqlite.org/pragma.html) makes SQLITE_FULL without a full disk."""
    engine = on_file.s.get_bind()
    on_file.s.close()
    with engine.connect() as c:
        pages = c.exec_driver_sql("PRAGMA page_count").scalar()
        c.exec_driver_sql(f"PRAGMA max_page_count={pages + 2}")
    with pytest.raises(DiskFailedError, match="database or disk is full"):
        writes_a_lot(engine, on_file.n)
    assert "full" in stopped(engine)
    with pytest.raises(DiskFailedError, match="started again"):
        writes_a_lot(engine, on_file.n)
    with session(engine, on_file.n) as s:
        assert s.scalars(sa.select(r.AirSpace.name)).all() == ["A"]
        assert verify(s, on_file.n) is None


def writes_a_lot(engine, operation):
    with writing(engine, operation) as s:
        s.add_all(r.AirSpace(name=f"{n}" + "x" * 3000) for n in range(50))


def test_a_rule_that_refuses_and_a_lock_that_waits_do_not_stop_the_program(on_file):
    engine = on_file.s.get_bind()
    with pytest.raises(sa.exc.IntegrityError, match="UNIQUE"):
        says_twice(engine, on_file.n)
    assert stopped(engine) is None
    with writing(engine, on_file.n) as s:
        s.add(r.AirSpace(name="B"))
    assert not failed(None)
    assert not failed(OSError(errno.EIO, "not SQLite's"))


def says_twice(engine, operation):
    with writing(engine, operation) as s:
        s.add_all([r.AirSpace(name="twice"), r.AirSpace(name="twice")])


def test_another_file_of_the_same_program_goes_on(on_file, tmp_path):
    database.STOPPED[tmp_path / "other.sqlite"] = "disk I/O error"
    with writing(on_file.s.get_bind(), on_file.n) as s:
        s.add(r.AirSpace(name="B"))
