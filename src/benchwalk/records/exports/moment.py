"""Reading the records as they stand at one moment, a little at a time."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import Engine, Row, Select
from sqlalchemy.orm import Session

from benchwalk.records.database import session
from benchwalk.records.ledger import Ledgered

HELD = 2_000  # own choice: rows held in memory at a time; more is no quicker


@contextmanager
def moment(engine: Engine, operation: int) -> Iterator[Ledgered]:
    """A session that sees one moment, whoever writes meanwhile.

    SQLite keeps a reader's first sight until it ends; PostgreSQL has to be asked for that.
    """
    if engine.dialect.name == "postgresql":
        engine = engine.execution_options(isolation_level="REPEATABLE READ")
    with session(engine, operation) as opened:
        yield opened


def streamed(session: Session, query: Select[*tuple[Any, ...]]) -> Iterator[Row[*tuple[Any, ...]]]:
    """The rows of a query as they come; few of them are in memory at a time."""
    yield from session.execute(query.execution_options(yield_per=HELD))
