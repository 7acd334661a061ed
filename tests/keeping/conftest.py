import shutil
from pathlib import Path

import pytest
import sqlalchemy as sa

from benchwalk.records import database
from benchwalk.records.database import open_database
from tests.conftest import fresh_postgres
from tests.keeping.built_once import BuiltOnce, second_template
from tests.records.small_operation import SmallOperation


@pytest.fixture(autouse=True)
def nothing_failed_or_written_yet(monkeypatch, tmp_path):
    """What a program remembers of its disk, and PostgreSQL's folder of copies, are each test's."""
    monkeypatch.setattr(database, "STOPPED", {})
    monkeypatch.setattr(database, "WRITTEN", set())
    monkeypatch.setattr(database, "data_directory", lambda: tmp_path / "platform")


@pytest.fixture(scope="session")
def small_file(sqlite_template, tmp_path_factory):
    path = tmp_path_factory.mktemp("small") / "small.sqlite"
    shutil.copy(sqlite_template, path)
    return BuiltOnce(SmallOperation, f"sqlite:///{path}", path)


@pytest.fixture(scope="session")
def small_postgres(postgres_template):
    return BuiltOnce(SmallOperation, *second_template(postgres_template, "template_small"))


@pytest.fixture
def o(request, engine):
    if engine.dialect.name == "sqlite":
        operation = request.getfixturevalue("small_file").into_file(engine)
    else:
        server = request.getfixturevalue("postgres_template")
        operation = request.getfixturevalue("small_postgres").into_postgres(engine, server)
    yield operation
    operation.s.close()


@pytest.fixture
def file(tmp_path, sqlite_template) -> Path:
    """A fresh, migrated SQLite file."""
    path = tmp_path / "fresh" / "benchwalk.sqlite"
    path.parent.mkdir()
    path.write_bytes(sqlite_template.read_bytes())
    return path


@pytest.fixture
def on_file(file, small_file):
    engine = open_database(f"sqlite:///{file}")
    operation = small_file.into_file(engine)
    yield operation
    operation.s.close()
    engine.dispose()


@pytest.fixture
def owner(postgres_template) -> sa.Engine:
    """PostgreSQL as somebody who owns the tables and is no superuser: policies bind them."""
    superuser = open_database(fresh_postgres(postgres_template))
    with superuser.begin() as c:
        c.exec_driver_sql("DROP ROLE IF EXISTS keeper")
        c.exec_driver_sql("CREATE ROLE keeper LOGIN CREATEROLE PASSWORD 'keeper'")
        c.exec_driver_sql("GRANT ALL ON SCHEMA public TO keeper")
        c.exec_driver_sql("GRANT benchwalk_plain TO keeper WITH ADMIN OPTION")
        tables = c.exec_driver_sql("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")
        for table in tables.scalars().all():
            c.exec_driver_sql(f'ALTER TABLE "{table}" OWNER TO keeper')
    url = superuser.url.set(username="keeper", password="keeper")
    superuser.dispose()
    engine = open_database(url.render_as_string(hide_password=False))
    yield engine
    engine.dispose()
    superuser = open_database(superuser.url.render_as_string(hide_password=False))
    with superuser.begin() as c:
        c.exec_driver_sql("REASSIGN OWNED BY keeper TO CURRENT_USER")
        c.exec_driver_sql("DROP OWNED BY keeper")
        c.exec_driver_sql("DROP ROLE keeper")
    superuser.dispose()
