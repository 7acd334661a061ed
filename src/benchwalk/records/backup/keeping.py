"""Which copies are kept: 7 daily, 5 weekly, 12 monthly."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Hashable

DAYS, WEEKS, MONTHS = 7, 5, 12


def kept(made: Collection[dt.datetime]) -> set[dt.datetime]:
    """The copies to keep: the newest of each of the last days, weeks and months that have one.

    Days without a copy do not use up a place, so a PC that was off for a month loses nothing.
    Weeks are those of ISO 8601, days those of UTC. The newest copy is always kept; of none, none.
    """
    newest = sorted(made, reverse=True)
    return (
        _first_of_each(newest, lambda at: at.date(), DAYS)
        | _first_of_each(newest, lambda at: at.isocalendar()[:2], WEEKS)
        | _first_of_each(newest, lambda at: (at.year, at.month), MONTHS)
    )


def _first_of_each(
    newest: Collection[dt.datetime], span: Callable[[dt.datetime], Hashable], n: int
) -> set[dt.datetime]:
    found: dict[Hashable, dt.datetime] = {}
    for at in newest:
        found.setdefault(span(at), at)
    return set(list(found.values())[:n])
