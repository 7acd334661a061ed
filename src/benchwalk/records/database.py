"""Opening a database: SQLite by default, PostgreSQL by address; migrations; sessions."""

from __future__ import annotations

import os
import sqlite3
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import platformdirs
import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory

from benchwalk.catalogue import Refusal
from benchwalk.records.ledger import Ledgered

MIGRATIONS = Path(__file__).parent / "migrations"
VARIABLE = "BENCHWALK_DATABASE"


class DatabaseNotReadyError(Refusal):
    """The database is missing, or its schema is not the one this version reads."""


def address(data: Path | None) -> str:
    """The database's address: BENCHWALK_DATABASE, else a SQLite file in the data directory."""
    told = os.environ.get(VARIABLE)
    if told:
        return told.replace("postgresql://", "postgresql+psycopg://", 1)
    return f"sqlite:///{(data or data_directory()) / 'benchwalk.sqlite'}"


def data_directory() -> Path:
    """The platform's directory for this user's data."""
    return platformdirs.user_data_path("benchwalk", appauthor=False)


def open_database(url: str) -> sa.Engine:
    """An engine with this project's settings; opens and creates nothing yet."""
    engine = sa.create_engine(url)
    if engine.dialect.name == "sqlite":
        sa.event.listen(engine, "connect", _sqlite_settings)
        sa.event.listen(engine, "begin", _sqlite_begin)
    return engine


def _sqlite_settings(connection: sqlite3.Connection, _: Any) -> None:
    # the driver would begin transactions by itself, and only before the first write
    connection.isolation_level = None
    for pragma in ("foreign_keys=ON", "journal_mode=WAL", "synchronous=FULL", "busy_timeout=5000"):
        connection.execute(f"PRAGMA {pragma}")


def _sqlite_begin(connection: sa.Connection) -> None:
    """Writers take the write lock at once: a reader that turns writer can be refused it."""
    writes = connection.get_execution_options().get("benchwalk_writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    return config


def migrate(engine: sa.Engine, to: str = "head") -> None:
    """Bring the schema up to a migration, making the file (and its folder) when there is none.

    On SQLite with foreign keys off, checked afterwards.
    """
    config = _config()
    if engine.dialect.name == "sqlite" and engine.url.database:
        Path(engine.url.database).parent.mkdir(parents=True, exist_ok=True)
    with engine.connect() as connection:
        if engine.dialect.name == "sqlite":
            connection.exec_driver_sql("ROLLBACK")  # a pragma on keys is idle in a transaction
            connection.exec_driver_sql("PRAGMA foreign_keys=OFF")
            connection.exec_driver_sql("BEGIN IMMEDIATE")
        config.attributes["connection"] = connection
        command.upgrade(config, to)
        if engine.dialect.name == "sqlite":
            broken = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
            if broken:
                raise DatabaseNotReadyError("refused.migration", to=to, broken=broken[:5])
        connection.commit()
        if engine.dialect.name == "sqlite":
            connection.exec_driver_sql("ROLLBACK")
            connection.exec_driver_sql("PRAGMA foreign_keys=ON")
            connection.exec_driver_sql("BEGIN")


def schema_of(engine: sa.Engine) -> tuple[str | None, str]:
    """(the migration the database stands at, the newest this version knows)."""
    with engine.connect() as connection:
        at = MigrationContext.configure(connection).get_current_revision()
    newest = ScriptDirectory.from_config(_config()).get_current_head()
    assert newest is not None  # the package ships at least one
    return at, newest


def ready(engine: sa.Engine) -> None:
    """Refuse a database that is not there, or not of this version.

    Raises
    ------
    DatabaseNotReadyError
        saying which it is and what to do.
    """
    where = engine.url.render_as_string()
    held = engine.url.database
    if engine.dialect.name == "sqlite" and held is not None and not Path(held).exists():
        raise DatabaseNotReadyError("refused.no_records", where=where)
    at, newest = schema_of(engine)
    if at != newest:
        raise DatabaseNotReadyError(
            "refused.schema", where=where, at="-" if at is None else at, newest=newest
        )


def session(engine: sa.Engine, operation: int, by: uuid.UUID | None = None) -> Ledgered:
    """A reading and writing session bound to one operation."""
    opened = Ledgered(engine, expire_on_commit=False)
    opened.info.update(operation_id=operation, by_id=by)
    return opened


@contextmanager
def writing(engine: sa.Engine, operation: int, by: uuid.UUID | None = None) -> Iterator[Ledgered]:
    """A session that holds the write lock from its first statement, and commits at the end.

    An exception rolls all of it back.
    """
    with session(engine.execution_options(benchwalk_writes=True), operation, by) as opened:
        yield opened
        opened.commit()
