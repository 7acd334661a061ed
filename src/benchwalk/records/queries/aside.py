"""What was received and could not be taken, for a person to settle."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from benchwalk.records.operations import Aside

MOST = 500  # shown at once; own choice


def unsettled(session: Session) -> list[Aside]:
    """What still waits for a person, the oldest first."""
    return list(
        session.scalars(
            select(Aside).where(Aside.settled_at.is_(None)).order_by(Aside.n).limit(MOST)
        )
    )
