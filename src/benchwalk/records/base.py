"""What every table stands on: column types, the two kinds of row, and the operation in every key.

Three kinds of table:

* Record: a document with an id made where it was observed, and a rev; its current state only.
* Line: a part of a record (a tally of a look); changes only together with its record's rev.
* plain: operation, person, device, ledger, aside.

Column names end in their unit: _at UTC instant, _on local day of the operation, _m, _cm2, _c,
_percent, _s, _ml.
"""

from __future__ import annotations

import datetime as dt
import os
import time
import uuid
from functools import lru_cache
from typing import Any, ClassVar

from sqlalchemy import (
    JSON,
    CheckConstraint,
    Constraint,
    Date,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    SmallInteger,
    Text,
    Uuid,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, declared_attr, mapped_column
from sqlalchemy.types import TypeDecorator, TypeEngine

Constraints = tuple[Constraint | Index, ...]


def uuid7(at: dt.datetime | None = None, rest: bytes | None = None) -> uuid.UUID:
    """UUID version 7 (RFC 9562, section 5.7): 48 bits of milliseconds, then 74 free bits.

    Parameters
    ----------
    at : the instant it stands for; now when not given.
    rest : at least 10 bytes for the free bits; random when not given. The same instant and the
        same bytes give the same id: an import made twice names its records alike.
    """
    ms = time.time_ns() // 1_000_000 if at is None else int(at.timestamp() * 1000)
    return uuid7_of(ms, os.urandom(10) if rest is None else rest)


def uuid7_of(ms: int, rest: bytes) -> uuid.UUID:
    """The same of milliseconds since 1970; of them the lowest 48 bits."""
    n = ((ms & (1 << 48) - 1) << 80) | int.from_bytes(rest[:10], "big")
    return uuid.UUID(int=n & ~(0xF << 76) & ~(0x3 << 62) | 0x7 << 76 | 0x2 << 62)


class Uid(TypeDecorator[uuid.UUID]):
    """16 bytes on SQLite, uuid on PostgreSQL."""

    impl = LargeBinary(16)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        return dialect.type_descriptor(Uuid() if dialect.name == "postgresql" else LargeBinary(16))

    def process_bind_param(self, value: uuid.UUID | None, dialect: Dialect) -> Any:
        return value if value is None or dialect.name == "postgresql" else value.bytes

    def result_processor(self, dialect: Dialect, coltype: object) -> Any:
        """One plain function a value: a question about a season has a hundred thousand of them."""
        return super().result_processor(dialect, coltype) if dialect.name == "postgresql" else _uid


@lru_cache(maxsize=8192)
def _uid(value: bytes | None) -> uuid.UUID | None:
    """The id of some bytes; a question about a season gives those of its units again and again."""
    return None if value is None else uuid.UUID(bytes=value)


class Utc(TypeDecorator[dt.datetime]):
    """An instant. Refuses a naive time; stores UTC."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: dt.datetime | None, dialect: Dialect) -> Any:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"naive time {value!r}: an instant is needed, give it a zone")
        value = value.astimezone(dt.UTC)
        return value if dialect.name == "postgresql" else value.replace(tzinfo=None)

    def process_result_value(self, value: Any, dialect: Dialect) -> dt.datetime | None:
        if value is None:
            return None
        held: dt.datetime = value
        return held.replace(tzinfo=dt.UTC) if held.tzinfo is None else held.astimezone(dt.UTC)


class Base(DeclarativeBase):
    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_N_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    type_annotation_map: ClassVar[dict[Any, Any]] = {
        uuid.UUID: Uid(),
        dt.datetime: Utc(),
        dt.date: Date(),
        str: Text(),
        int: Integer(),
        float: Float(),
        dict[str, Any]: JSON(),
    }


def ref(column: str, table: str, key: str = "id") -> ForeignKeyConstraint:
    """A reference that cannot leave its operation."""
    return ForeignKeyConstraint(
        ["operation_id", column], [f"{table}.operation_id", f"{table}.{key}"]
    )


def among(column: str, *words: str) -> CheckConstraint:
    """A closed list of states. A list that grows is a vocabulary table instead."""
    return CheckConstraint(f"{column} IN ({', '.join(repr(w) for w in words)})", name=column)


def check(name: str, sql: str) -> CheckConstraint:
    return CheckConstraint(sql, name=name)


class Scoped:
    operation_id: Mapped[int] = mapped_column(
        SmallInteger, ForeignKey("operation.id"), primary_key=True, sort_order=-9
    )


class Record(Scoped, Base):
    """A document: current state only. Every rev of it, this one too, is in the ledger."""

    __abstract__ = True
    id: Mapped[uuid.UUID] = mapped_column(primary_key=True, default=uuid7, sort_order=-8)
    rev: Mapped[int] = mapped_column(SmallInteger, sort_order=-7)
    constraints: ClassVar[Constraints] = ()

    @declared_attr.directive
    def __table_args__(cls) -> tuple[Any, ...]:
        return (
            ForeignKeyConstraint(
                ["operation_id", "id", "rev"],
                ["ledger.operation_id", "ledger.id", "ledger.rev"],
            ),
            *cls.constraints,
            {"info": {"kind": "record"}},
        )


class Line(Scoped, Base):
    """A part of a record. Primary key: the record's id, then what tells lines apart."""

    __abstract__ = True
    rev: Mapped[int] = mapped_column(SmallInteger)
    constraints: ClassVar[Constraints] = ()
    owner: ClassVar[tuple[str, str]] = ("", "")  # (table of the record, column here)

    @declared_attr.directive
    def __table_args__(cls) -> tuple[Any, ...]:
        return (
            *cls.constraints,
            {"info": {"kind": "line", "owner": cls.owner}, "sqlite_with_rowid": False},
        )


def key(*args: Any) -> Mapped[Any]:
    """A column of a line's primary key."""
    return mapped_column(*args, primary_key=True, autoincrement=False, sort_order=-8)
