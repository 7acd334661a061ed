"""The chain: tamperings named, a million rows verified beside bare hashing, replay row by row."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import random
import shutil
import sqlite3
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from sqlalchemy import insert

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parent.parent)]

from tests.keeping.test_the_chain import RULES, held_at, named, tampered, uid_of  # noqa: E402

from benchwalk.records.base import uuid7  # noqa: E402
from benchwalk.records.chain import Head, check, spoken  # noqa: E402
from benchwalk.records.database import open_database  # noqa: E402
from benchwalk.records.doctor.replay import replay  # noqa: E402
from benchwalk.records.ledger import batches, canonical, digest  # noqa: E402
from benchwalk.records.operations import Ledger  # noqa: E402
from keeping_operation import fill, operation  # noqa: E402 - the bench's own folder comes first
from kept import head, keep, options, results  # noqa: E402

SEED = 20260503


def tamperings(folder: Path, n: int) -> dict[str, int]:
    file = folder / "small.sqlite"
    engine, number = operation(file)
    engine.dispose()
    unnamed, past = 0, 0
    for k in range(n):
        rng = random.Random(SEED + k)
        copied = folder / "tampered.sqlite"
        shutil.copyfile(file, copied)
        connection = sqlite3.connect(copied, isolation_level=None)
        for (name,) in connection.execute(RULES).fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute("PRAGMA synchronous=OFF")
        count = connection.execute("SELECT max(seq) FROM ledger").fetchone()[0]
        at = rng.randint(1, count)
        outside = Head(uid_of(connection), at, held_at(connection, at))
        connection.execute("BEGIN")
        how, seq = tampered(connection, rng, count)
        connection.execute("COMMIT")
        connection.close()
        tried = open_database(f"sqlite:///{copied}")
        with tried.connect() as c:
            found = check(c, number, [outside])
        tried.dispose()
        by_name = any(f.first <= seq <= f.last for f in found.faults)
        past += not by_name
        unnamed += not named(found, how, seq, outside)
    return {
        "tamperings": n,
        "named": n - past,
        "past_the_last_outside_head": past - unnamed,
        "neither": unnamed,
    }


def verified(folder: Path, rows: int) -> dict[str, float]:
    """Verifying by the records' own function, beside hashing texts that are in memory already.

    Seconds of the processor, as other work on the machine is none of its.
    """
    engine, number = operation(folder / "large.sqlite")
    _said(engine, number, rows)
    with engine.connect() as c:
        ours, bare, read = [], [], []
        for _ in range(2):
            began = time.process_time()
            assert check(c, number).faults == ()
            ours.append(time.process_time() - began)
            began = time.process_time()
            for _ in c.connection.dbapi_connection.execute("SELECT * FROM ledger ORDER BY seq"):
                pass
            read.append(time.process_time() - began)
            bare.append(_bare(c, number))
        from_file = _from_file(folder / "said.txt", c, number)
    engine.dispose()
    best = min(bare)
    return {
        "ledger_rows": rows,
        "verify_s": round(min(ours), 2),
        "bare_hashing_s": round(best, 2),
        "hashing_from_a_file_s": round(from_file, 2),
        "reading_the_rows_s": round(min(read), 2),
        "ratio_to_bare_hashing": round(min(ours) / best, 2),
        "ratio_to_hashing_from_a_file": round(min(ours) / from_file, 2),
        "ratio_to_reading_and_hashing": round(min(ours) / (best + min(read)), 2),
    }


def _said(engine, number: int, rows: int) -> None:  # type: ignore[no-untyped-def]  # an engine
    """Ledger rows only, of a look's size: what is followed is the chain, not the tables."""
    body = canonical({"examined": [{"method": "plant_count"}], "note": "x" * 560})
    at = dt.datetime(2026, 3, 10, 9, 30, 15, 250_000, tzinfo=dt.UTC)
    with engine.execution_options(benchwalk_writes=True).begin() as c:
        for name in c.exec_driver_sql(RULES).scalars().all():
            c.exec_driver_sql(f"DROP TRIGGER {name}")
        head = check(c, number).head
        before, seq = bytes.fromhex(head.digest), head.count
        nobody = dict.fromkeys(("void_reason", "by_id", "typed_by_id", "device_id"))
        same = nobody | {"epoch": 1, "kind": "observation", "rev": 1, "body": body}
        same |= {"seen_at": at, "received_at": at, "clock_offset_s": None, "operation_id": number}
        for some in batches(range(seq + 1, rows + 1), 5000):
            held = []
            for seq in some:
                row = same | {"seq": seq, "id": uuid7()}
                before = digest(before, row)
                held.append(row | {"digest": before})
            c.execute(insert(Ledger.__table__), held)


def _bare(c, number: int) -> float:  # type: ignore[no-untyped-def]  # a connection
    """Only sha256, of the same texts, few at a time so that they fit in memory."""
    took, before, some = 0.0, b"", []
    for _, _, text in spoken(c, number):
        some.append(text)
        if len(some) == 10_000:
            began = time.process_time()
            for said in some:
                before = hashlib.sha256(before + said).digest()
            took += time.process_time() - began
            some = []
    return took


def _from_file(file: Path, c, number: int) -> float:  # type: ignore[no-untyped-def]  # a connection
    """Only sha256, of the same texts as they come from a plain file one behind the other."""
    lengths = []
    with file.open("wb") as out:
        for _, _, text in spoken(c, number):
            lengths.append(len(text))
            out.write(text)
    began, before = time.process_time(), b""
    with file.open("rb") as held:
        for n in lengths:
            before = hashlib.sha256(before + held.read(n)).digest()
    took = time.process_time() - began
    file.unlink()
    return took


def replayed(folder: Path, rows: int) -> dict[str, float]:
    file = folder / "replayed.sqlite"
    engine, number = operation(file)
    fill(engine, number, rows)
    engine.dispose()
    began = time.perf_counter()
    assert replay(file, folder / "scratch1.sqlite") == []
    took = time.perf_counter() - began
    connection = sqlite3.connect(file)
    connection.execute(
        "INSERT INTO tally (operation_id, observation_id, method, taxon, stage, how, number, rev)"
        " SELECT operation_id, id, 'plant_count', 'greenhouse_whitefly', 'instar_1', 'counted', 9,"
        " rev FROM observation LIMIT 1"
    )
    connection.commit()
    connection.close()
    found = replay(file, folder / "scratch2.sqlite")
    return {
        "replayed_records": rows,
        "replay_s": round(took, 2),
        "lines_added_by_hand": 1,
        "rows_named": len(found),
    }


def main() -> None:
    parser = options(__doc__)
    parser.add_argument("--tamperings", type=int, default=1000)
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--replayed", type=int, default=100_000)
    said = parser.parse_args()
    parts = [(tamperings, said.tamperings), (replayed, said.replayed), (verified, said.rows)]
    parts = [(measure, size) for measure, size in parts if size]  # 0: as it was measured last
    figures = results("chain") | head(SEED)
    with tempfile.TemporaryDirectory() as name, ProcessPoolExecutor(len(parts)) as pool:
        for found in pool.map(_part, parts, [Path(name) / str(n) for n in range(len(parts))]):
            figures |= found
    keep("chain", figures, write=said.write)


def _part(part, folder: Path) -> dict[str, float]:  # type: ignore[no-untyped-def]  # one of three
    measure, size = part
    folder.mkdir()
    found: dict[str, float] = measure(folder, size)
    print(json.dumps(found), flush=True)
    return found


if __name__ == "__main__":
    main()
