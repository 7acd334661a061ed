import shutil
from pathlib import Path

import pytest
import sqlalchemy as sa

from benchwalk.records import database
from benchwalk.records.database import open_database
from tests.conftest import SMALL, fresh_postgres


@pytest.fixture(autouse=True)
def nothing_failed_or_written_yet(monkeypatch, tmp_path):
    """What a program remembers of its disk, and PostgreSQL's folder of copies, are each test's."""
    monkeypatch.setattr(database, "STOPPED", {})
    monkeypatch.setattr(database, "WRITTEN", set())
    monkeypatch.setattr(database, "data_directory", lambda: tmp_path / "platform")


@pytest.fixture
def o(small):
    return small


@pytest.fixture
def file(tmp_path, sqlite_template) -> Path:
    """A fresh, migrated SQLite file."""
    path = tmp_path / "fresh" / "benchwalk.sqlite"
    path.parent.mkdir()
    path.write_bytes(sqlite_template.read_bytes())
    return path


@pytest.fixture
def on_file(file, templates):
    shutil.copy(templates.sqlite(*SMALL), file)
    engine = open_database(f"sqlite:///{file}")
    operation = templates.made["sqlite", "small"].bound_to(engine)
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
