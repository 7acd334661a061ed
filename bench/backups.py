"""Two hundred copies under eight writers: each alone in an empty folder holds what was said."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parent.parent)]

from tests.patience import until  # noqa: E402

from benchwalk.records import backup  # noqa: E402
from keeping_operation import operation  # noqa: E402 - the bench's own folder comes first
from kept import head, keep, options  # noqa: E402

SEED = 20260502
WRITERS = 8
# writes until it is ended; each row is acknowledged in a file once its commit is done
WRITER = """
import os, sys, time
from benchwalk.records import AirSpace
from benchwalk.records.database import open_database, writing
engine = open_database(f"sqlite:///{sys.argv[1]}")
said = os.open(sys.argv[2], os.O_WRONLY | os.O_CREAT | os.O_APPEND)
n = 0
while True:
    with writing(engine, 1) as s:
        s.add(air := AirSpace(name=f"{sys.argv[2]} {n}"))
    os.write(said, air.id.hex.encode() + b"\\n")
    n += 1
    time.sleep(0.05)
"""


def acknowledged(folder: Path) -> set[str]:
    return {line for f in folder.glob("*.ids") for line in f.read_text().split() if len(line) == 32}


def held_alone(copy: Path, into: Path) -> set[str]:
    """Ids in the copy's one file, alone in an empty folder, by plain SQLite."""
    shutil.rmtree(into, ignore_errors=True)
    into.mkdir()
    shutil.copyfile(copy / "benchwalk.sqlite", into / "benchwalk.sqlite")
    connection = sqlite3.connect(into / "benchwalk.sqlite")
    assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    ids = {row[0].hex() for row in connection.execute("SELECT id FROM air_space")}
    connection.close()
    return ids


def measured(copies: int) -> dict[str, object]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        file = folder / "records" / "benchwalk.sqlite"
        file.parent.mkdir()
        engine, _ = operation(file)
        writers = [
            subprocess.Popen([sys.executable, "-c", WRITER, str(file), str(folder / f"{n}.ids")])
            for n in range(WRITERS)
        ]
        try:
            lost, checked, took = 0, 0, []
            until(lambda: len(list(folder.glob("*.ids"))) == WRITERS, "not every writer has begun")
            for _ in range(copies):
                before = acknowledged(folder)
                began = time.perf_counter()
                made = backup.make(engine)
                took.append(time.perf_counter() - began)
                lost += len(before - held_alone(made.folder, folder / "alone"))
                checked += len(before)
        finally:
            for w in writers:
                w.kill()
                w.wait(60)
        engine.dispose()
    return {
        "copies": copies,
        "writers": WRITERS,
        "acknowledged_ids_checked": checked,
        "acknowledged_ids_lost": lost,
        "rows_written_meanwhile": len(before),
        "seconds_a_copy_median": round(sorted(took)[len(took) // 2], 3),
    }


def main() -> None:
    parser = options(__doc__)
    parser.add_argument("--copies", type=int, default=200)
    asked = parser.parse_args()
    keep("backups", head(SEED) | measured(asked.copies), write=asked.write)


if __name__ == "__main__":
    main()
