"""Reading the records as they stand at one moment, a little at a time."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Dialect,
    Engine,
    LargeBinary,
    Row,
    Select,
    TypeDecorator,
    Uuid,
    type_coerce,
)
from sqlalchemy.orm import Session
from sqlalchemy.types import TypeEngine

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
    with session.execute(query.execution_options(yield_per=HELD)) as found:
        yield from found


class IdText(TypeDecorator[str]):
    """An id read as text. An object for each id of a million rows would take most of the time."""

    impl = LargeBinary(16)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        return dialect.type_descriptor(Uuid() if dialect.name == "postgresql" else LargeBinary(16))

    def process_result_value(self, value: Any, dialect: Dialect) -> str | None:
        if not isinstance(value, bytes):
            return None if value is None else str(value)
        digits = value.hex()
        parts = (digits[:8], digits[8:12], digits[12:16], digits[16:20], digits[20:])
        return "-".join(parts)


def as_text(column: Any) -> ColumnElement[str]:
    """A column of ids, to be read as text."""
    return type_coerce(column, IdText)
