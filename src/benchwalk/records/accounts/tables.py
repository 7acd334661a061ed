"""The plain tables of accounts. Of a token the sha256 is stored, of a secret the argon2id hash."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from sqlalchemy import Index, LargeBinary, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from benchwalk.records.base import Base, Scoped, among, ref

DIGEST = LargeBinary(32)


class Credential(Scoped, Base):
    """How a person proves who they are. Without a passphrase nobody signs in at the office."""

    __tablename__ = "credential"
    person_id: Mapped[uuid.UUID] = mapped_column(primary_key=True)
    sign_in_name: Mapped[str]
    passphrase: Mapped[str | None]
    pin: Mapped[str | None]
    changed_at: Mapped[dt.datetime]
    __table_args__ = (UniqueConstraint("operation_id", "sign_in_name"), ref("person_id", "person"))


class Link(Scoped, Base):
    """A secret address: works once (set up, choose a passphrase, enter the demo, pair a phone).

    Or for a year: the address of a calendar.
    """

    __tablename__ = "link"
    digest: Mapped[bytes] = mapped_column(DIGEST, primary_key=True)
    typed: Mapped[bytes | None] = mapped_column(DIGEST)  # a short code for the same thing
    purpose: Mapped[str] = mapped_column(String(8))
    person_id: Mapped[uuid.UUID | None]
    made_by_id: Mapped[uuid.UUID | None]
    made_at: Mapped[dt.datetime]
    ends_at: Mapped[dt.datetime]
    used_at: Mapped[dt.datetime | None]
    __table_args__ = (
        among("purpose", "set_up", "choose", "enter", "pair", "calendar"),
        UniqueConstraint("operation_id", "typed"),
        ref("person_id", "person"),
        ref("made_by_id", "person"),
    )


class SignIn(Scoped, Base):
    """One browser in which a person is signed in; the table keeps it after it has ended."""

    __tablename__ = "sign_in"
    digest: Mapped[bytes] = mapped_column(DIGEST, primary_key=True)
    person_id: Mapped[uuid.UUID]
    browser: Mapped[str]
    started_at: Mapped[dt.datetime]
    last_used_at: Mapped[dt.datetime]
    ends_at: Mapped[dt.datetime]
    ended_at: Mapped[dt.datetime | None]
    __table_args__ = (
        ref("person_id", "person"),
        Index("ix_sign_in_person", "operation_id", "person_id"),
    )


class KnownBrowser(Scoped, Base):
    """A browser in which a person has signed in before: strangers' guesses do not shut it out."""

    __tablename__ = "known_browser"
    digest: Mapped[bytes] = mapped_column(DIGEST, primary_key=True)
    person_id: Mapped[uuid.UUID]
    last_used_at: Mapped[dt.datetime]
    __table_args__ = (ref("person_id", "person"),)


class DeviceToken(Scoped, Base):
    """What a paired phone shows; it opens the routes of its scope and nothing else."""

    __tablename__ = "device_token"
    digest: Mapped[bytes] = mapped_column(DIGEST, primary_key=True)
    device_id: Mapped[uuid.UUID]
    scope: Mapped[str] = mapped_column(String(8))
    made_at: Mapped[dt.datetime]
    made_by_id: Mapped[uuid.UUID | None]
    last_used_at: Mapped[dt.datetime | None]
    revoked_at: Mapped[dt.datetime | None]
    __table_args__ = (
        ref("device_id", "device"),
        ref("made_by_id", "person"),
    )


class Shift(Scoped, Base):
    """A scout with a phone, from the PIN until the shift's end."""

    __tablename__ = "shift"
    digest: Mapped[bytes] = mapped_column(DIGEST, primary_key=True)
    device_id: Mapped[uuid.UUID]
    person_id: Mapped[uuid.UUID]
    started_at: Mapped[dt.datetime]
    ends_at: Mapped[dt.datetime]
    ended_at: Mapped[dt.datetime | None]
    __table_args__ = (ref("device_id", "device"), ref("person_id", "person"))


class AccountEvent(Scoped, Base):
    """What was done with accounts: only added to, and without a name, so that people can go."""

    __tablename__ = "account_event"
    n: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    at: Mapped[dt.datetime]
    kind: Mapped[str] = mapped_column(String(24))
    person_id: Mapped[uuid.UUID | None]  # whose account
    by_id: Mapped[uuid.UUID | None]  # who did it
    device_id: Mapped[uuid.UUID | None]
    source: Mapped[str | None]  # where from: an address of the network
    detail: Mapped[dict[str, Any] | None]
    __table_args__ = (
        ref("person_id", "person"),
        ref("by_id", "person"),
        ref("device_id", "device"),
        Index("ix_account_event_person", "operation_id", "person_id", "n"),
    )


class Canary(Scoped, Base):
    """A word written only to be read again: whether the records take anything in."""

    __tablename__ = "canary"
    said_at: Mapped[dt.datetime]
