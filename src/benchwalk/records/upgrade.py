"""Bringing records to this version's schema, and saying beforehand what that will change."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa
from alembic.script import ScriptDirectory

from benchwalk.records.backup.snapshot import snapshot
from benchwalk.records.database import (
    DatabaseNotReadyError,
    alembic_config,
    file_of,
    migrate,
    open_database,
    row_counts,
    schema_of,
)


@dataclass(frozen=True)
class Change:
    """One migration that is still to come, in its own words."""

    revision: str
    what: str


@dataclass(frozen=True)
class Upgrade:
    """What an upgrade does, tried on a copy: migrations, tables added, rows kept."""

    at: str
    newest: str
    changes: tuple[Change, ...]
    new_tables: tuple[str, ...]
    rows: int


def pending(at: str | None) -> tuple[Change, ...]:
    """Migrations after the one a database stands at, the next one first.

    Raises
    ------
    DatabaseNotReadyError
        if this version does not know that migration: the records are of a newer one.
    """
    scripts = list(ScriptDirectory.from_config(alembic_config()).walk_revisions())
    if at is not None and at not in {s.revision for s in scripts}:
        newest = scripts[0].revision
        raise DatabaseNotReadyError("keep.newer_records", at=at, newest=newest)
    later = []
    for script in scripts:
        if script.revision == at:
            break
        later.append(Change(script.revision, (script.doc or "").strip()))
    return tuple(reversed(later))


def check(engine: sa.Engine) -> Upgrade:
    """What an upgrade will change: done on a copy that is thrown away."""
    _refuse_none(engine)
    at, newest = schema_of(engine)
    changes = pending(at)
    with tempfile.TemporaryDirectory(prefix="benchwalk-upgrade-") as folder:
        copied = Path(folder) / "benchwalk.sqlite"
        held = snapshot(engine, copied)
        new = _tried(copied) - held.counts.keys() if changes else set()
    return Upgrade(str(at), newest, changes, tuple(sorted(new)), sum(held.counts.values()))


def _tried(copied: Path) -> set[str]:
    engine = open_database(f"sqlite:///{copied}")
    try:
        migrate(engine, schema_of(engine)[1])
        with engine.connect() as connection:
            return set(row_counts(connection))
    finally:
        engine.dispose()


def upgrade(engine: sa.Engine) -> Upgrade:
    """Copy, prove the copy, migrate, and see that every row is still there."""
    planned = check(engine)
    if planned.changes:
        migrate(engine)
    return planned


def _refuse_none(engine: sa.Engine) -> None:
    file = file_of(engine)
    nothing = file is not None and not file.exists()
    if nothing or schema_of(engine)[0] is None:
        raise DatabaseNotReadyError("refused.no_records", where=engine.url.render_as_string())
