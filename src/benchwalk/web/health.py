"""Whether the server lives, and whether it is ready: it writes and reads to find out."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import JSONResponse, Response

from benchwalk.web.base import AVisitor

router = APIRouter()


@router.get("/health/live")
def live() -> Response:
    """The process answers; nothing more is said."""
    return JSONResponse({"live": True})


@router.get("/health/ready")
def ready(visitor: AVisitor) -> Response:
    """The newest day walked."""
    summary = visitor.served.summary(visitor.session)
    day = None if summary is None else summary.day.isoformat()
    return JSONResponse({"ready": True, "newest_walk_on": day})
