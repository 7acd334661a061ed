"""The plain tables: the business, its people and devices, what was said, what was put aside."""

from __future__ import annotations

import datetime as dt
import uuid

from sqlalchemy import LargeBinary, SmallInteger, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from benchwalk.records.base import Base, Scoped, among, check, ref, uuid7


class Operation(Base):
    """One growing business. `id` is local to this database, `uid` the same everywhere."""

    __tablename__ = "operation"
    id: Mapped[int] = mapped_column(SmallInteger, primary_key=True)
    uid: Mapped[uuid.UUID] = mapped_column(unique=True)
    name: Mapped[str]
    zone: Mapped[str]  # IANA name
    epoch: Mapped[int] = mapped_column(default=1)  # raised by a restore
    practice: Mapped[bool] = mapped_column(default=False)  # a class or demo: nothing leaves it


class Person(Scoped, Base):
    """The only table with a name. Removing a person empties `name`; records keep the pseudonym."""

    __tablename__ = "person"
    id: Mapped[uuid.UUID] = mapped_column(primary_key=True, default=uuid7)
    pseudonym: Mapped[str]
    name: Mapped[str | None]
    role: Mapped[str]
    __table_args__ = (
        UniqueConstraint("operation_id", "pseudonym"),
        among("role", "scout", "applicator", "grower", "manager", "advisor"),
    )


class Device(Scoped, Base):
    __tablename__ = "device"
    id: Mapped[uuid.UUID] = mapped_column(primary_key=True, default=uuid7)
    label: Mapped[str]
    last_heard_at: Mapped[dt.datetime | None]
    unsent: Mapped[int | None]
    app_version: Mapped[str | None] = mapped_column(String(24))  # of the pages it has loaded
    clock_error_s: Mapped[float | None]  # the phone's clock less the server's when last heard
    revoked_at: Mapped[dt.datetime | None]


class Ledger(Scoped, Base):
    """Everything that was said, in the order received. Never changed. One chain an operation."""

    __tablename__ = "ledger"
    seq: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    epoch: Mapped[int] = mapped_column(SmallInteger)
    kind: Mapped[str] = mapped_column(String(24))  # the record's table
    id: Mapped[uuid.UUID]
    rev: Mapped[int] = mapped_column(SmallInteger)
    void_reason: Mapped[str | None]  # given: this rev voids the record
    by_id: Mapped[uuid.UUID | None]  # who saw or decided it
    typed_by_id: Mapped[uuid.UUID | None]  # who keyed it, when another
    device_id: Mapped[uuid.UUID | None]
    seen_at: Mapped[dt.datetime]  # the observer's clock, corrected by clock_offset_s
    clock_offset_s: Mapped[float | None]
    received_at: Mapped[dt.datetime]  # the server's clock
    body: Mapped[str]  # the record with its lines, canonical JSON
    digest: Mapped[bytes] = mapped_column(LargeBinary(32))  # sha256 over the digest before and this
    __table_args__ = (
        UniqueConstraint("operation_id", "id", "rev"),
        check("rev", "rev >= 1"),
        ref("by_id", "person"),
        ref("typed_by_id", "person"),
        ref("device_id", "device"),
    )


class Aside(Scoped, Base):
    """What was received and could not be taken: same rev with other content, or refused."""

    __tablename__ = "aside"
    n: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    kind: Mapped[str]
    id: Mapped[uuid.UUID | None]
    rev: Mapped[int | None]
    device_id: Mapped[uuid.UUID | None]
    received_at: Mapped[dt.datetime]
    reason: Mapped[str]
    body: Mapped[str]
    settled_at: Mapped[dt.datetime | None]
    settled_by_id: Mapped[uuid.UUID | None]
    settled_how: Mapped[str | None] = mapped_column(String(16))
    __table_args__ = (ref("device_id", "device"), ref("settled_by_id", "person"))
