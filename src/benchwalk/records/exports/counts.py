"""One row a count, with its effort beside it, and one a place where nobody looked.

What another program needs to read the counts without the other tables: who, where, how much was
examined, what was found; the five absences as words, and a 0 only where somebody looked and found
none.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from heapq import merge
from itertools import groupby
from typing import Any

from sqlalchemy import Row, Select, func, select
from sqlalchemy.orm import Session

from benchwalk.records.exports.absences import absences
from benchwalk.records.exports.count import (
    FOUND,
    NONE,
    NOT_LOOKED,
    NOTHING_EXAMINED,
    NOTHING_FOUND,
    Count,
)
from benchwalk.records.exports.moment import as_text, streamed
from benchwalk.records.joins import in_effort, of
from benchwalk.records.operations import Person
from benchwalk.records.places import House, Station, Unit
from benchwalk.records.plants import Planting
from benchwalk.records.seen import Card, Examined, Observation, Tally, Walk

LOOK = "look"


@dataclass(frozen=True)
class Known:
    """What a row of ids is called."""

    units: Mapping[str, tuple[str | None, str]]
    people: Mapping[str, str]
    crops: Mapping[str, str]
    stations: Mapping[str, str]

    def place(self, unit: str | None) -> tuple[str | None, str | None]:
        """House and name of a unit; a unit that was voided has no name any more."""
        return (None, None) if unit is None else self.units.get(unit, (None, None))


def counts(session: Session) -> Iterator[Count]:
    """Every count and every absence, by day, then unit; one day is in memory at a time.

    A count of nothing has a row of its own with 0; where nobody looked the row has a word and no
    number.
    """
    known = _known(session)
    seen = (_count(row, known) for row in _tallied(session))
    silent = (_placed(count, known) for count in absences(session))
    for _, held in groupby(merge(seen, silent, key=_day), key=_day):
        yield from sorted(held, key=_at)


def _day(count: Count) -> dt.date:
    return count.walk_on


def _placed(count: Count, known: Known) -> Count:
    house, unit = known.place(count.unit_id)
    return count._replace(house=house, unit=unit)


def _at(count: Count) -> tuple[str, ...]:
    """Rows of one look stand together, those of one visit too."""
    return (
        count.house or "",
        count.unit or "",
        count.walk_id,
        count.observation_id or "",
        count.method or "",
        count.taxon or "",
        count.stage or "",
    )


def _known(session: Session) -> Known:
    houses = of(House, Unit, "house_id")
    units = select(as_text(Unit.id), House.name, Unit.name).select_from(Unit)
    places = session.execute(units.outerjoin(House, houses))
    return Known(
        {unit: (house, name) for unit, house, name in places},
        _called(session, select(as_text(Person.id), Person.pseudonym)),
        _called(session, select(as_text(Planting.id), Planting.crop)),
        _called(session, select(as_text(Station.id), Station.code)),
    )


def _called(session: Session, query: Select[str, str]) -> dict[str, str]:
    return {row[0]: row[1] for row in session.execute(query)}


def _count(row: Row[Any], known: Known) -> Count:
    looked, reason = _looked(row)
    house, unit = known.place(row.unit_id)
    return Count(
        walk_on=row.walk_on,
        house=house,
        unit=unit,
        looked=looked,
        reason=reason,
        taxon=row.taxon,
        stage=row.stage,
        method=row.card_method if row.method is None else row.method,
        how=row.how,
        number=row.number,
        mean=row.mean,
        infested=row.infested,
        rating=row.rating,
        plants=row.plants if row.kind == LOOK else None,
        items=row.items,
        of_items=row.of_items,
        crop=known.crops.get(row.planting_id),
        station=known.stations.get(row.station_id),
        card_state=row.state,
        since=row.since,
        counted=row.counted,
        kind=row.kind,
        why=row.why,
        why_assumed=row.why_assumed,
        position=row.position,
        seen_at=row.seen_at,
        hung_at=row.hung_at,
        scout=known.people.get(row.scout_id),
        walk_id=row.walk_id,
        unit_id=row.unit_id,
        observation_id=row.observation_id,
    )


def _looked(row: Row[Any]) -> tuple[str, str | None]:
    """Found, or looked and none; a look without a tally found nothing of what it looked for."""
    if row.method is None:
        return NOT_LOOKED, NOTHING_EXAMINED if row.state is None else row.state
    if row.taxon is None:
        return NONE, NOTHING_FOUND
    found = row.how == "present" or any(n is not None and n > 0 for n in (row.number, row.mean))
    return (FOUND if found else NONE), None


def _tallied(session: Session) -> Iterator[Row[Any]]:
    """Every observation with its efforts and tallies, none left out; in order of days."""
    seen = of(Walk, Observation, "walk_id")
    card = of(Card, Observation, "card_id")
    examined = of(Observation, Examined, "observation_id")
    tally = in_effort()
    query = (
        select(
            Walk.walk_on,
            as_text(Walk.scout_id).label("scout_id"),
            as_text(Observation.walk_id).label("walk_id"),
            as_text(Observation.unit_id).label("unit_id"),
            as_text(Observation.id).label("observation_id"),
            Observation.kind,
            Observation.why,
            Observation.why_assumed,
            Observation.plants,
            as_text(Observation.planting_id).label("planting_id"),
            Observation.position,
            Observation.seen_at,
            Observation.since,
            Observation.counted,
            Observation.state,
            as_text(func.coalesce(Card.station_id, Observation.station_id)).label("station_id"),
            Card.method.label("card_method"),
            Card.hung_at,
            Examined.method,
            Examined.items,
            Examined.of_items,
            Tally.taxon,
            Tally.stage,
            Tally.how,
            Tally.number,
            Tally.mean,
            Tally.infested,
            Tally.rating,
        )
        .select_from(Walk)
        .join(Observation, seen)
        .outerjoin(Examined, examined)
        .outerjoin(Tally, tally)
        .outerjoin(Card, card)
        .order_by(Walk.walk_on)
    )
    return streamed(session, query)
