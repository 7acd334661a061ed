"""What a phone says before it can send: that it is paired, and who holds it. JSON both ways.

``POST /api/v1/pair`` takes the code of the picture or the eight typed characters and gives the
phone's token. ``POST /api/v1/shift``, with that token, takes a name and a PIN and gives the token
of the shift. Wrong codes and PINs are counted as guesses are at the sign-in.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, StringConstraints
from starlette.responses import JSONResponse, Response

from benchwalk.catalogue import Refusal
from benchwalk.records.accounts import devices, people
from benchwalk.records.accounts.audit import note
from benchwalk.web.base import AScout, AVisitor, Visitor

router = APIRouter()
Short = Annotated[str, StringConstraints(min_length=1, max_length=100)]
PAIRING = "pairing"  # codes are guessed at from a source; there is no name to count by
UNCACHED = {"Cache-Control": "no-store"}


class PairAsked(BaseModel):
    """A code, and what the phone is to be called."""

    model_config = ConfigDict(extra="forbid")
    code: Short
    label: Short


class ShiftAsked(BaseModel):
    """Who takes the phone."""

    model_config = ConfigDict(extra="forbid")
    name: Short
    pin: Short


@router.post("/api/v1/pair")
def pair(visitor: AVisitor, asked: PairAsked) -> Response:
    """The token of a phone, shown this once."""
    key = f"{PAIRING} {visitor.source}"
    if wait_s := visitor.served.limits.wait_s(visitor.source, key):
        return _too_many(visitor, wait_s)
    try:
        with visitor.writing() as s:
            made = devices.pair(s, asked.code, asked.label, source=visitor.source)
    except Refusal:
        visitor.served.limits.wrong(visitor.source, key)
        raise
    said = {"device": str(made.device), "token": made.token}
    return JSONResponse(said, headers=UNCACHED)


@router.post("/api/v1/shift")
def begin_shift(phone: AScout, asked: ShiftAsked) -> Response:
    """The token of a shift, for a scout whose name and PIN these are."""
    name, limits = people.as_sign_in_name(asked.name), phone.served.limits
    # guesses on one phone slow that phone: another scout's own phone is not shut out by them
    known = f"phone {phone.phone.device} {name}"
    if wait_s := limits.wait_s(phone.source, name, known):
        return _too_many(phone, wait_s)
    person = devices.who_holds(phone.session, name, asked.pin)
    if person is None:
        limits.wrong(phone.source, name, known)
        with phone.writing() as s:
            whose = people.who_has_name(s, name)
            note(s, "shift_refused", person=whose, device=phone.phone.device)
        raise Refusal("account.wrong_pin")
    limits.right(phone.source, name, known)
    with phone.writing(person) as s:
        token = devices.begin_shift(s, phone.phone.device, person)
        held = devices.on_shift(s, phone.phone.device, token)
    assert held is not None  # begun just now
    said = {
        "shift": token,
        "person": str(person),
        "name": held.name or held.pseudonym,
        "ends_at": held.ends_at.isoformat(),
    }
    return JSONResponse(said, headers=UNCACHED)


def _too_many(visitor: Visitor, wait_s: int) -> Response:
    said = Refusal("web.wait", n=-(-wait_s // 60))
    return JSONResponse(
        {"error": said.key, "message": said.said(visitor.locale)},
        status_code=429,
        headers=UNCACHED | {"Retry-After": str(wait_s)},
    )
