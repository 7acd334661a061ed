"""Local times and offsets to instants; times that a clock showed twice, or never."""

from __future__ import annotations

import datetime as dt
from typing import Literal

Shown = Literal["once", "twice", "never"]
DAY = dt.timedelta(days=1)


def wall(day: dt.date, clock: dt.timedelta) -> dt.datetime:
    """The time on the wall; 24:00 is 0:00 of the next day."""
    return dt.datetime.combine(day, dt.time()) + clock


def shown(at: dt.datetime, zone: dt.tzinfo) -> Shown:
    """How often the clocks of a zone showed a time (PEP 495, "missing and ambiguous times")."""
    first, second = (at.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if first.utcoffset() == second.utcoffset():
        return "once"
    there_and_back = first.astimezone(dt.UTC).astimezone(zone).replace(tzinfo=None)
    return "twice" if there_and_back == at else "never"


def instant(at: dt.datetime, zone: dt.tzinfo, *, second: bool = False) -> dt.datetime:
    """The instant of a local time; of one shown twice the first, or the ``second``."""
    return at.replace(tzinfo=zone, fold=int(second)).astimezone(dt.UTC)


def standard_instant(at: dt.datetime, zone: dt.tzinfo) -> dt.datetime:
    """The instant of a clock in a zone that is never put forward in summer."""
    local = at.replace(tzinfo=zone)
    ahead, summer = local.utcoffset(), local.dst()
    if ahead is None or summer is None:
        return local.astimezone(dt.UTC)
    return at.replace(tzinfo=dt.timezone(ahead - summer)).astimezone(dt.UTC)
