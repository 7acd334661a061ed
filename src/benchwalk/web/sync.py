"""What a phone asks for and sends: the plan, and what was seen (docs/phone-protocol.md)."""

from __future__ import annotations

import datetime as dt
import json
import uuid
from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Depends
from sqlalchemy import select
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from benchwalk.records.disk import DiskFailedError
from benchwalk.records.lock import LockedError
from benchwalk.records.operations import Operation
from benchwalk.records.sync import Told, take
from benchwalk.records.sync.asked import Asked
from benchwalk.records.sync.files import MOST, VERSIONS
from benchwalk.records.sync.plan import plan
from benchwalk.summarise.stops import VALID, stops
from benchwalk.web.base import PRIVATE, AScout, Scout, refused

router = APIRouter()

LARGEST = 2**20  # bytes of a request
UNSENT_MOST = 1_000_000
VERSION_MOST = 24  # characters of the name of a version


def _schema(**properties: Any) -> dict[str, Any]:
    return {"type": "object", "required": list(properties), "properties": properties}


def _said(description: str, schema: dict[str, Any]) -> dict[str, Any]:
    return {"description": description, "content": {"application/json": {"schema": schema}}}


ERROR = _schema(error={"type": "string"})
REQUEST = _schema(
    version={"type": "integer"},
    epoch={"type": ["integer", "null"]},
    sent_at={"type": "string"},
    unsent={"type": "integer", "minimum": 0, "maximum": UNSENT_MOST},
    items={"type": "array", "maxItems": MOST, "items": {}},
)
ANSWER = _schema(
    id={"type": ["string", "null"]},
    rev={"type": ["integer", "null"]},
    answer={"enum": ["applied", "duplicate", "stale", "conflict", "rejected"]},
    reason={"type": ["string", "null"]},
)
ANSWERED = _schema(
    version={"type": "integer"},
    operation={"type": "string"},
    epoch={"type": "integer"},
    received_at={"type": "string"},
    answers={"type": "array", "items": ANSWER},
)
KEPT: dict[int | str, dict[str, Any]] = {
    401: _said("the phone is not known, or its token was taken back", ERROR),
    503: _said("the records cannot be written now; nothing was taken", ERROR),
}
SENT: dict[int | str, dict[str, Any]] = KEPT | {
    200: _said("an answer for each item, after the commit", ANSWERED),
    400: _said("the body is not JSON", ERROR),
    413: _said("the body is too large", ERROR),
    422: _said("the envelope is not one, or of a version that is not read", ERROR),
}


async def body_of(request: Request) -> bytes | None:
    """The body; None where it is larger than a request may be."""
    held = bytearray()
    async for chunk in request.stream():
        held += chunk
        if len(held) > LARGEST:
            return None
    return bytes(held)


@router.post(
    "/api/v1/sync",
    responses=SENT,
    openapi_extra={
        "requestBody": {"required": True, "content": {"application/json": {"schema": REQUEST}}}
    },
)
def sync(scope: AScout, sent: Annotated[bytes | None, Depends(body_of)]) -> Response:
    """Take items one by one, and answer for each once all is committed."""
    if sent is None:
        return refused(413, "too_large")
    try:
        message = json.loads(sent)
    except (ValueError, RecursionError):
        return refused(400, "malformed")
    fault = _fault(message)
    if fault is not None:
        return refused(422, fault, reads=list(VERSIONS))
    return _take(scope, message)


def _take(scope: AScout, message: dict[str, Any]) -> Response:
    served, device = scope.served, scope.phone.device
    # one connection at a time a request: who waits for the lock holds none
    operation = scope.session.execute(
        select(Operation.uid, Operation.epoch).where(Operation.id == served.operation)
    ).one()
    scope.session.rollback()
    items, unsent = message["items"], message["unsent"]
    told = _told(message)
    try:
        answers = take(served.engine, served.operation, device, items, unsent=unsent, told=told)
    except (LockedError, DiskFailedError):
        return refused(503, "not_now")
    said = {
        "version": message["version"],
        "operation": str(operation.uid),
        "epoch": operation.epoch,
        "received_at": dt.datetime.now(dt.UTC).isoformat(),
        "answers": [asdict(a) for a in answers],
    }
    return JSONResponse(said, headers=PRIVATE)


def _told(message: dict[str, Any]) -> Told:
    """What the phone says of itself; a clock that says no instant has no error that is known."""
    app = message.get("app")
    version = app[:VERSION_MOST] if isinstance(app, str) and app.isprintable() else None
    try:
        said = dt.datetime.fromisoformat(message.get("sent_at", ""))
        error = (said - dt.datetime.now(dt.UTC)).total_seconds()
    except (TypeError, ValueError):
        return Told(version, None)
    return Told(version, round(error, 1))


def _fault(message: Any) -> str | None:
    """What is wrong with the envelope; None: nothing."""
    if not isinstance(message, dict) or not isinstance(message.get("items"), list):
        return "envelope"
    if message.get("version") not in VERSIONS or type(message["version"]) is not int:
        return "version"
    unsent = message.get("unsent")
    if type(unsent) is not int or not 0 <= unsent <= UNSENT_MOST:
        return "envelope"
    return "envelope" if len(message["items"]) > MOST else None


@router.get("/api/v1/plan", responses=KEPT | {200: _said("the plan", _schema(version={}))})
def load_plan(scope: AScout) -> Response:
    """Everything a shift without network needs."""
    day = scope.today
    held = plan(scope.session, scope.served.operation, day, scope.phone.device)
    return JSONResponse(_with_stops(scope, held, day), headers=PRIVATE)


def _with_stops(scope: Scout, held: dict[str, Any], day: dt.date) -> dict[str, Any]:
    """The plan with when to stop counting, and the days on which that holds."""
    asked = {uuid.UUID(u["id"]): [Asked(**t) for t in u["targets"]] for u in held["units"]}
    tables = stops(scope.session, day, asked)
    for unit in held["units"]:
        unit["stops"] = [asdict(stop) for stop in tables.get(uuid.UUID(unit["id"]), [])]
    valid = {"from": (day - VALID).isoformat(), "until": (day + VALID).isoformat()}
    return held | {"stops_valid": valid}
