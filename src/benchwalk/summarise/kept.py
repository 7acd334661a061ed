"""The week, kept until something is recorded: only its first reader waits for it."""

from __future__ import annotations

import datetime as dt
import threading
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from sqlalchemy.orm import Session

from benchwalk.records import queries
from benchwalk.summarise.gathered import LEARN_DAYS, Gathered, gather
from benchwalk.summarise.season import Season
from benchwalk.summarise.uncollected import uncollected
from benchwalk.summarise.week import Summary, not_looked, of_gathered

MOST = 2  # own choice: the newest week, and one that somebody turned back to


class _Of(NamedTuple):
    """What a summary rests on: with the newest row of the ledger, all records."""

    operation: int
    newest_seq: int | None
    zone: str
    day: dt.date
    days: int


@dataclass
class KeptWeeks:
    """Summaries of the last days asked for, made anew as soon as anything was recorded.

    Every record is in the ledger, so its newest row says whether one changed, whichever program
    wrote it, and the rows since the one before say which counts have to be read again. A summary
    made while somebody else records may know more than its row says, and is not asked for again:
    the next reader sees the newer row. What is in no ledger is read each time: the operation's
    name, who walked, and what their phones said last.
    """

    _lock: threading.Lock = field(default_factory=threading.Lock)
    _held: dict[_Of, Summary] = field(default_factory=dict)
    _season: Season | None = None

    def __call__(
        self, session: Session, day: dt.date | None = None, days: int = 7
    ) -> Summary | None:
        """The same as :func:`benchwalk.summarise.summarise`."""
        ground = queries.ground(session)
        day = day or ground.last_walk_on
        if day is None:
            return None
        of = _Of(session.info["operation_id"], ground.newest_seq, ground.zone, day, days)
        with self._lock:
            held = self._held.get(of)
            if held is None:
                with uncollected():
                    return self._keep(of, self._reckoned(session, ground, day, days))
            self._keep(of, held)
        return _as_said_now(session, held, ground)

    def _reckoned(
        self, session: Session, ground: queries.Ground, day: dt.date, days: int
    ) -> Summary:
        """From the season's counts; of a day before them from the records alone.

        While it is brought up to now the season is not held: where that fails half-way, the next
        reader reads one anew.
        """
        since = day - dt.timedelta(days=LEARN_DAYS)
        if day != ground.last_walk_on:
            return of_gathered(_let_go(session, gather(session, day, days, ground)))
        season, self._season = self._season, None
        if season is None or not season.follow(session, ground, since):
            season = Season(session, ground, since)
        self._season = season
        known, history = season.gathered(session, ground, day, days)
        return of_gathered(_let_go(session, known), history)

    def _keep(self, of: _Of, summary: Summary) -> Summary:
        """Put last, before it those of the same records; at most a few."""
        others = [(k, v) for k, v in self._held.items() if k != of and k[:2] == of[:2]]
        self._held = dict([*others, (of, summary)][-MOST:])
        return summary


def _let_go(session: Session, known: Gathered) -> Gathered:
    """Thresholds that outlive the session they were read in."""
    for threshold in known.thresholds:
        session.expunge(threshold)
    return known


def _as_said_now(session: Session, held: Summary, ground: queries.Ground) -> Summary:
    """A kept summary with what is in no ledger as it stands now."""
    known = replace(
        held.known,
        operation=ground.operation,
        practice=ground.practice,
        called=queries.called(session, held.since, held.day),
    )
    missing = tuple(not_looked(known, miss.unit, miss.last_on) for miss in held.not_looked)
    return replace(held, known=known, not_looked=missing)
