"""A list of plantings: what stands in which unit, since when, how much of it, in which phase."""

from __future__ import annotations

import datetime as dt
import math
import re

from benchwalk.records.sheets.found import At
from benchwalk.records.sheets.lists.cells import Fault, word_of
from benchwalk.records.sheets.lists.found import PlantingRow
from benchwalk.records.sheets.lists.measures import AREA_M2, PERCENT, PLANTS_PER_M2
from benchwalk.records.sheets.lists.sheet import Row
from benchwalk.records.sheets.names import crop_of
from benchwalk.records.sheets.words import fold
from benchwalk.reference import phases

DISTANCES = re.compile(r"([0-9]+(?:[.,][0-9]+)?)\s?(?:cm)?\s?[x×*]\s?([0-9]+(?:[.,][0-9]+)?)\s?cm")


def planting_in(row: Row) -> PlantingRow:
    """What one row says of a planting; raises :class:`Fault` where it cannot be taken."""
    crop = row.needed("crop")
    unit = row.needed("unit")
    planted_on = row.day("planted_on")
    if planted_on is None:
        raise Fault("missing_planted_on", "planted_on")
    ended_on = row.day("ended_on")
    if ended_on is not None and ended_on <= planted_on:
        raise Fault("ends_before_start", "ended_on")
    phase, phase_on = _phase(row, planted_on, ended_on)
    return PlantingRow(
        at=At(row.number),
        house=row.text("house"),
        unit=unit,
        crop=crop_of(crop) or crop,
        crop_raw=crop,
        cultivar=row.text("cultivar"),
        planted_on=planted_on,
        ended_on=ended_on,
        plants=row.whole("plants"),
        area_percent=_share(row),
        area_m2=row.above_zero("area", AREA_M2),
        plants_per_m2=_spacing(row),
        phase=phase,
        phase_on=phase_on,
        edible=_edible(row),
    )


def _phase(
    row: Row, planted_on: dt.date, ended_on: dt.date | None
) -> tuple[str | None, dt.date | None]:
    """The phase and its first day, which lies in the life of the planting."""
    text, since = row.text("phase"), row.day("phase_on")
    if text is None:
        return None, None
    phase = _phase_of(text)
    if phase is None:
        raise Fault("unknown_phase", "phase")
    if since is not None and (since < planted_on or (ended_on and since >= ended_on)):
        raise Fault("phase_outside_planting", "phase_on")
    return phase, since


def _phase_of(text: str) -> str | None:
    """The phase a word stands for, by its key, its names, or the words of lists."""
    named = {fold(n): p.phase_key for p in phases() for n in (p.phase_key, p.name, p.name_es)}
    return named.get(fold(text)) or word_of(text, "phase")


def _share(row: Row) -> int | None:
    """The share of the unit in whole percent, rounded down so that shares never add up to more."""
    percent = row.measured("area_share", PERCENT)
    if percent is None:
        return None
    if not 0 < percent <= 100:
        raise Fault("share_out_of_range", "area_share")
    return max(1, math.floor(round(percent, 6)))


def _spacing(row: Row) -> float | None:
    """Plants per square metre; "20 x 25 cm" are 20, one in each rectangle."""
    apart = DISTANCES.fullmatch(row.text("spacing") or "")
    if apart:
        along, across = (float(d.replace(",", ".")) for d in apart.groups())
        if not along * across > 0:
            raise Fault("not_above_zero", "spacing")
        return 10_000 / (along * across)
    return row.above_zero("spacing", PLANTS_PER_M2)


def _edible(row: Row) -> bool | None:
    said = row.word("edible", "yes_no")
    return None if said is None else said == "yes"


def planting_key(p: PlantingRow) -> tuple[object, ...]:
    """What two rows share that are about one planting."""
    return fold(p.house or ""), fold(p.unit), fold(p.crop), fold(p.cultivar or ""), p.planted_on


def planting_phase_key(p: PlantingRow) -> tuple[object, ...]:
    """The same, apart for each day on which a phase begins: phases of one planting may be rows."""
    return (*planting_key(p), p.phase_on)


def planting_name(p: PlantingRow) -> str:
    """The words for a planting."""
    return " ".join(w for w in (p.crop_raw, p.cultivar, p.unit, p.planted_on.isoformat()) if w)
