import csv
import shutil

import pytest

from benchwalk import demo
from benchwalk.records.exports.moment import moment
from tests.keeping.built_once import BuiltOnce, second_template
from tests.leaving.eventful import Eventful


@pytest.fixture(scope="session")
def eventful_file(sqlite_template, tmp_path_factory):
    path = tmp_path_factory.mktemp("eventful") / "eventful.sqlite"
    shutil.copy(sqlite_template, path)
    return BuiltOnce(Eventful, f"sqlite:///{path}", path)


@pytest.fixture(scope="session")
def eventful_postgres(postgres_template):
    return BuiltOnce(Eventful, *second_template(postgres_template, "template_eventful"))


@pytest.fixture
def e(request, engine):
    """The operation in which everything happens once, on each database."""
    if engine.dialect.name == "sqlite":
        made = request.getfixturevalue("eventful_file").into_file(engine)
    else:
        server = request.getfixturevalue("postgres_template")
        made = request.getfixturevalue("eventful_postgres").into_postgres(engine, server)
    yield made
    made.s.close()


@pytest.fixture
def now(engine, e):
    """A reading session of it."""
    with moment(engine, e.n) as s:
        yield s


@pytest.fixture(scope="session")
def nursery(data_of_the_demo):
    """The demo operation, built once: (engine, operation)."""
    with demo.ready(data_of_the_demo()) as held:
        yield held


@pytest.fixture(scope="session")
def read():
    """Rows of a CSV file, as dictionaries."""

    def rows(path):
        with path.open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))

    return rows
