"""Which copies are kept: 7 daily, 5 weekly, 12 monthly, and those made before a migration."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Hashable, Mapping

DAYS, WEEKS, MONTHS = 7, 5, 12
YEAR = dt.timedelta(days=366)


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


def before_migrations(made: Mapping[dt.datetime, str]) -> set[dt.datetime]:
    """The newest copy of each schema that stood within a year of the newest copy; of none, none.

    The way back from a migration is the copy made before it, which is not the newest of its day
    once a copy was made after it.

    Parameters
    ----------
    made : the schema of each copy.
    """
    newest_first = sorted(made, reverse=True)
    each = _first_of_each(newest_first, made.__getitem__, len(made))
    return {at for at in each if newest_first[0] - at <= YEAR}


def _first_of_each(
    newest: Collection[dt.datetime], span: Callable[[dt.datetime], Hashable], n: int
) -> set[dt.datetime]:
    found: dict[Hashable, dt.datetime] = {}
    for at in newest:
        found.setdefault(span(at), at)
    return set(list(found.values())[:n])
