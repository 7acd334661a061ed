"""Photos of sightings, in pieces: what has come, and the next piece (docs/phone-protocol.md)."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Path, Query
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from benchwalk.records.database import folder_of
from benchwalk.records.photos import (
    LARGEST,
    PIECE,
    ElsewhereError,
    NoPhotoError,
    add,
    have,
    is_named,
)
from benchwalk.web.base import PRIVATE, AScout, refused

router = APIRouter()
Digest = Annotated[str, Path(pattern=r"^[0-9a-f]{64}$")]


async def piece_of(request: Request) -> bytes | None:
    """The body; None where it is larger than a piece may be."""
    held = bytearray()
    async for chunk in request.stream():
        held += chunk
        if len(held) > PIECE:
            return None
    return bytes(held)


@router.get("/api/v1/photos/{digest}")
def photo_has(scope: AScout, digest: Digest) -> Response:
    """How much of a photo has come."""
    if not is_named(scope.session, digest):
        return refused(404, "no_record")
    there, done = have(folder_of(scope.served.engine), digest)
    return JSONResponse({"have": there, "done": done}, headers=PRIVATE)


@router.put("/api/v1/photos/{digest}")
def photo_piece(
    scope: AScout,
    digest: Digest,
    at: Annotated[int, Query(ge=0)],
    of: Annotated[int, Query(ge=1)],
    piece: Annotated[bytes | None, Depends(piece_of)],
) -> Response:
    """Take the next piece."""
    if piece is None or of > LARGEST:
        return refused(413, "too_large")
    if not is_named(scope.session, digest):
        return refused(404, "no_record")
    try:
        there, done = add(folder_of(scope.served.engine), digest, piece, at, of)
    except ElsewhereError as other:
        return refused(409, "elsewhere", have=other.have)
    except NoPhotoError:
        return refused(422, "not_a_photo")
    return JSONResponse({"have": there, "done": done}, headers=PRIVATE)
