"""What was proven about a copy: the file beside it that says so, and the check itself."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import shutil
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from benchwalk.catalogue import Refusal
from benchwalk.records.chain import Checked, Head, check, heads, read_heads
from benchwalk.records.database import open_database, row_counts
from benchwalk.records.operations import Operation

RECORDS = "benchwalk.sqlite"
PROOF = "proof.json"
FOLDERS = ("photos", "keys")
FORMAT = 1


class ProofFailedError(Refusal):
    """A copy is not what it was made from, or not what its proof says."""


@dataclass(frozen=True)
class Proof:
    """What a copy holds, as read from what it was copied from and found again in the copy.

    Parameters
    ----------
    made_at : when the copy was begun. [UTC]
    proved_at : when it was restored into a scratch file and checked. [UTC]
    source : sqlite or postgresql.
    schema : migration it stands at.
    counts : rows by table.
    heads : heads of the ledgers' chains as text, see :class:`benchwalk.records.chain.Head`.
    faults : faults of the chains as they were copied: (operation, how, first, last).
    files : sha256 of each file by its path in the copy.
    sqlite : version of the library that made it; information only.
    """

    made_at: dt.datetime
    proved_at: dt.datetime
    source: str
    schema: str
    counts: Mapping[str, int]
    heads: Sequence[str]
    faults: Sequence[Sequence[Any]]
    files: Mapping[str, str]
    sqlite: str

    @property
    def whole(self) -> bool:
        return not self.faults


@dataclass(frozen=True)
class Held:
    """What a database holds at one moment."""

    schema: str
    counts: dict[str, int]
    heads: list[Head]


def held_in(connection: sa.Connection) -> Held:
    """Migration, rows and heads, in the connection's transaction."""
    stands_at = "SELECT version_num FROM alembic_version"
    schema = str(connection.exec_driver_sql(stands_at).scalar_one())
    return Held(schema, row_counts(connection), heads(connection))


def prove(copy: Path, held: Held, scratch: Path) -> list[tuple[str, str, int, int]]:
    """Restore a copy's records into a scratch file, and compare all that was held.

    Returns
    -------
    faults of the chains: a faithful copy of records that somebody changed has them too.

    Raises
    ------
    ProofFailedError
        naming the first thing that differs.
    """
    opened = scratch / RECORDS
    shutil.copyfile(copy, opened)
    refuse_damaged(opened)
    engine = open_database(f"sqlite:///{opened}")
    try:
        with engine.connect() as connection:
            found = held_in(connection)
            if found != held:
                raise ProofFailedError("keep.not_same", path=copy, differs=_differs(held, found))
            return faults_of(connection)
    finally:
        engine.dispose()


def faults_of(connection: sa.Connection) -> list[tuple[str, str, int, int]]:
    """Faults of every operation's chain."""
    checked = checked_chains(connection)
    return [(str(c.head.operation), *fault) for c in checked.values() for fault in c.faults]


def checked_chains(connection: sa.Connection, outside: Sequence[Head] = ()) -> dict[int, Checked]:
    """Each operation's chain, compared with those of the outside heads that are its own."""
    held = connection.execute(sa.select(Operation.id, Operation.uid).order_by(Operation.id)).all()
    return {n: check(connection, n, [h for h in outside if h.operation == uid]) for n, uid in held}


def refuse_damaged(file: Path) -> None:
    """Every page is read and every reference followed.

    Raises
    ------
    ProofFailedError
        with the first lines of what SQLite found.
    """
    connection = sqlite3.connect(f"file:{file}?mode=ro", uri=True)
    try:
        said = [str(row[0]) for row in connection.execute("PRAGMA integrity_check(5)")]
        if said == ["ok"]:
            said = [f"{row[0]} -> {row[2]}" for row in connection.execute(KEYS)]
    except sqlite3.DatabaseError as damage:
        said = [str(damage)]
    finally:
        connection.close()
    if said not in ([], ["ok"]):
        raise ProofFailedError("keep.damaged", path=file, fault="; ".join(said[:5]))


KEYS = "PRAGMA foreign_key_check"


def _differs(held: Held, found: Held) -> str:
    names = sorted(held.counts.keys() | found.counts.keys())
    rows = [
        f"{t}: {held.counts.get(t)} -> {found.counts.get(t)}"
        for t in names
        if held.counts.get(t) != found.counts.get(t)
    ]
    if held.schema != found.schema:
        rows.append(f"schema: {held.schema} -> {found.schema}")
    ends = [f"{a} -> {b}" for a, b in zip(held.heads, found.heads, strict=False) if a != b]
    return "; ".join(rows + ends)[:500]


def sha256_of(file: Path) -> str:
    with file.open("rb") as held:
        return hashlib.file_digest(held, "sha256").hexdigest()


def files_of(folder: Path) -> dict[str, str]:
    """sha256 of each file of a copy by its path there, the proof itself left out."""
    held = sorted(p for p in folder.rglob("*") if p.is_file() and p != folder / PROOF)
    return {p.relative_to(folder).as_posix(): sha256_of(p) for p in held}


def write_proof(folder: Path, proof: Proof) -> None:
    held = {"format": FORMAT} | asdict(proof)
    text = json.dumps(held, indent=1, default=str, ensure_ascii=False)
    (folder / PROOF).write_text(text + "\n", encoding="utf-8")


def read_proof(folder: Path) -> Proof:
    """The proof of a copy.

    Raises
    ------
    ProofFailedError
        if there is none, or it cannot be read.
    """
    file = folder / PROOF
    if not file.is_file():
        raise ProofFailedError("keep.no_copy", path=folder, file=PROOF)
    try:
        held = json.loads(file.read_text(encoding="utf-8"))
        if held.pop("format") != FORMAT:
            raise ProofFailedError("keep.newer_copy", path=folder, schema=held.get("schema"))
        made, proved = (dt.datetime.fromisoformat(held.pop(k)) for k in ("made_at", "proved_at"))
        for text in held["heads"]:
            read_heads(text)
        return Proof(made_at=made, proved_at=proved, **held)
    except (ValueError, KeyError, TypeError) as fault:
        raise ProofFailedError("keep.damaged", path=file, fault=fault) from fault


def refuse_changed(folder: Path, proof: Proof) -> None:
    """Every file of a copy is there, and has the bytes it was proved with.

    Raises
    ------
    ProofFailedError
        naming the first file that differs.
    """
    found = files_of(folder)
    differ = [n for n in sorted(proof.files) if found.get(n) != proof.files[n]]
    if differ:
        how = "missing" if differ[0] not in found else "changed"
        raise ProofFailedError(f"keep.file_{how}", path=folder, file=differ[0])
