"""What phones said and the records could not take: read, compared, and settled by a person."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from typing import Annotated

from fastapi import APIRouter, Form, Path
from sqlalchemy import select
from starlette.responses import Response

from benchwalk.catalogue import Refusal
from benchwalk.records.ledger import Ledgered
from benchwalk.records.operations import Device
from benchwalk.records.queries.aside import unsettled
from benchwalk.records.queries.looks import history
from benchwalk.records.sync.settling import (
    RELEASED,
    Waiting,
    all_waiting,
    release_all,
    settle,
    settled_lately,
    waiting,
)
from benchwalk.report.conflict_words import Words
from benchwalk.web.base import HIGHEST, InScope, Missing, Scope, page, see
from benchwalk.web.ledger_pages import names_of

router = APIRouter()
SETTLED_MOST = 50  # shown below what waits; own choice
SEVERAL = 2  # from so many on they can be taken together
TWO_WORDS = "conflict"
Number = Annotated[int, Path(ge=1, le=HIGHEST)]


@router.get("/conflicts")
def conflicts(scope: InScope) -> Response:
    """What waits for a person, and what persons settled."""
    return _list(scope)


def _list(scope: Scope, taken: tuple[int, int] | None = None) -> Response:
    held = all_waiting(scope.session, unsettled(scope.session))
    settled = all_waiting(scope.session, settled_lately(scope.session, SETTLED_MOST))
    words = _words(scope, [one.row.body for one in (*held, *settled)])
    return page(
        scope,
        "conflicts.html",
        two=[words.line(w) for w in held if w.why == TWO_WORDS],
        refused=[words.line(w) for w in held if w.why != TWO_WORDS],
        settled=[words.line(w) for w in settled],
        phones=_releasable(held, words),
        taken=taken,
    )


def _releasable(held: list[Waiting], words: Words) -> list[tuple[str, str, int]]:
    """Phones of which several things may be let in: id, label, how many."""
    of: dict[uuid.UUID | None, list[Waiting]] = {}
    for one in held:
        if RELEASED in one.ways:
            of.setdefault(one.row.device_id, []).append(one)
    return [
        ("" if device is None else str(device), words.phone(those[0].row), len(those))
        for device, those in of.items()
        if len(those) >= SEVERAL and device is not None
    ]


def _words(scope: Scope, bodies: Sequence[str]) -> Words:
    labels = {str(id_): label for id_, label in _labels(scope.session)}
    names = names_of(scope.session, scope.locale, bodies) | labels
    return Words(names, scope.served.zone, scope.locale)


def _labels(s: Ledgered) -> list[tuple[uuid.UUID, str]]:
    return [(row.id, row.label) for row in s.execute(select(Device.id, Device.label))]


@router.get("/conflicts/{n}")
def conflict(scope: InScope, n: Number) -> Response:
    """Both versions of one thing, and the ways to settle it."""
    return _one(scope, n)


def _one(scope: Scope, n: int, fault: Refusal | None = None) -> Response:
    held = waiting(scope.session, n)
    if held is None:
        raise Missing
    said = [] if held.row.id is None else history(scope.session, held.row.id)
    words = _words(scope, [held.row.body, *(one.body for one in said)])
    return page(
        scope,
        "conflict.html",
        status=400 if fault else 200,
        one=words.two(held, said[-1] if said else None),
        fault=fault.said(scope.locale) if fault else "",
    )


@router.post("/conflicts/{n}/settle")
def settle_one(
    scope: InScope, n: Number, how: Annotated[str, Form(max_length=16)] = ""
) -> Response:
    """Settle it, by whoever is signed in."""
    if waiting(scope.session, n) is None:
        raise Missing
    try:
        with scope.writing() as s:
            settle(s, n, how)
    except Refusal as fault:
        return _one(scope, n, fault)
    return see("/conflicts")


@router.post("/conflicts/release")
def release(scope: InScope, device: Annotated[uuid.UUID, Form()]) -> Response:
    """Take everything that may be let in of one phone."""
    if device not in {id_ for id_, _ in _labels(scope.session)}:
        raise Missing
    with scope.writing() as s:
        taken = release_all(s, device)
    return _list(scope, taken)
