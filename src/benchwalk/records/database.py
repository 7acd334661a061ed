"""Opening a database: SQLite by default, PostgreSQL by address; migrations; sessions."""

from __future__ import annotations

import os
import re
import sqlite3
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

import platformdirs
import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory

from benchwalk.catalogue import Refusal
from benchwalk.records import walls
from benchwalk.records.disk import DiskFailedError, failed, refuse_unsafe
from benchwalk.records.ledger import Ledgered, hold
from benchwalk.records.lock import open_lock, write_lock

MIGRATIONS = Path(__file__).parent / "migrations"
VARIABLE = "BENCHWALK_DATABASE"
SETTINGS = (
    "foreign_keys=ON",
    "journal_mode=WAL",
    "synchronous=FULL",  # NORMAL does not sync the journal at a commit: a power cut takes it
    "busy_timeout=5000",
    "wal_autocheckpoint=0",  # checkpoints are made under the write lock
    "journal_size_limit=0",  # a journal begun anew is short again, so its length tells when
)
CHECKPOINT_BYTES = 1000 * 4096  # SQLite's own measure of a long journal (sqlite.org/wal.html, 2.1)
ROWS_MEASURED = 1000  # of an index: enough for a plan (sqlite.org/lang_analyze.html, 3.1 and 4)
OPEN_PATIENCE_S = 5.0
WRITES = re.compile(r"\s*(INSERT|UPDATE|DELETE|REPLACE|CREATE|DROP|ALTER)\b", re.IGNORECASE)
STOPPED: dict[Path, str] = {}  # files whose disk failed this program, and how
WRITTEN: set[sa.URL] = set()  # databases this program wrote to


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


class Durable(sqlite3.Connection):
    """A connection that holds the write lock from before its first write until after its commit.

    A checkpoint happens only here, while the lock is held: SQLite's own are switched off. It also
    keeps a share of the open lock, so that no restore takes the file away.
    """

    def guard(self, path: Path) -> None:
        """Which file's locks these are; called once, before anything else."""
        self.path = path
        self.writes, self.opens = write_lock(path), open_lock(path)

    def commit(self) -> None:
        super().commit()
        if self.writes.held:
            self._checkpoint_if_long()
            self.writes.give_back()

    def rollback(self) -> None:
        try:
            super().rollback()
        finally:
            self.writes.give_back()

    def close(self) -> None:
        # The last connection of all writes the journal back as it closes. Who holds the lock has
        # the file open too: where the lock is not free, this is not the last connection.
        self.writes.try_take()
        try:
            super().close()
        finally:
            self.writes.give_back()
            self.opens.give_back()

    def _checkpoint_if_long(self) -> None:
        """The transaction is safe in the journal already, and so is acknowledged all the same.

        A disk that fails here takes no more of them.
        """
        journal = self.path.with_name(f"{self.path.name}-wal")
        if journal.exists() and journal.stat().st_size > CHECKPOINT_BYTES:
            try:
                self.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchall()
            except sqlite3.OperationalError as error:
                if not failed(error):
                    raise
                STOPPED.setdefault(self.path, str(error))


def open_database(url: str) -> sa.Engine:
    """An engine with this project's settings; opens and creates nothing yet.

    A session of one operation is held to it twice: by the query, and on PostgreSQL by the plain
    role that row-level security binds.
    """
    if sa.make_url(url).get_backend_name() != "sqlite":
        engine = sa.create_engine(url)
        sa.event.listen(engine, "connect", walls.may_be_plain)
        return engine
    engine = sa.create_engine(url, connect_args={"factory": Durable})
    sa.event.listen(engine, "do_connect", partial(_sqlite_opened, engine))
    sa.event.listen(engine, "connect", _sqlite_settings)
    sa.event.listen(engine, "begin", _sqlite_begin)
    sa.event.listen(engine, "before_cursor_execute", _sqlite_locked)
    sa.event.listen(engine, "handle_error", _stop_on_failure)
    return engine


def file_of(engine: sa.Engine) -> Path | None:
    """The SQLite file; None where the records are not in one."""
    held = engine.url.database
    return None if engine.dialect.name != "sqlite" or not held else Path(held)


def folder_of(engine: sa.Engine) -> Path:
    """The folder that copies, photos and keys of these records lie in."""
    file = file_of(engine)
    return data_directory() if file is None else file.parent


def _sqlite_opened(engine: sa.Engine, dialect: Any, record: Any, args: Any, kw: Any) -> Durable:
    """A connection whose file may be opened: on a safe file system, and not being restored."""
    path = file_of(engine)
    assert path is not None  # the records are in a file; nothing here opens one in memory
    refuse_unsafe(path)
    if not path.parent.is_dir():
        raise DatabaseNotReadyError("refused.no_records", where=engine.url.render_as_string())
    opens = open_lock(path)
    opens.take(OPEN_PATIENCE_S)
    try:
        connection: Durable = dialect.connect(*args, **kw)
    except BaseException:
        opens.give_back()
        raise
    connection.guard(path)
    connection.opens = opens
    return connection


def _sqlite_settings(connection: Durable, _: Any) -> None:
    # the driver would begin transactions by itself, and only before the first write
    connection.isolation_level = None
    for pragma in SETTINGS:
        connection.execute(f"PRAGMA {pragma}")


def _sqlite_begin(connection: sa.Connection) -> None:
    """Writers take the write lock at once: a reader that turns writer can be refused it."""
    writes = connection.get_execution_options().get("benchwalk_writes", False)
    if writes:
        _take_write_lock(connection)
        # pages that a refused statement would give back; on the disk they cost as much as it does
        connection.exec_driver_sql("PRAGMA temp_store=MEMORY")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _sqlite_locked(
    connection: sa.Connection, cursor: Any, statement: str, parameters: Any, context: Any, many: Any
) -> None:
    """A statement that writes is under the lock, whoever sends it."""
    if WRITES.match(statement):
        _take_write_lock(connection)


def _take_write_lock(connection: sa.Connection) -> None:
    """Wait for the lock; once the disk has failed this program, nothing more is acknowledged."""
    held = connection.connection.dbapi_connection
    assert isinstance(held, Durable)  # every connection of these engines is made above
    if (reason := STOPPED.get(held.path)) is not None:
        raise DiskFailedError("keep.stopped", path=held.path, reason=reason)
    held.writes.take()


def _stop_on_failure(context: sa.engine.ExceptionContext) -> None:
    """A full or failing disk ends writing at once.

    What a failed sync left on the disk is not known, and asking again can answer "written" for
    what is not: the next program reads the journal anew. Reading goes on.
    """
    if failed(context.original_exception) and context.engine is not None:
        path = file_of(context.engine)
        assert path is not None  # only engines of SQLite files are listened to
        reason = STOPPED.setdefault(path, str(context.original_exception))
        refusal = DiskFailedError("keep.stopped", path=path, reason=reason)
        raise refusal from context.original_exception


def measure(engine: sa.Engine) -> None:
    """Measure how the tables are filled, which SQLite plans its questions by.

    Unmeasured, an index that begins with the operation looks as good as one that begins with the
    walk, and a question about one walk goes through every walk. PostgreSQL measures by itself.
    """
    if file_of(engine) is None:
        return
    with engine.execution_options(benchwalk_writes=True).connect() as connection:
        connection.exec_driver_sql(f"PRAGMA analysis_limit={ROWS_MEASURED}")
        connection.exec_driver_sql("ANALYZE")
        connection.commit()


def wrote_to(engine: sa.Engine) -> bool:
    """Whether this program recorded anything there."""
    return engine.url in WRITTEN


def stopped(engine: sa.Engine) -> str | None:
    """Why this program writes no more to these records; None while it does."""
    path = file_of(engine)
    return None if path is None else STOPPED.get(path)


def alembic_config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    return config


def migrate(engine: sa.Engine, to: str = "head") -> None:
    """Bring the schema up to a migration, making the file (and its folder) when there is none.

    Records that stand at an older migration are copied first, and the copy is proved; not where
    the migration is named, which is how a copy is brought on. On SQLite foreign keys are off
    meanwhile, and checked afterwards. Every row is still there at the end.

    Raises
    ------
    DatabaseNotReadyError
        if references would break, or rows be lost; nothing is changed then.
    """
    if (file := file_of(engine)) is not None:
        file.parent.mkdir(parents=True, exist_ok=True)
    at, newest = schema_of(engine)
    if at is not None and at != newest and to == "head":
        # a copy is made by opening, reading and migrating a database: it stands on this module
        from benchwalk.records.backup import before_migration  # noqa: PLC0415

        before_migration(engine)
    with engine.connect() as connection:
        if file is not None:
            _keys_off(connection)
        before = row_counts(connection)
        _apply(connection, to)
        _refuse_losses(connection, before, to)
        if connection.dialect.name == "postgresql":
            walls.build(connection)
        connection.commit()
        if file is not None:
            connection.exec_driver_sql("ROLLBACK")
            connection.exec_driver_sql("PRAGMA foreign_keys=ON")
            connection.exec_driver_sql("BEGIN")


def _keys_off(connection: sa.Connection) -> None:
    connection.exec_driver_sql("ROLLBACK")  # a pragma on keys is idle in a transaction
    connection.exec_driver_sql("PRAGMA foreign_keys=OFF")
    _take_write_lock(connection)
    connection.exec_driver_sql("BEGIN IMMEDIATE")


def _apply(connection: sa.Connection, to: str) -> None:
    config = alembic_config()
    config.attributes["connection"] = connection
    command.upgrade(config, to)


def _refuse_losses(connection: sa.Connection, before: dict[str, int], to: str) -> None:
    """Every table has as many rows as before, and every reference leads somewhere."""
    after = row_counts(connection)
    lost = {t: (n, after.get(t, "-")) for t, n in before.items() if after.get(t) != n}
    if lost:
        raise DatabaseNotReadyError("keep.rows_lost", to=to, lost=lost)
    if connection.dialect.name == "sqlite":
        broken = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
        if broken:
            raise DatabaseNotReadyError("refused.migration", to=to, broken=broken[:5])


def row_counts(connection: sa.Connection) -> dict[str, int]:
    """Rows of each table that is there, Alembic's own left out."""
    tables = sorted(set(sa.inspect(connection).get_table_names()) - {"alembic_version"})
    quote = connection.dialect.identifier_preparer.quote
    counted = {t: f"SELECT count(*) FROM {quote(t)}" for t in tables}
    return {t: connection.exec_driver_sql(q).scalar_one() for t, q in counted.items()}


def schema_of(engine: sa.Engine) -> tuple[str | None, str]:
    """(the migration the database stands at, the newest this version knows)."""
    with engine.connect() as connection:
        at = MigrationContext.configure(connection).get_current_revision()
    newest = ScriptDirectory.from_config(alembic_config()).get_current_head()
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


@sa.event.listens_for(Ledgered, "after_begin")
def _row_locked(session: Ledgered, begun: Any, connection: sa.Connection) -> None:
    """On PostgreSQL too a session that writes reads nothing that another is about to change."""
    writes = connection.get_execution_options().get("benchwalk_writes", False)
    if writes and connection.dialect.name == "postgresql" and not begun.nested:
        hold(connection, session.info["operation_id"])


@contextmanager
def writing(engine: sa.Engine, operation: int, by: uuid.UUID | None = None) -> Iterator[Ledgered]:
    """A session that holds the write lock from its first statement, and commits at the end.

    An exception rolls all of it back.
    """
    with session(engine.execution_options(benchwalk_writes=True), operation, by) as opened:
        yield opened
        opened.commit()
    WRITTEN.add(engine.url)
