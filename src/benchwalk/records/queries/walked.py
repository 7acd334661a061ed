"""Which units a walk was to pass, what it says of each, and who walked."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Select, func, literal, select, union_all
from sqlalchemy.orm import Session

from benchwalk.records.joins import Units, as_planned, of, one_of, person_name
from benchwalk.records.operations import Device, Person
from benchwalk.records.seen import Route, Visit, Walk


@dataclass(frozen=True)
class Called:
    """One unit on one walk's route or one_of its visits: the scout's word, or none.

    Attributes
    ----------
    scout : the name, the pseudonym of somebody whose name was removed; None where nobody is said.
    device, heard_at, unsent : the phone that walked, when it was last heard of, and how many
        records it then still held; None where it never said.
    """

    walk_on: dt.date
    unit_id: uuid.UUID
    routed: bool
    state: str | None
    reason: str | None
    scout: str | None = None
    device: str | None = None
    heard_at: dt.datetime | None = None
    started_at: dt.datetime | None = None
    ended_at: dt.datetime | None = None
    fast: bool | None = None
    note: str | None = None
    unsent: int | None = None

    @property
    def minutes(self) -> float | None:
        """How long the visit took; None where its begin or end is not said."""
        if self.started_at is None or self.ended_at is None:
            return None
        return (self.ended_at - self.started_at) / dt.timedelta(minutes=1)


def called(
    session: Session, since: dt.date, until: dt.date, units: Units | None = None
) -> list[Called]:
    """Every unit that a walk was to pass or did pass. No visit: no word."""
    planned = _walks(Route.unit_id, routed=True).join(Route, of(Walk, Route, "walk_id"))
    planned = planned.outerjoin(Visit, as_planned())
    unplanned = _walks(Visit.unit_id, routed=False).join(Visit, of(Walk, Visit, "walk_id"))
    unplanned = unplanned.outerjoin(Route, as_planned()).where(Route.unit_id.is_(None))
    found = union_all(
        *(
            _by_whom(query).where(Walk.walk_on.between(since, until), one_of(unit, units))
            for query, unit in ((planned, Route.unit_id), (unplanned, Visit.unit_id))
        )
    )
    return [Called(*row) for row in session.execute(found)]


def _walks(unit: Any, *, routed: bool) -> Any:
    return select(
        Walk.walk_on,
        unit,
        literal(routed),
        Visit.state,
        Visit.reason,
        person_name(Person),
        Device.label,
        Device.last_heard_at,
        Visit.started_at,
        Visit.ended_at,
        Visit.fast,
        Visit.note,
        Device.unsent,
    ).select_from(Walk)


def _by_whom(query: Any) -> Any:
    scout = of(Person, Walk, "scout_id")
    device = of(Device, Walk, "device_id")
    return query.outerjoin(Person, scout).outerjoin(Device, device)


def last_walk_on(session: Session) -> dt.date | None:
    """Day of the newest walk with a visit; None when nobody has walked yet."""
    return session.scalar(newest_walk())


def newest_walk() -> Select[dt.date]:
    """The question for the day of the newest walk with a visit."""
    return select(func.max(Walk.walk_on)).join(Visit, of(Walk, Visit, "walk_id"))
