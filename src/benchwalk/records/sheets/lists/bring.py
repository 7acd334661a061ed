"""Bringing a list in: which kind it is, what it says, what is asked, then all of it or nothing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from sqlalchemy import Engine

from benchwalk.records.database import session, writing
from benchwalk.records.operations import Operation
from benchwalk.records.sheets.bring import NAME, words_of
from benchwalk.records.sheets.found import Question
from benchwalk.records.sheets.landing import keep_names
from benchwalk.records.sheets.lists.found import (
    KINDS,
    Columns,
    Kind,
    ListLanded,
    ListReading,
    ListRefused,
)
from benchwalk.records.sheets.lists.landing import land, plan
from benchwalk.records.sheets.lists.layout import headings_of, page_of
from benchwalk.records.sheets.lists.left import left_csv
from benchwalk.records.sheets.lists.reading import read_list
from benchwalk.records.sheets.mappings import Kept
from benchwalk.records.sheets.page import Table

COUNTS = "counts"
Agree = Callable[["BroughtList"], bool]


@dataclass(frozen=True)
class BroughtList:
    """What a list says, and what became of it.

    Parameters
    ----------
    landed : what it does to the records; None where there are none to meet.
    recorded : whether it was written.
    waiting : questions that only a person can answer, and nobody has.
    rejects : the file of what was not taken; None where all was, or nothing was written.
    """

    reading: ListReading
    landed: ListLanded | None
    recorded: bool
    waiting: tuple[Question, ...]
    rejects: Path | None = None

    @property
    def proposed(self) -> tuple[Question, ...]:
        """The questions that have a proposal, which one yes agrees to."""
        return tuple(q for q in self.waiting if q.proposed is not None)


def taken_as(
    table: Table, said: str | None, kept: Kept, own_names: Mapping[str, str]
) -> tuple[Kind, Table] | None:
    """The kind of list that a file is, and the page of it; None for a sheet of counts.

    Parameters
    ----------
    said : the kind that a person says it is; None lets the headings tell, and where they do not,
        what was agreed for the same headings before.

    Raises
    ------
    ListRefused
        if the headings fit several kinds.
    """
    if said == COUNTS:
        return None
    kind = next((kind for kind in KINDS if kind == said), None)
    try:
        return page_of(table, kind, own_names)
    except ListRefused:
        known = [kind for kind in KINDS if _agreed(table, kind, kept) is not None]
        if len(known) != 1:
            raise
        return known[0], table


def _agreed(table: Table, kind: Kind, kept: Kept) -> Columns | None:
    return kept.of(_kept_as(kind, headings_of(table, kind)))


def _kept_as(kind: Kind, headings: tuple[str, ...]) -> tuple[str, ...]:
    # a list and a sheet of counts may have the same headings, which mean other things there
    return (f"as:{kind}", *headings)


def read_only(
    table: Table,
    kind: Kind,
    answers: Mapping[str, str],
    kept: Kept,
    own_names: Mapping[str, str],
    zone: dt.tzinfo = dt.UTC,
) -> ListReading:
    """What a list says, by the columns agreed to before where its headings are known."""
    known = _agreed(table, kind, kept)
    return read_list(table, kind, zone=zone, answers=answers, known=known, own_names=own_names)


def without_records(
    table: Table, kind: Kind, *, answers: Mapping[str, str], kept: Kept
) -> BroughtList:
    """What a list says where there is no operation yet; local times are taken for UTC."""
    reading = read_only(table, kind, answers, kept, {})
    return BroughtList(reading, None, False, _unanswered(reading, None, answers))


def look(
    engine: Engine,
    operation: int,
    table: Table,
    kind: Kind,
    *,
    answers: Mapping[str, str],
    kept: Kept,
) -> BroughtList:
    """What a list says and what would become of it; nothing is recorded."""
    own = words_of(engine, operation)
    with session(engine, operation) as s:
        zone = ZoneInfo(s.get_one(Operation, operation).zone)
        reading = read_only(table, kind, answers, kept, own, zone)
        landed = plan(s, reading, answers).landed
    return BroughtList(reading, landed, False, _unanswered(reading, landed, answers))


def _unanswered(
    reading: ListReading, landed: ListLanded | None, answers: Mapping[str, str]
) -> tuple[Question, ...]:
    asked = (*reading.asked, *(landed.asked if landed else ()))
    return tuple({q.id: q for q in asked if q.id not in answers}.values())


def bring_list(
    engine: Engine,
    operation: int,
    table: Table,
    kind: Kind,
    *,
    answers: Mapping[str, str],
    kept: Kept,
    agree: Agree,
    rejects: Path,
    locale: str = "en",
) -> BroughtList:
    """Read a list and record it in one transaction, once a person agrees to what is proposed.

    Where no row can be taken before a question is answered, nothing is recorded and nobody is asked
    to agree. Nobody is asked again about columns agreed to before.

    Parameters
    ----------
    agree : shown what would become of the list; True records it as proposed.
    rejects : where the rows that were not taken are written, when there are any.
    """
    seen = look(engine, operation, table, kind, answers=answers, kept=kept)
    blocked = bool(seen.waiting) and not _takes_any(seen)
    settled = not seen.proposed and (bool(answers) or seen.reading.known)
    if blocked or not (settled or agree(seen)):
        return seen
    given = dict(answers) | {q.id: str(q.proposed) for q in seen.proposed}
    reading = seen.reading
    with writing(engine, operation) as s:
        if seen.proposed:
            zone = ZoneInfo(s.get_one(Operation, operation).zone)
            own = words_of(engine, operation)
            reading = read_only(table, kind, given, kept, own, zone)
        landed = land(s, reading, given)
        keep_names(s, {k.removeprefix(NAME): v for k, v in given.items() if k.startswith(NAME)})
    kept.keep(_kept_as(kind, reading.headings), reading.mapping)
    left = (*reading.rejects, *landed.rejects)
    if left:
        left_csv(reading, left, rejects, locale)
    waiting = _unanswered(reading, landed, given)
    return BroughtList(reading, landed, True, waiting, rejects if left else None)


def _takes_any(seen: BroughtList) -> bool:
    return bool(seen.landed and (seen.landed.recorded or seen.landed.already_there))
