"""How a record and its parts are joined."""

from __future__ import annotations

from sqlalchemy import ColumnElement, and_

from benchwalk.records.base import Record, Scoped


def of(parent: type[Record], child: type[Scoped], column: str) -> ColumnElement[bool]:
    """The join of a child to its record, inside one operation."""
    return and_(child.operation_id == parent.operation_id, getattr(child, column) == parent.id)
