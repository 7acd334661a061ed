"""What was done with accounts, in order; only ever added to."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from sqlalchemy import func, select

from benchwalk.records.accounts.tables import AccountEvent
from benchwalk.records.ledger import Ledgered
from benchwalk.records.operations import Operation

KINDS = (
    "set_up_link",
    "person_added",
    "person_changed",
    "person_removed",
    "link_made",
    "link_used",
    "passphrase_set",
    "pin_set",
    "signed_in",
    "sign_in_refused",
    "signed_out",
    "sign_in_ended",
    "phone_offered",
    "phone_paired",
    "phone_revoked",
    "shift_begun",
    "shift_refused",
)


def note(
    session: Ledgered,
    kind: str,
    *,
    person: uuid.UUID | None = None,
    device: uuid.UUID | None = None,
    source: str | None = None,
    detail: dict[str, Any] | None = None,
) -> None:
    """Add an event by whoever the session belongs to; no name and no secret goes in.

    The caller holds the write lock of the operation, so that the numbers have no gaps.
    """
    assert kind in KINDS, kind
    operation = session.info["operation_id"]
    # on PostgreSQL the row lock of the operation is the write lock
    session.execute(select(Operation.epoch).where(Operation.id == operation).with_for_update())
    newest = session.scalars(select(func.max(AccountEvent.n))).one()
    session.add(
        AccountEvent(
            operation_id=operation,
            n=1 if newest is None else newest + 1,
            at=dt.datetime.now(dt.UTC),
            kind=kind,
            person_id=person,
            by_id=session.info.get("by_id"),
            device_id=device,
            source=source,
            detail=detail,
        )
    )
    session.flush()


def events(session: Ledgered, *, newest: int = 200) -> list[AccountEvent]:
    """The newest events, the newest first."""
    found = select(AccountEvent).order_by(AccountEvent.n.desc()).limit(newest)
    return list(session.scalars(found))
