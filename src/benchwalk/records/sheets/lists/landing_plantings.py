"""Plantings on their way into the records: units, crops, phases, plants received."""

from __future__ import annotations

import datetime as dt
import math
import uuid
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import func, select

from benchwalk.records.places import Unit
from benchwalk.records.plants import NOT_SAID, Movement, Phase, Planting
from benchwalk.records.sheets.known import ANY_CROP, CODE_LENGTH, name_key
from benchwalk.records.sheets.lists.found import ListLanded, ListReading, PlantingRow
from benchwalk.records.sheets.lists.places import Places, Refused
from benchwalk.records.sheets.lists.plantings import planting_key, planting_name
from benchwalk.records.vocabulary import Crop

GONE = "gone"
FULL = 100


@dataclass(frozen=True)
class Said:
    """What is said of one phase; `phase` `not_said` and None are words that lack."""

    phase: str
    area_percent: int | None
    plants_per_m2: float | None


Phases = dict[dt.date, Said]


class PlantingLanding:
    """The plantings of one list on their way into one operation."""

    def __init__(self, places: Places, landed: ListLanded) -> None:
        self.places, self.landed = places, landed
        session = places.session
        self.crops: dict[str, Crop] = {}
        for crop in session.scalars(select(Crop)):
            for word in (crop.code, *crop.names.get("own", [])):
                self.crops[name_key(word)] = crop
        self.standing: dict[uuid.UUID, list[Planting]] = defaultdict(list)
        self.phases: dict[uuid.UUID, Phases] = {}
        for planting in session.scalars(select(Planting)):
            self.standing[planting.unit_id].append(planting)
            self.phases[planting.id] = _phases_of(planting)
        received = select(Movement.to_id, func.sum(Movement.plants)).group_by(Movement.to_id)
        self.received = {row[0]: int(row[1]) for row in session.execute(received)}

    def land(self, reading: ListReading) -> None:
        """Every planting of the list: recorded, there already, or refused by name."""
        groups: dict[object, list[PlantingRow]] = defaultdict(list)
        for row in reading.things:
            if isinstance(row, PlantingRow):
                groups[planting_key(row)].append(row)
        self.rows = groups
        for group in groups.values():
            with self.places.attempt(group):
                self._one(group)

    def _one(self, group: Sequence[PlantingRow]) -> None:
        """One planting, of one row or of a row for each of its phases."""
        first = _agreeing(group)
        unit = self.places.known(first.house, first.unit)
        if unit is not None and unit.kind != "unit":
            raise Refused("place_has_no_plantings", first.unit)
        self._admit(first)
        wanted = self._wanted(group, unit)
        if unit is None:
            self._fits(None, None, wanted)
            self._new(self.places.unit(first.house, first.unit, first.planted_on), group, wanted)
            return
        there = self._recorded(unit, first)
        if there is not None:
            self._beside(unit, there, group, wanted)
            return
        provisional = self._provisional(unit, first)
        self._fits(unit, provisional, wanted)
        self.places.lengthen(unit, first.planted_on)
        if provisional is None:
            self._new(unit, group, wanted)
        else:
            self._confirm(provisional, group, wanted)

    def _admit(self, row: PlantingRow) -> None:
        """Refuse what contradicts the crop."""
        crop = self.crops.get(name_key(row.crop))
        known = None if crop is None else crop.edible
        if known is not None and row.edible is not None and known != row.edible:
            raise Refused("edible_contradicts", row.crop_raw)

    def _wanted(self, group: Sequence[PlantingRow], unit: Unit | None) -> Phases:
        """The phases that the rows tell of, with the first and the last day of the planting."""
        first = group[0]
        phases: Phases = {}
        for row in group:
            area = self._area(row, unit)
            dated = row.phase is not None and row.phase_on is not None
            said = Said(str(row.phase) if dated else NOT_SAID, area, row.plants_per_m2)
            phases[row.phase_on if dated and row.phase_on else first.planted_on] = said
        if first.planted_on not in phases:
            earliest = phases[min(phases)]
            before = Said(NOT_SAID, earliest.area_percent, earliest.plants_per_m2)
            phases[first.planted_on] = before
        if first.ended_on is not None:
            phases[first.ended_on] = Said(GONE, 0, None)
        return phases

    def _area(self, row: PlantingRow, unit: Unit | None) -> int | None:
        """The share of the unit in whole percent, rounded down; a surface needs the unit's size."""
        if row.area_percent is not None or row.area_m2 is None:
            return row.area_percent
        if unit is None or unit.width_m is None or unit.length_m is None:
            self.landed.not_kept.append((row.at, "area_without_unit_size"))
            return None
        percent = FULL * row.area_m2 / (unit.width_m * unit.length_m)
        if percent > FULL:
            raise Refused("area_over_unit", f"{row.area_m2:g} m2")
        return max(1, math.floor(percent))

    def _fits(self, unit: Unit | None, instead_of: Planting | None, wanted: Phases) -> None:
        """Refuse what would fill a unit to more than 100 % on some day."""
        others = [] if unit is None else self.standing[unit.id]
        shares = [self.phases[p.id] for p in others if p is not instead_of]
        found = over_full([*shares, wanted])
        if found is not None:
            raise Refused("unit_over_full", f"{found[0]}: {found[1]} %")

    def _recorded(self, unit: Unit, row: PlantingRow) -> Planting | None:
        """The planting of this crop, cultivar and first day, where it is recorded."""
        code = self._code(row)
        for planting in self.standing[unit.id]:
            same = planting.crop == code and name_key(planting.cultivar) == name_key(row.cultivar)
            first_day = min(self.phases[planting.id])
            if same and not planting.provisional and first_day == row.planted_on:
                return planting
        return None

    def _code(self, row: PlantingRow) -> str:
        """The code of a crop, or the one that a new crop of this word gets."""
        crop = self.crops.get(name_key(row.crop))
        return "_".join(name_key(row.crop).split())[:CODE_LENGTH] if crop is None else crop.code

    def _provisional(self, unit: Unit, row: PlantingRow) -> Planting | None:
        """What was only seen there on a walk, where one planting of the list alone explains it."""
        code = self._code(row)
        seen = [p for p in self.standing[unit.id] if p.provisional and p.crop == code]
        told = [
            g
            for g in self.rows.values()
            if self._code(g[0]) == code and self.places.known(g[0].house, g[0].unit) is unit
        ]
        if len(seen) != 1 or len(told) != 1:
            return None
        since = min(self.phases[seen[0].id])
        lived = row.planted_on <= since and (row.ended_on is None or since < row.ended_on)
        return seen[0] if lived else None

    def _new(self, unit: Unit, group: Sequence[PlantingRow], wanted: Phases) -> None:
        first = group[0]
        code = self._code(first)
        planting_id = self.places.id_of(
            "planting", first.planted_on, unit.id, code, name_key(first.cultivar)
        )
        self.places.never_said("planting", planting_id, planting_name(first))
        self._make_crop(first, code)
        planting = Planting(
            id=planting_id,
            unit_id=unit.id,
            crop=code,
            cultivar=first.cultivar,
            provisional=False,
            phases=_lines(wanted),
        )
        self.places.fresh.append(planting)
        self.standing[unit.id].append(planting)
        self.phases[planting_id] = wanted
        self._receive(planting_id, first)
        self.landed.recorded += [row.at for row in group]

    def _make_crop(self, row: PlantingRow, code: str) -> None:
        """A word that no crop has becomes the operation's own crop."""
        if name_key(row.crop) in self.crops:
            return
        crop = Crop(
            id=self.places.id_of("crop", row.planted_on, code),
            code=code,
            names={"own": [row.crop_raw]},
            parent=ANY_CROP,
            edible=row.edible,
        )
        self.places.fresh.append(crop)
        self.crops[name_key(row.crop)] = crop
        self.landed.crops_made.append(row.crop_raw)

    def _receive(self, planting_id: uuid.UUID, row: PlantingRow) -> None:
        if row.plants is None:
            return
        movement = Movement(
            id=self.places.id_of("movement", row.planted_on, planting_id, "receive"),
            kind="receive",
            moved_on=row.planted_on,
            to_id=planting_id,
            plants=row.plants,
        )
        self.places.fresh.append(movement)
        self.received[planting_id] = row.plants

    def _confirm(self, planting: Planting, group: Sequence[PlantingRow], wanted: Phases) -> None:
        """What was seen on walks is this planting: it keeps its looks, and gets its words."""
        first = group[0]
        planting.cultivar, planting.provisional = first.cultivar, False
        self._write(planting, wanted)
        self._receive(planting.id, first)
        self.landed.confirmed.append(planting_name(first))
        self.landed.recorded += [row.at for row in group]

    def _write(self, planting: Planting, wanted: Phases) -> None:
        kept = {p.from_on: p for p in planting.phases}
        for day in sorted(kept.keys() - wanted.keys()):
            planting.phases.remove(kept[day])
        for line in _lines(wanted):
            held = kept.get(line.from_on)
            if held is None:
                planting.phases.append(line)
            else:
                held.phase, held.area_percent = line.phase, line.area_percent
                held.plants_per_m2 = line.plants_per_m2
        self.phases[planting.id] = wanted

    def _beside(
        self, unit: Unit, there: Planting, group: Sequence[PlantingRow], wanted: Phases
    ) -> None:
        """A planting that is recorded: the list may say more of it, never something else."""
        first, name = group[0], planting_name(group[0])
        plants = self.received.get(there.id)
        if first.plants is not None and plants is not None and first.plants != plants:
            raise Refused("differs_from_recorded", f"{name}: {plants} > {first.plants}")
        held = self.phases[there.id]
        merged = _merged(held, wanted, name)
        more_plants = first.plants is not None and plants is None
        if merged == held and not more_plants:
            self.landed.already_there += [row.at for row in group]
            return
        self._fits(unit, there, merged)
        if merged != held:
            self._write(there, merged)
        if more_plants:
            self._receive(there.id, first)
        self.landed.recorded += [row.at for row in group]


def over_full(shares: Sequence[Phases]) -> tuple[dt.date, int] | None:
    """The first day on which plantings share more than all of a unit, and how much that is.

    A share that is not known counts as none, as in the rule of the database.
    """
    for day in sorted({day for phases in shares for day in phases}):
        known = [a for phases in shares if (a := _share_on(phases, day)) is not None]
        if sum(known) > FULL:
            return day, sum(known)
    return None


def _share_on(phases: Phases, day: dt.date) -> int | None:
    begun = [since for since in phases if since <= day]
    return phases[max(begun)].area_percent if begun else None


def _phases_of(planting: Planting) -> Phases:
    return {p.from_on: Said(p.phase, p.area_percent, p.plants_per_m2) for p in planting.phases}


def _lines(wanted: Phases) -> list[Phase]:
    # the last first: while lines are written one by one, no day has more than it has in the end
    return [
        Phase(
            from_on=day,
            phase=said.phase,
            area_percent=said.area_percent,
            plants_per_m2=said.plants_per_m2,
        )
        for day, said in sorted(wanted.items(), reverse=True)
    ]


def _agreeing(group: Sequence[PlantingRow]) -> PlantingRow:
    """The first row of a planting; its other phases must not tell of other plants or ends."""
    first = group[0]
    for row in group[1:]:
        if (row.plants, row.ended_on, row.edible) != (first.plants, first.ended_on, first.edible):
            raise Refused("list_said_twice", planting_name(row))
    return first


def _merged(held: Phases, wanted: Mapping[dt.date, Said], name: str) -> Phases:
    """Phases with what the list says more of them.

    Raises
    ------
    Refused
        where the list says something else of a day.
    """
    merged = dict(held)
    for day, said in wanted.items():
        there = held.get(day)
        merged[day] = said if there is None else _more(there, said, name)
    return merged


def _more(there: Said, said: Said, name: str) -> Said:
    pairs = (
        (there.phase, said.phase, NOT_SAID),
        (there.area_percent, said.area_percent, None),
        (there.plants_per_m2, said.plants_per_m2, None),
    )
    for old, new, lacking in pairs:
        if new not in (lacking, old) and old != lacking:
            raise Refused("differs_from_recorded", f"{name}: {old} > {new}")
    return Said(
        phase=said.phase if there.phase == NOT_SAID else there.phase,
        area_percent=said.area_percent if there.area_percent is None else there.area_percent,
        plants_per_m2=said.plants_per_m2 if there.plants_per_m2 is None else there.plants_per_m2,
    )
