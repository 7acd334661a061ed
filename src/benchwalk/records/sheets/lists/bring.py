"""Bringing a list in: which kind it is, what it says, what is asked, then all of it or nothing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from sqlalchemy import Engine

from benchwalk.records.database import session, writing
from benchwalk.records.ledger import Ledgered
from benchwalk.records.operations import Operation
from benchwalk.records.sheets.bring import NAME
from benchwalk.records.sheets.found import Question
from benchwalk.records.sheets.landing import keep_names, own_names
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
from benchwalk.records.sheets.lists.reading import read_list
from benchwalk.records.sheets.mappings import Kept
from benchwalk.records.sheets.page import Table
from benchwalk.records.sheets.rejects import write_left

COUNTS = "counts"
PLACE = ("row", "column")  # what tells a place of a list
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


@dataclass(frozen=True)
class ListFile:
    """A file taken for a kind of list, and what a person said of it.

    Parameters
    ----------
    table : the page that holds the list.
    answers : question id -> choice.
    kept : what columns of earlier lists were agreed to mean.
    """

    kind: Kind
    table: Table
    answers: Mapping[str, str]
    kept: Kept

    def without_records(self) -> BroughtList:
        """What the list says where there is no operation yet; local times are taken for UTC."""
        reading = self._read(self.answers, {}, dt.UTC)
        return BroughtList(reading, None, False, _unanswered(reading, None, self.answers))

    def look(self, engine: Engine, operation: int) -> BroughtList:
        """What the list says and what would become of it; nothing is recorded."""
        with session(engine, operation) as s:
            reading = self._read_for(s, self.answers)
            landed = plan(s, reading, self.answers).landed
        return BroughtList(reading, landed, False, _unanswered(reading, landed, self.answers))

    def bring(
        self, engine: Engine, operation: int, *, agree: Agree, rejects: Path, locale: str = "en"
    ) -> BroughtList:
        """Record the list in one transaction, once a person agrees to what is proposed.

        Where no row can be taken before a question is answered, nothing is recorded and nobody is
        asked to agree. Nobody is asked again about columns agreed to before.

        Parameters
        ----------
        agree : shown what would become of the list; True records it as proposed.
        rejects : where the rows that were not taken are written, when there are any.
        """
        seen = self.look(engine, operation)
        blocked = bool(seen.waiting) and not _takes_any(seen)
        settled = not seen.proposed and (bool(self.answers) or seen.reading.known)
        if blocked or not (settled or agree(seen)):
            return seen
        given = dict(self.answers) | {q.id: str(q.proposed) for q in seen.proposed}
        with writing(engine, operation) as s:
            reading = self._read_for(s, given) if seen.proposed else seen.reading
            landed = land(s, reading, given)
            names = {k.removeprefix(NAME): v for k, v in given.items() if k.startswith(NAME)}
            keep_names(s, names)
        self.kept.keep(_kept_as(self.kind, reading.headings), reading.mapping)
        left = (*reading.rejects, *landed.rejects)
        if left:
            rows = [(r, reading.rows[r.at.row - 1]) for r in sorted(left, key=lambda r: r.at)]
            write_left(rejects, reading.delimiter, PLACE, reading.headings, rows, locale)
        waiting = _unanswered(reading, landed, given)
        return BroughtList(reading, landed, True, waiting, rejects if left else None)

    def _read_for(self, s: Ledgered, given: Mapping[str, str]) -> ListReading:
        """The list read with the words and in the zone of an operation."""
        operation = s.get_one(Operation, s.info["operation_id"])
        return self._read(given, own_names(s), ZoneInfo(operation.zone))

    def _read(
        self, given: Mapping[str, str], own: Mapping[str, str], zone: dt.tzinfo
    ) -> ListReading:
        known = _agreed(self.table, self.kind, self.kept)
        return read_list(
            self.table, self.kind, zone=zone, answers=given, known=known, own_names=own
        )


def list_file(
    table: Table,
    said: str | None,
    *,
    answers: Mapping[str, str],
    kept: Kept,
    own_names: Mapping[str, str],
) -> ListFile | None:
    """A file as a list; None for a sheet of counts.

    Parameters
    ----------
    said : the kind that a person says it is; None lets the headings tell.

    Raises
    ------
    ListRefused
        if the headings fit several kinds.
    """
    if said == COUNTS:
        return None
    found = taken_as(table, said, kept, own_names)
    return None if found is None else ListFile(*found, answers, kept)


def taken_as(
    table: Table, said: str | None, kept: Kept, own_names: Mapping[str, str]
) -> tuple[Kind, Table] | None:
    """The kind of list that a table is, and the page of it; None for a sheet of counts.

    Where the headings fit several kinds, what was agreed for the same headings before holds.
    """
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


def _unanswered(
    reading: ListReading, landed: ListLanded | None, answers: Mapping[str, str]
) -> tuple[Question, ...]:
    asked = (*reading.asked, *(landed.asked if landed else ()))
    return tuple({q.id: q for q in asked if q.id not in answers}.values())


def _takes_any(seen: BroughtList) -> bool:
    return bool(seen.landed and (seen.landed.recorded or seen.landed.already_there))
