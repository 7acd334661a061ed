"""What questions share: how records are joined, who lives on a day, what people are called."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Collection
from typing import Any

from sqlalchemy import ColumnElement, and_, func, or_, true

from benchwalk.records.base import Record, Scoped
from benchwalk.records.operations import Device, Person
from benchwalk.records.places import Station, Unit
from benchwalk.records.seen import Examined, Route, Tally, Visit

Units = Collection[uuid.UUID]
Known = Record | Person | Device  # whatever has an id of its own


def of(parent: type[Known], child: type[Scoped], column: str) -> ColumnElement[bool]:
    """The join of a child to its record, inside one operation."""
    return and_(child.operation_id == parent.operation_id, getattr(child, column) == parent.id)


def in_effort() -> ColumnElement[bool]:
    """The join of tallies to the effort they were counted in."""
    return and_(
        Tally.operation_id == Examined.operation_id,
        Tally.observation_id == Examined.observation_id,
        Tally.method == Examined.method,
    )


def as_planned() -> ColumnElement[bool]:
    """The join of visits to the routes of their walks, unit by unit."""
    return and_(
        Visit.operation_id == Route.operation_id,
        Visit.walk_id == Route.walk_id,
        Visit.unit_id == Route.unit_id,
    )


def alive(kind: type[Unit | Station], day: dt.date) -> ColumnElement[bool]:
    """Whether a unit or station is there on a day; on its last day it is not any more."""
    return and_(kind.opened_on <= day, or_(kind.closed_on.is_(None), kind.closed_on > day))


def person_name(person: type[Person]) -> Any:
    """What a person is called: the name, or the pseudonym where there is none."""
    return func.coalesce(person.name, person.pseudonym)


def one_of(column: Any, some: Collection[uuid.UUID] | None) -> ColumnElement[bool]:
    """Whether an id of a row is one of some; None: any is."""
    return true() if some is None else column.in_(some)
