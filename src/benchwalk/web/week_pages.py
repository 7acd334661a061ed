"""The week: who needs somebody first."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import Annotated
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Query
from starlette.responses import Response

from benchwalk.catalogue import say
from benchwalk.records.database import session
from benchwalk.records.ledger import Ledgered
from benchwalk.report.proven_words import proven_words
from benchwalk.report.row_words import PageWords, page_words
from benchwalk.report.words import CAUTIONS
from benchwalk.summarise import Summary, summarise
from benchwalk.summarise.rows import WEEK, Wanted, week_rows
from benchwalk.web import kept_words
from benchwalk.web.base import Day, InScope, Scope, Served, page
from benchwalk.web.unit_rows import unit_row

router = APIRouter()
Name = Annotated[str, Query(max_length=200)]


@router.get("/")
def week(
    scope: InScope,
    day: Day | None = None,
    house: Name = "",
    pest: Name = "",
    person: Name = "",
) -> Response:
    """The units of the newest week (or the one up to ``day``), those that need somebody first."""
    summary = scope.served.summary(scope.session) if day is None else summarise(scope.session, day)
    if summary is None:
        return page(scope, "empty.html")
    wanted = Wanted(house, pest, person)
    words = _words(scope.served, scope.session, summary, wanted, scope.locale)
    return page(
        scope,
        "week.html",
        week=words,
        before=_address(summary.day - WEEK, words),
        day=None if day is None else day.isoformat(),
        unit_row=partial(unit_row, scope.locale),
        cautions=[say(key, scope.locale) for key in CAUTIONS],
        proven=_proven(scope, ZoneInfo(summary.known.zone)),
    )


def _address(day: dt.date, words: PageWords) -> str:
    """Where another week is, with the same rows asked for: by names that there are.

    A page that is compressed repeats no word of a request.
    """
    chosen = {f.name: c.value for f in words.filters for c in f.choices if c.chosen}
    said = {name: value for name, value in chosen.items() if value}
    return f"/?{urlencode({'day': day.isoformat(), **said})}"


def read_once(served: Served) -> None:
    """Work the week out before anybody asks: the first reader of a server waits no longer."""
    with session(served.engine, served.operation) as s:
        summary = served.summary(s)
        if summary is not None:
            _words(served, s, summary, Wanted(), served.locale)


def _words(
    served: Served, session: Ledgered, summary: Summary, wanted: Wanted, locale: str
) -> PageWords:
    """The words of the week, said anew when it or what is ahead of it has to be worked out."""
    rest = kept_words.of(summary, wanted, locale)
    ahead = served.ahead.held(session, summary.known)
    held = None if ahead is None else served.words.held(rest)
    if held is not None:
        return held
    foreseen = served.ahead.foreseen(session, summary)
    return served.words.keep(rest, page_words(week_rows(foreseen, wanted), locale))


def _proven(scope: Scope, zone: ZoneInfo) -> str:
    now = dt.datetime.now(dt.UTC)
    return proven_words(scope.served.last_proven(), now, zone, scope.locale)
