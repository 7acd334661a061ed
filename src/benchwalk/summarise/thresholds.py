"""Which threshold is in force for a series, and why another is not compared with it.

Like is compared with like only: pest, stage, method and quantity of the threshold. What does not
fit becomes a sentence, never a number.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from benchwalk.records import Threshold, queries
from benchwalk.summarise.gathered import Gathered
from benchwalk.summarise.series import Series

PRECEDENCE = ("regulated", "virus", "ship", "phase", "crop", "general")
ACTS = ("action", "economic")  # the kinds that say "act"; the others have their own pages
SENSES = ("ceiling", "any_find")  # floors and ratios speak of natural enemies
WEEK_DAYS = 7


@dataclass(frozen=True)
class InForce:
    """The threshold a series is compared with, and the crop in the unit that it is for."""

    threshold: Threshold
    crop: str


@dataclass(frozen=True)
class Unlike:
    """A threshold of this pest and crop that the series cannot be compared with, and why."""

    threshold: Threshold
    crop: str
    why: str  # taxon, stage, method, quantity, age, phase


def in_force(known: Gathered, series: Series) -> tuple[InForce | None, tuple[Unlike, ...]]:
    """The strongest rule that fits the series, and the rules of its pest that do not fit it.

    Precedence: regulated, virus, ship, phase, crop, general; then the nearer pest, the nearer
    crop, action before economic; then, among the plantings of a unit, the lower value.
    """
    fits: list[tuple[tuple[float, ...], InForce]] = []
    unlike: list[Unlike] = []
    for planting in known.plantings_of[series.key.unit_id]:
        for t in _candidates(known, series, planting):
            why = _unfit(known, series, planting, t)
            if why:
                unlike.append(Unlike(t, planting.crop, why))
            else:
                fits.append((_rank(known, series, planting, t), InForce(t, planting.crop)))
    fits.sort(key=lambda f: f[0])
    return (fits[0][1] if fits else None), _once(unlike)


def _candidates(known: Gathered, series: Series, planting: queries.Standing) -> Iterator[Threshold]:
    """Thresholds of this pest (or its group, or its species) and of this planting's crops."""
    of = series.key.taxon, planting.crop
    if of not in known.acting:
        known.acting[of] = list(_acting(known, *of))
    yield from (t for t in known.acting[of] if _here(known, series, t))


def _acting(known: Gathered, taxon: str, crop: str) -> Iterator[Threshold]:
    """Those that say when to act on a pest, or on its kin, in a crop."""
    crops, line = known.crop_line(crop), known.taxon_line(taxon)
    for t in known.thresholds:
        related = t.taxon in line or taxon in known.taxon_line(t.taxon)
        if t.kind in ACTS and t.sense in SENSES and related and t.crop in crops:
            yield t


def _here(known: Gathered, series: Series, t: Threshold) -> bool:
    if t.air_space_id is None:
        return True
    return t.air_space_id == known.place[series.key.unit_id].air_space_id


def _unfit(known: Gathered, series: Series, planting: queries.Standing, t: Threshold) -> str:
    """Why a threshold does not fit a series; "" when it does."""
    if t.phase not in ("any", planting.phase):
        return "phase"
    if t.taxon not in known.taxon_line(series.key.taxon):
        return "taxon"
    if t.stage != series.key.stage:
        return "stage"
    if t.method != series.key.method:
        return "method"
    if not _of_this_age(planting, t, series.on):
        return "age"
    return "" if t.sense == "any_find" or t.per == series.per else "quantity"


def _of_this_age(planting: queries.Standing, t: Threshold, on: dt.date) -> bool:
    """Whether the planting is of the age the threshold is for; unknown ages fit none."""
    if t.age_from_weeks == 0 and t.age_until_weeks is None:
        return True
    if planting.provisional:
        return False
    weeks = (on - planting.since).days / WEEK_DAYS
    return t.age_from_weeks <= weeks < (t.age_until_weeks or float("inf"))


def _rank(
    known: Gathered, series: Series, planting: queries.Standing, t: Threshold
) -> tuple[float, ...]:
    return (
        PRECEDENCE.index(t.rule),
        known.taxon_line(series.key.taxon).index(t.taxon),
        known.crop_line(planting.crop).index(t.crop),
        ACTS.index(t.kind),
        t.value if t.value is not None else 0.0,
    )


def _once(unlike: list[Unlike]) -> tuple[Unlike, ...]:
    """One sentence a threshold, whatever the number of plantings."""
    return tuple({id(u.threshold): u for u in unlike}.values())
