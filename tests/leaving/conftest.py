import csv

import pytest

from benchwalk import demo
from benchwalk.records.exports.moment import moment
from tests.leaving.eventful import EVENTFUL


@pytest.fixture
def template(request, template):
    return EVENTFUL if "e" in request.fixturenames else template


@pytest.fixture
def e(engine, templates):
    """The operation in which everything happens once, on each database."""
    made = templates.made[engine.dialect.name, "eventful"].bound_to(engine)
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
