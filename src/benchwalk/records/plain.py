"""Records as plain columns: what the bulk way in writes, without objects that follow changes.

An object of a mapped class costs some twenty times a dictionary, in time and in memory; a sheet of
60,000 counts makes 85,000 rows that nobody changes before they are written.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from sqlalchemy import Table, inspect

from benchwalk.records.base import Base, Line

SCOPE = ("operation_id", "rev")


@dataclass(frozen=True)
class Shape:
    """What the rows of one table are made of, operation and rev left out.

    Parameters
    ----------
    blank : every column, at its default or None.
    made : columns whose default is made anew for every row.
    lines : parts of a row by the name they have on it: (column of the part, column here) pairs.
    """

    table: Table
    blank: Mapping[str, Any]
    made: Mapping[str, Callable[[Any], Any]]
    lines: Mapping[str, Sequence[tuple[str, str]]]


@cache
def shape_of(model: type[Base]) -> Shape:
    """The shape of a class of records or lines."""
    table = inspect(model).local_table
    assert isinstance(table, Table)  # every class here is mapped to a declared table
    columns = [c for c in table.columns if c.key not in SCOPE]
    fixed = {c.key: c.default.arg for c in columns if c.default and c.default.is_scalar}
    made = {c.key: c.default.arg for c in columns if c.default and c.default.is_callable}
    made.pop("id", None)  # a record's id is given, or made when it is written
    blank = dict.fromkeys((c.key for c in columns), None) | fixed
    held = [r for r in inspect(model).relationships if issubclass(r.mapper.class_, Line)]
    return Shape(table, blank, made, {r.key: _keys(r.local_remote_pairs) for r in held})


def _keys(pairs: Any) -> tuple[tuple[str, str], ...]:
    """The key that a line takes from what it is a part of."""
    named = [(str(there.key), str(here.key)) for here, there in pairs]
    return tuple(p for p in named if p[1] not in SCOPE)


class Plain:
    """A record or a line that nobody has said before: ``Plain(Tally, taxon=..., stage=...)``.

    Columns that are not given, or given as None, take their default; lines are lists of Plain
    under the name they have on the class.

    Raises
    ------
    TypeError
        for a name that is neither a column nor a line of the class.
    """

    __slots__ = ("lines", "model", "said")

    def __init__(self, model: type[Base], /, **said: Any) -> None:
        shape = shape_of(model)
        self.model = model
        self.lines: dict[str, Sequence[Plain]] = {
            name: said.pop(name) for name in shape.lines if name in said
        }
        if not said.keys() <= shape.blank.keys():
            unknown = ", ".join(sorted(said.keys() - shape.blank.keys()))
            known = ", ".join([*shape.blank, *shape.lines])
            raise TypeError(f"{shape.table.name} has no {unknown}; it has {known}")
        self.said = {name: value for name, value in said.items() if value is not None}

    def columns(self) -> dict[str, Any]:
        """Every column of the row, as said or by its default."""
        shape = shape_of(self.model)
        if not shape.made:
            return {**shape.blank, **self.said}
        new = {name: make(None) for name, make in shape.made.items() if name not in self.said}
        return {**shape.blank, **new, **self.said}


def plain(row: Base) -> Plain:
    """An object of a mapped class as plain columns, its lines with it."""
    shape = shape_of(type(row))
    lines = {name: [plain(line) for line in getattr(row, name)] for name in shape.lines}
    return Plain(type(row), **{name: getattr(row, name) for name in shape.blank}, **lines)
