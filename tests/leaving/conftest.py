import csv

import pytest

from benchwalk import demo
from benchwalk.records.database import migrate, open_database
from benchwalk.records.exports.moment import moment
from tests.leaving.eventful import Eventful


@pytest.fixture
def e(engine):
    """The operation in which everything happens once, on each database."""
    made = Eventful(engine)
    yield made
    made.s.close()


@pytest.fixture
def now(engine, e):
    """A reading session of it."""
    with moment(engine, e.n) as s:
        yield s


@pytest.fixture(scope="session")
def nursery(tmp_path_factory):
    """The demo operation, built once: (engine, operation)."""
    engine = open_database(f"sqlite:///{tmp_path_factory.mktemp('demo') / 'demo.sqlite'}")
    migrate(engine)
    yield engine, demo.build_once(engine).operation
    engine.dispose()


@pytest.fixture(scope="session")
def read():
    """Rows of a CSV file, as dictionaries."""

    def rows(path):
        with path.open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))

    return rows
