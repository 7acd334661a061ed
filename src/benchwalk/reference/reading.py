"""A shipped CSV table becomes a tuple of frozen rows; the class of the row is the schema.

A field's type says what its cells may hold: text, a number, yes or no, one of a closed list, or
keys separated by ``;``. ``| None`` lets a cell be blank, and blank means "not known" or "does not
apply": it is read as ``None``, never as zero. :class:`To` says which table a key must stand in.
"""

from __future__ import annotations

import csv
import io
import math
import types
from dataclasses import dataclass, fields
from datetime import date
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import (
    Annotated,
    Any,
    ClassVar,
    Literal,
    TypeVar,
    Union,
    get_args,
    get_origin,
    get_type_hints,
)

TABLES: Traversable = files("benchwalk.reference") / "tables"


class TableError(ValueError):
    """A shipped table is malformed; the message has one sentence for each fault."""


@dataclass(frozen=True)
class To:
    """The cell is a key of this table (its first key column)."""

    table: str


@dataclass(frozen=True)
class Within:
    """The number lies between these two, both included."""

    low: float
    high: float


SourceKey = Annotated[str, To("sources")]
Status = Literal["seen", "memory", "computed", "weak", "own"]


class Row:
    """One row of one table."""

    table: ClassVar[str]
    key: ClassVar[tuple[str, ...]]


R = TypeVar("R", bound=Row)


@dataclass(frozen=True, kw_only=True)
class Cited(Row):
    """A row that says where it comes from, and how surely.

    ``status``: *seen* stood in a source that was read; *memory* was not seen and is never a silent
    default; *computed* was recomputed from seen inputs; *weak* rests on a producer's sheet or an
    unsigned page; *own* is a word or rule of this project.
    """

    source_key: SourceKey
    status: Status


@dataclass(frozen=True)
class Column:
    """What a cell of one column may hold."""

    name: str
    kind: type
    optional: bool
    many: bool
    choices: tuple[str, ...]
    to: str | None
    within: Within | None

    def value(self, text: str) -> Any:
        """The typed value of a cell; ValueError says what was expected."""
        if self.many:
            return self.several(text.split(";")) if text else ()
        if not text:
            if self.optional:
                return None
            raise ValueError("blank, and this column may not be")
        return self.one(text)

    def several(self, parts: list[str]) -> tuple[Any, ...]:
        """The typed values of a list of keys; each stands once."""
        for part in parts:
            if not part:
                raise ValueError("an empty part between two ;")
            if parts.count(part) > 1:
                raise ValueError(f"{part!r} stands twice")
        return tuple(self.one(part) for part in parts)

    def one(self, text: str) -> Any:
        """The typed value of a cell, or of one part of a list."""
        if text != text.strip():
            raise ValueError(f"{text!r} has spaces around it")
        if self.choices and text not in self.choices:
            raise ValueError(f"{text!r} is not one of {', '.join(self.choices)}")
        return _PARSERS[self.kind](text, self.within)


def _text(text: str, _: Within | None) -> str:
    return text


def _number(text: str, within: Within | None) -> float:
    try:
        number = float(text)
    except ValueError:
        raise ValueError(f"{text!r} is not a number") from None
    if not math.isfinite(number):
        raise ValueError(f"{text!r} is not a finite number")
    if within and not within.low <= number <= within.high:
        raise ValueError(f"{text} lies outside {within.low:g} to {within.high:g}")
    return number


def _whole(text: str, within: Within | None) -> int:
    number = _number(text, within)
    if not number.is_integer():
        raise ValueError(f"{text!r} is not a whole number")
    return int(number)


def _yes(text: str, _: Within | None) -> bool:
    if text not in ("yes", "no"):
        raise ValueError(f"{text!r} is neither yes nor no")
    return text == "yes"


def _day(text: str, _: Within | None) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{text!r} is not a date like 2026-01-31") from None


_PARSERS: dict[type, Any] = {str: _text, float: _number, int: _whole, bool: _yes, date: _day}


def columns(row_type: type[Row]) -> tuple[Column, ...]:
    """The columns of a table, from the type hints of its row, in their order."""
    hints = get_type_hints(row_type, include_extras=True)
    return tuple(_column(field.name, hints[field.name]) for field in fields(row_type))  # type: ignore[arg-type] # every Row subclass is a dataclass


def _column(name: str, hint: Any) -> Column:
    optional = many = False
    choices: tuple[str, ...] = ()
    marks: list[Any] = []
    while (origin := get_origin(hint)) is not None:
        if origin is Annotated:
            marks += hint.__metadata__
            hint = hint.__origin__
        elif origin in (Union, types.UnionType):
            optional = True
            hint = next(arg for arg in get_args(hint) if arg is not types.NoneType)
        elif origin is tuple:
            many = True
            hint = get_args(hint)[0]
        else:
            choices, hint = get_args(hint), str
    to = next((mark.table for mark in marks if isinstance(mark, To)), None)
    within = next((mark for mark in marks if isinstance(mark, Within)), None)
    return Column(name, hint, optional, many, choices, to, within)


def _lines(row_type: type[Row], folder: Traversable) -> list[tuple[int, list[str]]]:
    content = (folder / f"{row_type.table}.csv").read_bytes()
    if b"\r" in content or content.startswith(b"\xef\xbb\xbf"):
        raise ValueError("lines end in LF alone, and no byte order mark stands before the first")
    reader = csv.reader(io.StringIO(content.decode("utf-8"), newline=""), strict=True)
    return [(reader.line_num, cells) for cells in reader]


def examine(row_type: type[R], folder: Traversable) -> tuple[dict[int, R], list[str]]:
    """The rows that can be read, by line number, and a sentence for each fault."""
    try:
        (_, heading), *lines = _lines(row_type, folder)
    except (ValueError, csv.Error) as broken:  # UnicodeDecodeError is a ValueError too
        return {}, [f"{row_type.table}.csv is no table: {broken}"]
    wanted = columns(row_type)
    if sorted(heading) != sorted(column.name for column in wanted):
        odd = ", ".join(sorted(set(heading) ^ {column.name for column in wanted}))
        odd = odd or "one stands twice"
        return {}, [f"{row_type.table}.csv: the heading does not fit its columns: {odd}"]
    rows: dict[int, R] = {}
    faults: list[str] = []
    for line, cells in lines:
        values, wrong = _values(wanted, heading, cells)
        faults += [f"{row_type.table}.csv, line {line}, {fault}" for fault in wrong]
        if not wrong:
            rows[line] = row_type(**values)
    return rows, faults


def _values(
    wanted: tuple[Column, ...], heading: list[str], cells: list[str]
) -> tuple[dict[str, Any], list[str]]:
    if len(cells) != len(heading):
        return {}, [f"{len(cells)} cells, and the heading has {len(heading)}"]
    named = dict(zip(heading, cells, strict=True))
    values: dict[str, Any] = {}
    faults: list[str] = []
    for column in wanted:
        try:
            values[column.name] = column.value(named[column.name])
        except ValueError as wrong:
            faults.append(f"column {column.name}: {wrong}")
    return values, faults


def read(row_type: type[R], folder: Traversable = TABLES) -> tuple[R, ...]:
    """Every row of a table, in the order of its file.

    Raises
    ------
    TableError
        if a row is malformed; the message names table, line and column of each fault.
    """
    rows, faults = examine(row_type, folder)
    if faults:
        raise TableError("\n".join(faults))
    return tuple(rows.values())
