"""Links that work once: the set-up of a new operation, choosing a passphrase, entering a demo."""

from __future__ import annotations

import datetime as dt
import uuid

from sqlalchemy import ColumnElement, Select, select

from benchwalk.records.accounts.audit import note
from benchwalk.records.accounts.people import AccountRefusedError, person_of
from benchwalk.records.accounts.tables import Link
from benchwalk.records.accounts.tokens import as_typed, digest_of, new_token
from benchwalk.records.ledger import Ledgered
from benchwalk.records.operations import Operation

LIVES = {
    "set_up": dt.timedelta(hours=24),
    "choose": dt.timedelta(hours=72),
    "enter": dt.timedelta(hours=24),
    "pair": dt.timedelta(minutes=10),
    "calendar": dt.timedelta(days=366),
}


def make(
    session: Ledgered, purpose: str, person: uuid.UUID | None = None, typed: str | None = None
) -> str:
    """The token of a new link; those before it of the same purpose and person work no more."""
    now, operation = dt.datetime.now(dt.UTC), session.info["operation_id"]
    if purpose != "pair":
        for older in session.scalars(_open(purpose).where(_of(person))):
            older.ends_at = now
    token = new_token()
    session.add(
        Link(
            operation_id=operation,
            digest=digest_of(token),
            typed=digest_of(as_typed(typed)) if typed else None,
            purpose=purpose,
            person_id=person,
            made_by_id=session.info.get("by_id"),
            made_at=now,
            ends_at=now + LIVES[purpose],
        )
    )
    note(session, "link_made", person=person, detail={"purpose": purpose})
    return token


def offer_entrance(session: Ledgered, person: uuid.UUID) -> str:
    """A link that signs a person in without a passphrase: for a class or a demo only."""
    practice = select(Operation.practice).where(Operation.id == session.info["operation_id"])
    if not session.scalars(practice).one():
        raise AccountRefusedError("account.not_practice")
    return make(session, "enter", person_of(session, person).id)


def find(session: Ledgered, token: str, *purposes: str) -> Link | None:
    """The link of a token, None when it is unknown, used, too old, or for something else."""
    found = _open(*purposes).where(Link.digest == digest_of(token))
    return session.scalars(found).first()


def find_typed(session: Ledgered, code: str, *purposes: str) -> Link | None:
    """The link of a typed code."""
    found = _open(*purposes).where(Link.typed == digest_of(as_typed(code)))
    return session.scalars(found).first()


def use(session: Ledgered, link: Link, *, source: str | None = None) -> None:
    """Use a link up; the caller holds the write lock, so that two cannot."""
    link.used_at = dt.datetime.now(dt.UTC)
    note(
        session,
        "link_used",
        person=link.person_id,
        source=source,
        detail={"purpose": link.purpose},
    )


def _open(*purposes: str) -> Select[Link]:
    now = dt.datetime.now(dt.UTC)
    return select(Link).where(
        Link.purpose.in_(purposes), Link.used_at.is_(None), Link.ends_at > now
    )


def _of(person: uuid.UUID | None) -> ColumnElement[bool]:
    return Link.person_id.is_(None) if person is None else Link.person_id == person
