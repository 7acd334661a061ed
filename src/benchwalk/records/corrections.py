"""Correcting what was said and taking it back: a new rev, by whom and why."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeVar

from sqlalchemy import select
from sqlalchemy.exc import DataError, IntegrityError

from benchwalk.catalogue import Refusal, say
from benchwalk.records.base import Base, Record
from benchwalk.records.ledger import Ledgered
from benchwalk.records.operations import Ledger
from benchwalk.records.refused import sentence_of, words_of
from benchwalk.records.seen import Observation, Tally
from benchwalk.records.sync.reading import LARGE, SMALL

R = TypeVar("R", bound=Record)
LONGEST = 500  # of a reason, own choice [characters]


class CorrectionRefusedError(Refusal):
    """A correction or a void that would not say why, or that others overtook."""


@dataclass(frozen=True)
class Corrected:
    """What a look is to say from now on: numbers by tally, plants and place.

    `counts` has a key for each tally that stays: (method, taxon, stage).
    """

    counts: Mapping[tuple[str, str, str], int]
    plants: int | None
    position: str | None


def correct_look(
    s: Ledgered, look: uuid.UUID, rev: int, said: Corrected, reason: str, locale: str = "en"
) -> int:
    """Write the corrected look as a new rev; the rev it then has.

    The reason stands in the look's note, so that it is hashed with what it explains.

    Raises
    ------
    CorrectionRefusedError
        without a reason; where ``rev`` is no longer the newest; for counts below 0; for what no
        look can say, as that no plant was looked at.
    """
    why = _reason(reason)
    held = _held(s, Observation, look, rev)
    for examined in held.examined:
        for tally in examined.tallies:
            number = said.counts.get((tally.method, tally.taxon, tally.stage))
            if number is not None:
                _count(tally, number)
    held.plants = held.plants if held.kind == "reading" else _plants(said.plants)
    held.position = said.position
    note = say("page.correction_note", locale, reason=why)
    held.note = note if held.note is None else f"{held.note}; {note}"
    try:
        s.flush()
    except (IntegrityError, DataError) as refused:
        said_why = words_of(sentence_of(refused))
        raise CorrectionRefusedError("paper.refused", why=said_why) from refused
    return held.rev


def _plants(number: int | None) -> int | None:
    """How many plants were looked at together; None where it is not said."""
    if number is not None and not 0 < number <= SMALL:
        raise CorrectionRefusedError("refused.plants", given=number, most=SMALL)
    return number


def _count(tally: Tally, number: int) -> None:
    if not 0 <= number <= LARGE:
        raise CorrectionRefusedError("refused.count", given=number)
    if tally.how == "at_least" and number == 0:
        raise CorrectionRefusedError("refused.at_least_none")
    if tally.number is not None and number != tally.number:
        tally.number = number
        # how many plants had any was said of the count before it
        tally.infested = None


def void_record(s: Ledgered, record: uuid.UUID, rev: int, reason: str) -> None:
    """Take a record back: it counts no more, and stays to be read with its reason.

    Raises
    ------
    CorrectionRefusedError
        without a reason; where it is void already or ``rev`` is not the newest; where other
        records rest on it.
    """
    why = _reason(reason)
    kind = s.scalars(select(Ledger.kind).where(Ledger.id == record).limit(1)).one_or_none()
    model = MODELS.get(str(kind))
    if model is None:
        raise CorrectionRefusedError("refused.void_there")
    held = _held(s, model, record, rev)
    s.info["void_reason"] = why
    s.delete(held)
    try:
        s.flush()
    except IntegrityError as rests:
        raise CorrectionRefusedError("refused.held") from rests


def said_by(s: Ledgered, record: uuid.UUID) -> set[uuid.UUID]:
    """Everybody who said a rev of a record, or typed one."""
    found = s.execute(select(Ledger.by_id, Ledger.typed_by_id).where(Ledger.id == record))
    return {person for row in found for person in row if person is not None}


def _held(s: Ledgered, model: type[R], record: uuid.UUID, rev: int) -> R:
    held = s.get(model, (s.info["operation_id"], record))
    if held is None:
        raise CorrectionRefusedError("refused.void_there")
    if held.rev != rev:
        raise CorrectionRefusedError("refused.rev", given=rev, there=held.rev)
    return held


def _reason(text: str) -> str:
    reason = text.strip()[:LONGEST]
    if not reason:
        raise CorrectionRefusedError("refused.reason")
    return reason


MODELS: dict[str, type[Record]] = {
    str(mapper.class_.__tablename__): mapper.class_
    for mapper in Base.registry.mappers
    if issubclass(mapper.class_, Record)
}
