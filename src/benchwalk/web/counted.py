"""How many queries a request sent: counted at the engine, said in the answer."""

from __future__ import annotations

from contextvars import ContextVar
from typing import Any

from sqlalchemy import Engine, event
from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

HEADER = "Benchwalk-Queries"
# the last is how PostgreSQL is told the operation, at the beginning of each transaction
NO_QUERY = (
    *("BEGIN", "COMMIT", "ROLLBACK", "SAVEPOINT", "RELEASE", "SET ", "PRAGMA"),
    "SELECT set_config(",
)
# a list, since a worker thread has a copy of the context: both then hold the same list
_SENT: ContextVar[list[str] | None] = ContextVar("benchwalk_queries", default=None)


def count(engine: Engine) -> None:
    """Count the engine's statements for whichever request sends them; once an engine."""
    if not event.contains(engine, "before_cursor_execute", _note):
        event.listen(engine, "before_cursor_execute", _note)


def _note(_: Any, __: Any, statement: str, *___: Any) -> None:
    sent = _SENT.get()
    if sent is not None and not statement.startswith(NO_QUERY):
        sent.append(statement)


class Counted:
    """Says in each answer how many statements the request had sent until then."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        sent: list[str] = []
        _SENT.set(sent)

        async def send_counted(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).append(HEADER, str(len(sent)))
            await send(message)

        await self.app(scope, receive, send_counted)
