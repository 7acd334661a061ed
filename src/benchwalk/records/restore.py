"""Bringing a copy back, on this PC or another: all of it, or nothing.

What stood there before is put aside, never deleted. The ledger begins a new epoch, so that phones
offer again what they sent since the copy was made.
"""

from __future__ import annotations

import datetime as dt
import os
import shutil
import sqlite3
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from alembic.script import ScriptDirectory

from benchwalk.catalogue import Refusal
from benchwalk.records import walls
from benchwalk.records.backup.proof import (
    FOLDERS,
    RECORDS,
    Held,
    Proof,
    prove,
    read_proof,
    refuse_changed,
)
from benchwalk.records.backup.snapshot import CHUNK, tables_of
from benchwalk.records.chain import read_heads
from benchwalk.records.database import (
    alembic_config,
    file_of,
    folder_of,
    migrate,
    open_database,
    row_counts,
    schema_of,
)
from benchwalk.records.disk import room_bytes, sync_file, sync_folder
from benchwalk.records.lock import alone
from benchwalk.records.operations import Operation

ASIDE = "replaced-%Y%m%dT%H%M%S.%fZ"
UNDER_WAY = ".restoring-"


class RestoreRefusedError(Refusal):
    """A copy that is not brought back, and why."""


@dataclass(frozen=True)
class Restored:
    """What was brought back; ``aside`` holds what stood there before."""

    proof: Proof
    epoch: int
    aside: Path | None


def restore(folder: Path, engine: sa.Engine, *, replace: bool = False) -> Restored:
    """Bring the copy in a folder back as the records of an engine.

    Parameters
    ----------
    replace : put the records that are there aside. PostgreSQL: only into an empty database.

    Raises
    ------
    ProofFailedError
        if the copy is damaged, or is not what its proof says.
    RestoreRefusedError
        if it was made by a newer version, there is no room, or records are there already.
    LockedError
        if a server or a command has the records open.
    """
    proof = read_proof(folder)
    _refuse_newer(folder, proof)
    refuse_changed(folder, proof)
    if engine.dialect.name == "postgresql":
        return _into_postgresql(folder, proof, engine)
    return _into_file(folder, proof, engine, replace=replace)


def _refuse_newer(folder: Path, proof: Proof) -> None:
    known = {s.revision for s in ScriptDirectory.from_config(alembic_config()).walk_revisions()}
    if proof.schema not in known:
        raise RestoreRefusedError("keep.newer_copy", path=folder, schema=proof.schema)


def _into_file(folder: Path, proof: Proof, engine: sa.Engine, *, replace: bool) -> Restored:
    target, data = file_of(engine), folder_of(engine)
    assert target is not None  # of the dialect asked for above
    data.mkdir(parents=True, exist_ok=True)
    engine.dispose()
    with alone(target), tempfile.TemporaryDirectory(prefix=UNDER_WAY, dir=data) as held:
        if target.exists() and not replace:
            raise RestoreRefusedError("keep.records_there", path=target)
        _refuse_no_room(folder, data)
        ready, epoch = _prepared(folder, proof, Path(held), target)
        aside = _put_aside(data, target) if target.exists() else None
        _photos_in_place(ready, data)
        os.replace(ready / RECORDS, target)  # before this all is as it was; after it, restored
        _keys_in_place(ready, data, aside)
        sync_folder(data)
    migrate(engine, schema_of(engine)[1])
    engine.dispose()
    return Restored(proof, epoch, aside)


def _refuse_no_room(folder: Path, data: Path) -> None:
    needed = 2 * sum(p.stat().st_size for p in folder.rglob("*") if p.is_file())
    if (free := room_bytes(data)) < needed:
        raise RestoreRefusedError("keep.no_room", path=data, needed=needed >> 20, free=free >> 20)


def _prepared(folder: Path, proof: Proof, scratch: Path, target: Path) -> tuple[Path, int]:
    """The copy beside the records, proved again where it will be used, in its new epoch."""
    ready, check = scratch / "ready", scratch / "check"
    ready.mkdir()
    check.mkdir()
    for name in FOLDERS:
        if (folder / name).is_dir():
            shutil.copytree(folder / name, ready / name)
    heads = [h for text in proof.heads for h in read_heads(text)]
    prove(folder / RECORDS, Held(proof.schema, dict(proof.counts), heads), check)
    os.replace(check / RECORDS, ready / RECORDS)  # the very file that was opened and checked
    epoch = _new_epoch(ready / RECORDS, _epoch_of(target))
    for file in (p for p in ready.rglob("*") if p.is_file()):
        sync_file(file)
    return ready, epoch


def _epoch_of(target: Path) -> int:
    """The newest epoch of records that are there; 0 where they cannot be read or there are none."""
    if not target.exists():
        return 0
    connection = sqlite3.connect(f"file:{target}?mode=ro", uri=True)
    try:
        return int(
            connection.execute("SELECT coalesce(max(epoch), 0) FROM operation").fetchone()[0]
        )
    except sqlite3.DatabaseError:
        return 0  # damaged records are a reason to restore
    finally:
        connection.close()


def _new_epoch(file: Path, used: int) -> int:
    """Raise the epoch above any that was used; the file then stands alone, without a journal."""
    connection = sqlite3.connect(file, isolation_level=None)
    try:
        connection.execute("PRAGMA journal_mode=DELETE")
        connection.execute("UPDATE operation SET epoch = 1 + max(epoch, ?)", (used,))
        found = connection.execute("SELECT coalesce(max(epoch), 1) FROM operation").fetchone()
    finally:
        connection.close()
    return int(found[0])


def _put_aside(data: Path, target: Path) -> Path:
    """Keep the records that are there under another name; they also stay until they are replaced.

    A sound file takes its journal into itself first. A damaged one keeps it beside it.
    """
    aside = data / dt.datetime.now(dt.UTC).strftime(ASIDE)
    aside.mkdir()
    _without_journal(target)
    os.link(target, aside / target.name)
    for end in ("-wal", "-shm"):
        journal = target.with_name(target.name + end)
        if journal.exists():
            os.replace(journal, aside / journal.name)
    sync_folder(aside)
    sync_folder(data)
    return aside


def _without_journal(target: Path) -> None:
    connection = sqlite3.connect(target, isolation_level=None)
    try:
        connection.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.DatabaseError:
        return  # damaged: it is put aside as it is, with its journal
    finally:
        connection.close()


def _photos_in_place(ready: Path, data: Path) -> None:
    """Photos are added; one that is there already is kept."""
    for photo in sorted(p for p in (ready / "photos").rglob("*") if p.is_file()):
        target = data / "photos" / photo.relative_to(ready / "photos")
        target.parent.mkdir(parents=True, exist_ok=True)
        if not target.exists():
            os.replace(photo, target)


def _keys_in_place(ready: Path, data: Path, aside: Path | None) -> None:
    if not (ready / "keys").is_dir():
        return
    if (data / "keys").is_dir():
        kept = aside or data / dt.datetime.now(dt.UTC).strftime(ASIDE)
        kept.mkdir(exist_ok=True)
        os.replace(data / "keys", kept / "keys")
    os.replace(ready / "keys", data / "keys")


def _into_postgresql(folder: Path, proof: Proof, engine: sa.Engine) -> Restored:
    """Every row in one transaction, into a database that has no operation yet."""
    migrate(engine, proof.schema)
    source = open_database(f"sqlite:///{_scratch_copy(folder, proof)}")
    with source.connect() as copy, engine.begin() as connection:
        if connection.execute(sa.select(sa.func.count()).select_from(Operation)).scalar_one():
            raise RestoreRefusedError("keep.records_there", path=engine.url.render_as_string())
        tables = tables_of(copy)
        for table in tables:
            _unbound(connection, table.name)
        for table in tables:
            _copied(copy, connection, table)
        found = row_counts(connection)
        if found != dict(proof.counts):
            raise RestoreRefusedError("keep.not_same", path=folder, differs=str(found))
        connection.execute(sa.update(Operation).values(epoch=Operation.epoch + 1))
        epoch = connection.execute(sa.select(sa.func.max(Operation.epoch))).scalar() or 1
        for table in tables:
            connection.exec_driver_sql(f'ALTER TABLE "{table.name}" ENABLE TRIGGER USER')
        walls.build(connection)
    source.dispose()
    shutil.rmtree(Path(str(source.url.database)).parent)
    migrate(engine, schema_of(engine)[1])
    return Restored(proof, epoch, None)


def _scratch_copy(folder: Path, proof: Proof) -> Path:
    scratch = Path(tempfile.mkdtemp(prefix="benchwalk-restoring-"))
    heads = [h for text in proof.heads for h in read_heads(text)]
    prove(folder / RECORDS, Held(proof.schema, dict(proof.counts), heads), scratch)
    return scratch / RECORDS


def _unbound(connection: sa.Connection, table: str) -> None:
    """Rows that obeyed rules and policies where they were written are loaded as they stand."""
    connection.exec_driver_sql(f'ALTER TABLE "{table}" NO FORCE ROW LEVEL SECURITY')
    connection.exec_driver_sql(f'ALTER TABLE "{table}" DISABLE TRIGGER USER')


def _copied(copy: sa.Connection, connection: sa.Connection, table: sa.Table) -> None:
    """One COPY a table: its references are checked when all of it is there, to itself too."""
    from psycopg.types.json import Json  # noqa: PLC0415 - PostgreSQL is an extra

    driver: Any = connection.connection.dbapi_connection
    assert driver is not None  # an open connection has one
    names = ", ".join(f'"{c.name}"' for c in table.columns)
    found = copy.execute(sa.select(table).execution_options(yield_per=CHUNK))
    with driver.cursor() as cursor, cursor.copy(f'COPY "{table.name}" ({names}) FROM STDIN') as to:
        for row in found:
            to.write_row([Json(v) if isinstance(v, dict | list) else v for v in row])
