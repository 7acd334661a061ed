"""The week with what is ahead: a chance of being over beside each line, and who is *near*."""

from __future__ import annotations

import datetime as dt
import threading
from collections import Counter
from dataclasses import dataclass, field, replace

from sqlalchemy.orm import Session

from benchwalk.summarise.forecasts import Forecasts, forecasts
from benchwalk.summarise.gathered import Gathered
from benchwalk.summarise.uncollected import uncollected
from benchwalk.summarise.week import Line, Summary, UnitSummary, by_need, worst

#: states of a line that is under its threshold now, and may be over by the next walk
UNDER_NOW = ("under", "none")


def foreseen(session: Session, summary: Summary) -> Summary:
    """The same week, every line with where it is heading."""
    return with_ahead(summary, _forecasts(session, summary))


def _forecasts(session: Session, summary: Summary) -> Forecasts | None:
    return forecasts(session, summary.known, history=summary.history)


def with_ahead(summary: Summary, found: Forecasts | None) -> Summary:
    """A summary and its forecasts in one; a unit is *near* where a line of it is."""
    if found is None:
        return summary
    units = sorted((unit_with_ahead(unit, found) for unit in summary.units), key=by_need)
    counts = Counter(unit.state for unit in units)
    counts.update(not_looked=len(summary.not_looked))
    return replace(summary, units=tuple(units), counts=dict(counts), forecasts=found)


def unit_with_ahead(unit: UnitSummary, found: Forecasts) -> UnitSummary:
    """A unit and its forecasts in one: *near* where a line of it is."""
    lines = sorted((_line(line, found) for line in unit.lines), key=Line.by_need)
    return replace(unit, lines=tuple(lines), state=worst(lines, unit.apart))


def _line(line: Line, found: Forecasts) -> Line:
    ahead = found.of(line.series.key)
    if ahead is None:
        return line
    near = line.state in UNDER_NOW and ahead.near and not ahead.few
    return replace(line, ahead=ahead, state="near" if near else line.state)


@dataclass
class Kept:
    """The forecasts of the last ledger row and day asked for, so that a page waits for them once.

    Computed from the records, and computed anew as soon as anything was recorded.
    """

    _lock: threading.Lock = field(default_factory=threading.Lock)
    _of: tuple[int, int | None, dt.date] | None = None
    _found: Forecasts | None = None

    def held(self, session: Session, known: Gathered) -> Forecasts | None:
        """The forecasts of the same records and day, where a page asked for them; else None."""
        asked = (session.info["operation_id"], known.newest_seq, known.day)
        with self._lock:
            return self._found if self._of == asked else None

    def foreseen(self, session: Session, summary: Summary) -> Summary:
        """The same as :func:`foreseen`."""
        operation: int = session.info["operation_id"]
        asked = (operation, summary.known.newest_seq, summary.day)
        with self._lock:
            if self._of != asked:
                with uncollected():
                    self._found = _forecasts(session, summary)
                self._of = asked
            return with_ahead(summary, self._found)
