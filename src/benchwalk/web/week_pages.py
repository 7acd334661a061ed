"""The week: who needs somebody first."""

from __future__ import annotations

from fastapi import APIRouter
from starlette.responses import Response

from benchwalk.report.words import week_words
from benchwalk.web.base import InScope, page

router = APIRouter()


@router.api_route("/", methods=["GET", "HEAD"])
def week(scope: InScope) -> Response:
    """The units of the newest week, those that need somebody first."""
    summary = scope.served.summary(scope.session)
    if summary is None:
        return page(scope, "empty.html")
    return page(scope, "week.html", week=week_words(summary, scope.locale))
