"""The current tables as an export describes them: fields, keys, references, closed lists.

Read from the models, so that a new table leaves like every other. What is no record leaves in
the full export only; of people nothing leaves here but pseudonym and role.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from sqlalchemy import (
    JSON,
    Boolean,
    CheckConstraint,
    Column,
    Date,
    Float,
    ForeignKeyConstraint,
    Integer,
    Table,
    inspect,
    select,
)
from sqlalchemy.orm import Session

from benchwalk.records.base import Base, Uid, Utc
from benchwalk.records.exports.moment import as_text, streamed
from benchwalk.records.operations import Person

NOT_FOR_OTHERS = ("operation_id",)
OF_A_PERSON = ("id", "pseudonym", "role")
TYPES: tuple[tuple[type, str], ...] = (
    (Uid, "string"),
    (Utc, "datetime"),
    (Date, "date"),
    (Boolean, "boolean"),
    (JSON, "object"),
    (Float, "number"),
    (Integer, "integer"),
)


@dataclass(frozen=True)
class Field:
    """One column: its name, its type in the words of Table Schema, the closed list it keeps to."""

    name: str
    type: str
    required: bool = False
    unique: bool = False
    among: tuple[str, ...] = ()
    is_id: bool = False


@dataclass(frozen=True)
class Reference:
    """Columns here that name a row of a table there."""

    fields: tuple[str, ...]
    table: str
    there: tuple[str, ...]


@dataclass(frozen=True)
class Described:
    """A table as it leaves."""

    name: str
    model: type[Base]
    fields: tuple[Field, ...]
    key: tuple[str, ...]
    references: tuple[Reference, ...]


@cache
def described() -> tuple[Described, ...]:
    """Every table that leaves, what is referred to first."""
    models = {mapper.local_table: mapper.class_ for mapper in Base.registry.mappers}
    leaving = [t for t in Base.metadata.sorted_tables if t.info.get("kind") or t is _people()]
    names = {t.name for t in leaving}
    return tuple(_described(models[t], t, names) for t in leaving)


def rows(session: Session, table: Described) -> Iterator[tuple[Any, ...]]:
    """The current rows of a table in the order of its key, a little at a time."""
    columns = [_read(table, field) for field in table.fields]
    order = [getattr(table.model, name) for name in table.key]
    query = select(*columns).select_from(table.model).order_by(*order)
    yield from (tuple(row) for row in streamed(session, query))


def _read(table: Described, field: Field) -> Any:
    column = getattr(table.model, field.name)
    return as_text(column).label(field.name) if field.is_id else column


def _people() -> Table:
    table = inspect(Person).local_table
    assert isinstance(table, Table)  # declared as one
    return table


def _described(model: type[Base], table: Table, names: set[str]) -> Described:
    kept = [c for c in table.columns if c.key not in NOT_FOR_OTHERS]
    if model is Person:
        kept = [c for c in kept if c.key in OF_A_PERSON]
    lists = _closed_lists(table)
    key = tuple(c.key for c in table.primary_key if c.key not in NOT_FOR_OTHERS)
    return Described(
        table.name,
        model,
        tuple(_field(c, lists.get(c.key, ()), key) for c in kept),
        key,
        tuple(_references(table, names)),
    )


def _field(column: Column[Any], among: tuple[str, ...], key: tuple[str, ...]) -> Field:
    kind = next((word for made, word in TYPES if isinstance(column.type, made)), "string")
    return Field(
        column.key,
        kind,
        required=not column.nullable,
        unique=key == (column.key,),
        among=among,
        is_id=isinstance(column.type, Uid),
    )


def _closed_lists(table: Table) -> dict[str, tuple[str, ...]]:
    """Column -> the words it may hold, from the checks that say so."""
    found = {}
    for check in table.constraints:
        said = re.fullmatch(r"(\w+) IN \(('.*')\)", _text(check))
        if said:
            found[said[1]] = tuple(re.findall(r"'([^']*)'", said[2]))
    return found


def _text(constraint: object) -> str:
    return str(constraint.sqltext) if isinstance(constraint, CheckConstraint) else ""


def _references(table: Table, names: set[str]) -> Iterator[Reference]:
    """References to tables that leave too, the operation left out."""
    keys = (c for c in table.constraints if isinstance(c, ForeignKeyConstraint))
    for foreign in sorted(keys, key=lambda c: tuple(c.column_keys)):
        if foreign.referred_table.name in names:
            pairs = [
                (element.parent.key, element.column.key)
                for element in foreign.elements
                if element.parent.key not in NOT_FOR_OTHERS
            ]
            here, there = zip(*pairs, strict=True)
            yield Reference(here, foreign.referred_table.name, there)
