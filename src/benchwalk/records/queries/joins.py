"""How a record and its parts are joined, and how a question keeps to some units."""

from __future__ import annotations

import uuid
from collections.abc import Collection
from typing import Any

from sqlalchemy import ColumnElement, and_, true

from benchwalk.records.base import Record, Scoped

Units = Collection[uuid.UUID]


def of(parent: type[Record], child: type[Scoped], column: str) -> ColumnElement[bool]:
    """The join of a child to its record, inside one operation."""
    return and_(child.operation_id == parent.operation_id, getattr(child, column) == parent.id)


def one_of(column: Any, some: Collection[uuid.UUID] | None) -> ColumnElement[bool]:
    """Whether an id of a row is one of some; None: any is."""
    return true() if some is None else column.in_(some)
