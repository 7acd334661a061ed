"""How long 60,000 rows of a scouting sheet take to come in, and how much memory, on SQLite.

    python bench/import_rows.py [--seed 20] [--runs 3] [--write]

The same rows as CSV and as a workbook, each imported by ``benchwalk import`` in a process of its
own (start of Python, reading, landing, commit), then the same file once more, which adds nothing.
Beside the time by the clock stands that of the processor, which a busy machine lengthens less.
Budget for the CSV: 10 s and 300 MB. Figures of the machine they were run on; they fail no test.

Beside it, in the same run, the bulk insert of the rows of looks, efforts and tallies that came of
it, by executemany into the same tables of a fresh database, committed in the same way:

bare    without reading, without the ledger, without houses, units, walks, visits and plantings,
        with foreign keys off and the triggers dropped; primary keys, indexes and checks stay.
ruled   with every foreign key and trigger on; ledger, walks and the rest were put there before
        the clock started.

With --write the figures are kept in bench/results/import_rows.json.
"""

from __future__ import annotations

import argparse
import csv
import datetime as dt
import os
import random
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

from kept import head, keep, options

BUDGET = {"seconds": 10, "peak_mb": 300}
ROWS, UNITS, PLANTS = 60_000, 16, 10
LONGEST_S = 600.0  # an import that takes longer is ended
FIRST_DAY = dt.date(2020, 1, 6)
HEADINGS = ["Date", "House", "Unit", "Crop", "Plant", "Pest", "Stage", "Count", "Scout"]
PESTS = [
    ("western flower thrips", "larva"),
    ("western flower thrips", "adult"),
    ("greenhouse whitefly", "nymph"),
    ("greenhouse whitefly", "adult"),
    ("two-spotted spider mite", "motile"),
]
COUNTS = [0, 0, 0, 1, 2, 5]
LOOKED = ("observation", "examined", "tally")  # in the order of their references
BENCHWALK = [sys.executable, "-m", "benchwalk"]


def rows(seed: int) -> Iterator[list[dt.date | str | int]]:
    """Weekly walks of the same units, plants and pests; made one by one.

    A child's peak of memory begins at that of the process that starts it, so this one stays small.
    """
    rng = random.Random(seed)
    walk = UNITS * PLANTS * len(PESTS)
    for n in range(ROWS):
        week, rest = divmod(n, walk)
        unit, rest = divmod(rest, PLANTS * len(PESTS))
        plant, pest = divmod(rest, len(PESTS))
        crop, scout = (("gerbera", "A"), ("poinsettia", "B"))[unit % 2]
        place = [f"House {unit % 3 + 1}", f"Bench {unit + 1}", crop, plant + 1]
        day = FIRST_DAY + dt.timedelta(weeks=week)
        yield [day, *place, *PESTS[pest], rng.choice(COUNTS), scout]


def write_csv(path: Path, seed: int) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([HEADINGS])
        csv.writer(file).writerows(rows(seed))


def write_workbook(path: Path, seed: int) -> None:
    """The same rows, days and numbers as such; in a process of its own, which may grow."""
    import openpyxl  # noqa: PLC0415 - a library of the tests; not in the process that measures

    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("Counts")
    for row in (HEADINGS, *rows(seed)):
        sheet.append(row)
    book.save(path)


def ran(command: list[str]) -> tuple[float, float, float, str]:
    """Seconds by the clock and of the processor, peak resident memory [MB] and what was said."""
    with tempfile.TemporaryFile("w+", encoding="utf-8") as said:
        begun = time.perf_counter()
        child = subprocess.Popen(command, stdout=said, stderr=subprocess.STDOUT)
        too_late = threading.Timer(LONGEST_S, child.kill)
        too_late.start()
        _, status, usage = os.wait4(child.pid, 0)
        too_late.cancel()
        waited = time.perf_counter() - begun
        child.returncode = os.waitstatus_to_exitcode(status)
        said.seek(0)
        if child.returncode != 0:
            raise SystemExit(f"{' '.join(command)} ended with {child.returncode}: {said.read()}")
        return waited, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024, said.read()


def import_once(file: Path, data: Path) -> dict[str, float]:
    """One import, of a file that is read whole."""
    waited, worked, peak, said = ran(
        [*BENCHWALK, "import", str(file), "--yes", "--json", "--data", str(data)]
    )
    assert f'"read": {ROWS}' in said, said[-500:]
    return {"seconds": waited, "cpu": worked, "peak_mb": peak}


def measured(file: Path, folder: Path, runs: int) -> tuple[dict, Path]:
    """The import into a fresh operation and the same again; the last operation stays."""
    first, again = [], []
    for n in range(runs):
        data = folder / f"{file.suffix[1:]}_{n}"
        ran([*BENCHWALK, "init", "Bench nursery (invented)", "--data", str(data)])
        first.append(import_once(file, data))
        held = count_of(data / "benchwalk.sqlite")
        again.append(import_once(file, data))
        assert count_of(data / "benchwalk.sqlite") == held, "the same file twice added something"
    return {"import": summed_up(first), "same_again": summed_up(again)}, data


def summed_up(runs: list[dict[str, float]]) -> dict[str, float]:
    seconds, peaks = [r["seconds"] for r in runs], [r["peak_mb"] for r in runs]
    return {
        "median_s": round(statistics.median(seconds), 2),
        "worst_s": round(max(seconds), 2),
        "cpu_s": round(statistics.median(r["cpu"] for r in runs), 2),
        "peak_mb": round(max(peaks)),
    }


def count_of(database: Path) -> dict[str, int]:
    connection = sqlite3.connect(database)
    tables = ("ledger", *LOOKED)
    held = {t: connection.execute(f"SELECT count(*) FROM {t}").fetchone()[0] for t in tables}
    connection.close()
    return held


def inserted(full: Path, folder: Path, *, ruled: bool) -> float:
    """Seconds for the rows of looks, efforts and tallies of a database, put into a fresh one."""
    path = folder / f"{'ruled' if ruled else 'bare'}_{time.time_ns()}"
    ran([*BENCHWALK, "init", "Bench nursery (invented)", "--data", str(path)])
    connection = sqlite3.connect(path / "benchwalk.sqlite", isolation_level=None)
    # as the application opens its own
    for setting in ("journal_mode=WAL", "synchronous=FULL"):
        connection.execute(f"PRAGMA {setting}")
    connection.execute("ATTACH ? AS full", (str(full),))
    triggers = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
    held = triggers.fetchall()
    for name, _ in held:
        connection.execute(f"DROP TRIGGER {name}")
    if ruled:
        _everything_else(connection)
        for _, sql in held:
            connection.execute(sql)
        connection.execute("PRAGMA foreign_keys=ON")
    taken = {t: connection.execute(f"SELECT * FROM full.{t}").fetchall() for t in LOOKED}
    begun = time.perf_counter()
    connection.execute("BEGIN IMMEDIATE")
    for table, held_rows in taken.items():
        marks = ", ".join("?" * len(held_rows[0]))
        connection.executemany(f"INSERT INTO main.{table} VALUES ({marks})", held_rows)
    connection.execute("COMMIT")
    waited = time.perf_counter() - begun
    connection.close()
    assert count_of(path / "benchwalk.sqlite")["tally"] == ROWS
    return waited


def _everything_else(connection: sqlite3.Connection) -> None:
    """Copy every other table as it stands: the rules want the ledger, walks and units there."""
    names = connection.execute("SELECT name FROM full.sqlite_master WHERE type = 'table'")
    for (name,) in names.fetchall():
        if name not in LOOKED:
            connection.execute(f"DELETE FROM main.{name}")
            connection.execute(f"INSERT INTO main.{name} SELECT * FROM full.{name}")


def main() -> None:
    arguments = options(__doc__)
    arguments.add_argument("--seed", type=int, default=20)
    arguments.add_argument("--runs", type=int, default=3)
    arguments.add_argument("--workbook", type=Path, help=argparse.SUPPRESS)
    given = arguments.parse_args()
    if given.workbook:
        write_workbook(given.workbook, given.seed)
        return
    with tempfile.TemporaryDirectory() as folder:
        held = figures(Path(folder), given.seed, given.runs)
    keep("import_rows", held, write=given.write)


def figures(folder: Path, seed: int, runs: int) -> dict:
    sheet, book = folder / "rows.csv", folder / "rows.xlsx"
    write_csv(sheet, seed)
    ran([sys.executable, __file__, "--seed", str(seed), "--workbook", str(book)])
    as_csv, data = measured(sheet, folder, runs)
    as_workbook, _ = measured(book, folder, runs)
    full = data / "benchwalk.sqlite"
    bare = statistics.median(inserted(full, folder, ruled=False) for _ in range(runs))
    ruled = statistics.median(inserted(full, folder, ruled=True) for _ in range(runs))
    whole = as_csv["import"]["median_s"]
    return {
        **head(seed),
        "sqlite": sqlite3.sqlite_version,
        "rows": ROWS,
        "records": count_of(full),
        "runs": runs,
        "budget": BUDGET,
        "csv": as_csv,
        "workbook": as_workbook,
        "inserts": {"bare_s": round(bare, 2), "ruled_s": round(ruled, 2)},
        "csv_import_over_inserts": {
            "bare": round(whole / bare, 1),
            "ruled": round(whole / ruled, 1),
        },
    }


if __name__ == "__main__":
    main()
