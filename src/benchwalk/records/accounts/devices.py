"""Phones: paired by a code, known by a token that can be taken back, given to a scout by a PIN."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass

from sqlalchemy import select

from benchwalk.records.accounts import links
from benchwalk.records.accounts.audit import note
from benchwalk.records.accounts.passphrases import LONGEST
from benchwalk.records.accounts.people import SCOUTS, AccountRefusedError, person_of
from benchwalk.records.accounts.signing_in import proved
from benchwalk.records.accounts.tables import DeviceToken, Shift
from benchwalk.records.accounts.tokens import TYPED, as_typed, digest_of, new_token, new_typed_code
from benchwalk.records.base import uuid7
from benchwalk.records.joins import of
from benchwalk.records.ledger import Ledgered
from benchwalk.records.operations import Device, Person

SHIFT = dt.timedelta(hours=16)  # own choice: longer than any walk, over by the next morning
CAPTURE = "capture"
LONGEST_LABEL = 64


@dataclass(frozen=True)
class Offered:
    """A pairing on offer: the secret for the picture, the code to type, until when."""

    secret: str
    typed: str


@dataclass(frozen=True)
class Paired:
    """A phone that has just been paired; the token is shown this once and stored nowhere."""

    device: uuid.UUID
    token: str


@dataclass(frozen=True)
class Phone:
    """The phone behind a request."""

    device: uuid.UUID
    label: str
    digest: bytes


@dataclass(frozen=True)
class OnShift:
    """The scout who holds a phone now."""

    person: uuid.UUID
    pseudonym: str
    name: str | None
    ends_at: dt.datetime


def offer_pairing(session: Ledgered) -> Offered:
    """A secret and a typed code, each good for one phone and ten minutes."""
    typed = new_typed_code()
    secret = links.make(session, "pair", typed=typed)
    return Offered(secret, typed)


def pair(session: Ledgered, code: str, label: str, *, source: str | None = None) -> Paired:
    """Pair a phone by the secret of the picture or the eight typed characters.

    Raises
    ------
    AccountRefusedError
        if the code is unknown, used or more than ten minutes old; which of them is not said.
    """
    short = len(as_typed(code)) == TYPED
    found = links.find_typed(session, code, "pair") if short else links.find(session, code, "pair")
    if found is None:
        raise AccountRefusedError("account.pair_code")
    links.use(session, found, source=source)
    operation, device, token = session.info["operation_id"], uuid7(), new_token()
    shown = "".join(c if c.isprintable() else " " for c in label)
    said = " ".join(shown.split())[:LONGEST_LABEL]
    session.add(Device(operation_id=operation, id=device, label=said))
    session.flush()
    session.add(
        DeviceToken(
            operation_id=operation,
            digest=digest_of(token),
            device_id=device,
            scope=CAPTURE,
            made_at=dt.datetime.now(dt.UTC),
            made_by_id=found.made_by_id,
        )
    )
    note(session, "phone_paired", device=device, person=found.made_by_id, source=source)
    return Paired(device, token)


def phone_of(session: Ledgered, token: str, scope: str = CAPTURE) -> Phone | None:
    """The phone of a token; None when the token is unknown, revoked, or of another scope."""
    if not 0 < len(token) <= LONGEST:
        return None
    digest = digest_of(token)
    joined = of(Device, DeviceToken, "device_id")
    found = session.scalars(
        select(Device)
        .join(DeviceToken, joined)
        .where(
            DeviceToken.digest == digest,
            DeviceToken.scope == scope,
            DeviceToken.revoked_at.is_(None),
            Device.revoked_at.is_(None),
        )
    ).first()
    return None if found is None else Phone(found.id, found.label, digest)


def revoke(session: Ledgered, device: uuid.UUID) -> None:
    """Take a phone's tokens and shifts back; what it sent stays.

    Raises
    ------
    AccountRefusedError
        if the operation has no such phone.
    """
    held = session.scalars(select(Device).where(Device.id == device)).first()
    if held is None:
        raise AccountRefusedError("account.no_phone")
    now = dt.datetime.now(dt.UTC)
    held.revoked_at = held.revoked_at or now
    open_tokens = select(DeviceToken).where(
        DeviceToken.device_id == device, DeviceToken.revoked_at.is_(None)
    )
    for token in session.scalars(open_tokens):
        token.revoked_at = now
    open_shifts = select(Shift).where(Shift.device_id == device, Shift.ended_at.is_(None))
    for shift in session.scalars(open_shifts):
        shift.ended_at = now
    note(session, "phone_revoked", device=device)


def who_holds(session: Ledgered, sign_in_name: str, pin: str) -> uuid.UUID | None:
    """The person whose name and PIN these are; as slow for a name nobody has. Reads only."""
    return proved(session, sign_in_name, pin, lambda held: held.pin)


def begin_shift(session: Ledgered, device: uuid.UUID, person: uuid.UUID) -> str:
    """Give a phone to a scout; the token of the shift. Whoever held it before holds it no more.

    Raises
    ------
    AccountRefusedError
        if the person's role does not scout.
    """
    if person_of(session, person).role not in SCOUTS:
        raise AccountRefusedError("account.no_scout")
    now = dt.datetime.now(dt.UTC)
    for older in session.scalars(
        select(Shift).where(Shift.device_id == device, Shift.ended_at.is_(None))
    ):
        older.ended_at = now
    token = new_token()
    session.add(
        Shift(
            operation_id=session.info["operation_id"],
            digest=digest_of(token),
            device_id=device,
            person_id=person,
            started_at=now,
            ends_at=now + SHIFT,
        )
    )
    note(session, "shift_begun", person=person, device=device)
    return token


def on_shift(session: Ledgered, device: uuid.UUID, token: str) -> OnShift | None:
    """The scout of a shift's token on this phone, None when the shift is over."""
    now = dt.datetime.now(dt.UTC)
    joined = of(Person, Shift, "person_id")
    found = session.execute(
        select(Shift, Person)
        .join(Person, joined)
        .where(
            Shift.digest == digest_of(token),
            Shift.device_id == device,
            Shift.ended_at.is_(None),
            Shift.ends_at > now,
        )
    ).one_or_none()
    if found is None:
        return None
    shift, person = found
    return OnShift(person.id, person.pseudonym, person.name, shift.ends_at)


def phones(session: Ledgered) -> list[Device]:
    """Every phone, by label."""
    return list(session.scalars(select(Device).order_by(Device.label)))
