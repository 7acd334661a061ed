"""What was said: corrections and voids, the history of a record, what waits for a person."""

from __future__ import annotations

import datetime as dt
import json
import uuid
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Annotated, Literal
from urllib.parse import urlencode

from fastapi import APIRouter, Form, Query
from sqlalchemy import select
from starlette.responses import Response

from benchwalk.catalogue import Refusal
from benchwalk.records import Observation, Person, Tally, queries
from benchwalk.records.corrections import Corrected, correct_look, said_by, void_record
from benchwalk.records.ledger import Ledgered
from benchwalk.records.queries.aside import unsettled
from benchwalk.records.queries.changes import Asked, asking, changes
from benchwalk.records.queries.looks import history
from benchwalk.records.queries.named import Named, ids_in, named
from benchwalk.records.sync.settling import all_waiting
from benchwalk.report.conflict_words import Words
from benchwalk.report.figures import day
from benchwalk.report.keys import looks_of
from benchwalk.report.ledger_words import change_filters, change_words, history_words
from benchwalk.report.record_words import kind_words
from benchwalk.summarise import Key
from benchwalk.web.base import HIGHEST, InScope, Missing, Scope, page, see
from benchwalk.web.roles import who_may

router = APIRouter()
# no database keeps the sign of number 0
Text = Annotated[str, Form(max_length=500, pattern=r"^[^\x00]*$")]
Several = Annotated[list[str], Form(max_length=60)]
MAY_CHANGE_ALL = ("grower", "manager")
A_PAGE = 100  # rows of the list of changes; own choice
DIGITS_MOST = 9  # of a count; own choice


@dataclass(frozen=True)
class Typed:
    """What a form that was refused holds: shown again, so that nobody types it twice."""

    rev: int | None = None
    counts: Mapping[str, str] = field(default_factory=dict)
    plants: str = ""
    position: str = ""
    why_correct: str = ""
    why_void: str = ""


NOTHING_TYPED = Typed()


@router.get("/ledger")
def ledger(
    scope: InScope,
    before: Annotated[int | None, Query(ge=1, le=HIGHEST)] = None,
    kind: Annotated[str, Query(max_length=48, pattern=r"^[^\x00]*$")] = "",
    by: uuid.UUID | Literal[""] = "",
    what: Literal["", "corrected", "void"] = "",
) -> Response:
    """Corrections and voids, the newest first, and what was received and not taken."""
    zone, locale = scope.served.zone, scope.locale
    asked = Asked(kind, by or None, what)
    found = changes(scope.session, asked, before, A_PAGE)
    held = all_waiting(scope.session, unsettled(scope.session))
    bodies = [one.said.body for one in found]
    bodies += [text for one in held for text in (one.row.body, str(one.row.device_id))]
    names = names_of(scope.session, locale, bodies)
    rows = [change_words(one, zone, names, locale) for one in found]
    chosen = {"kind": kind, "by": str(by), "what": what}
    return page(
        scope,
        "ledger.html",
        rows=rows,
        filters=change_filters(asking(scope.session), asked, locale),
        filtered=asked != Asked(),
        older=_older(rows[-1].seq, chosen) if len(rows) == A_PAGE else "",
        aside=[Words(names, zone, locale).line(one) for one in held],
        settles=scope.role in who_may("GET", "/conflicts"),
    )


def _older(seq: int, chosen: dict[str, str]) -> str:
    said = {name: value for name, value in chosen.items() if value}
    return f"/ledger?{urlencode({'before': seq, **said})}"


@router.get("/ledger/{record}")
def record(scope: InScope, record: uuid.UUID) -> Response:
    """Every rev of a record; with the forms to change it, for those who may."""
    return _record(scope, record)


def _record(
    scope: Scope, record: uuid.UUID, fault: Refusal | None = None, typed: Typed = NOTHING_TYPED
) -> Response:
    """The page; what was typed of an earlier rev is not laid over what is there now."""
    said = history(scope.session, record)
    if not said:
        raise Missing
    bodies = [one.body for one in said]
    known = named(scope.session, ids_in(bodies))
    words = names_of(scope.session, scope.locale)
    words |= _words(known, words, scope.locale)
    opened = {str(one.id) for one in known if one.kind != "device"}
    look = scope.session.get(Observation, (scope.operation, record))
    unit = str(record) if said[0].kind == "unit" else str(json.loads(bodies[-1]).get("unit_id"))
    return page(
        scope,
        "record.html",
        status=400 if fault else 200,
        id=str(record),
        rev=said[-1].rev,
        kind=kind_words(said[0].kind, scope.locale, json.loads(bodies[0])),
        unit=(unit, words[unit]) if unit in words else None,
        numbers=list(_numbers(look, known, words)),
        history=history_words(said, scope.served.zone, words, scope.locale, opened),
        may=said[-1].void_reason is None and _may_change(scope, record),
        look=look,
        counts=list(_counts(look, words)),
        typed=typed,
        again=typed.rev == said[-1].rev,
        fault=fault.said(scope.locale) if fault else "",
    )


def _numbers(
    look: Observation | None, known: list[Named], words: dict[str, str]
) -> Iterator[tuple[str, str]]:
    """The numbers that a look is a part of: in words, and where the looks behind each are."""
    if look is None:
        return
    days = {one.id: one.text for one in known if one.kind == "walk"}
    on = dt.date.fromisoformat(days[look.walk_id])
    for tally in (tally for examined in look.examined for tally in examined.tallies):
        key = Key(look.unit_id, tally.taxon, tally.stage, tally.method)
        yield _label(tally, words), looks_of(key, on, look.why)


def _label(tally: Tally, words: dict[str, str]) -> str:
    return ", ".join(words.get(code, code) for code in (tally.taxon, tally.stage, tally.method))


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
                key = "|".join((tally.method, tally.taxon, tally.stage))
                yield Count(key, _label(tally, words), tally.number)


def names_of(s: Ledgered, locale: str, bodies: Sequence[str] = ()) -> dict[str, str]:
    """Words for codes, units and people, and for the other ids that some bodies hold."""
    words = queries.vocabulary(s)
    terms = [*words.taxa.values(), *words.stages.values(), *words.methods.values()]
    held = {t.code: str(t.names.get(locale, t.names.get("en", t.code))) for t in terms}
    held |= {c.code: str(c.names.get(locale, c.code)) for c in words.crops.values()}
    held |= {str(u.id): u.full_name for u in queries.ground(s).units}
    people = s.execute(select(Person.id, Person.name, Person.pseudonym))
    held |= {str(row.id): row.name or row.pseudonym for row in people}
    return held | _words(named(s, ids_in(bodies)), held, locale)


def _words(known: list[Named], names: dict[str, str], locale: str) -> dict[str, str]:
    """A walk by its day, a planting by its crop, everything else by its own text."""
    return {
        str(one.id): day(dt.date.fromisoformat(one.text), locale, year=True)
        if one.kind == "walk"
        else names.get(one.text, one.text)
        for one in known
    }


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
        counts_typed = dict(zip(tally or [], number or [], strict=False))
        return _record(scope, record, fault, Typed(rev, counts_typed, plants, position, reason))
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
    digits = text.strip()
    if not digits.isascii() or not digits.isdecimal() or len(digits) > DIGITS_MOST:
        raise Refusal("refused.count", given=text[:20])
    return int(digits)


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
        return _record(scope, record, fault, Typed(why_void=reason))
    return see(f"/ledger/{record}")
