"""Checks: the looking-again that is due some days after a treatment, and was not done yet."""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from benchwalk import reference
from benchwalk.records import queries
from benchwalk.summarise.gathered import Gathered
from benchwalk.summarise.series import History, Series, all_series
from benchwalk.summarise.week import Summary

LATEST_DAYS = 28  # after that long a look says little of the treatment; own choice
HAND = 1  # what is washed off or taken out is gone at once [d]


@dataclass(frozen=True)
class Check:
    """A treatment of a unit that nobody has looked at since it can be seen what it did.

    Attributes
    ----------
    on : the treatment's day.
    due_on : the first day on which looking again says something, as a rule of practice has it.
    """

    place: queries.Place
    put: queries.Put
    on: dt.date
    due_on: dt.date


def checks_due(known: Gathered, history: History, put: Sequence[queries.Put]) -> list[Check]:
    """Checks of the units alive on the day of what was gathered, the soonest first.

    Parameters
    ----------
    history : a count by the plan of the pest that a treatment was against, or of any pest where
        nobody said against which, is the looking-again.
    """
    found = sorted(_each(known, history, put), key=lambda c: (c.due_on, c.place.full_name))
    # several loads of a day are one treatment
    return list({(c.place.id, c.put.what, c.put.against, c.on): c for c in found}.values())


def _each(known: Gathered, history: History, put: Sequence[queries.Put]) -> Iterator[Check]:
    treated = _recent(known, put)
    for place in known.units:
        line = known.unit_line(place.id)
        for p, on in (held for unit in line for held in treated.get(unit, ())):
            due_on = on + dt.timedelta(days=_works_after(p))
            newest = (history.of(key)[-1] for u in line for key in history.keys.get(u, ()))
            if not any(s.on >= due_on and _concerns(known, p, s) for s in newest):
                yield Check(place, p, on, due_on)


def _recent(
    known: Gathered, put: Sequence[queries.Put]
) -> dict[uuid.UUID, list[tuple[queries.Put, dt.date]]]:
    """The treatments of the last weeks with their days, by unit."""
    held: dict[uuid.UUID, list[tuple[queries.Put, dt.date]]] = defaultdict(list)
    for p in put:
        on = p.at.astimezone(known.clock).date()
        if known.day - dt.timedelta(days=LATEST_DAYS) <= on <= known.day:
            held[p.unit_id].append((p, on))
    return held


def _concerns(known: Gathered, p: queries.Put, s: Series) -> bool:
    return p.against is None or p.against in known.taxon_line(s.key.taxon)


def _works_after(p: queries.Put) -> int:
    """Days until looking again says something, as a rule of practice has it [days]."""
    if p.kind == "release":
        low = reference.practice("recheck_release").low
    elif p.effect == "growth_regulator":
        low = reference.practice("recheck_growth_regulator").low
    elif p.kind in ("spray", "drench", "fog"):
        low = reference.practice("recheck_contact").low
    else:
        return HAND
    if low is None:
        raise ValueError(f"practice.csv has no shortest time for looking again after {p.kind}")
    return int(low)


def every_check(session: Session, known: Gathered) -> list[Check]:
    """The same for all units, with their treatments read from the records."""
    zone = ZoneInfo(known.zone)
    first = dt.datetime.combine(known.day - dt.timedelta(days=LATEST_DAYS), dt.time(), zone)
    end = dt.datetime.combine(known.day + dt.timedelta(days=1), dt.time(), zone)
    put = queries.happened(session, first, end).put
    return checks_due(known, all_series(known), put)


def checks_of(summary: Summary) -> list[Check]:
    """The same of a week with its forecasts, which read the treatments; none without them."""
    if summary.forecasts is None:
        return []
    return checks_due(summary.known, summary.history, summary.forecasts.put)
