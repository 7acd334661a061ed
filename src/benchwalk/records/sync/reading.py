"""One item as it was sent, read into the columns and lines of its record."""

from __future__ import annotations

import datetime as dt
import math
import uuid
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Boolean, Column, Date, Float, Integer, SmallInteger, String, inspect

from benchwalk.records.base import Base, Record, Uid, Utc
from benchwalk.records.plain import Plain, shape_of
from benchwalk.records.plants import Planting
from benchwalk.records.seen import Card, Flag, Observation, Sighting, Visit, Walk

KINDS: Mapping[str, type[Record]] = {
    "walk": Walk,
    "visit": Visit,
    "observation": Observation,
    "card": Card,
    "flag": Flag,
    "sighting": Sighting,
    "planting": Planting,
}
FIELDS = frozenset(("kind", "id", "rev", "base", "by", "seen_at", "offset_s", "void", "body"))
SMALL, LARGE = 2**15 - 1, 2**31 - 1  # what the columns hold on PostgreSQL
LONGEST = 4000  # own choice: characters of a note
LINES = 200  # own choice: parts of one record
YEARS = range(2000, 2200)  # a clock outside these was never set


class NotAnItemError(ValueError):
    """What was sent is no item: why, and where."""

    def __init__(self, reason: str, detail: str) -> None:
        super().__init__(f"{reason}: {detail}")
        self.reason = reason


@dataclass(frozen=True)
class Item:
    """A record at one rev, as a phone says it."""

    kind: str
    id: uuid.UUID
    rev: int
    base: int
    by: uuid.UUID
    seen_at: dt.datetime
    offset_s: float | None
    void: str | None
    record: Plain
    typed_by: uuid.UUID | None = None  # who let it in, where a person had to


def read_item(sent: Any) -> Item:
    """The item, every field of its kind.

    Raises
    ------
    NotAnItemError
        naming the field, with the reason ``malformed`` or ``unknown_kind``.
    """
    if not isinstance(sent, dict) or sent.keys() != FIELDS:
        raise _wrong("item", f"its fields are {', '.join(sorted(FIELDS))}")
    kind = sent["kind"]
    if not isinstance(kind, str) or kind not in KINDS:
        raise NotAnItemError("unknown_kind", f"a phone writes {', '.join(KINDS)}")
    item = Item(
        kind=kind,
        id=_uuid(sent["id"], "id"),
        rev=_whole(sent["rev"], "rev", 1, SMALL),
        base=_whole(sent["base"], "base", 0, SMALL),
        by=_uuid(sent["by"], "by"),
        seen_at=_instant(sent["seen_at"], "seen_at"),
        offset_s=None if sent["offset_s"] is None else _number(sent["offset_s"], "offset_s"),
        void=None if sent["void"] is None else _text(sent["void"], "void", LONGEST),
        record=read_record(kind, sent["id"], sent["body"]),
    )
    if item.base >= item.rev:
        raise _wrong("base", "it is below rev")
    return item


def read_record(kind: str, id_: Any, said: Any) -> Plain:
    """A record's columns and lines from JSON, a message's or the ledger's own.

    Raises
    ------
    NotAnItemError
        if a field is not one of the record's, or not of its kind.
    """
    if not isinstance(said, dict):
        raise _wrong("body", "it is an object")
    return _read(KINDS[kind], {**said, "id": id_}, frozenset(), "body")


def _read(model: type[Base], said: Any, passed: frozenset[str], where: str) -> Plain:
    """A row; the columns passed are those it takes from what it is a part of, said or not."""
    if not isinstance(said, dict):
        raise _wrong(where, "it is an object")
    shape = shape_of(model)
    known = shape.blank.keys() | shape.lines.keys()
    if not said.keys() <= known:
        raise _wrong(where, f"it has no field {sorted(map(str, said.keys() - known))[0]!r}")
    columns = {
        name: _value(shape.table.c[name], said.get(name), f"{where}.{name}")
        for name in shape.blank.keys() - passed
    }
    parts = {
        name: _lines(model, name, said[name], f"{where}.{name}")
        for name in shape.lines
        if name in said
    }
    return Plain(model, **columns, **parts)


def _lines(model: type[Base], name: str, said: Any, where: str) -> Sequence[Plain]:
    if not isinstance(said, list) or len(said) > LINES:
        raise _wrong(where, f"it is a list of at most {LINES}")
    line = inspect(model).relationships[name].mapper.class_
    passed = frozenset(there for there, _ in shape_of(model).lines[name])
    return [_read(line, one, passed, where) for one in said]


def _value(column: Column[Any], given: Any, where: str) -> Any:
    if given is None:
        if not column.nullable and column.default is None:
            raise _wrong(where, "it is missing")
        return None
    for kind, read in READ:
        if isinstance(column.type, kind):
            return read(column, given, where)
    raise _wrong(where, "a phone does not say this")


def _wrong(where: str, expected: str) -> NotAnItemError:
    return NotAnItemError("malformed", f"{where}: {expected}")


def _uuid(given: Any, where: str) -> uuid.UUID:
    try:
        read = uuid.UUID(given)
    except (ValueError, TypeError, AttributeError) as no:
        raise _wrong(where, "a UUID as text") from no
    if str(read) != given:
        raise _wrong(where, "a UUID in lower case with hyphens")
    return read


def _instant(given: Any, where: str) -> dt.datetime:
    try:
        read = dt.datetime.fromisoformat(given)
    except (ValueError, TypeError) as no:
        raise _wrong(where, "an instant as in 2026-03-10T09:00:00Z") from no
    if read.tzinfo is None or read.year not in YEARS:
        raise _wrong(where, f"an instant with its zone, {YEARS.start} to {YEARS.stop - 1}")
    return read.astimezone(dt.UTC)


def _day(given: Any, where: str) -> dt.date:
    try:
        read = dt.date.fromisoformat(given)
    except (ValueError, TypeError) as no:
        raise _wrong(where, "a day as in 2026-03-10") from no
    if read.year not in YEARS:
        raise _wrong(where, f"a day of {YEARS.start} to {YEARS.stop - 1}")
    return read


def _whole(given: Any, where: str, least: int, most: int) -> int:
    if type(given) is not int or not least <= given <= most:
        raise _wrong(where, f"a whole number, {least} to {most}")
    return given


def _number(given: Any, where: str) -> float:
    if type(given) not in (int, float) or not math.isfinite(given):
        raise _wrong(where, "a number")
    return float(given)


def _flag(given: Any, where: str) -> bool:
    if type(given) is not bool:
        raise _wrong(where, "true or false")
    return given


def _text(given: Any, where: str, most: int) -> str:
    if not isinstance(given, str) or len(given) > most or not _storable(given):
        raise _wrong(where, f"text of at most {most} characters, none of them NUL or half a pair")
    return given


def _storable(text: str) -> bool:
    return "\0" not in text and not any("\ud800" <= c <= "\udfff" for c in text)


def _length(column: Column[Any]) -> int:
    length: int | None = getattr(column.type, "length", None)
    return LONGEST if length is None else length


READ: tuple[tuple[type[Any], Callable[[Column[Any], Any, str], Any]], ...] = (
    (Uid, lambda _, given, where: _uuid(given, where)),
    (Utc, lambda _, given, where: _instant(given, where)),
    (Date, lambda _, given, where: _day(given, where)),
    (Boolean, lambda _, given, where: _flag(given, where)),
    (SmallInteger, lambda _, given, where: _whole(given, where, -SMALL, SMALL)),
    (Integer, lambda _, given, where: _whole(given, where, -LARGE, LARGE)),
    (Float, lambda _, given, where: _number(given, where)),
    (String, lambda column, given, where: _text(given, where, _length(column))),
)
