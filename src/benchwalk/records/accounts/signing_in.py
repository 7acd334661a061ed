"""Signing in: a new token each time, ended by idleness, by age, by hand, or by somebody else."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable
from dataclasses import dataclass

from sqlalchemy import select

from benchwalk.records.accounts.audit import note
from benchwalk.records.accounts.passphrases import LONGEST, proves
from benchwalk.records.accounts.people import as_sign_in_name
from benchwalk.records.accounts.tables import Credential, KnownBrowser, SignIn
from benchwalk.records.accounts.tokens import digest_of, new_token
from benchwalk.records.joins import of
from benchwalk.records.ledger import Ledgered
from benchwalk.records.operations import Person

IDLE = dt.timedelta(hours=12)  # own choice: a working day, not a night
LONGEST_SIGN_IN = dt.timedelta(days=14)  # own choice
TOUCHED_EVERY = dt.timedelta(minutes=5)  # so that reading a page is no write
BROWSER_WORDS = 200


@dataclass(frozen=True)
class SignedIn:
    """The person behind a request, and which of their sign-ins it is."""

    person: uuid.UUID
    pseudonym: str
    name: str | None
    role: str
    digest: bytes
    last_used_at: dt.datetime

    @property
    def shown(self) -> str:
        """The name, or the pseudonym where there is no name."""
        return self.name or self.pseudonym


def who_proves(session: Ledgered, sign_in_name: str, passphrase: str) -> uuid.UUID | None:
    """The person whose name and passphrase these are.

    None for a wrong passphrase, a person without one and a name nobody has: all three take as
    long. Reads only, so that no lock is held while the passphrase is hashed.
    """
    return proved(session, sign_in_name, passphrase, lambda held: held.passphrase)


def proved(
    session: Ledgered, sign_in_name: str, secret: str, kept: Callable[[Credential], str | None]
) -> uuid.UUID | None:
    """The person of a name, where ``secret`` is the one that is ``kept`` of them."""
    wanted = as_sign_in_name(sign_in_name)
    held = session.scalars(select(Credential).where(Credential.sign_in_name == wanted)).first()
    session.rollback()  # a reader's transaction is not kept open either
    right = proves(kept(held) if held else None, secret)
    return held.person_id if held is not None and right else None


def begin(session: Ledgered, person: uuid.UUID, *, browser: str, source: str | None) -> str:
    """Sign a person in; the token for the cookie, which is stored nowhere."""
    token, now = new_token(), dt.datetime.now(dt.UTC)
    session.add(
        SignIn(
            operation_id=session.info["operation_id"],
            digest=digest_of(token),
            person_id=person,
            browser=browser[:BROWSER_WORDS],
            started_at=now,
            last_used_at=now,
            ends_at=now + LONGEST_SIGN_IN,
        )
    )
    note(session, "signed_in", person=person, source=source)
    return token


def signed_in(session: Ledgered, token: str) -> SignedIn | None:
    """Who a cookie's token belongs to, None when it has ended or never was."""
    if not 0 < len(token) <= LONGEST:
        return None
    now, digest = dt.datetime.now(dt.UTC), digest_of(token)
    found = session.execute(
        select(SignIn, Person)
        .join(Person, of(Person, SignIn, "person_id"))
        .where(
            SignIn.digest == digest,
            SignIn.ended_at.is_(None),
            SignIn.ends_at > now,
            SignIn.last_used_at > now - IDLE,
        )
    ).one_or_none()
    if found is None:
        return None
    held, person = found
    return SignedIn(
        person.id, person.pseudonym, person.name, person.role, digest, held.last_used_at
    )


def touch(session: Ledgered, digest: bytes) -> None:
    """Note that a sign-in was used just now."""
    held = session.scalars(select(SignIn).where(SignIn.digest == digest)).one()
    held.last_used_at = dt.datetime.now(dt.UTC)


def end(session: Ledgered, digest: bytes, *, person: uuid.UUID, kind: str = "signed_out") -> bool:
    """End one sign-in of a person; False where this is none of theirs, or has ended."""
    open_ = select(SignIn).where(
        SignIn.digest == digest, SignIn.person_id == person, SignIn.ended_at.is_(None)
    )
    held = session.scalars(open_).first()
    if held is None:
        return False
    held.ended_at = dt.datetime.now(dt.UTC)
    note(session, kind, person=person)
    return True


def open_sign_ins(session: Ledgered, person: uuid.UUID) -> list[SignIn]:
    """The sign-ins of a person that still open something, the newest first."""
    now = dt.datetime.now(dt.UTC)
    open_ = select(SignIn).where(
        SignIn.person_id == person,
        SignIn.ended_at.is_(None),
        SignIn.ends_at > now,
        SignIn.last_used_at > now - IDLE,
    )
    return list(session.scalars(open_.order_by(SignIn.started_at.desc())))


def knows_browser(session: Ledgered, token: str, sign_in_name: str) -> bool:
    """Whether the person of this name has signed in with this browser before."""
    wanted = as_sign_in_name(sign_in_name)
    found = (
        select(KnownBrowser.digest)
        .join(
            Credential,
            (Credential.operation_id == KnownBrowser.operation_id)
            & (Credential.person_id == KnownBrowser.person_id),
        )
        .where(KnownBrowser.digest == digest_of(token), Credential.sign_in_name == wanted)
    )
    return session.scalars(found).first() is not None


def remember_browser(session: Ledgered, person: uuid.UUID) -> str:
    """A token by which this browser is known the next time."""
    token = new_token()
    session.add(
        KnownBrowser(
            operation_id=session.info["operation_id"],
            digest=digest_of(token),
            person_id=person,
            last_used_at=dt.datetime.now(dt.UTC),
        )
    )
    return token
