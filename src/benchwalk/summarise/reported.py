"""The week as a report shows it: the summary, trends of what is over, flags, records voided."""

from __future__ import annotations

import datetime as dt
import json
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from sqlalchemy import and_, select
from sqlalchemy.orm import Session

from benchwalk.records import Flag, Ledger, Observation, Walk
from benchwalk.summarise.trend import Trend, trend
from benchwalk.summarise.week import Line, Summary, UnitSummary, summarise

CLEARED = "cleared"


@dataclass(frozen=True)
class Over:
    """A line over its threshold, and how it came there."""

    unit: UnitSummary
    line: Line
    trend: Trend


@dataclass(frozen=True)
class FlagStanding:
    """A flag at a plant that nobody cleared: its last mark ("set" or "confirmed") and its day.

    Both are None where no look ever named the flag.
    """

    unit_id: uuid.UUID
    colour: str
    reason: str
    position: str | None
    mark: str | None
    on: dt.date | None


@dataclass(frozen=True)
class Voided:
    """A record that somebody took back in the week, and why."""

    kind: str
    reason: str
    on: dt.date
    unit_id: uuid.UUID | None


@dataclass(frozen=True)
class Reported:
    """One week, ready to be rendered."""

    summary: Summary
    over: tuple[Over, ...]
    flags: tuple[FlagStanding, ...]
    voided: tuple[Voided, ...]


def reported(session: Session, day: dt.date | None = None, days: int = 7) -> Reported | None:
    """The ``days`` up to and with ``day`` (by default the newest walk's day), to be reported.

    None when nobody has walked anything yet.
    """
    summary = summarise(session, day, days)
    if summary is None:
        return None
    return Reported(
        summary,
        tuple(_over(session, summary)),
        tuple(flags_standing(session, summary.day)),
        tuple(voided(session, summary)),
    )


def _over(session: Session, summary: Summary) -> Iterator[Over]:
    """One trend a line over its threshold, units by need."""
    for unit in summary.units:
        for line in unit.lines:
            found = None
            if line.state == "over":
                found = trend(session, summary.known, line.series.key)
            if found is not None:
                yield Over(unit, line, found)


def flags_standing(session: Session, day: dt.date) -> Iterator[FlagStanding]:
    """Flags set by the day and not cleared by then, in order of their units and reasons."""
    marks = dict[uuid.UUID, list[tuple[dt.date, str]]]()
    found = (
        select(Observation.flag_id, Walk.walk_on, Observation.flag_mark)
        .join(
            Walk,
            and_(
                Walk.operation_id == Observation.operation_id,
                Walk.id == Observation.walk_id,
            ),
        )
        .where(Observation.flag_id.is_not(None))
        .order_by(Walk.walk_on, Observation.seen_at)
    )
    for flag, on, mark in session.execute(found):
        if flag is not None and mark is not None:
            marks.setdefault(flag, []).append((on, mark))
    order = (Flag.unit_id, Flag.reason, Flag.position, Flag.id)
    for held in session.scalars(select(Flag).order_by(*order)):
        standing = _standing(held, marks.get(held.id, []), day)
        if standing is not None:
            yield standing


def _standing(flag: Flag, marks: list[tuple[dt.date, str]], day: dt.date) -> FlagStanding | None:
    by_then = [mark for mark in marks if mark[0] <= day]
    if marks and (not by_then or by_then[-1][1] == CLEARED):
        return None
    on, mark = by_then[-1] if by_then else (None, None)
    return FlagStanding(flag.unit_id, flag.colour, flag.reason, flag.position, mark, on)


def voided(session: Session, summary: Summary) -> Iterator[Voided]:
    """Records taken back within the summary's days, by day of the operation's own zone."""
    found = (
        select(Ledger.kind, Ledger.void_reason, Ledger.seen_at, Ledger.body)
        .where(Ledger.void_reason.is_not(None))
        .order_by(Ledger.seq)
    )
    zone = ZoneInfo(summary.known.zone)
    for kind, reason, seen_at, body in session.execute(found):
        on = seen_at.astimezone(zone).date()
        if reason is not None and summary.since <= on <= summary.day:
            unit = json.loads(body).get("unit_id")
            yield Voided(kind, reason, on, None if unit is None else uuid.UUID(unit))
