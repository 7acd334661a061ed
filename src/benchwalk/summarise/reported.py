"""The week as a report shows it: the summary, trends of what is over, flags, records voided."""

from __future__ import annotations

import datetime as dt
import json
import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session

from benchwalk.records import Ledger, Operation, chain, queries
from benchwalk.summarise.foreseen import foreseen
from benchwalk.summarise.trend import Marked, Trend, marked, trend_of
from benchwalk.summarise.week import Line, Summary, UnitSummary, summarise

CLEARED = "cleared"
EVER = dt.datetime(1900, 1, 1, tzinfo=dt.UTC)  # before every record


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
    """One week, ready to be rendered.

    Parameters
    ----------
    head : head of the ledger's chain when it was reported, as it stands on paper: kept outside,
        it shows later whether anything up to then was changed. None where nobody asked for it.
    """

    summary: Summary
    over: tuple[Over, ...]
    flags: tuple[FlagStanding, ...]
    voided: tuple[Voided, ...]
    head: str | None = None


def reported(session: Session, day: dt.date | None = None, days: int = 7) -> Reported | None:
    """The ``days`` up to and with ``day`` (by default the newest walk's day), to be reported.

    None when nobody has walked anything yet.
    """
    summary = summarise(session, day, days)
    if summary is None:
        return None
    summary = foreseen(session, summary)
    zone = summary.known.clock
    held = queries.happened(session, EVER, _end(summary.day, zone))
    return Reported(
        summary,
        tuple(_over(summary, marked(held, zone))),
        tuple(_standing(held, zone)),
        *_ledger(session, summary),
    )


def _over(summary: Summary, done: Sequence[Marked]) -> Iterator[Over]:
    """One trend a line over its threshold, units by need."""
    known = summary.known
    over = [(unit, line) for unit in summary.units for line in unit.lines if line.state == "over"]
    for unit, line in over:
        found = trend_of(known, line.series.key, summary.history, done)
        if found is not None:
            yield Over(unit, line, found)


def flags_standing(session: Session, day: dt.date) -> Iterator[FlagStanding]:
    """Flags set by the day and not cleared by then, in order of their units and reasons."""
    operation = session.get_one(Operation, session.info["operation_id"])
    zone = ZoneInfo(operation.zone)
    yield from _standing(queries.happened(session, EVER, _end(day, zone)), zone)


def _end(day: dt.date, zone: ZoneInfo) -> dt.datetime:
    return dt.datetime.combine(day + dt.timedelta(days=1), dt.time(), zone)


def _standing(held: queries.Happened, zone: ZoneInfo) -> Iterator[FlagStanding]:
    """Each flag with its newest mark; one that others cleared stands no more."""
    newest = {m.id: m for m in held.markings}
    for m in sorted(newest.values(), key=_place_of):
        on = None if m.at is None else m.at.astimezone(zone).date()
        if m.mark != CLEARED:
            yield FlagStanding(m.unit_id, m.colour, m.reason, m.position, m.mark, on)


def _place_of(m: queries.Marking) -> tuple[object, ...]:
    return m.unit_id, m.reason, m.position is not None, m.position, m.id


def _ledger(session: Session, summary: Summary) -> tuple[tuple[Voided, ...], str]:
    """What was taken back within the summary's days, and the head of the chain on paper."""
    newest = select(func.max(Ledger.seq)).scalar_subquery()
    found = (
        select(Ledger, Operation.uid)
        .join(Operation, Operation.id == Ledger.operation_id)
        .where(or_(Ledger.void_reason.is_not(None), Ledger.seq == newest))
        .order_by(Ledger.seq)
    )
    rows = session.execute(found).all()
    held = [one for row, _ in rows for one in _voided(row, summary)]
    last, uid = rows[-1]  # a summary rests on records, so something was said
    return tuple(held), chain.Head(uid, last.seq, last.digest.hex()).on_paper


def _voided(row: Ledger, summary: Summary) -> Iterator[Voided]:
    """A void by its day in the operation's own zone, where that is one of the summary's."""
    on = row.seen_at.astimezone(summary.known.clock).date()
    if row.void_reason is not None and summary.since <= on <= summary.day:
        unit = json.loads(row.body).get("unit_id")
        yield Voided(row.kind, row.void_reason, on, None if unit is None else uuid.UUID(unit))
