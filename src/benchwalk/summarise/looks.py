"""The looks behind one number of the week: what the number is the sum of."""

from __future__ import annotations

import datetime as dt
import json
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from sqlalchemy.orm import Session

from benchwalk.records import queries
from benchwalk.records.queries.looks import Look, Said, days_of, looks, voided_looks
from benchwalk.summarise.gathered import Gathered, gather_unit
from benchwalk.summarise.series import SAMPLE, Key, Series, all_series


@dataclass(frozen=True)
class Behind:
    """One series and every look it rests on; what each of them counts adds up to it.

    `voided` are looks of the same unit and day that were taken back: not in the number.
    """

    known: Gathered
    unit: queries.Place
    series: Series
    looks: tuple[Look, ...]
    voided: tuple[Said, ...]

    @cached_property
    def _fresh(self) -> Mapping[uuid.UUID, int | None]:
        """What is new on a card at each reading."""
        key = (self.series.key.taxon, self.series.key.stage, self.series.key.method)
        return {
            c.reading_id: c.fresh
            for c in self.known.catches
            if c.walk_on == self.series.on and (c.taxon, c.stage, c.method) == key
        }

    def counts(self, look: Look) -> int | None:
        """What a look adds to the number: of a card counted whole only what is new on it.

        None where it adds no count, or fewer hung there than at the reading before.
        """
        if look.counted == "all" and look.id in self._fresh:
            return self._fresh[look.id]
        return look.number

    @property
    def corrected(self) -> tuple[Look, ...]:
        """Looks of which more than one rev was said."""
        return tuple(look for look in self.looks if look.rev > 1)


def behind(session: Session, key: Key, on: dt.date, why: str = SAMPLE) -> Behind | None:
    """The looks behind the number of a key on a day.

    None where there is no such unit or nothing of this pest, stage and method was counted then.
    """
    ground = queries.ground(session)
    unit = next((u for u in ground.units if u.id == key.unit_id), None)
    if unit is None:
        return None
    known = gather_unit(session, ground, unit.id, on)
    series = next((s for s in all_series(known) if _is(s, key, on, why)), None)
    if series is None:
        return None
    found = looks(
        session, [unit.id], on, taxon=key.taxon, stage=key.stage, method=key.method, why=why
    )
    voided = _voided(session, known, unit.id, on)
    still = {look.id for look in found}
    return Behind(known, unit, series, tuple(found), tuple(v for v in voided if v.id not in still))


def _is(s: Series, key: Key, on: dt.date, why: str) -> bool:
    return s.key == key and s.on == on and s.why == why


def _voided(session: Session, known: Gathered, unit: uuid.UUID, on: dt.date) -> list[Said]:
    """Looks that were taken back, of walks of the day; where the walk is gone too, seen that day.

    A walk may go on past midnight.
    """
    said = [(one, json.loads(one.body)) for one in voided_looks(session)]
    here = [(one, body) for one, body in said if body["unit_id"] == str(unit)]
    days = days_of(session, {uuid.UUID(body["walk_id"]) for _, body in here})
    return [one for one, body in here if _day(body, known, days) == on]


def _day(body: dict[str, str], known: Gathered, days: Mapping[uuid.UUID, dt.date]) -> dt.date:
    seen = dt.datetime.fromisoformat(body["seen_at"]).astimezone(known.clock).date()
    return days.get(uuid.UUID(body["walk_id"]), seen)
