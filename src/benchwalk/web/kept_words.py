"""The words of a week, kept until something they rest on changes."""

from __future__ import annotations

import datetime as dt
import threading
from dataclasses import dataclass, field
from typing import NamedTuple

from benchwalk.records import queries
from benchwalk.report.row_words import PageWords
from benchwalk.summarise import Summary
from benchwalk.summarise.rows import Wanted

MOST = 6  # own choice: whole weeks in two languages, and a few houses


class Of(NamedTuple):
    """What words rest on: the records up to a row of the ledger, and what is in no ledger."""

    newest_seq: int | None
    operation: str
    zone: str
    practice: bool
    since: dt.date
    day: dt.date
    called: tuple[queries.Called, ...]
    wanted: Wanted
    locale: str


def of(summary: Summary, wanted: Wanted, locale: str) -> Of:
    """What the words of a summary rest on; the same reasons as those by which it was kept."""
    known = summary.known
    return Of(
        known.newest_seq,
        known.operation,
        known.zone,
        known.practice,
        summary.since,
        summary.day,
        tuple(known.called),
        wanted,
        locale,
    )


@dataclass
class KeptWords:
    """Words of the weeks that were read last, of one operation."""

    _lock: threading.Lock = field(default_factory=threading.Lock)
    _held: dict[Of, PageWords] = field(default_factory=dict)

    def held(self, rest: Of) -> PageWords | None:
        """The words that rest on just this, where somebody read them lately."""
        with self._lock:
            return self._held.get(rest)

    def keep(self, rest: Of, words: PageWords) -> PageWords:
        """Keep the words, for long enough; not of a summary that names no row of the ledger."""
        if rest.newest_seq is None:
            return words
        with self._lock:
            others = [(of, said) for of, said in self._held.items() if of != rest]
            self._held = dict([*others, (rest, words)][-MOST:])
        return words
