"""A sheet filled in by hand, keyed in: what each cell says, and the looks it becomes.

An empty cell is *not looked*: it writes nothing. 0 is *looked, none*. A part none of whose cells
says anything was not examined on that plant. What is keyed lands through the ledger as everything
does, seen by the scout and typed by whoever keyed it.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import re
import uuid
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from sqlalchemy import select
from sqlalchemy.exc import DataError, IntegrityError

from benchwalk.catalogue import Refusal
from benchwalk.records.base import uuid7_of
from benchwalk.records.ledger import Ledgered
from benchwalk.records.operations import Ledger
from benchwalk.records.refused import sentence_of, words_of
from benchwalk.records.seen import Examined, Observation, Tally, Visit
from benchwalk.records.sync.reading import SMALL

COUNTED = re.compile(r"[0-9]{1,5}")
AT_LEAST = re.compile(r">([0-9]{1,5})|([0-9]{1,5})\+")
PRESENT = ("x", "X")
MOST = 9999  # own choice: nobody counts more on a plant, and a slip of the key is longer
DONE, CUT_SHORT, SKIPPED = "done", "cut_short", "skipped"
STATES = (DONE, CUT_SHORT, SKIPPED)
Key = tuple[str, str, str]  # method, taxon, stage


class PaperRefusedError(Refusal):
    """The sheet says something that no record can, or was keyed before."""


@dataclass(frozen=True)
class Cell:
    """What a cell says: counted, at_least (with a number), or present (without)."""

    how: str
    number: int | None


@dataclass(frozen=True)
class Row:
    """One plant, or several that were looked at together."""

    plants: int
    cells: Mapping[Key, Cell]


@dataclass(frozen=True)
class Sheet:
    """One unit of one walk, as the paper has it.

    Attributes
    ----------
    id : of this filling-in: keying the same one twice is refused.
    items : leaves, flowers ... looked at on each plant, by method; methods that count whole plants
        have none.
    """

    id: uuid.UUID
    walk: uuid.UUID
    unit: uuid.UUID
    seen_by: uuid.UUID
    seen_at: dt.datetime
    state: str
    reason: str | None = None
    items: Mapping[str, int] = field(default_factory=dict)
    rows: Sequence[Row] = ()


def read_cell(text: str, where: str) -> Cell | None:
    """A cell as it was typed: a number, ``12+`` or ``>12`` for at least, ``x`` for there.

    None for an empty cell: nobody looked.

    Raises
    ------
    PaperRefusedError
        for anything else, and for "at least 0", which says nothing.
    """
    said = text.strip()
    if not said:
        return None
    if said in PRESENT:
        return Cell("present", None)
    if COUNTED.fullmatch(said) and int(said) <= MOST:
        return Cell("counted", int(said))
    more = AT_LEAST.fullmatch(said)
    if more is None or not 0 < int(more[1] or more[2]) <= MOST:
        raise PaperRefusedError("paper.cell", where=where, given=said[:20])
    return Cell("at_least", int(more[1] or more[2]))


def key_in(session: Ledgered, sheet: Sheet, typed_by: uuid.UUID) -> int:
    """Write the visit and the looks of a sheet; how many looks.

    The session is by whoever saw it. The visit is written where the walk has none of this unit.

    Raises
    ------
    PaperRefusedError
        where it was keyed before, says what no record can, or the records refuse it.
    """
    _refuse_nonsense(sheet)
    _refuse_twice(session, sheet)
    session.info |= {"typed_by_id": typed_by, "seen_at": sheet.seen_at}
    looks = list(_looks(sheet))
    try:
        _visit(session, sheet)
        session.flush()
        session.add_all(looks)
        session.flush()
    except (IntegrityError, DataError) as refused:
        raise PaperRefusedError("paper.refused", why=words_of(sentence_of(refused))) from refused
    return len(looks)


def _refuse_nonsense(sheet: Sheet) -> None:
    if sheet.state not in STATES:
        raise PaperRefusedError("paper.bad_state", given=sheet.state[:20])
    if (sheet.state == DONE) != (sheet.reason is None):
        key = "paper.needs_no_reason" if sheet.state == DONE else "paper.needs_reason"
        raise PaperRefusedError(key)
    if sheet.state == SKIPPED and sheet.rows:
        raise PaperRefusedError("paper.skipped_with_counts")
    if sheet.state == DONE and not sheet.rows:
        raise PaperRefusedError("paper.nothing")


def _refuse_twice(session: Ledgered, sheet: Sheet) -> None:
    """The first of its records is there: the sheet was sent twice."""
    ids = [_id(sheet, 0), _id(sheet, 1)]
    if session.scalars(select(Ledger.seq).where(Ledger.id.in_(ids)).limit(1)).first() is not None:
        raise PaperRefusedError("paper.twice")


def _id(sheet: Sheet, n: int) -> uuid.UUID:
    """0 its visit, from 1 its looks: the same of the same sheet, whatever else it says by now."""
    rest = hashlib.sha256(f"{sheet.id} {n}".encode()).digest()
    return uuid7_of(sheet.id.int >> 80, rest)


def _visit(session: Ledgered, sheet: Sheet) -> None:
    there = select(Visit).where(Visit.walk_id == sheet.walk, Visit.unit_id == sheet.unit)
    held = session.scalars(there).first()
    if held is None:
        said = {"walk_id": sheet.walk, "unit_id": sheet.unit}
        state = {"state": sheet.state, "reason": sheet.reason}
        session.add(Visit(id=_id(sheet, 0), **said, **state))
    elif held.state == SKIPPED or sheet.state == SKIPPED:
        # the scout's word stands until somebody corrects it: nobody looked, or somebody did
        raise PaperRefusedError("paper.visited", state=held.state)


def _looks(sheet: Sheet) -> Iterator[Observation]:
    for n, row in enumerate(sheet.rows, start=1):
        examined = list(_examined(sheet, row))
        if not examined:
            raise PaperRefusedError("paper.empty_row", n=n)
        yield Observation(
            id=_id(sheet, n),
            kind="look",
            walk_id=sheet.walk,
            unit_id=sheet.unit,
            seen_at=sheet.seen_at,
            why="sample",
            plants=row.plants,
            examined=examined,
        )


def _examined(sheet: Sheet, row: Row) -> Iterator[Examined]:
    """A line for each method that any of its cells speaks of."""
    for method in dict.fromkeys(key[0] for key in row.cells):
        items = sheet.items.get(method)
        tallies = [
            Tally(taxon=taxon, stage=stage, how=cell.how, number=cell.number)
            for (way, taxon, stage), cell in row.cells.items()
            if way == method
        ]
        total = None if items is None else items * row.plants
        if total is not None and total > SMALL:
            raise PaperRefusedError("paper.items", given=total)
        yield Examined(method=method, items=total, tallies=tallies)
