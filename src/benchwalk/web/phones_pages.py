"""Phones: paired, heard of, revoked; and the file of one that cannot send."""

from __future__ import annotations

import uuid
from collections import Counter
from dataclasses import dataclass
from typing import Annotated

import segno
from fastapi import APIRouter, File, UploadFile
from markupsafe import Markup
from sqlalchemy import func, select
from starlette.responses import Response

from benchwalk.catalogue import Refusal, say
from benchwalk.records.accounts import devices
from benchwalk.records.accounts.tokens import TYPED
from benchwalk.records.operations import Aside, Device
from benchwalk.records.sync import bring
from benchwalk.web.base import InScope, Missing, Scope, page, see

router = APIRouter()
FILE_MOST = 32 * 2**20  # bytes of a phone's file; own choice: a season of counts
CLOCK_OFF_S = 120  # own choice: a clock this much wrong is named


@dataclass(frozen=True)
class PhoneRow:
    """A phone as the office knows it."""

    phone: Device
    clock: str
    clock_off: bool
    aside: int


@dataclass(frozen=True)
class Shown:
    """What the page shows above the phones, once."""

    offered: devices.Offered | None = None
    brought: tuple[str, ...] = ()
    fault: str = ""


@router.get("/phones")
def phones(scope: InScope) -> Response:
    """Phones that are paired, and when each was last heard."""
    return _phones(scope, Shown())


def _phones(scope: Scope, shown: Shown) -> Response:
    # the secret stands behind #: a browser sends no fragment, so no log on the way holds it
    address = f"{scope.request.base_url}pair#{shown.offered.secret}" if shown.offered else ""
    return page(
        scope,
        "phones.html",
        status=400 if shown.fault else 200,
        phones=_rows(scope),
        zone=scope.served.zone,
        address=address,
        picture=_picture(address) if address else None,
        typed=_in_halves(shown.offered.typed) if shown.offered else "",
        brought=shown.brought,
        fault=shown.fault,
    )


def _rows(scope: Scope) -> list[PhoneRow]:
    waiting = select(Aside.device_id, func.count()).where(Aside.settled_at.is_(None))
    aside = Counter({of: n for of, n in scope.session.execute(waiting.group_by(Aside.device_id))})
    return [
        PhoneRow(
            phone,
            _clock(phone.clock_error_s, scope.locale),
            phone.clock_error_s is not None and abs(phone.clock_error_s) >= CLOCK_OFF_S,
            aside[phone.id],
        )
        for phone in devices.phones(scope.session)
    ]


def _clock(error_s: float | None, locale: str) -> str:
    """How wrong a clock is, in the largest unit that says it; "" where nobody knows."""
    if error_s is None:
        return ""
    size = abs(error_s)
    if size < CLOCK_OFF_S:
        return say("phones.clock_right", locale)
    way = "fast" if error_s > 0 else "slow"
    for unit, seconds in (("days", 86400), ("hours", 3600), ("minutes", 60)):
        if size >= 2 * seconds:
            return say(f"phones.clock_{way}_{unit}", locale, n=round(size / seconds))
    raise AssertionError(size)  # two minutes are the least that is said


def _picture(address: str) -> Markup:
    drawn = segno.make(address, micro=False).svg_inline(
        scale=5, border=4, svgclass="qr", lineclass=None, omitsize=False
    )
    return Markup(drawn)  # drawn here, of numbers only


def _in_halves(code: str) -> str:
    return f"{code[: TYPED // 2]} {code[TYPED // 2 :]}"


@router.post("/phones/pair")
def offer(scope: InScope) -> Response:
    """Offer a pairing: a picture to scan and eight characters to type, for ten minutes."""
    with scope.writing() as s:
        offered = devices.offer_pairing(s)
    return _phones(scope, Shown(offered))


@router.post("/phones/{device}/revoke")
def revoke(scope: InScope, device: uuid.UUID) -> Response:
    """Take a phone's token back."""
    if device not in {phone.id for phone in devices.phones(scope.session)}:
        raise Missing
    with scope.writing() as s:
        devices.revoke(s, device)
    return see("/phones")


@router.post("/phones/import")
def bring_in(scope: InScope, file: Annotated[UploadFile, File()]) -> Response:
    """Take the file of a phone that cannot send; bringing it twice adds nothing twice."""
    content = file.file.read(FILE_MOST + 1)
    if len(content) > FILE_MOST:
        too_large = say("phones.file_large", scope.locale, n=FILE_MOST // 2**20)
        return _phones(scope, Shown(fault=too_large))
    # who waits for the write lock holds no connection meanwhile
    scope.session.rollback()
    try:
        answers = bring(scope.served.engine, scope.operation, content, _called(file))
    except Refusal as fault:
        return _phones(scope, Shown(fault=fault.said(scope.locale)))
    counted = Counter(a.answer for a in answers).items()
    said = [say(f"sync.brought_{answer}", scope.locale, n=n) for answer, n in counted]
    return _phones(scope, Shown(brought=tuple(said or [say("sync.nothing_in_file", scope.locale)])))


def _called(file: UploadFile) -> str:
    """What a refusal calls the file: its name, as far as it can be printed."""
    name = file.filename or "?"
    return "".join(c for c in name if c.isprintable())[:100]
