"""Counts of a season, kept by walk and card: after a write only what it touched is read again."""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from itertools import chain
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from benchwalk.records import queries
from benchwalk.summarise.gathered import Counts, Gathered, gather_around
from benchwalk.summarise.series import History, Keys, Series, cards_of, plants_of

EVER = dt.date.max
#: rows of the ledger that are gone through one by one; after more, all is read again (own choice)
MOST = 5_000
#: a change to one of these may change any count; what else counts rest on is found by its ids
ANY_COUNT = frozenset({"method", "station"})
BY_ID = frozenset({"walk", "observation", "card"})
WORDS = frozenset({"taxon", "stage", "method", "crop"})
#: records of these change no count; what they do change is read each time
NO_COUNT = frozenset(
    {
        *("taxon", "stage", "crop"),
        *("air_space", "house", "fixture", "unit"),
        *("planting", "movement", "threshold", "target"),
        *("visit", "flag", "sighting", "identification", "application"),
        *("climate_log", "refit"),
    }
)


@dataclass
class _Walked:
    """What one walk counted on plants."""

    on: dt.date
    rounds: list[queries.Round] = field(default_factory=list)
    efforts: list[queries.Effort] = field(default_factory=list)


class Season:
    """The counts of an operation since a day, as they stood at a row of its ledger."""

    def __init__(self, session: Session, ground: queries.Ground, since: dt.date) -> None:
        self.operation: int = session.info["operation_id"]
        self.zone, self.since, self.seq = ground.zone, since, ground.newest_seq
        self._walks: dict[uuid.UUID, _Walked] = {}
        self._cards: dict[uuid.UUID, list[queries.Caught]] = {}
        self._plants: dict[dt.date, list[Series]] = {}
        self._keys: Keys = {}
        self._words = queries.vocabulary(session)
        self._read_walks(session, None)
        self._read_cards(session, None)
        self._found = queries.first_found(session, EVER)

    def follow(self, session: Session, ground: queries.Ground, since: dt.date) -> bool:
        """Bring the counts up to the ledger's newest row; False: read a new season instead."""
        here = self.operation == session.info["operation_id"] and self.zone == ground.zone
        if not here or since < self.since or self.seq is None or ground.newest_seq is None:
            return False
        if not 0 <= ground.newest_seq - self.seq <= MOST:
            return False
        if ground.newest_seq > self.seq and not self._take_up(session):
            return False
        self.seq = ground.newest_seq
        self._let_go(since)
        return True

    def _take_up(self, session: Session) -> bool:
        assert self.seq is not None
        said = queries.touched(session, self.seq)
        if said.kinds & ANY_COUNT or said.kinds - BY_ID - NO_COUNT:
            return False
        if said.kinds & WORDS:
            self._words = queries.vocabulary(session)
        if said.walks:
            self._read_walks(session, said.walks)
            self._find(session, said)
        cards = said.cards | set(self._cards_of(said.moved))
        if cards:
            self._read_cards(session, cards)
        return True

    def _read_walks(self, session: Session, walks: Collection[uuid.UUID] | None) -> None:
        again = self._walks if walks is None else walks
        before = [self._walks.pop(walk) for walk in list(again) if walk in self._walks]
        for r in queries.rounds(session, self.since, EVER, walks=walks):
            self._walked(r.walk_id, r.walk_on).rounds.append(r)
        for e in queries.efforts(session, self.since, EVER, walks=walks):
            self._walked(e.walk_id, e.walk_on).efforts.append(e)
        after = [self._walks[walk] for walk in again if walk in self._walks]
        for day in {walked.on for walked in (*before, *after)}:
            self._plants.pop(day, None)

    def _walked(self, walk: uuid.UUID, on: dt.date) -> _Walked:
        if walk not in self._walks:
            self._walks[walk] = _Walked(on)
        return self._walks[walk]

    def _find(self, session: Session, said: queries.Touched) -> None:
        """A new find can only be earlier; where one was taken back, the next is looked for."""
        if said.taken_back:
            self._found = queries.first_found(session, EVER)
            return
        new = queries.first_found(session, EVER, said.walks)
        self._found = self._found | {
            what: min(on, self._found.get(what, on)) for what, on in new.items()
        }

    def _read_cards(self, session: Session, cards: Collection[uuid.UUID] | None) -> None:
        for card in list(self._cards if cards is None else cards):
            self._cards.pop(card, None)
        zone = ZoneInfo(self.zone)
        for caught in queries.catches(session, self.since, EVER, zone, cards=cards):
            self._cards.setdefault(caught.card_id, []).append(caught)

    def _cards_of(self, walks: Collection[uuid.UUID]) -> Iterator[uuid.UUID]:
        """Cards that were read on some walks."""
        if walks:
            yield from (
                card for card, held in self._cards.items() if any(c.walk_id in walks for c in held)
            )

    def _let_go(self, since: dt.date) -> None:
        """Forget what was counted before a day."""
        if since == self.since:
            return
        self.since = since
        self._walks = {walk: held for walk, held in self._walks.items() if held.on >= since}
        self._plants = {on: held for on, held in self._plants.items() if on >= since}
        kept = (
            (card, [c for c in held if c.walk_on >= since]) for card, held in self._cards.items()
        )
        self._cards = {card: held for card, held in kept if held}

    def gathered(
        self, session: Session, ground: queries.Ground, day: dt.date, days: int
    ) -> tuple[Gathered, History]:
        """What a summary of the ``days`` up to and with ``day`` needs, and its series.

        The same as :func:`benchwalk.summarise.gathered.gather` of a day whose year is kept.
        """
        walked = [walked for walked in self._walks.values() if walked.on <= day]
        read = [c for held in self._cards.values() for c in held]
        catches = [c for c in read if c.walk_on <= day]
        later = len(walked) < len(self._walks) or len(catches) < len(read)
        counts = Counts(
            list(chain.from_iterable(w.rounds for w in walked)),
            list(chain.from_iterable(w.efforts for w in walked)),
            catches,
            queries.first_found(session, day) if later else self._found,
        )
        known = gather_around(session, ground, day, days, counts, self._words)
        return known, History(chain(self._series(walked), cards_of(known.methods, catches)))

    def _series(self, walked: list[_Walked]) -> Iterator[Series]:
        """Series of looks at plants; those of a day are made again once something touches it."""
        days: dict[dt.date, list[_Walked]] = defaultdict(list)
        for one in walked:
            days[one.on].append(one)
        for on, walks in sorted(days.items()):
            if on not in self._plants:
                rounds = chain.from_iterable(w.rounds for w in walks)
                efforts = chain.from_iterable(w.efforts for w in walks)
                made = plants_of(self._words.methods, rounds, efforts, self._keys)
                self._plants[on] = list(made)
            yield from self._plants[on]
