"""Bringing a sheet in: read it, ask what only a person knows, then record all of it or nothing."""

from __future__ import annotations

import gc
import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Engine

from benchwalk.catalogue import Refusal
from benchwalk.records.database import session, writing
from benchwalk.records.sheets.landing import Landed, keep_names, land, own_names
from benchwalk.records.sheets.mappings import Kept
from benchwalk.records.sheets.page import Table
from benchwalk.records.sheets.reading import Progress, Question, Reading, read_rows
from benchwalk.records.sheets.rejects import rejects_csv

NAME = "name:"
Agree = Callable[[Reading, tuple[Question, ...]], bool]


class AnswersNotUnderstoodError(Refusal):
    """The file of answers is not one JSON object of texts."""


@dataclass(frozen=True)
class Brought:
    """What became of a sheet. `landed` is None when nobody agreed, and then nothing is recorded."""

    reading: Reading
    landed: Landed | None
    waiting: tuple[Question, ...]
    rejects: Path | None


def words_of(engine: Engine, operation: int) -> dict[str, str]:
    """The operation's own words for pests and enemies: word -> taxon."""
    with session(engine, operation) as s:
        return own_names(s)


def read_only(
    table: Table,
    answers: Mapping[str, str],
    kept: Kept,
    own: Mapping[str, str],
    progress: Progress | None = None,
) -> Reading:
    """What a sheet says, by the columns and units agreed to before where they are known."""
    answers = kept.units() | dict(answers)
    with _no_cycles():
        first = read_rows(table, answers=answers, own_names=own, progress=progress)
        known = kept.of(first.headings)
        if known is None or known == first.mapping:
            return first
        del first  # two readings of a long sheet are not held at a time
        return read_rows(table, answers=answers, own_names=own, mapping=known, progress=progress)


@contextmanager
def _no_cycles() -> Iterator[None]:
    """Without the search for cycles, which walks all of a long sheet and finds none."""
    searching = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if searching:
            gc.enable()


def waiting(reading: Reading, answers: Mapping[str, str]) -> tuple[Question, ...]:
    """Questions with a proposal that nobody has agreed to or refused yet."""
    return tuple(q for q in reading.asked if q.proposed is not None and q.id not in answers)


def bring(
    engine: Engine,
    operation: int,
    table: Table,
    *,
    answers: Mapping[str, str],
    kept: Kept,
    agree: Agree,
    rejects: Path,
    locale: str = "en",
    progress: Progress | None = None,
) -> Brought:
    """Read a sheet and record it in one transaction, once a person agrees to what is proposed.

    Parameters
    ----------
    agree : shown the reading and the open proposals; True records them as proposed. Nobody is
        asked again about columns agreed to before, or when answers leave nothing open.
    rejects : where the rows that were not taken are written, when there are any.
    locale : the language of what is written there.
    progress : told now and then how many rows of how many are read.

    Raises
    ------
    SheetRefused, LandingRefusedError
        and nothing is recorded.
    """
    own = words_of(engine, operation)
    reading = read_only(table, answers, kept, own, progress)
    told = kept.units() | dict(answers)
    open_ = waiting(reading, told)
    settled = not open_ and (bool(answers) or kept.of(reading.headings) is not None)
    if not settled and not agree(reading, open_):
        return Brought(reading, None, open_, None)
    given = told | {q.id: str(q.proposed) for q in open_}
    if open_:
        mapping = reading.mapping
        del reading
        with _no_cycles():
            reading = read_rows(table, answers=given, mapping=mapping, own_names=own)
    with _no_cycles(), writing(engine, operation) as s:
        landed = land(s, reading)
        keep_names(s, {k.removeprefix(NAME): v for k, v in given.items() if k.startswith(NAME)})
    kept.keep(reading.headings, reading.mapping)
    kept.keep_units(given)
    if reading.rejects:
        rejects_csv(reading, rejects, locale)
    return Brought(reading, landed, (), rejects if reading.rejects else None)


def answers_from(path: Path | None) -> dict[str, str]:
    """Answers a person wrote down: a JSON object of question id and choice.

    Raises
    ------
    AnswersNotUnderstoodError
        if the file is not one JSON object of texts.
    """
    if path is None:
        return {}
    try:
        given = json.loads(path.read_text(encoding="utf-8"))
    except ValueError as broken:
        raise AnswersNotUnderstoodError("refused.answers", path=path, fault=broken) from broken
    if not isinstance(given, dict) or not all(isinstance(v, str) for v in given.values()):
        kind = type(given).__name__
        raise AnswersNotUnderstoodError("refused.answers", path=path, fault=kind)
    return given
