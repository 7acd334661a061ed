"""Copies of the records: made while others write, proved by restoring them, kept in two places.

A copy is a folder: the records as one SQLite file (from PostgreSQL too), photos and keys as they
are, and ``proof.json``, which says what was found when the copy was restored into a scratch file.
"""

from __future__ import annotations

import datetime as dt
import json
import logging
import os
import shutil
import sqlite3
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa

from benchwalk.catalogue import Refusal
from benchwalk.records.backup.keeping import before_migrations, kept
from benchwalk.records.backup.proof import (
    FOLDERS,
    PROOF,
    RECORDS,
    Proof,
    ProofFailedError,
    files_of,
    prove,
    read_proof,
    refuse_changed,
    write_proof,
)
from benchwalk.records.backup.snapshot import snapshot
from benchwalk.records.database import folder_of, measure, schema_of, wrote_to
from benchwalk.records.disk import sync_file, sync_folder
from benchwalk.records.lock import FileLock
from benchwalk.records.operations import Operation

PLACE, SETTINGS = "backups", "keeping.json"
NAMED = "benchwalk-%Y%m%dT%H%M%S.%fZ"
EVERY = dt.timedelta(days=1)
LOOK_EVERY_S = 600.0  # own choice: how often a server looks whether a copy is due
LOG = logging.getLogger(__name__)

__all__ = [
    "PROOF",
    "RECORDS",
    "Made",
    "Proof",
    "ProofFailedError",
    "Proven",
    "before_migration",
    "copies",
    "copy_if_due",
    "daily",
    "due",
    "last_proven",
    "make",
    "read_proof",
    "refuse_changed",
    "second_place",
]


@dataclass(frozen=True)
class Made:
    """A copy that was made and proved; ``second`` is where it also is."""

    folder: Path
    proof: Proof
    second: Path | None


@dataclass(frozen=True)
class Proven:
    """The newest proved copy; whether the second place has it (None: there is no such place)."""

    at: dt.datetime
    folder: Path
    in_second: bool | None


def make(engine: sa.Engine, to: Path | None = None) -> Made:
    """Copy the records, prove the copy, keep it, and let go of copies that are not to be kept.

    Parameters
    ----------
    to : a second place, remembered for every later copy.

    Raises
    ------
    ProofFailedError
        if the copy is not what it was made from; nothing is kept then.
    """
    data = folder_of(engine)
    if to is not None:
        _remember(data, to)
    place = data / PLACE
    place.mkdir(parents=True, exist_ok=True)
    lock = FileLock(place / "copying.lock")
    lock.take()
    try:
        folder, proof = _make(engine, data, place)
        second = _copied_to(second_place(data), folder, proof)
        for there in (place, second_place(data)):
            _let_go(there)
    finally:
        lock.give_back()
    return Made(folder, proof, second)


def _make(engine: sa.Engine, data: Path, place: Path) -> tuple[Path, Proof]:
    began = dt.datetime.now(dt.UTC)
    with tempfile.TemporaryDirectory(prefix=".making-", dir=place) as made:
        folder = Path(made) / "copy"
        folder.mkdir()
        held = snapshot(engine, folder / RECORDS)
        for name in FOLDERS:
            _with_folder(data / name, folder / name, _newest(place))
        scratch = Path(made) / "scratch"
        scratch.mkdir()
        faults = prove(folder / RECORDS, held, scratch)
        proof = Proof(
            made_at=began,
            proved_at=dt.datetime.now(dt.UTC),
            source=engine.dialect.name,
            schema=held.schema,
            counts=held.counts,
            heads=[str(h) for h in held.heads],
            faults=faults,
            files=files_of(folder),
            sqlite=sqlite3.sqlite_version,
        )
        write_proof(folder, proof)
        return _in_place(folder, place / began.strftime(NAMED)), proof


def _in_place(made: Path, folder: Path) -> Path:
    """The finished copy under its own name: all of it, or nothing."""
    for file in made.rglob("*"):
        (sync_folder if file.is_dir() else sync_file)(file)
    sync_folder(made)
    made.rename(folder)
    sync_folder(folder.parent)
    return folder


def _with_folder(source: Path, target: Path, before: Path | None) -> None:
    """Copy a folder; a file that the copy before has, with the same bytes, is shared with it.

    Nobody writes into a copy, so a photo of last year need not be kept 24 times.
    """
    if not source.is_dir():
        return
    known = {} if before is None else read_proof(before).files
    for file in sorted(p for p in source.rglob("*") if p.is_file()):
        name = f"{source.name}/{file.relative_to(source).as_posix()}"
        (copied := target / file.relative_to(source)).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(file, copied)
        if before is not None and name in known:
            _share(before / name, copied, known[name])


def _share(older: Path, copied: Path, digest: str) -> None:
    same = older.is_file() and files_of(copied.parent).get(copied.name) == digest
    if same and older.read_bytes() == copied.read_bytes():
        beside = copied.with_name(f"{copied.name}.shared")
        os.link(older, beside)
        beside.replace(copied)


def copies(place: Path) -> list[tuple[Path, Proof]]:
    """Finished copies in a place, the oldest first; what cannot be read as one is left out."""
    if not place.is_dir():
        return []
    found = []
    for folder in sorted(place.glob("benchwalk-*")):
        try:
            found.append((folder, read_proof(folder)))
        except ProofFailedError:
            continue  # not a copy that was proved; `doctor` and `restore` say why
    return sorted(found, key=lambda c: c[1].made_at)


def _newest(place: Path) -> Path | None:
    held = copies(place)
    return held[-1][0] if held else None


def _let_go(place: Path | None) -> None:
    """Remove copies that are not to be kept; whole ones are never counted with faulty ones."""
    held = [] if place is None else copies(place)
    for whole in (True, False):
        some = {proof.made_at: (folder, proof) for folder, proof in held if proof.whole is whole}
        ways_back = before_migrations({at: proof.schema for at, (_, proof) in some.items()})
        for at in some.keys() - kept(some.keys()) - ways_back:
            shutil.rmtree(some[at][0])


def second_place(data: Path) -> Path | None:
    """Where copies also go, as it was once told; None: nowhere."""
    file = data / SETTINGS
    if not file.is_file():
        return None
    told = json.loads(file.read_text(encoding="utf-8")).get("second")
    return None if told is None else Path(told)


def _remember(data: Path, to: Path) -> None:
    data.mkdir(parents=True, exist_ok=True)
    new = data / f"{SETTINGS}.new"
    new.write_text(json.dumps({"second": str(to.resolve())}) + "\n", encoding="utf-8")
    sync_file(new)
    new.replace(data / SETTINGS)


def _copied_to(place: Path | None, folder: Path, proof: Proof) -> Path | None:
    """The same copy in the second place, compared byte for byte by its digests."""
    if place is None:
        return None
    place.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".making-", dir=place) as made:
        copied = Path(made) / folder.name
        shutil.copytree(folder, copied)
        refuse_changed(copied, proof)
        return _in_place(copied, place / folder.name)


def last_proven(data: Path) -> Proven | None:
    """The newest copy of whole records that was restored and checked; None: there is none."""
    held = [(folder, proof) for folder, proof in copies(data / PLACE) if proof.whole]
    if not held:
        return None
    folder, proof = held[-1]
    second = second_place(data)
    there = None if second is None else (second / folder.name / PROOF).is_file()
    return Proven(proof.proved_at, folder, there)


def due(data: Path, now: dt.datetime | None = None) -> bool:
    """Whether the newest proven copy is older than a day, or there is none."""
    last = last_proven(data)
    return last is None or (now or dt.datetime.now(dt.UTC)) - last.at >= EVERY


def copy_if_due(engine: sa.Engine) -> Made | None:
    """The daily copy, where this program wrote something that matters and it is due.

    Practice operations (a class, the demo) are not worth a copy.
    """
    return _copy_if_due(engine) if wrote_to(engine) else None


def _copy_if_due(engine: sa.Engine) -> Made | None:
    if not due(folder_of(engine)):
        return None
    with engine.connect() as connection:
        real = connection.execute(sa.select(Operation.id).where(Operation.practice.is_(False)))
        if real.first() is None:
            return None
    return make(engine)


@contextmanager
def daily(engine: sa.Engine, every_s: float = LOOK_EVERY_S) -> Iterator[None]:
    """While a server runs: the daily copy whenever it is due, beside the serving.

    The tables are measured anew with it.

    A copy that fails is told to the log and tried again; what is served goes on.
    """
    ended = threading.Event()

    def keep() -> None:
        while True:
            try:
                if _copy_if_due(engine) is not None:
                    measure(engine)
            except (Refusal, OSError, sa.exc.SQLAlchemyError) as failure:
                LOG.warning("%s", failure)
            if ended.wait(every_s):
                return

    keeper = threading.Thread(target=keep, name="daily copy")
    keeper.start()
    try:
        yield
    finally:
        ended.set()
        keeper.join()


def before_migration(engine: sa.Engine) -> Made | None:
    """A proven copy of records at an older migration; None where there are no records."""
    if schema_of(engine)[0] is None:
        return None
    return make(engine)
