"""Durable posts a second beside bare SQLite; eight writers beside one; a restore beside a copy."""

from __future__ import annotations

import json
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median
from typing import Any

sys.path[:0] = [str(Path(__file__).parent)]

import sqlalchemy as sa  # noqa: E402

from benchwalk.records import Device, Person, Unit, Visit, Walk, uuid7  # noqa: E402
from benchwalk.records.backup import make  # noqa: E402
from benchwalk.records.database import open_database, writing  # noqa: E402
from benchwalk.records.ledger import body, canonical  # noqa: E402
from benchwalk.records.plain import Plain  # noqa: E402
from benchwalk.records.restore import restore  # noqa: E402
from benchwalk.records.sync.taking import take  # noqa: E402
from keeping_operation import FIRST, fill, look, operation  # noqa: E402 - the bench's own folder first
from kept import head, keep, options  # noqa: E402

SEED = 20260504
LOOKS, TALLIES = 25, 4  # of a post: 100 counts
COMPARED = 60  # posts written anew
KEYS = {"ledger": "id", "walk": "id", "visit": "id", "observation": "id"}
KEYS |= {"examined": "observation_id", "tally": "observation_id"}
TABLES = tuple(KEYS)
# posts of 100 counts by the records' own way in; milliseconds each, as JSON
POSTER = """
import json, sys, time
sys.path.insert(0, sys.argv[4])
from keeping_operation import FIRST, look
import sqlalchemy as sa
import benchwalk.records as r
from benchwalk.records.database import open_database, writing
from benchwalk.records.ledger import write_new
from benchwalk.records.plain import Plain
engine = open_database(f"sqlite:///{sys.argv[1]}")
with engine.connect() as c:
    unit = c.execute(sa.select(r.Unit.__table__.c.id)).scalars().first()
def post():
    walk = Plain(r.Walk, id=r.uuid7(), walk_on=FIRST)
    visit = Plain(r.Visit, walk_id=walk.said["id"], unit_id=unit, state="done")
    looks = [look(walk.said["id"], unit, FIRST, k) for k in range(int(sys.argv[3]))]
    with writing(engine, 1) as s:
        write_new(s, [walk, visit, *looks])
post()
took, ends = [], time.monotonic() + float(sys.argv[2])
while time.monotonic() < ends:
    began = time.perf_counter()
    post()
    took.append(1000 * (time.perf_counter() - began))
print(json.dumps(took))
"""


def posts(file: Path, writers: int, seconds: float) -> list[float]:
    """Milliseconds of each post, from so many programs at once."""
    said = [str(file), str(seconds), str(LOOKS), str(Path(__file__).parent)]
    running = [
        subprocess.Popen([sys.executable, "-c", POSTER, *said], stdout=subprocess.PIPE, text=True)
        for _ in range(writers)
    ]
    return [t for p in running for t in json.loads(p.communicate(timeout=seconds + 120)[0])]


def bare(file: Path, seconds: float) -> float:
    """Posts a second of as many rows and bytes with nothing of ours: executemany, FULL, WAL."""
    connection = sqlite3.connect(file, isolation_level=None)
    for pragma in ("journal_mode=WAL", "synchronous=FULL"):
        connection.execute(f"PRAGMA {pragma}")
    connection.execute("CREATE TABLE said (id BLOB PRIMARY KEY, body TEXT) WITHOUT ROWID")
    connection.execute("CREATE TABLE tally (id BLOB, n INT, x INT, PRIMARY KEY (id, n))")
    took, ends = [], time.monotonic() + seconds
    while time.monotonic() < ends:
        done = len(took)
        ids = [done.to_bytes(8, "big") + k.to_bytes(8, "big") for k in range(LOOKS + 2)]
        rows = [(i, n, 3) for i in ids for n in range(TALLIES)]
        began = time.perf_counter()
        connection.execute("BEGIN IMMEDIATE")
        connection.executemany("INSERT INTO said VALUES (?, ?)", [(i, "x" * 650) for i in ids])
        connection.executemany("INSERT INTO tally VALUES (?, ?, ?)", rows)
        connection.execute("COMMIT")
        took.append(time.perf_counter() - began)
    connection.close()
    return 1 / median(took)


def bare_rows(file: Path, held: Path) -> float:
    """Posts a second of the very rows that were posted, written anew into the same tables.

    Their columns, keys and indexes; no rule, no reference looked at, nothing hashed or read.
    """
    connection = sqlite3.connect(held)
    made = f"SELECT sql FROM sqlite_master WHERE tbl_name IN {TABLES} AND type <> 'trigger'"
    schema = [sql for (sql,) in connection.execute(made) if sql is not None]
    end = connection.execute("SELECT max(seq) FROM ledger").fetchone()[0]
    firsts = range(end - (LOOKS + 2) * COMPARED + 1, end + 1, LOOKS + 2)
    posts = [_rows_of(connection, first) for first in firsts]
    connection.close()
    connection = sqlite3.connect(file, isolation_level=None)
    for sql in ("PRAGMA journal_mode=WAL", "PRAGMA synchronous=FULL", *schema):
        connection.execute(sql)
    took = [_written(connection, post) for post in posts]
    connection.close()
    return 1 / median(took)


def _written(connection: sqlite3.Connection, post: dict[str, list[tuple[Any, ...]]]) -> float:
    """Seconds for one post."""
    began = time.perf_counter()
    connection.execute("BEGIN IMMEDIATE")
    for table, rows in post.items():
        places = ", ".join("?" * len(rows[0]))
        connection.executemany(f"INSERT INTO {table} VALUES ({places})", rows)
    connection.execute("COMMIT")
    return time.perf_counter() - began


def _rows_of(connection: sqlite3.Connection, first: int) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of the post whose ledger rows begin there, by its table."""
    said = "SELECT id FROM ledger WHERE operation_id = 1 AND seq BETWEEN ? AND ?"
    wanted = {
        table: f"SELECT * FROM {table} WHERE {key} IN ({said})" for table, key in KEYS.items()
    }
    span = (first, first + LOOKS + 1)
    return {table: connection.execute(sql, span).fetchall() for table, sql in wanted.items()}


def p99(took: list[float]) -> float:
    return sorted(took)[int(0.99 * (len(took) - 1))]


def from_a_phone(file: Path, seconds: float) -> list[float]:
    """Milliseconds of each post that comes as a phone sends it, from its items to its answers."""
    engine = open_database(f"sqlite:///{file}")
    phone, scout = uuid7(), uuid7()
    with writing(engine, 1) as s:
        s.add(Device(operation_id=1, id=phone, label="bench"))
        s.add(Person(operation_id=1, id=scout, pseudonym="P", name=None, role="scout"))
        unit = s.scalars(sa.select(Unit.id)).first()
    took, ends = [], time.monotonic() + seconds
    while time.monotonic() < ends:
        sent = _sent(unit, scout)
        began = time.perf_counter()
        answers = take(engine, 1, phone, sent, unsent=len(sent))
        took.append(1000 * (time.perf_counter() - began))
        assert all(a.answer == "applied" for a in answers)
    engine.dispose()
    return took


def _sent(unit: Any, scout: Any) -> list[dict[str, Any]]:
    walk = Plain(Walk, id=uuid7(), walk_on=FIRST)
    visit = Plain(Visit, walk_id=walk.said["id"], unit_id=unit, state="done")
    said = {"rev": 1, "base": 0, "by": str(scout), "seen_at": "2026-01-05T09:00:00+00:00"}
    said |= {"offset_s": None, "void": None}
    items = []
    for record in (walk, visit, *(look(walk.said["id"], unit, FIRST, k) for k in range(LOOKS))):
        kept = json.loads(canonical(body(record)))
        name = {"kind": record.model.__tablename__, "id": kept.pop("id", None) or str(uuid7())}
        items.append(said | name | {"body": kept})
    return items


def posted(folder: Path, seconds: float) -> dict[str, float]:
    file = folder / "posts" / "benchwalk.sqlite"
    file.parent.mkdir()
    engine, _ = operation(file)
    engine.dispose()
    without = bare(folder / "bare.sqlite", seconds)
    one = posts(file, 1, seconds)
    same = bare_rows(folder / "same.sqlite", file)
    phone = from_a_phone(file, seconds)
    eight = posts(file, 8, seconds)
    ours = 1000 / median(one)
    return {
        "counts_a_post": LOOKS * TALLIES,
        "posts_a_second": round(ours, 1),
        "posts_a_second_from_a_phone": round(1000 / median(phone), 1),
        "bare_sqlite_posts_a_second": round(without, 1),
        "share_of_bare_percent": round(100 * ours / without, 1),
        "same_rows_posts_a_second": round(same, 1),
        "share_of_same_rows_percent": round(100 * ours / same, 1),
        "p99_one_writer_ms": round(p99(one), 1),
        "median_eight_writers_ms": round(median(eight), 1),
        "p99_eight_writers_ms": round(p99(eight), 1),
        "p99_ratio": round(p99(eight) / p99(one), 1),
        "posts_eight_writers": len(eight),
    }


def restored(folder: Path, tallies: int) -> dict[str, float]:
    """Restoring a copy, beside copying its file and asking SQLite whether it is sound."""
    file = folder / "large" / "benchwalk.sqlite"
    file.parent.mkdir()
    engine, number = operation(file)
    fill(engine, number, tallies // TALLIES)
    began = time.perf_counter()
    made = make(engine)
    copying = time.perf_counter() - began
    engine.dispose()
    began = time.perf_counter()
    plain = folder / "plain.sqlite"
    shutil.copyfile(made.folder / "benchwalk.sqlite", plain)
    connection = sqlite3.connect(plain)
    assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    connection.close()
    copied = time.perf_counter() - began
    target = open_database(f"sqlite:///{folder / 'restored' / 'benchwalk.sqlite'}")
    began = time.perf_counter()
    restore(made.folder, target)
    took = time.perf_counter() - began
    target.dispose()
    return {
        "tallies": made.proof.counts["tally"],
        "copy_mb": plain.stat().st_size >> 20,
        "backup_and_proof_s": round(copying, 2),
        "plain_copy_and_integrity_check_s": round(copied, 2),
        "restore_s": round(took, 2),
        "restore_ratio": round(took / copied, 2),
    }


def main() -> None:
    parser = options(__doc__)
    parser.add_argument("--seconds", type=float, default=20)
    parser.add_argument("--tallies", type=int, default=1_000_000)
    said = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        figures = posted(Path(folder), said.seconds) | restored(Path(folder), said.tallies)
    keep("posts", head(SEED) | figures, write=said.write)


if __name__ == "__main__":
    main()
