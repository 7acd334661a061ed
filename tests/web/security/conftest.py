"""An operation with people, and a stranger's beside it, served to be attacked.

Names of attacks as in OWASP's Testing Guide and ASVS 5.0 (from memory).
"""

from __future__ import annotations

import copy
import datetime as dt
import shutil
from contextlib import ExitStack, contextmanager

import httpx
import pytest
import sqlalchemy as sa

from benchwalk.records.accounts import people
from benchwalk.records.database import open_database, writing
from benchwalk.records.setup import set_up
from benchwalk.web import Served, create_app
from tests.web.conftest import asking, kept_to_its_operation, listening, token_of
from tests.web.security.a_planted_nursery import Planted
from tests.web.security.every_page import NO_PAGES, Known, read_all

FIRST = dt.date(2026, 1, 1)
GOOD = "orange ladder seven moss"
BETTER = "wet boots by the door"
HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "'-alert(1)-'",
    "{{ 7 * 7 }}",
    "</title><svg onload=alert(1)>",
    "javascript:alert(1)",
]


class Office:
    """An operation with a manager, a scout and a stranger's operation beside it, to be served."""

    url: str

    def __init__(self, engine: sa.Engine) -> None:
        self.engine = engine
        self.operation, self.other = (set_up(engine, name, "UTC").operation for name in ("A", "B"))
        self.ana = self.add("ana", "manager")
        self.bea = self.add("bea", "scout")
        self.zoe = self.add("zoe", "scout", self.other)

    def served(self, engine: sa.Engine, url: str) -> Office:
        """The same people, in a copy of the database that is served."""
        copied = copy.copy(self)
        copied.engine, copied.url = engine, url
        return copied

    def add(self, name: str, role: str, operation: int | None = None):
        with writing(self.engine, operation or self.operation) as s:
            person = people.add_person(s, name.title(), role, name)
            people.set_passphrase(s, person, GOOD)
        return person

    @contextmanager
    def browser(self, name: str | None = None):
        """A browser; with a name, one in which that person has signed in by the form."""
        with asking(self.url) as client:
            if name is not None:
                assert sign_in(client, name).status_code == 303
            yield client


def sign_in(client: httpx.Client, name: str, passphrase: str = GOOD, **more: str):
    return client.post("/sign-in", data={"name": name, "passphrase": passphrase} | more)


@pytest.fixture
def template(request, template):
    return ("office", Office) if "office" in request.fixturenames else template


@pytest.fixture
def office(engine, templates):
    built = templates.made[engine.dialect.name, "office"]
    with ExitStack() as held:
        held.enter_context(kept_to_its_operation(engine))
        url = held.enter_context(listening(create_app(Served(engine, built.operation))))
        yield built.served(engine, url)


@pytest.fixture(scope="session")
def planted(sqlite_template, tmp_path_factory):
    """An operation whose every free text is an attack: to be read, and left as it is."""
    path = tmp_path_factory.mktemp("planted") / "benchwalk.sqlite"
    shutil.copy(sqlite_template, path)
    engine = open_database(f"sqlite:///{path}")
    yield Planted(engine)
    engine.dispose()


@pytest.fixture(scope="session")
def planted_office(planted):
    """A manager's browser on it."""
    app = create_app(Served(planted.engine, planted.operation))
    token = token_of(planted.engine, planted.operation)
    with kept_to_its_operation(planted.engine), listening(app) as url, asking(url, token) as client:
        yield client


@pytest.fixture(scope="session")
def planted_pages(planted, planted_office):
    """Every page of it, by its address."""
    known = Known(planted.engine, planted.operation, planted.manager)
    return read_all(planted_office, known, set(NO_PAGES))


NOBODY = "01890000-0000-7000-8000-000000000000"
FILLED = {
    "role": "manager",
    "sign_in_name": "zz",
    "sure": "yes",
    "rev": "1",
    "reason": "a reason",
    "name": "Zz",
    "passphrase": BETTER,
    "field": ["names"],
    "value": ["x"],
}
