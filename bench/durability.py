"""A thousand power cuts: acknowledged rows that are gone, by how the records are synced."""

from __future__ import annotations

import random
import sqlite3
import sys
import tempfile
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parent.parent)]

from tests.keeping.power_loss import cut, record  # noqa: E402 - and the tests' simulation

from keeping_operation import operation  # noqa: E402 - the bench's own folder comes first
from kept import head, keep, options  # noqa: E402

SEED = 20260501


def lost(cuts: int, posts: int, **broken: object) -> dict[str, int]:
    """Cuts that lost an acknowledged row, cuts that left a damaged file, rows acknowledged."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "records" / "benchwalk.sqlite"
        file.parent.mkdir()
        engine, _ = operation(file)
        engine.dispose()
        before = file.read_bytes()
        steps = record(file, posts, **broken)  # type: ignore[arg-type]  # keywords of the test
        found = [
            _one(before, file, steps, random.Random(SEED + n), Path(folder) / "cut")
            for n in range(cuts)
        ]
    return {
        "cuts": cuts,
        "calls_recorded": len(steps),
        "acknowledged_rows_checked": sum(n for n, _, _ in found),
        "cuts_that_lost_acknowledged_rows": sum(gone > 0 for _, gone, _ in found),
        "cuts_that_left_a_damaged_file": sum(damaged for _, _, damaged in found),
    }


def _one(before, file, steps, rng, into):  # type: ignore[no-untyped-def]  # as in the simulation
    acknowledged = cut(before, file, steps, rng, into)
    connection = sqlite3.connect(into / file.name)
    held = {row[0] for row in connection.execute("SELECT id FROM air_space")}
    sound = connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    connection.close()
    return len(acknowledged), len(acknowledged - held), not sound


def main() -> None:
    parser = options(__doc__)
    parser.add_argument("--cuts", type=int, default=1000)
    parser.add_argument("--posts", type=int, default=60)
    said = parser.parse_args()
    held = head(SEED) | {
        "posts": said.posts,
        "full": lost(said.cuts, said.posts),
        "normal": lost(said.cuts // 10, said.posts, synchronous="synchronous=NORMAL"),
        "acknowledged_early": lost(said.cuts // 10, said.posts, early=True),
    }
    keep("durability", held, write=said.write)


if __name__ == "__main__":
    main()
