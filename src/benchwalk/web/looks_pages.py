"""The looks behind a number: what it is the sum of."""

from __future__ import annotations

import uuid
from typing import Annotated

from fastapi import APIRouter, Query
from starlette.responses import Response

from benchwalk.report.looks_words import behind_words
from benchwalk.summarise import Key
from benchwalk.summarise.looks import behind
from benchwalk.web.base import Day, InScope, Missing, page

router = APIRouter()
Code = Annotated[str, Query(max_length=48)]


@router.get("/looks")
def looks(
    scope: InScope,
    unit: uuid.UUID,
    pest: Code,
    stage: Code,
    method: Code,
    on: Day,
    why: Code = "sample",
    by: Annotated[str, Query(max_length=200)] = "",
    found: bool = False,
) -> Response:
    """Every look of a day in a unit that a number of a pest and stage rests on."""
    held = behind(scope.session, Key(unit, pest, stage, method), on, why)
    if held is None:
        raise Missing
    asked = {"unit": unit, "pest": pest, "stage": stage, "method": method, "on": on, "why": why}
    return page(
        scope,
        "looks.html",
        looks=behind_words(held, scope.locale, by=by, found=found),
        asked=asked,
        found=found,
    )
