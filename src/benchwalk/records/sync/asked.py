"""What is looked for in each unit, and whose word that is."""

from __future__ import annotations

import datetime as dt
import uuid
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from benchwalk.records.compared import Target, Threshold
from benchwalk.records.joins import of
from benchwalk.records.queries.standing import Standing
from benchwalk.records.seen import Examined, Observation, Tally, Walk
from benchwalk.records.vocabulary import Crop

HABIT = dt.timedelta(days=56)  # own choice: eight weekly rounds say what is usual
PLAN, PAST, THRESHOLDS, NONE = "plan", "past", "thresholds", "none"
ANY = "any"
ACTS = ("action", "economic")  # kinds of thresholds that plants are counted for
Key = tuple[str, str, str]  # taxon, stage, method


@dataclass(frozen=True)
class Asked:
    """One target of a unit. ``items``: leaves, flowers ... a plant; None: nothing says."""

    taxon: str
    stage: str
    method: str
    plants_min: int | None = None
    every_days: int | None = None
    items: int | None = None


@dataclass(frozen=True)
class AskedOf:
    """The targets of a unit, and whose word they are: plan, past, thresholds, none."""

    said_by: str
    targets: tuple[Asked, ...]


class Asking:
    """Targets of a day, and what is taken for them in units that have none."""

    def __init__(
        self,
        session: Session,
        day: dt.date,
        thresholds: Callable[[], Sequence[Threshold]],
        crops: Mapping[str, Crop],
    ) -> None:
        self.session, self.day = session, day
        self.compared, self.crops = thresholds, crops
        now = (Target.from_on <= day) & (Target.until_on.is_(None) | (Target.until_on > day))
        self.targets = list(session.scalars(select(Target).where(now).order_by(Target.id)))
        self.items = _items(session, day)

    @cached_property
    def past(self) -> dict[uuid.UUID, list[Key]]:
        """Asked for once, and only where a unit has no targets."""
        return _past(self.session, self.day)

    @cached_property
    def thresholds(self) -> list[Threshold]:
        """The same, where nobody has looked either."""
        return [t for t in self.compared() if t.kind in ACTS]

    def of(self, unit: uuid.UUID, standing: Sequence[Standing]) -> AskedOf:
        """The plan's word; without one what was looked for here, then what has a threshold."""
        finds: dict[str, Callable[[], dict[Key, Asked]]] = {
            PLAN: lambda: self._planned(unit, standing),
            PAST: lambda: {key: Asked(*key) for key in self.past.get(unit, ())},
            THRESHOLDS: lambda: self._compared(standing),
        }
        for said_by, find in finds.items():
            if found := find():
                return AskedOf(said_by, tuple(self._with_items(unit, a) for a in found.values()))
        return AskedOf(NONE, ())

    def _planned(self, unit: uuid.UUID, standing: Sequence[Standing]) -> dict[Key, Asked]:
        there = {(p.crop, p.phase) for p in standing}
        return {
            (t.taxon, t.stage, t.method): Asked(
                t.taxon, t.stage, t.method, t.plants_min, t.every_days
            )
            for t in self.targets
            if t.unit_id == unit
            or any(t.crop == crop and t.phase in (None, phase) for crop, phase in there)
        }

    def _compared(self, standing: Sequence[Standing]) -> dict[Key, Asked]:
        lines = {(crop, p.phase) for p in standing for crop in self._line(p.crop)}
        return {
            (t.taxon, t.stage, t.method): Asked(t.taxon, t.stage, t.method)
            for t in self.thresholds
            if any(t.crop == crop and t.phase in (ANY, phase) for crop, phase in lines)
        }

    def _line(self, crop: str) -> Iterable[str]:
        """The crop and the groups it belongs to."""
        at: str | None = crop
        seen: set[str] = set()
        while at is not None and at not in seen:
            seen.add(at)
            at = self.crops[at].parent
        return seen

    def _with_items(self, unit: uuid.UUID, a: Asked) -> Asked:
        items = self.items.get((unit, a.method))
        return Asked(a.taxon, a.stage, a.method, a.plants_min, a.every_days, items)


def _past(session: Session, day: dt.date) -> dict[uuid.UUID, list[Key]]:
    """What was looked for in each unit in the last weeks, most looked for first."""
    looks = func.count()
    found = (
        select(Observation.unit_id, Tally.taxon, Tally.stage, Tally.method)
        .join(Walk, of(Walk, Observation, "walk_id"))
        .join(Tally, of(Observation, Tally, "observation_id"))
        .where(Walk.walk_on > day - HABIT, Observation.why == "sample")
        .group_by(Observation.unit_id, Tally.taxon, Tally.stage, Tally.method)
        .order_by(Observation.unit_id, looks.desc(), Tally.taxon, Tally.stage, Tally.method)
    )
    held: dict[uuid.UUID, list[Key]] = defaultdict(list)
    for unit, *key in session.execute(found):
        held[unit].append((key[0], key[1], key[2]))
    return held


def _items(session: Session, day: dt.date) -> dict[tuple[uuid.UUID, str], int]:
    """Items a plant by unit and method, as most plants of the last weeks were looked at."""
    found = (
        select(
            Observation.unit_id,
            Examined.method,
            Examined.items,
            Observation.plants,
            func.count(),
        )
        .join(Walk, of(Walk, Observation, "walk_id"))
        .join(Examined, of(Observation, Examined, "observation_id"))
        .where(
            Walk.walk_on > day - HABIT,
            Observation.kind == "look",
            Observation.plants > 0,
            Examined.items.is_not(None),
        )
        .group_by(Observation.unit_id, Examined.method, Examined.items, Observation.plants)
    )
    held: dict[tuple[uuid.UUID, str], Counter[int]] = defaultdict(Counter)
    for unit, method, items, plants, looks in session.execute(found):
        # asked for above: neither is absent
        if items is not None and plants is not None and items % plants == 0:
            held[unit, method][items // plants] += looks * plants
    return {key: counts.most_common(1)[0][0] for key, counts in held.items()}
