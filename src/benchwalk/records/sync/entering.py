"""Whether a unit may be entered, as far as the records know. The posted sign decides."""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import and_, func, or_, select
from sqlalchemy.orm import Session

from benchwalk.records.joins import of
from benchwalk.records.places import House, Unit
from benchwalk.records.plants import Movement, Planting
from benchwalk.records.seen import Visit, Walk
from benchwalk.records.treated import Application, Load, Treated

SHUTTING = ("spray", "drench", "fog")
WHOLE_SPACE = "fog"  # a fog is everywhere in the air it was made in
FORGOTTEN = dt.timedelta(hours=24)  # own choice: a load begun longer ago was ended unsaid
NOTICED = dt.timedelta(hours=48)  # own choice: the longest that is usual between two rounds' eves
SIGNS = ("sign", "closed")
ByUnit = Mapping[uuid.UUID, list[dict[str, Any]]]


@dataclass(frozen=True)
class Entering:
    """By unit: when nobody enters, and what does not shut it by itself but is to be known."""

    closures: ByUnit
    notices: ByUnit


def entering(session: Session, now: dt.datetime, zone: ZoneInfo) -> Entering:
    """Closures and notices as the records know them at an instant."""
    closures: dict[uuid.UUID, list[dict[str, Any]]] = defaultdict(list)
    notices: dict[uuid.UUID, list[dict[str, Any]]] = defaultdict(list)
    for unit, kind, what, started, ended in _loads(session, now):
        if ended is None:
            closures[unit].append(_shut(started, "running"))
        else:
            notices[unit].append(
                {"why": "treated", "at": ended.isoformat(), "kind": kind, "what": what}
            )
    for unit, midnight in _ends(session, now, zone):
        closures[unit].append(_shut(midnight, "closed"))
    for unit, at in _signs(session, now):
        notices[unit].append({"why": "sign", "at": at, "kind": None, "what": None})
    return Entering(closures, notices)


def _shut(since: dt.datetime, why: str) -> dict[str, Any]:
    return {"from": since.isoformat(), "until": None, "why": why}


def _ends(
    session: Session, now: dt.datetime, zone: ZoneInfo
) -> Iterable[tuple[uuid.UUID, dt.datetime]]:
    """Units that are to be no more, each with the midnight its last day ends at."""
    ends = select(Unit.id, Unit.closed_on).where(Unit.closed_on > now.astimezone(zone).date())
    for unit, on in session.execute(ends):
        if on is not None:
            yield unit, dt.datetime.combine(on, dt.time(), zone).astimezone(dt.UTC)


Loads = Iterable[tuple[uuid.UUID, str, str, dt.datetime, dt.datetime | None]]


def _loads(session: Session, now: dt.datetime) -> Loads:
    """Loads that run or ended lately, by each unit they bind."""
    recent = or_(
        and_(Load.ended_at.is_(None), Load.started_at > now - FORGOTTEN),
        Load.ended_at > now - NOTICED,
    )
    part = and_(
        Treated.operation_id == Load.operation_id,
        Treated.application_id == Load.application_id,
        Treated.n == Load.n,
    )
    found = session.execute(
        select(Treated.unit_id, Application.kind, Application.what, Load.started_at, Load.ended_at)
        .select_from(Load)
        .join(Treated, part)
        .join(Application, of(Application, Load, "application_id"))
        .where(
            recent,
            Load.started_at <= now,
            Load.precision == "minute",
            Application.kind.in_(SHUTTING),
        )
        .order_by(Load.started_at)
    ).all()
    spaces = _spaces(session) if any(row[1] == WHOLE_SPACE for row in found) else {}
    return dict.fromkeys(
        (unit, *row[1:])
        for row in found
        for unit in (spaces.get(row[0], (row[0],)) if row[1] == WHOLE_SPACE else (row[0],))
    )


def _spaces(session: Session) -> dict[uuid.UUID, list[uuid.UUID]]:
    """The units that share a unit's air, by unit."""
    rows = session.execute(
        select(House.air_space_id, Unit.id).join(House, of(House, Unit, "house_id"))
    ).all()
    shared: dict[uuid.UUID, list[uuid.UUID]] = defaultdict(list)
    for space, unit in rows:
        shared[space].append(unit)
    return {unit: shared[space] for space, unit in rows}


def _signs(session: Session, now: dt.datetime) -> Iterable[tuple[uuid.UUID, str]]:
    """Units of which the newest visit of the last days says that a sign was up."""
    newest = (
        select(
            Visit.unit_id,
            Visit.reason,
            func.coalesce(Visit.ended_at, Visit.started_at),
            Walk.walk_on,
        )
        .join(Walk, of(Walk, Visit, "walk_id"))
        .where(Walk.walk_on >= (now - NOTICED).date())
        .order_by(Walk.walk_on, Visit.id)
    )
    held = {
        unit: (reason, on if at is None else at) for unit, reason, at, on in session.execute(newest)
    }
    return [(unit, at.isoformat()) for unit, (reason, at) in held.items() if reason in SIGNS]


def arrived_since(
    session: Session, walked: Mapping[uuid.UUID, dt.date], since: dt.date
) -> set[uuid.UUID]:
    """Units that plants came or were moved into since they were last walked.

    Parameters
    ----------
    walked : the day of each unit's last walk; units without one are not asked about.
    since : movements before it are not read.
    """
    found = session.execute(
        select(Planting.unit_id, func.max(Movement.moved_on))
        .join(Movement, of(Planting, Movement, "to_id"))
        .where(Movement.kind != "space", Movement.moved_on >= since)
        .group_by(Planting.unit_id)
    )
    return {unit for unit, on in found if unit in walked and on >= walked[unit]}
