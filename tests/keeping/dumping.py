"""Small records with data, as they stood at each migration: NNNN.sql, made once and kept.

A new one, when a migration is added:  python -m tests.keeping.dumping NNNN
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
from pathlib import Path

import benchwalk.records as r
from benchwalk.records.database import migrate, open_database
from tests.records.small_operation import NINE, SmallOperation

HERE = Path(__file__).parent / "dumps"


def made() -> dict[str, Path]:
    """Dumps by the migration they stand at."""
    return {p.stem: p for p in sorted(HERE.glob("*.sql"))}


def load(dump: Path, into: Path) -> Path:
    connection = sqlite3.connect(into)
    connection.executescript(dump.read_text("utf-8"))
    connection.close()
    return into


def make(revision: str, into: Path) -> None:
    """An operation with places, plants, a walk, a look, a card, a correction and a void."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "records.sqlite"
        engine = open_database(f"sqlite:///{file}")
        migrate(engine, revision)
        o = SmallOperation(engine)
        walk, _ = o.walk()
        look = o.look(walk)
        look.examined[0].tallies[0].number = 4
        o.s.commit()
        o.add(r.Planting(unit_id=o.unit2.id, crop="pansy"))
        o.s.delete(o.look(walk))
        o.s.commit()
        o.add(r.Sighting(unit_id=o.unit.id, seen_at=NINE, cause="not_known"))
        o.s.close()
        engine.dispose()
        connection = sqlite3.connect(file)
        into.write_text("\n".join(connection.iterdump()) + "\n", "utf-8")
        connection.close()


if __name__ == "__main__":
    make(sys.argv[1], HERE / f"{sys.argv[1]}.sql")
