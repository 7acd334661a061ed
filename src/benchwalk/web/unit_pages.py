"""One unit: how it stands, how it came there, what is next."""

from __future__ import annotations

import datetime as dt
import uuid

from fastapi import APIRouter
from markupsafe import Markup
from starlette.responses import Response

from benchwalk.report.effect_drawing import effect_axis
from benchwalk.report.unit_page_words import unit_page_words
from benchwalk.summarise.unit import unit_course
from benchwalk.web.base import InScope, Missing, page

router = APIRouter()


@router.api_route("/units/{unit}", methods=["GET", "HEAD"])
def unit(scope: InScope, unit: uuid.UUID, day: dt.date | None = None) -> Response:
    """A unit with its half year up to the newest walk's day, or up to ``day``."""
    course = unit_course(scope.session, unit, day)
    if course is None:
        raise Missing
    return page(
        scope,
        "unit.html",
        unit=unit_page_words(course, scope.locale),
        svg=Markup,  # our own drawings, which escape the words in them
        effect_axis=effect_axis(scope.locale),
    )
