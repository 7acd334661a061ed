"""kill -9 in the middle of a copy, a restore and a server: the records are whole, and known."""

import subprocess
import sys
import textwrap
import time

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.backup import copies, make
from benchwalk.records.chain import check
from benchwalk.records.database import open_database, session, writing
from benchwalk.records.doctor import examine
from benchwalk.records.restore import restore
from tests.patience import killed, line_of

pytestmark = pytest.mark.kills

PAUSED = """
    import sys, time
    from benchwalk.records import backup, restore
    from benchwalk.records.database import open_database
    where, step, engine = sys.argv[1], sys.argv[2], open_database(f"sqlite:///{sys.argv[3]}")
    module = {"backup": backup, "restore": restore}[where]

    def pause(*_, **__):
        print("half", flush=True)
        time.sleep(60)

    setattr(module, step, pause)
    if where == "backup":
        backup.make(engine)
    else:
        from pathlib import Path
        restore.restore(Path(sys.argv[4]), engine, replace=True)
"""


def killed_at(*words):
    child = subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(PAUSED), *map(str, words)],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert line_of(child) == "half"
    killed(child)


def names(engine, operation):
    with session(engine, operation) as s:
        return set(s.scalars(sa.select(r.AirSpace.name)))


@pytest.mark.parametrize("step", ["prove", "write_proof", "_in_place", "_let_go"])
def test_a_killed_copy_is_no_copy_and_the_next_one_is(on_file, file, step):
    engine, place = on_file.s.get_bind(), file.parent / "backups"
    make(engine)
    killed_at("backup", step, file)
    whole = copies(place)
    assert len(whole) == (2 if step == "_let_go" else 1)
    assert all(proof.whole for _, proof in whole)
    assert make(engine).folder == copies(place)[-1][0]
    left = {f.key for f in examine(engine)}
    assert ("half_done" in left) == (step != "_let_go")


@pytest.mark.parametrize("step", ["_prepared", "_put_aside", "_photos_in_place", "_keys_in_place"])
def test_a_killed_restore_leaves_the_old_records_or_the_new_ones_whole(on_file, file, step):
    engine = on_file.s.get_bind()
    made = make(engine)
    on_file.add(r.AirSpace(name="since the copy"))
    on_file.s.close()
    engine.dispose()
    killed_at("restore", step, file, made.folder)
    there = names(engine, on_file.n)
    assert there == ({"A"} if step == "_keys_in_place" else {"A", "since the copy"})
    with engine.connect() as c:
        assert c.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
        assert check(c, on_file.n).faults == ()
    assert "half_done" in {f.key for f in examine(engine)}
    engine.dispose()
    restore(made.folder, engine, replace=True)
    assert names(engine, on_file.n) == {"A"}


def test_a_killed_server_holds_nothing_and_loses_nothing(on_file, file):
    engine = on_file.s.get_bind()
    on_file.s.close()
    command = ["-m", "benchwalk", "serve", "--port", "0", "--data", str(file.parent)]
    child = subprocess.Popen([sys.executable, *command], stdout=subprocess.PIPE, text=True)
    assert "127.0.0.1" in line_of(child)
    with writing(engine, on_file.n) as s:
        s.add(r.AirSpace(name="while it serves"))
    killed(child)
    assert names(engine, on_file.n) == {"A", "while it serves"}
    engine.dispose()
    made = make(engine)
    engine.dispose()
    time.sleep(0.05)
    restore(made.folder, engine, replace=True)  # nobody has the records open any more


def test_a_killed_writer_s_post_is_whole_or_not_there(on_file, file):
    """Killed at once after an acknowledgement, many times: each acknowledged row is there."""
    program = textwrap.dedent("""
        import sys, os
        from benchwalk.records import AirSpace
        from benchwalk.records.database import open_database, writing
        engine = open_database(f"sqlite:///{sys.argv[1]}")
        n = 0
        while True:
            with writing(engine, 1) as s:
                s.add_all([AirSpace(name=f"{os.getpid()} {n} {k}") for k in (0, 1)])
            print(f"{os.getpid()} {n}", flush=True)
            n += 1
    """)
    acknowledged = []
    for posts in (1, 3, 5):
        child = subprocess.Popen(
            [sys.executable, "-c", program, str(file)], stdout=subprocess.PIPE, text=True
        )
        acknowledged += [line_of(child) for _ in range(posts)]
        child.kill()
        acknowledged += child.stdout.read().split("\n")[:-1]
        killed(child)
    on_file.s.close()
    fresh = open_database(f"sqlite:///{file}")
    held = names(fresh, on_file.n) - {"A"}
    assert {f"{a} {k}" for a in acknowledged for k in (0, 1)} <= held
    assert all(f"{name.rsplit(' ', 1)[0]} {k}" in held for name in held for k in (0, 1))
    fresh.dispose()
