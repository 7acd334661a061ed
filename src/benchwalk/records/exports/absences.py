"""Where nobody looked, what nobody has heard of, and what was taken back: rows without a number."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator, Mapping
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import func, select
from sqlalchemy.orm import Session, aliased

from benchwalk.records.exports.count import (
    BLANK,
    NO_WORD,
    NOT_LOOKED,
    NOT_SENT,
    NOTHING_EXAMINED,
    VOID,
    Count,
)
from benchwalk.records.exports.moment import as_text, streamed
from benchwalk.records.joins import as_planned, of
from benchwalk.records.operations import Device, Ledger, Operation, Person
from benchwalk.records.seen import Observation, Route, Visit, Walk

SKIPPED = "skipped"
VOIDABLE = ("observation", "visit", "walk")
KEPT_OF_TALLY = ("taxon", "stage", "how", "infested", "rating")
KEPT_OF_LOOK = ("kind", "why", "position", "since", "counted")


def absences(session: Session) -> list[Count]:
    """Every place without a count, by day: at most a row for each visit, route line and void."""
    held = [*_not_looked(session), *_unheard(session), *_voided(session)]
    return sorted(held, key=lambda count: count.walk_on)


def _not_looked(session: Session) -> Iterator[Count]:
    """Visits that were skipped, with the scout's reason; and those without any look."""
    seen = (
        select(Observation.id)
        .where(
            Observation.operation_id == Visit.operation_id,
            Observation.walk_id == Visit.walk_id,
            Observation.unit_id == Visit.unit_id,
        )
        .exists()
    )
    query = (
        select(
            Walk.walk_on,
            as_text(Walk.id),
            as_text(Visit.unit_id),
            Visit.reason,
            Visit.state,
            Person.pseudonym,
        )
        .join(Visit, of(Walk, Visit, "walk_id"))
        .outerjoin(Person, of(Person, Walk, "scout_id"))
        .where(~seen)
    )
    for on, walk, unit, reason, state, scout in streamed(session, query):
        why = NOTHING_EXAMINED if reason is None or state != SKIPPED else reason
        yield _row(on, walk, unit, NOT_LOOKED, why, scout)


def _unheard(session: Session) -> Iterator[Count]:
    """Units that a walk was to pass and nobody has sent a word of.

    Not sent yet: the walk's phone has said since that it holds records that it could not send.
    """
    query = (
        select(
            Walk.walk_on,
            as_text(Walk.id),
            as_text(Route.unit_id),
            Person.pseudonym,
            Device.unsent,
            Device.last_heard_at,
        )
        .join(Route, of(Walk, Route, "walk_id"))
        .outerjoin(Visit, as_planned())
        .outerjoin(Person, of(Person, Walk, "scout_id"))
        .outerjoin(Device, of(Device, Walk, "device_id"))
        .where(Visit.id.is_(None))
    )
    zone = _zone(session)
    for on, walk, unit, scout, unsent, last in streamed(session, query):
        held = unsent is not None and unsent > 0 and last is not None
        since = held and last.astimezone(zone).date() >= on
        yield _row(on, walk, unit, NOT_SENT if since else NO_WORD, None, scout)


def _zone(session: Session) -> ZoneInfo:
    mine = select(Operation.zone).where(Operation.id == session.info["operation_id"])
    return ZoneInfo(session.execute(mine).scalar_one())


def _row(on: dt.date, walk: str, unit: str | None, looked: str, why: str | None, by: Any) -> Count:
    return BLANK._replace(
        walk_on=on, walk_id=walk, unit_id=unit, looked=looked, reason=why, scout=by
    )


def _voided(session: Session) -> Iterator[Count]:
    """Looks, visits and walks that somebody took back: what they had counted has no number."""
    newer = aliased(Ledger)
    newest = (
        select(func.max(newer.rev))
        .where(newer.operation_id == Ledger.operation_id, newer.id == Ledger.id)
        .correlate(Ledger)
        .scalar_subquery()
    )
    query = (
        select(Ledger.kind, as_text(Ledger.id), Ledger.void_reason, Ledger.seen_at, Ledger.body)
        .where(Ledger.void_reason.is_not(None), Ledger.kind.in_(VOIDABLE), Ledger.rev == newest)
        .order_by(Ledger.seq)
    )
    days = _days(session)
    zone = _zone(session)
    for kind, record, reason, seen_at, text in streamed(session, query):
        said = json.loads(text)
        walk = record if kind == "walk" else said["walk_id"]
        unit = said.get("unit_id")
        on = days.get(walk, seen_at.astimezone(zone).date())
        row = _row(on, walk, unit, VOID, reason, None)
        yield from _taken_back(row, record, said) if kind == "observation" else (row,)


def _days(session: Session) -> dict[str, dt.date]:
    """Day of every walk that was ever said, void ones too: of those it is in the ledger only."""
    days = {row[0]: row[1] for row in session.execute(select(as_text(Walk.id), Walk.walk_on))}
    void = select(as_text(Ledger.id), Ledger.body).where(
        Ledger.kind == "walk", Ledger.void_reason.is_not(None)
    )
    gone = ((i, json.loads(text)["walk_on"]) for i, text in session.execute(void))
    return {i: dt.date.fromisoformat(on) for i, on in gone} | days


def _taken_back(row: Count, record: str, said: Mapping[str, Any]) -> Iterator[Count]:
    """A row for each tally of a look; one for a look that held none."""
    look = row._replace(observation_id=record, card_state=said.get("state"))
    look = _with(look, said, KEPT_OF_LOOK)
    tallied = [
        _with(look, way | tally, ("method", *KEPT_OF_TALLY))
        for way in said.get("examined", ())
        for tally in way.get("tallies", ())
    ]
    yield from tallied if tallied else (look,)


def _with(row: Count, said: Mapping[str, Any], names: tuple[str, ...]) -> Count:
    kept: dict[str, Any] = {name: said.get(name) for name in names}
    return row._replace(**kept)
