"""How right past forecasts were: what `benchwalk forecast --calibration` prints, explained."""

from __future__ import annotations

from fastapi import APIRouter
from markupsafe import Markup
from starlette.responses import Response

from benchwalk.report.calibration_words import calibration_page_words
from benchwalk.summarise.forecasts import Forecasts, calibrated
from benchwalk.web.base import InScope, Scope, page

router = APIRouter()


@router.get("/calibration")
def calibration(scope: InScope) -> Response:
    """Every count against what the walks before it had said, up to the newest walk."""
    found = _found(scope)
    scores = None if found is None else calibrated(found)
    inflation = 1.0 if found is None else found.inflation
    words = calibration_page_words(scores, inflation, scope.locale)
    return page(scope, "calibration.html", words=words, svg=Markup)


def _found(scope: Scope) -> Forecasts | None:
    summary = scope.served.summary(scope.session)
    if summary is None:
        return None
    return scope.served.ahead.foreseen(scope.session, summary).forecasts
