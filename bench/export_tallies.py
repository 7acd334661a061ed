"""Up to a million tallies exported: time beside a bare SELECT of the same rows, and memory held.

Time is that of the processor, so that other work on the machine does not count.

The records are invented by one rule, without chance: 200 units, looks of five tallies, every
eleventh number above zero. Each kind of export runs in a program of its own, which says its peak.
A figure of the machine it was run on; it fails no test.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import resource
import sqlite3
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from benchwalk.records import Observation, Operation, Tally, Unit, Visit, Walk, uuid7
from benchwalk.records.database import migrate, open_database, writing
from benchwalk.records.exports import Kind, export
from benchwalk.records.exports.adopt import adopt
from benchwalk.records.ledger import write_in_order
from benchwalk.records.plain import Plain
from benchwalk.records.seen import Examined
from benchwalk.records.setup import set_up
from kept import ROOT, head, keep, options, results, with_tables

PAGE = ROOT / "docs" / "export.md"
UNITS, LOOKS, TALLIES = 200, 50, 5  # looks of a visit, tallies of a look
FIRST = dt.date(2020, 1, 6)
SERIES = (
    ("western_flower_thrips", "larva"),
    ("western_flower_thrips", "adult"),
    ("greenhouse_whitefly", "nymph"),
    ("greenhouse_whitefly", "adult"),
    ("green_peach_aphid", "nymph"),
)
JOINED = """
    SELECT w.walk_on, w.scout_id, o.*, e.items, e.of_items, t.*
    FROM walk w JOIN observation o ON o.operation_id = w.operation_id AND o.walk_id = w.id
    JOIN examined e ON e.operation_id = o.operation_id AND e.observation_id = o.id
    JOIN tally t ON t.operation_id = e.operation_id AND t.observation_id = e.observation_id
        AND t.method = e.method
    ORDER BY w.walk_on"""


def said(tallies: int) -> Iterator[Plain]:
    """Units, then walk after walk until there are so many tallies."""
    units = [uuid7() for _ in range(UNITS)]
    for n, unit in enumerate(units):
        yield Plain(Unit, id=unit, name=f"Unit {n}", opened_on=FIRST)
    visits = -(-tallies // (LOOKS * TALLIES))
    for n in range(visits):
        on = FIRST + dt.timedelta(days=n // UNITS * 7)
        if n % UNITS == 0:
            walk = uuid7()
            yield Plain(Walk, id=walk, walk_on=on)
        unit = units[n % UNITS]
        yield Plain(Visit, walk_id=walk, unit_id=unit, state="done")
        for look in range(LOOKS):
            yield _look(walk, unit, on, n * LOOKS + look)


def _look(walk: uuid.UUID, unit: uuid.UUID, on: dt.date, n: int) -> Plain:
    counted = [
        Plain(Tally, taxon=taxon, stage=stage, number=(n + k) % 7 if (n + k) % 11 == 0 else 0)
        for k, (taxon, stage) in enumerate(SERIES)
    ]
    return Plain(
        Observation,
        kind="look",
        walk_id=walk,
        unit_id=unit,
        seen_at=dt.datetime.combine(on, dt.time(12), dt.UTC),
        why="sample",
        plants=1,
        position=f"{n % 40}.{n % 7}",
        examined=[Plain(Examined, method="plant_count", tallies=counted)],
    )


def built(folder: Path, tallies: int) -> Path:
    path = folder / "benchwalk.sqlite"
    engine = open_database(f"sqlite:///{path}")
    migrate(engine)
    number = set_up(engine, "Bench (invented)", "UTC").operation
    with writing(engine, number) as s:
        write_in_order(s, said(tallies))
    engine.dispose()
    return path


def bare(path: Path, query: str) -> tuple[int, float]:
    """Rows, and the least seconds of three, of a query through the driver alone."""
    connection = sqlite3.connect(path)
    runs = []
    for _ in range(3):
        begun = time.process_time()
        count = sum(1 for _ in connection.execute(query))
        runs.append(time.process_time() - begun)
    connection.close()
    return count, min(runs)


def one(path: Path, kind: str, to: Path) -> dict[str, float]:
    """One export (or an adoption), in this program: seconds and peak memory [MB]."""
    engine = open_database(f"sqlite:///{path}")
    begun = time.process_time()
    if kind == "adopt":
        migrate(engine)
        adopt(engine, to)
    else:
        with engine.connect() as c:
            number = c.execute(sa.select(Operation.id)).scalar_one()
        export(engine, number, Kind(kind), lambda _: to)
    seconds = time.process_time() - begun
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return {"seconds": round(seconds, 1), "peak_mb": round(peak)}


def apart(path: Path, kind: str, to: Path) -> dict[str, float]:
    """The same in a program of its own, so that its peak is its own."""
    command = [sys.executable, __file__, "--one", kind, "--path", str(path), "--to", str(to)]
    ran = subprocess.run(command, check=True, capture_output=True, text=True)
    held: dict[str, float] = json.loads(ran.stdout.splitlines()[-1])
    return held


def measure(tallies: int, kinds: Sequence[str], records: Path | None) -> dict[str, Any]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = built(folder, tallies) if records is None else records
        count, plain = bare(path, "SELECT * FROM tally")
        _, joined = bare(path, JOINED)
        held = {kind: apart(path, kind, folder / kind) for kind in kinds}
        if Kind.FULL in kinds:
            (folder / "there").mkdir()
            held["adopt"] = apart(folder / "there" / "b.sqlite", "adopt", folder / "full")
    for figures in held.values():
        figures["times_joined"] = round(figures["seconds"] / joined, 1)
        figures["times_plain"] = round(figures["seconds"] / plain, 1)
    return {
        "tallies": count,
        "select_tally_s": round(plain, 2),
        "select_joined_s": round(joined, 2),
        "kinds": held,
    }


def table(held: dict[str, Any]) -> list[str]:
    """The lines of the page's table."""
    lines = [
        "| tallies | export | seconds | times the SELECT joined | times the SELECT of tallies"
        " | peak memory MB |",
        "|---|---|---|---|---|---|",
    ]
    for run in held["runs"]:
        for kind, cost in run["kinds"].items():
            figures = (cost[k] for k in ("seconds", "times_joined", "times_plain", "peak_mb"))
            cells = (f"{run['tallies']:,}", kind, *(f"{figure:g}" for figure in figures))
            lines.append(f"| {' | '.join(cells)} |")
    return lines


def with_run(run: dict[str, Any]) -> dict[str, Any]:
    """The results with one run in them, in the place of an earlier one of as many tallies."""
    before = results("export_tallies")["runs"]
    runs = [r for r in before if r["tallies"] != run["tallies"]] + [run]
    seed = None  # nothing here is left to chance
    return {**head(seed), "runs": sorted(runs, key=lambda r: int(r["tallies"]))}


def main() -> None:
    parser = options(__doc__)
    parser.add_argument("--tallies", type=int, default=1_000_000)
    parser.add_argument("--kinds", default=",".join(Kind), help="kinds of export, with commas")
    parser.add_argument("--records", type=Path, help="a file that was built before")
    parser.add_argument("--docs", action="store_true", help="only write the page from the results")
    parser.add_argument("--one", help=argparse.SUPPRESS)
    parser.add_argument("--path", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--to", type=Path, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.one:
        print(json.dumps(one(given.path, given.one, given.to)))
        return
    if not given.docs:
        run = measure(given.tallies, given.kinds.split(","), given.records)
        keep("export_tallies", with_run(run), write=given.write)
    if given.docs or given.write:
        tables = {"speed": table(results("export_tallies"))}
        PAGE.write_text(with_tables(PAGE.read_text("utf-8"), tables), encoding="utf-8")


if __name__ == "__main__":
    main()
