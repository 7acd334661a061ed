"""The week: who needs somebody first."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import Annotated
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Query
from markupsafe import Markup
from starlette.responses import Response

from benchwalk.catalogue import say
from benchwalk.report.proven_words import proven_words
from benchwalk.report.row_words import page_words
from benchwalk.report.spark import spark
from benchwalk.report.words import CAUTIONS
from benchwalk.summarise import Summary, summarise
from benchwalk.summarise.rows import Wanted, week_rows
from benchwalk.web.base import InScope, Scope, page

router = APIRouter()
Name = Annotated[str, Query(max_length=200)]


@router.api_route("/", methods=["GET", "HEAD"])
def week(
    scope: InScope,
    day: dt.date | None = None,
    house: Name = "",
    pest: Name = "",
    person: Name = "",
) -> Response:
    """The units of the newest week (or the one up to ``day``), those that need somebody first."""
    summary = _summary(scope, day)
    if summary is None:
        return page(scope, "empty.html")
    rows = week_rows(summary, Wanted(house, pest, person))
    return page(
        scope,
        "week.html",
        week=page_words(rows, scope.locale),
        day=None if day is None else day.isoformat(),
        spark=partial(_spark, scope.locale),
        cautions=[say(key, scope.locale) for key in CAUTIONS],
        proven=_proven(scope, ZoneInfo(summary.known.zone)),
    )


def _proven(scope: Scope, zone: ZoneInfo) -> str:
    now = dt.datetime.now(dt.UTC)
    return proven_words(scope.served.last_proven(), now, zone, scope.locale)


def _summary(scope: Scope, day: dt.date | None) -> Summary | None:
    given = scope.served.summary(scope.session) if day is None else summarise(scope.session, day)
    return None if given is None else scope.served.ahead.foreseen(scope.session, given)


def _spark(locale: str, weeks: tuple[float | None, ...]) -> Markup:
    return Markup(spark(weeks, locale))
