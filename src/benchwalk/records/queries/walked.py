"""Which units a walk was to pass, and what it says of each."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass

from sqlalchemy import and_, func, literal, select, union_all
from sqlalchemy.orm import Session

from benchwalk.records.queries.joins import of
from benchwalk.records.seen import Route, Visit, Walk


@dataclass(frozen=True)
class Called:
    """One unit on one walk's route or among its visits: the scout's word, or none."""

    walk_on: dt.date
    unit_id: uuid.UUID
    routed: bool
    state: str | None
    reason: str | None


def called(session: Session, since: dt.date, until: dt.date) -> list[Called]:
    """Every unit that a walk was to pass or did pass. No visit: no word."""
    planned = (
        select(Walk.walk_on, Route.unit_id, literal(True), Visit.state, Visit.reason)
        .select_from(Walk)
        .join(Route, of(Walk, Route, "walk_id"))
        .outerjoin(
            Visit,
            and_(
                Visit.operation_id == Route.operation_id,
                Visit.walk_id == Route.walk_id,
                Visit.unit_id == Route.unit_id,
            ),
        )
        .where(Walk.walk_on.between(since, until))
    )
    unplanned = (
        select(Walk.walk_on, Visit.unit_id, literal(False), Visit.state, Visit.reason)
        .select_from(Walk)
        .join(Visit, of(Walk, Visit, "walk_id"))
        .outerjoin(
            Route,
            and_(
                Route.operation_id == Visit.operation_id,
                Route.walk_id == Visit.walk_id,
                Route.unit_id == Visit.unit_id,
            ),
        )
        .where(Walk.walk_on.between(since, until), Route.unit_id.is_(None))
    )
    return [Called(*row) for row in session.execute(union_all(planned, unplanned))]


def last_walk_on(session: Session) -> dt.date | None:
    """Day of the newest walk with a visit; None when nobody has walked yet."""
    newest: dt.date | None = session.execute(
        select(func.max(Walk.walk_on)).join(Visit, of(Walk, Visit, "walk_id"))
    ).scalar()
    return newest
