"""The pages over HTTP and in Chromium, and a browser signed in for each role.

Two things are served: a summary built by hand (``served``, ``address``, ``client``), and the demo
operation from its records (``demo_address``, ``signed_in``).
"""

from __future__ import annotations

import re
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

import httpx
import pytest
import sqlalchemy as sa
import uvicorn
from fastapi import FastAPI

import benchwalk.records as r
from benchwalk import demo
from benchwalk.records.accounts import people, signing_in
from benchwalk.records.database import migrate, open_database, writing
from benchwalk.records.setup import set_up
from benchwalk.summarise import Summary
from benchwalk.web import Served, create_app
from benchwalk.web.base import COOKIE, QUERIES_MOST
from benchwalk.web.counted import HEADER
from tests.report.a_summary import a_summary

ROLES = list(people.ROLES)
PATIENCE_S = 20.0
LAST_ANSWERS_S = 5  # a browser may hold a connection on which it never asks anything


@contextmanager
def listening(app: FastAPI, host: str = "127.0.0.1", port: int = 0) -> Iterator[str]:
    """The address of an app that is listening while the block runs; 0 takes any free port."""
    config = uvicorn.Config(
        app, host, port, log_level="warning", timeout_graceful_shutdown=LAST_ANSWERS_S
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    patience = time.monotonic() + PATIENCE_S
    while not server.started:
        assert thread.is_alive(), "the server ended"
        assert time.monotonic() < patience, "the server did not start"
        time.sleep(0.02)
    taken = server.servers[0].sockets[0].getsockname()[1]
    yield f"http://{host}:{taken}"
    server.should_exit = True
    thread.join(LAST_ANSWERS_S + PATIENCE_S)
    assert not thread.is_alive(), f"still answered: {server.server_state.tasks}"


def person_of_role(engine: sa.Engine, operation: int, role: str) -> uuid.UUID:
    """Somebody of a role, added where nobody has it."""
    with writing(engine, operation) as s:
        held = s.scalars(sa.select(r.Person.id).where(r.Person.role == role)).first()
        return held or people.add_person(s, f"the {role}", role, f"{role}@here")


def token_of(engine: sa.Engine, operation: int, role: str = "manager") -> str:
    """The token of somebody of a role who is signed in now."""
    person = person_of_role(engine, operation, role)
    with writing(engine, operation) as s:
        return signing_in.begin(s, person, browser="a test", source=None)


class SignedIn:
    """An app as a browser meets it that is signed in already: requests without a cookie get one."""

    def __init__(self, app: FastAPI, token: str) -> None:
        self.app, self.cookie = app, f"{COOKIE}={token}".encode()

    async def __call__(self, scope, receive, send) -> None:
        if scope["type"] == "http":
            others = [(name, value) for name, value in scope["headers"] if name != b"cookie"]
            given = dict(scope["headers"]).get(b"cookie", b"")
            if self.cookie.split(b"=")[0] + b"=" not in given:
                given = b"; ".join(part for part in (given, self.cookie) if part)
            scope = scope | {"headers": [*others, (b"cookie", given)]}
        await self.app(scope, receive, send)


@contextmanager
def an_empty_operation(folder: Path) -> Iterator[tuple[sa.Engine, int]]:
    engine = open_database(f"sqlite:///{folder / 'benchwalk.sqlite'}")
    migrate(engine)
    yield engine, set_up(engine, "Any nursery", "UTC").operation
    engine.dispose()


@contextmanager
def served(summary: Callable[[], Summary | None]) -> Iterator[str]:
    """A summary built by hand, shown to a grower who is signed in."""
    with ExitStack() as held:
        folder = Path(held.enter_context(TemporaryDirectory()))
        engine, operation = held.enter_context(an_empty_operation(folder))
        app = create_app(Served(engine, operation, summary=lambda _: summary()))
        token = token_of(engine, operation, "grower")
        yield held.enter_context(listening(SignedIn(app, token)))


@pytest.fixture(scope="session")
def address() -> Iterator[str]:
    summary = a_summary()
    with served(lambda: summary) as url:
        yield url


@pytest.fixture(scope="session")
def empty_address() -> Iterator[str]:
    """An operation where nobody has walked yet."""
    with served(lambda: None) as url:
        yield url


def within_the_limit(answer: httpx.Response) -> None:
    """No page that is read sends more queries than it may; files to keep are no pages."""
    if answer.request.method not in ("GET", "HEAD") or answer.status_code == 500:
        return
    if answer.request.url.path.startswith(("/report/", "/exports/")):
        return
    sent = int(answer.headers[HEADER])
    assert sent <= QUERIES_MOST, f"{answer.request.url}: {sent} queries, at most {QUERIES_MOST}"


@contextmanager
def asking(url: str, token: str | None = None, **kw) -> Iterator[httpx.Client]:
    """A browser of the test, signed in where it has a token; it says where its forms come from."""
    with httpx.Client(base_url=url, trust_env=False, **({"timeout": 60} | kw)) as client:
        client.headers["sec-fetch-site"] = "same-origin"
        client.event_hooks["response"] = [within_the_limit]
        if token is not None:
            client.cookies.set(COOKIE, token)
        yield client


@pytest.fixture
def client(address: str) -> Iterator[httpx.Client]:
    with asking(address) as signed:
        yield signed


@pytest.fixture
def empty(empty_address: str) -> Iterator[httpx.Client]:
    with asking(empty_address) as signed:
        yield signed


@pytest.fixture(scope="session")
def demo_operation(data_of_the_demo: Callable[[], Path]) -> Iterator[tuple[sa.Engine, int]]:
    """The demo, built once a run; pages that read leave it as it is."""
    with demo.ready(data_of_the_demo()) as held:
        yield held


SCOPED = {t.name for t in r.Base.metadata.sorted_tables if "operation_id" in t.c}
FROM = re.compile(r"\b(?:FROM|JOIN|UPDATE|INTO)\s+\"?(\w+)", re.IGNORECASE)


def leaves_the_operation(statement: str) -> bool:
    """Whether a statement touches a table of operations without saying which operation."""
    touched = {name.lower() for name in FROM.findall(statement)} & SCOPED
    return bool(touched) and "operation_id" not in _after_columns(statement)


def _after_columns(statement: str) -> str:
    """From WHERE on, since a list of columns names operation_id too; all of an INSERT."""
    if statement.lstrip().upper().startswith("INSERT"):
        return statement
    where = re.search(r"\bWHERE\b", statement, re.IGNORECASE)
    return statement[where.start() :] if where else ""


@contextmanager
def kept_to_its_operation(engine: sa.Engine) -> Iterator[list[str]]:
    """Fails when a statement sent meanwhile does not say of which operation it reads."""
    astray: list[str] = []

    def read(_, __, statement, *___):
        if leaves_the_operation(statement):
            astray.append(statement)

    sa.event.listen(engine, "before_cursor_execute", read)
    yield astray
    sa.event.remove(engine, "before_cursor_execute", read)
    assert astray == [], f"a query without its operation: {astray[0]}"


@pytest.fixture(scope="session")
def demo_address(demo_operation: tuple[sa.Engine, int]) -> Iterator[str]:
    engine, operation = demo_operation
    with kept_to_its_operation(engine), listening(create_app(Served(engine, operation))) as url:
        yield url


@pytest.fixture(scope="session")
def demo_tokens(demo_operation: tuple[sa.Engine, int]) -> dict[str, str]:
    """A token of somebody signed in, by role."""
    return {role: token_of(*demo_operation, role) for role in ROLES}


@pytest.fixture
def signed_in(demo_address, demo_tokens) -> Iterator[Callable[[str], httpx.Client]]:
    """``signed_in("grower").get("/")``: a browser on the demo, signed in by role."""
    with ExitStack() as held:
        yield lambda role: held.enter_context(asking(demo_address, demo_tokens[role]))
