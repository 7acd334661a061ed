"""When a copy of the records was last proved, in a sentence."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from benchwalk.catalogue import say
from benchwalk.report.figures import day


def proven_words(at: dt.datetime | None, now: dt.datetime, zone: ZoneInfo, locale: str) -> str:
    """Reads "Last proven copy: 02:10 today"; a copy of another day with its day; none as such.

    A copy is proven when it was restored and compared with the records.
    """
    if at is None:
        return say("page.proven_none", locale)
    made, today = at.astimezone(zone), now.astimezone(zone).date()
    clock = f"{made:%H:%M}"
    if made.date() == today:
        return say("page.proven_today", locale, clock=clock)
    year = made.year != today.year
    return say("page.proven_on", locale, clock=clock, date=day(made.date(), locale, year=year))
