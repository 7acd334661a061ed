"""What was sent and could not be taken is kept as it stood, once, for a person."""

from __future__ import annotations

import json
import uuid
from typing import Any

from sqlalchemy import func, insert, select
from sqlalchemy.orm import Session

from benchwalk.records.base import Base
from benchwalk.records.ledger import Head
from benchwalk.records.operations import Aside
from benchwalk.records.sync.reading import LARGE

KIND = 24  # characters kept of what an item calls its kind
REASON = 400


def put_aside(
    session: Session, head: Head, sent: Any, device: uuid.UUID | None, reason: str
) -> None:
    """Keep an item beside; the same item from the same phone again adds nothing."""
    text = json.dumps(sent, sort_keys=True, separators=(",", ":"))
    here = Aside.operation_id == head.operation
    phone = Aside.device_id.is_(None) if device is None else Aside.device_id == device
    if session.execute(select(Aside.n).where(here, phone, Aside.body == text)).first() is not None:
        return
    last = session.scalar(select(func.max(Aside.n)).where(here))
    row = {
        "operation_id": head.operation,
        "n": 1 if last is None else last + 1,
        "kind": _field(sent, "kind", str, "?")[:KIND].replace("\0", "?"),
        "id": _id(sent),
        "rev": _rev(sent),
        "device_id": device,
        "received_at": head.now,
        "reason": reason[:REASON].replace("\0", "?"),
        "body": text,
        "settled_at": None,
        "settled_by_id": None,
    }
    row |= {k: _storable(row[k]) for k in ("kind", "reason")}
    session.execute(insert(Base.metadata.tables["aside"]), row)


def _storable(text: str) -> str:
    return text.encode("utf-8", "replace").decode("utf-8")


def _field(sent: Any, name: str, kind: type[Any], other: Any) -> Any:
    held = sent.get(name) if isinstance(sent, dict) else None
    return held if type(held) is kind else other


def _id(sent: Any) -> uuid.UUID | None:
    try:
        return uuid.UUID(_field(sent, "id", str, ""))
    except ValueError:
        return None


def _rev(sent: Any) -> int | None:
    held: int | None = _field(sent, "rev", int, None)
    return held if held is not None and abs(held) <= LARGE else None
