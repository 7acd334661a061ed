"""Records of every migration there ever was come to this version, with every row."""

import subprocess
import sys
import textwrap

import pytest
import sqlalchemy as sa
from alembic.script import ScriptDirectory
from typer.testing import CliRunner

from benchwalk.cli import app
from benchwalk.records import database
from benchwalk.records.backup import copies, make
from benchwalk.records.database import (
    DatabaseNotReadyError,
    alembic_config,
    migrate,
    open_database,
    row_counts,
    schema_of,
)
from benchwalk.records.doctor import examine
from benchwalk.records.restore import restore
from benchwalk.records.upgrade import check, pending, upgrade
from tests.conftest import _admin, _named
from tests.keeping import dumping
from tests.patience import killed, line_of

MIGRATIONS = [s.revision for s in ScriptDirectory.from_config(alembic_config()).walk_revisions()]
OLDER = [m for m in MIGRATIONS if m != MIGRATIONS[0]]


def test_there_is_a_dump_with_data_at_each_migration():
    """One is missing: make it, `python -m tests.keeping.dumping NNNN`, and keep it for ever."""
    assert sorted(dumping.made()) == sorted(MIGRATIONS)


@pytest.fixture(params=["sqlite", "postgres"])
def at(request, tmp_path):
    """Gives an engine of records that stand at a migration."""
    opened = []

    def engine_at(migration):
        file = dumping.load(dumping.made()[migration], tmp_path / "benchwalk.sqlite")
        engine = open_database(f"sqlite:///{file}")
        opened.append(engine)
        if request.param == "sqlite":
            return engine
        return in_postgres(engine, migration)

    def in_postgres(source, migration):
        server = request.getfixturevalue("postgres_server")
        _admin(server, "DROP DATABASE IF EXISTS older WITH (FORCE)", "CREATE DATABASE older")
        engine = open_database(_named(server, "older"))
        opened.append(engine)
        really = restore.__globals__["migrate"]
        restore.__globals__["migrate"] = lambda e, to: really(e, migration)
        try:
            restore(make(source).folder, engine)
        finally:
            restore.__globals__["migrate"] = really
        return engine

    yield engine_at
    for engine in opened:
        engine.dispose()


def counts(engine):
    with engine.connect() as c:
        return row_counts(c)


@pytest.mark.parametrize("migration", MIGRATIONS)
def test_every_migration_s_records_upgrade_with_every_row(at, migration):
    engine = at(migration)
    before = counts(engine)
    assert before["tally"] == 1
    assert before["ledger"] > 20
    upgrade(engine)
    after = counts(engine)
    assert schema_of(engine)[0] == MIGRATIONS[0]
    assert {t: after[t] for t in before} == before
    assert [f.key for f in examine(engine, rebuild=True) if f.level == "bad"] == []


@pytest.mark.parametrize("migration", OLDER)
def test_a_proved_copy_is_made_before(at, migration, tmp_path):
    engine = at(migration)
    place = database.folder_of(engine) / "backups"
    had = len(copies(place))
    migrate(engine)
    assert copies(place)[-1][1].schema == migration
    assert len(copies(place)) >= max(had, 1)


@pytest.mark.parametrize("migration", OLDER)
def test_a_check_says_what_will_change_and_changes_nothing(at, migration):
    engine = at(migration)
    before = counts(engine)
    seen = check(engine)
    assert [c.revision for c in seen.changes] == sorted(m for m in MIGRATIONS if m > migration)
    assert all(c.what for c in seen.changes)
    assert seen.rows == sum(before.values())
    assert counts(engine) == before
    assert schema_of(engine)[0] == migration
    upgrade(engine)
    assert set(seen.new_tables) == counts(engine).keys() - before.keys()


def test_at_the_newest_there_is_nothing_to_change(at):
    engine = at(MIGRATIONS[0])
    assert check(engine).changes == ()
    assert pending(None)[0].revision == "0001"


def test_records_of_a_newer_version_are_refused(at):
    engine = at(MIGRATIONS[0])
    with engine.begin() as c:
        c.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    with pytest.raises(DatabaseNotReadyError, match=r"stand at schema 9999.*install the newer"):
        check(engine)


@pytest.mark.parametrize("table", ["tally", "ledger"])
def test_a_migration_that_loses_rows_is_undone(at, table, monkeypatch):
    engine = at(MIGRATIONS[0])
    before = counts(engine)

    def losing(connection, to):
        if engine.dialect.name == "postgresql":
            connection.exec_driver_sql("SET LOCAL session_replication_role = replica")
        else:
            rules = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
            for name in connection.exec_driver_sql(rules).scalars().all():
                connection.exec_driver_sql(f"DROP TRIGGER {name}")
        connection.exec_driver_sql(f"DELETE FROM {table}")

    monkeypatch.setattr(database, "_apply", losing)
    with pytest.raises(DatabaseNotReadyError, match=f"would lose rows .*{table}"):
        migrate(engine)
    assert counts(engine) == before


def test_the_command_says_it(tmp_path):
    dumping.load(dumping.made()["0001"], tmp_path / "benchwalk.sqlite")
    data = ["--data", str(tmp_path)]
    looked = CliRunner().invoke(app, ["upgrade", "--check", *data])
    assert looked.exit_code == 0
    assert "Nothing was changed now" in looked.stdout
    assert "all" in CliRunner().invoke(app, ["upgrade", *data]).stdout
    assert "Nothing to change" in CliRunner().invoke(app, ["upgrade", *data]).stdout
    assert CliRunner().invoke(app, ["upgrade", "--data", str(tmp_path / "no")]).exit_code == 1


KILLED = """
    import sys, time
    import sqlalchemy as sa
    from benchwalk.records.database import migrate, open_database
    engine = open_database(sys.argv[1])
    seen = 0

    @sa.event.listens_for(engine, "after_cursor_execute")
    def pause(connection, cursor, statement, parameters, context, many):
        global seen
        seen += statement.strip().upper().startswith("CREATE TABLE")
        if seen == 3:
            print("half", flush=True)
            time.sleep(60)

    migrate(engine, sys.argv[2])
"""


@pytest.mark.kills
def test_a_killed_migration_leaves_the_records_as_they_were(at):
    engine = at("0001")
    before = counts(engine)
    url = engine.url.render_as_string(hide_password=False)
    engine.dispose()
    child = subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(KILLED), url, MIGRATIONS[0]],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert line_of(child) == "half"
    killed(child)
    assert schema_of(engine)[0] == "0001"
    assert counts(engine) == before
    upgrade(engine)
    assert {t: counts(engine)[t] for t in before} == before


def test_references_that_break_are_refused(tmp_path):
    file = dumping.load(dumping.made()[MIGRATIONS[0]], tmp_path / "benchwalk.sqlite")
    engine = open_database(f"sqlite:///{file}")
    with engine.connect() as c:
        c.exec_driver_sql("ROLLBACK")
        c.exec_driver_sql("PRAGMA foreign_keys=OFF")
        rules = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        for name in c.exec_driver_sql(rules).scalars().all():
            c.exec_driver_sql(f"DROP TRIGGER {name}")
        c.exec_driver_sql("DELETE FROM visit")
        c.exec_driver_sql("BEGIN")
    engine.dispose()
    with pytest.raises(DatabaseNotReadyError, match="would break references"):
        migrate(engine)
    with engine.connect() as c:
        assert c.execute(sa.text("SELECT count(*) FROM tally")).scalar() == 1
    engine.dispose()
