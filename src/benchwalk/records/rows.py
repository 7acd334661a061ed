"""Many rows into one table, as the driver takes them.

A statement that SQLAlchemy builds names every value of every row before the driver sees it, which
costs more than writing the rows. Here values are brought to what SQLite keeps a column at a time,
by the same types; the events of the engine (the write lock, a failing disk) are the same too.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from typing import Any

from sqlalchemy import Dialect, Table, insert
from sqlalchemy.orm import Session
from sqlalchemy.types import TypeEngine

from benchwalk.records.base import Uid

Kept = Callable[[Any], Any]


def insert_rows(session: Session, table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
    """Insert rows that hold every column of the table.

    Raises
    ------
    KeyError
        naming a column that a row does not hold.
    """
    connection = session.connection()
    if connection.dialect.name != "sqlite":
        session.execute(insert(table), rows)
        return
    statement, kept = _prepared(table, connection.dialect)
    columns = [_column(rows, name, how) for name, how in kept]
    connection.exec_driver_sql(statement, list(zip(*columns, strict=True)))


@cache
def _prepared(table: Table, dialect: Dialect) -> tuple[str, list[tuple[str, Kept | None]]]:
    """The statement, and for each column how its values are kept; None: as they are."""
    quote = dialect.identifier_preparer.quote
    names = ", ".join(quote(c.name) for c in table.columns)
    places = ", ".join("?" * len(table.columns))
    kept = [(c.name, _kept(c.type, dialect)) for c in table.columns]
    return f"INSERT INTO {quote(table.name)} ({names}) VALUES ({places})", kept


def _kept(column: TypeEngine[Any], dialect: Dialect) -> Kept | None:
    if isinstance(column, Uid):
        return _bytes  # the most frequent by far; the type's own way makes a view of each
    return column.dialect_impl(dialect).bind_processor(dialect)


def _bytes(value: uuid.UUID | None) -> bytes | None:
    return None if value is None else value.bytes


def _column(rows: Sequence[Mapping[str, Any]], name: str, kept: Kept | None) -> list[Any]:
    if kept is None:
        return [row[name] for row in rows]
    return [kept(row[name]) for row in rows]
