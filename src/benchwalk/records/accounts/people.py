"""People of an operation: who there is, what they may do, and how they prove who they are."""

from __future__ import annotations

import datetime as dt
import unicodedata
import uuid
from dataclasses import dataclass

from sqlalchemy import select

from benchwalk.catalogue import Refusal
from benchwalk.records.accounts.audit import note
from benchwalk.records.accounts.passphrases import hash_passphrase, hash_pin
from benchwalk.records.accounts.tables import Credential, Link, Shift, SignIn
from benchwalk.records.base import uuid7
from benchwalk.records.joins import of
from benchwalk.records.ledger import Ledgered
from benchwalk.records.operations import Person

ROLES = ("scout", "applicator", "grower", "manager", "advisor")
SCOUTS = ("scout", "grower", "manager")  # who may say what was seen
LONGEST_NAME = 64


class AccountRefusedError(Refusal):
    """What was asked of an account cannot be done, in words fit to show."""


@dataclass(frozen=True)
class Account:
    """A person as the pages show them; no secret is in it."""

    id: uuid.UUID
    pseudonym: str
    name: str | None
    role: str
    sign_in_name: str | None
    has_passphrase: bool
    has_pin: bool

    @property
    def shown(self) -> str:
        """The name, or the pseudonym where there is no name (any more)."""
        return self.name or self.pseudonym


def accounts(session: Ledgered) -> list[Account]:
    """Everybody, by pseudonym."""
    joined = select(Person, Credential).outerjoin(Credential, of(Person, Credential, "person_id"))
    rows = session.execute(joined.order_by(Person.pseudonym)).all()
    return [_account(person, held) for person, held in rows]


def account(session: Ledgered, person: uuid.UUID) -> Account | None:
    """One person, None where the operation has nobody of this id."""
    return next((one for one in accounts(session) if one.id == person), None)


def _account(person: Person, held: Credential | None) -> Account:
    return Account(
        person.id,
        person.pseudonym,
        person.name,
        person.role,
        held.sign_in_name if held else None,
        bool(held and held.passphrase),
        bool(held and held.pin),
    )


def anybody_signs_in(session: Ledgered) -> bool:
    """Whether somebody has a passphrase: before that, only the set-up link opens anything."""
    held = select(Credential.person_id).where(Credential.passphrase.is_not(None)).limit(1)
    return session.scalars(held).first() is not None


def add_person(session: Ledgered, name: str, role: str, sign_in_name: str) -> uuid.UUID:
    """Add a person; they choose a passphrase by a link (`links.offer_choice`).

    Raises
    ------
    AccountRefusedError
        if the role is not one of the five, or the name is empty or taken.
    """
    _a_role(role)
    shown, wanted = _a_name(name), as_sign_in_name(sign_in_name)
    _free(session, wanted, None)
    operation, made = session.info["operation_id"], uuid7()
    session.add(
        Person(
            operation_id=operation,
            id=made,
            pseudonym=_free_pseudonym(session, role),
            name=shown,
            role=role,
        )
    )
    session.flush()
    _credential(session, made, wanted)
    note(session, "person_added", person=made, detail={"role": role})
    return made


def guide(session: Ledgered, pseudonym: str) -> uuid.UUID:
    """The manager by whom a class or a demo is entered, added the first time; has no secret."""
    held = session.scalars(select(Person).where(Person.pseudonym == pseudonym)).first()
    if held is not None:
        return held.id
    made = uuid7()
    operation = session.info["operation_id"]
    session.add(Person(operation_id=operation, id=made, pseudonym=pseudonym, role="manager"))
    session.flush()
    note(session, "person_added", person=made, detail={"role": "manager"})
    return made


def _free_pseudonym(session: Ledgered, role: str) -> str:
    """The role and the first free number: what records show when the name has gone."""
    held = set(session.scalars(select(Person.pseudonym)))
    return next(word for n in range(1, len(held) + 2) if (word := f"{role} {n}") not in held)


def change_role(session: Ledgered, person: uuid.UUID, role: str) -> None:
    """Give a person another role; their sign-ins end, since a right that is gone is gone now.

    So do shifts, of whoever may not scout any more.

    Raises
    ------
    AccountRefusedError
        if the role is not one of the five, there is no such person, or nobody who can manage
        people would be left.
    """
    _a_role(role)
    held = person_of(session, person)
    if held.role == "manager" and role != "manager":
        _not_the_last_manager(session, person)
    before, held.role = held.role, role
    end_sign_ins(session, person)
    if role not in SCOUTS:
        end_shifts(session, person)
    note(session, "person_changed", person=person, detail={"role": [before, role]})


def remove_person(session: Ledgered, person: uuid.UUID) -> None:
    """Empty the name and every secret of a person. What they recorded keeps the pseudonym.

    On SQLite the bytes that they took are overwritten; copies made before still hold them.
    """
    held = person_of(session, person)
    if held.role == "manager":
        _not_the_last_manager(session, person)
    if session.get_bind().dialect.name == "sqlite":
        session.connection().exec_driver_sql("PRAGMA secure_delete=ON")
    held.name = None
    end_sign_ins(session, person)
    for table in (Credential, Link, Shift):
        owned = (table.operation_id == held.operation_id) & (table.person_id == person)
        for row in session.scalars(select(table).where(owned)):
            session.delete(row)
    note(session, "person_removed", person=person)


def person_of(session: Ledgered, person: uuid.UUID) -> Person:
    """The person's row; another operation's person is as unknown as nobody's."""
    held = session.scalars(select(Person).where(Person.id == person)).first()
    if held is None:
        raise AccountRefusedError("account.nobody")
    return held


def credential_of(session: Ledgered, person: uuid.UUID) -> Credential | None:
    """How a person proves who they are, None where they cannot yet."""
    return session.scalars(select(Credential).where(Credential.person_id == person)).first()


def who_has_name(session: Ledgered, sign_in_name: str) -> uuid.UUID | None:
    """The person who signs in with a name, None where nobody does."""
    wanted = as_sign_in_name(sign_in_name)
    named = select(Credential.person_id).where(Credential.sign_in_name == wanted)
    return session.scalars(named).first()


def name_sign_in(session: Ledgered, person: uuid.UUID, sign_in_name: str) -> Credential:
    """Give a person the name they sign in with, making their credential where there is none."""
    wanted = as_sign_in_name(sign_in_name)
    _free(session, wanted, person)
    held = credential_of(session, person_of(session, person).id)
    if held is None:
        return _credential(session, person, wanted)
    held.sign_in_name = wanted
    return held


def set_passphrase(session: Ledgered, person: uuid.UUID, passphrase: str) -> None:
    """Keep a new passphrase; every sign-in of the person ends, so a thief's ends too.

    Raises
    ------
    PassphraseRefusedError
        if it may not be used; nothing is changed then.
    """
    _needed(session, person).passphrase = hash_passphrase(passphrase)
    _changed(session, person, "passphrase_set")
    end_sign_ins(session, person)


def set_pin(session: Ledgered, person: uuid.UUID, pin: str) -> None:
    """Keep a new PIN; shifts begun with the old one end."""
    _needed(session, person).pin = hash_pin(pin)
    _changed(session, person, "pin_set")
    end_shifts(session, person)


def end_shifts(session: Ledgered, person: uuid.UUID) -> None:
    """Take every phone back that a person holds now."""
    now = dt.datetime.now(dt.UTC)
    open_ = select(Shift).where(Shift.person_id == person, Shift.ended_at.is_(None))
    for shift in session.scalars(open_):
        shift.ended_at = now


def end_sign_ins(session: Ledgered, person: uuid.UUID, *, but: bytes | None = None) -> int:
    """End every sign-in of a person, one excepted; how many there were."""
    now = dt.datetime.now(dt.UTC)
    open_ = select(SignIn).where(SignIn.person_id == person, SignIn.ended_at.is_(None))
    ended = [one for one in session.scalars(open_) if one.digest != but]
    for one in ended:
        one.ended_at = now
    return len(ended)


def as_sign_in_name(text: str) -> str:
    """The one spelling of a sign-in name: case, width and outer spaces do not matter.

    Raises
    ------
    AccountRefusedError
        if nothing is left, or more than 64 characters are.
    """
    return _a_name(unicodedata.normalize("NFKC", text).casefold())


def _a_name(text: str) -> str:
    name = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    if not 1 <= len(name) <= LONGEST_NAME:
        raise AccountRefusedError("account.name", given=len(name), n=LONGEST_NAME)
    return name


def _a_role(role: str) -> None:
    if role not in ROLES:
        raise AccountRefusedError("account.role", given=role, known=", ".join(ROLES))


def _free(session: Ledgered, wanted: str, person: uuid.UUID | None) -> None:
    held = session.scalars(select(Credential).where(Credential.sign_in_name == wanted)).first()
    if held is not None and held.person_id != person:
        raise AccountRefusedError("account.name_taken", name=wanted)


def _credential(session: Ledgered, person: uuid.UUID, sign_in_name: str) -> Credential:
    made = Credential(
        operation_id=session.info["operation_id"],
        person_id=person,
        sign_in_name=sign_in_name,
        changed_at=dt.datetime.now(dt.UTC),
    )
    session.add(made)
    session.flush()
    return made


def _needed(session: Ledgered, person: uuid.UUID) -> Credential:
    held = credential_of(session, person)
    if held is None:
        raise AccountRefusedError("account.no_sign_in_name")
    return held


def _changed(session: Ledgered, person: uuid.UUID, kind: str) -> None:
    _needed(session, person).changed_at = dt.datetime.now(dt.UTC)
    note(session, kind, person=person)


def _not_the_last_manager(session: Ledgered, person: uuid.UUID) -> None:
    managing = [a for a in accounts(session) if a.role == "manager" and a.has_passphrase]
    if [a.id for a in managing] == [person]:
        raise AccountRefusedError("account.last_manager")
