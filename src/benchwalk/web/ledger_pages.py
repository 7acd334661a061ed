"""What was said: corrections and voids, the history of a record, what waits for a person."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form, Query
from sqlalchemy import select
from starlette.responses import Response

from benchwalk.catalogue import Refusal
from benchwalk.records import Observation, Person, queries
from benchwalk.records.corrections import Corrected, correct_look, said_by, void_record
from benchwalk.records.ledger import Ledgered
from benchwalk.records.queries.aside import unsettled
from benchwalk.records.queries.looks import changed, history
from benchwalk.report.ledger_words import aside_words, change_words, history_words, kind_words
from benchwalk.web.base import InScope, Missing, Scope, page, see

router = APIRouter()
# no database keeps the sign of number 0
Text = Annotated[str, Form(max_length=500, pattern=r"^[^\x00]*$")]
Several = Annotated[list[str], Form(max_length=60)]
MAY_CHANGE_ALL = ("grower", "manager")
A_PAGE = 100  # rows of the list of changes; own choice


@router.get("/ledger")
def ledger(scope: InScope, before: Annotated[int | None, Query(ge=1)] = None) -> Response:
    """Corrections and voids, the newest first, and what was received and not taken."""
    zone, locale = scope.served.zone, scope.locale
    rows = [change_words(said, zone, locale) for said in changed(scope.session, before, A_PAGE)]
    return page(
        scope,
        "ledger.html",
        rows=rows,
        older=rows[-1].seq if len(rows) == A_PAGE else None,
        aside=[aside_words(row, zone, locale) for row in unsettled(scope.session)],
    )


@router.get("/ledger/{record}")
def record(scope: InScope, record: uuid.UUID) -> Response:
    """Every rev of a record; with the forms to change it, for those who may."""
    return _record(scope, record)


def _record(scope: Scope, record: uuid.UUID, fault: Refusal | None = None) -> Response:
    said = history(scope.session, record)
    if not said:
        raise Missing
    words = names_of(scope.session, scope.locale)
    alive = said[-1].void_reason is None
    may = alive and _may_change(scope, record)
    look = scope.session.get(Observation, (scope.operation, record)) if may else None
    return page(
        scope,
        "record.html",
        status=400 if fault else 200,
        id=str(record),
        rev=said[-1].rev,
        kind=kind_words(said[0].kind, scope.locale),
        history=history_words(said, scope.served.zone, words, scope.locale),
        may=may,
        look=look,
        counts=list(_counts(look, words)),
        fault=fault.said(scope.locale) if fault else "",
    )


@dataclass(frozen=True)
class Count:
    """A tally that can be corrected."""

    key: str
    label: str
    number: int


def _counts(look: Observation | None, words: dict[str, str]) -> Iterator[Count]:
    """Tallies with a number; what was only seen or has a mean is no count to be mended here."""
    for examined in [] if look is None else look.examined:
        for tally in examined.tallies:
            if tally.number is not None:
                codes = (tally.method, tally.taxon, tally.stage)
                label = ", ".join(words.get(code, code) for code in (codes[1], codes[2], codes[0]))
                yield Count("|".join(codes), label, tally.number)


def names_of(s: Ledgered, locale: str) -> dict[str, str]:
    """Words for the codes and ids that a record holds."""
    words = queries.vocabulary(s)
    terms = [*words.taxa.values(), *words.stages.values(), *words.methods.values()]
    named = {t.code: str(t.names.get(locale, t.names.get("en", t.code))) for t in terms}
    named |= {c.code: str(c.names.get(locale, c.code)) for c in words.crops.values()}
    named |= {str(u.id): u.full_name for u in queries.ground(s).units}
    people = s.execute(select(Person.id, Person.name, Person.pseudonym))
    return named | {str(row.id): row.name or row.pseudonym for row in people}


def _may_change(scope: Scope, record: uuid.UUID) -> bool:
    """Growers and managers change any record, a scout what they said themselves."""
    if scope.role in MAY_CHANGE_ALL:
        return True
    return scope.role == "scout" and scope.person.person in said_by(scope.session, record)


def _allowed(scope: Scope, record: uuid.UUID) -> None:
    if not history(scope.session, record):
        raise Missing
    if not _may_change(scope, record):
        raise Refusal("refused.not_yours")


@router.post("/ledger/{record}/correct")
def correct(
    scope: InScope,
    record: uuid.UUID,
    rev: Annotated[int, Form(ge=1)],
    reason: Text = "",
    tally: Several | None = None,
    number: Several | None = None,
    plants: Text = "",
    position: Text = "",
) -> Response:
    """Write a corrected look as a new rev."""
    _allowed(scope, record)
    try:
        counts = _corrected(tally or [], number or [])
        said = Corrected(counts, _whole(plants) if plants else None, position.strip() or None)
        with scope.writing() as s:
            correct_look(s, record, rev, said, reason, scope.locale)
    except Refusal as fault:
        return _record(scope, record, fault)
    return see(f"/ledger/{record}")


def _corrected(keys: list[str], numbers: list[str]) -> dict[tuple[str, str, str], int]:
    """The number of each tally; a form that does not pair them is none of this server's."""
    if len(keys) != len(numbers) or any(key.count("|") != 2 for key in keys):
        raise Refusal("web.fields", fields="tally, number")
    return {_key(key): _whole(text) for key, text in zip(keys, numbers, strict=True)}


def _key(text: str) -> tuple[str, str, str]:
    method, taxon, stage = text.split("|")
    return method, taxon, stage


def _whole(text: str) -> int:
    """A count as it was typed: digits, nothing else."""
    if not text.strip().isascii() or not text.strip().isdecimal():
        raise Refusal("refused.count", given=text[:20])
    return int(text)


@router.post("/ledger/{record}/void")
def void(
    scope: InScope, record: uuid.UUID, rev: Annotated[int, Form(ge=1)], reason: Text = ""
) -> Response:
    """Take a record back."""
    _allowed(scope, record)
    try:
        with scope.writing() as s:
            void_record(s, record, rev, reason)
    except Refusal as fault:
        return _record(scope, record, fault)
    return see(f"/ledger/{record}")
