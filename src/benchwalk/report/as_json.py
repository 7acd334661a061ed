"""The week's summary for other programs: codes instead of names, null with its reason.

An absent figure is null and a word beside it says why; it is never 0. The words are those of
:class:`benchwalk.summarise.Line` and its parts and do not depend on a language.
"""

from __future__ import annotations

import math
from typing import Any

from benchwalk.records import Threshold
from benchwalk.summarise import (
    Apart,
    Change,
    InForce,
    Line,
    NotLooked,
    Series,
    Share,
    Summary,
    UnitSummary,
    Unlike,
)
from benchwalk.summarise.forecasts import Ahead, Day
from benchwalk.summarise.gathered import Gathered
from benchwalk.summarise.week import LEVEL, SURE, Clean

FORMAT = 1  # raised when a field changes its meaning or goes

Json = dict[str, Any]


def week_json(summary: Summary) -> Json:
    """The summary as objects, lists, strings, finite numbers, booleans and null."""
    return {
        "format": FORMAT,
        "operation": summary.known.operation,
        "practice": summary.known.practice,
        "since": summary.since.isoformat(),
        "day": summary.day.isoformat(),
        "interval_level": LEVEL,
        "clean_level": SURE,
        "counts": dict(summary.counts),
        "units": [unit_json(summary.known, unit) for unit in summary.units],
        "not_looked": [not_looked_json(miss) for miss in summary.not_looked],
    }


def unit_json(known: Gathered, unit: UnitSummary) -> Json:
    """One unit of a week: its lines, its stages, what was found on plants not taken at random."""
    return {
        "unit": unit.unit.full_name,
        "unit_id": str(unit.unit.id),
        "state": unit.state,
        "walked_on": unit.on.isoformat(),
        "crops": list(unit.crops),
        "plants_there": unit.plants_there,
        "plants_looked": unit.plants_looked,
        "under_one_plant_in_100": unit.few,
        "lines": [_line(known, line) for line in unit.lines],
        "stages": [_share(share) for share in unit.shares],
        "not_at_random": [_apart(apart) for apart in unit.apart],
        "not_counted": [not_looked_json(miss) for miss in unit.not_counted],
        "clean": None if unit.clean is None else _clean(unit.clean),
    }


def _line(known: Gathered, line: Line) -> Json:
    return {
        **_key(line.series),
        "kind": known.taxa[line.taxon].kind,
        "state": line.state,
        "counted": counted_json(line.series),
        "density": {
            "per": line.series.per,
            **interval_json("mean", line.density.mean, line.density.low, line.density.high),
            "reason": line.density.reason or None,
        },
        "k": {
            "value": _finite(line.dispersion.k),
            "rounds": line.dispersion.rounds,
            "assumed": line.dispersion.assumed,
        },
        "infested_percent": _triple(line.infested_percent),
        "threshold": None if line.rule is None else in_force_json(line.rule),
        "times_threshold": _triple(line.times),
        "not_compared_with": [_unlike(other) for other in line.unlike],
        "change": None if line.change is None else _change(line.change),
        "first_find": line.first or None,
        "ahead": None if line.ahead is None else ahead_json(line.ahead),
    }


def ahead_json(a: Ahead) -> Json:
    """Where a series is heading: chances are null where there is no threshold."""
    threshold = a.population.threshold * a.population.scale
    return {
        "per": a.population.per,
        "last_on": a.last_on.isoformat(),
        "walks": a.population.walks,
        "few": a.few,
        "threshold": _finite(threshold),
        "now": {"level": a.now.level, "low": a.now.low, "high": a.now.high},
        "next_walk": _day_json(a.next_walk),
        "days": [_day_json(d) for d in a.days],
        "surprising": a.surprising,
    }


def _day_json(d: Day) -> Json:
    return {
        "on": d.on.isoformat(),
        "days": d.days,
        "middle": d.middle,
        "intervals": [{"level": i.level, "low": i.low, "high": i.high} for i in d.intervals],
        "over": d.over,
        "over_70": d.over_70,
        "over_150": d.over_150,
    }


def _key(series: Series) -> Json:
    return {
        "taxon": series.key.taxon,
        "stage": series.key.stage,
        "method": series.key.method,
        "on": series.on.isoformat(),
    }


def counted_json(s: Series) -> Json:
    """What was counted over what: `how` is the word that makes a null total readable."""
    return {
        "how": _how(s),
        "total": s.total,
        "looks": s.looks,
        "sampled": s.units_sampled,
        "effort": s.effort,
        "infested": s.infested,
        "why": s.why,
        "why_assumed": s.why_assumed,
        "lacks": s.lacks or None,
    }


def _how(s: Series) -> str:
    if not s.found:
        return "looked_none"
    if s.total is None:
        return "present" if s.mean_only is None else "mean_only"
    return "at_least" if s.at_least else "counted"


def interval_json(name: str, middle: float, low: float, high: float) -> Json:
    """The figure and its interval; no upper end is null, as is what is not known."""
    return {name: _finite(middle), "low": _finite(low), "high": _finite(high)}


def _triple(values: tuple[float, float, float] | None) -> Json | None:
    return None if values is None else interval_json("value", *values)


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def in_force_json(rule: InForce) -> Json:
    """The threshold that a count is compared with, and the crop that it is for."""
    return _threshold(rule.threshold) | {"in_unit_for_crop": rule.crop}


def _unlike(other: Unlike) -> Json:
    return {"why": other.why, "threshold": _threshold(other.threshold)}


def _threshold(t: Threshold) -> Json:
    return {
        "taxon": t.taxon,
        "stage": t.stage,
        "method": t.method,
        "crop": t.crop,
        "phase": t.phase,
        "kind": t.kind,
        "rule": t.rule,
        "sense": t.sense,
        "value": t.value,
        "high": t.high,
        "below": bool(t.below),
        "per": t.per,
        "source": t.source,
        "status": t.status,
    }


def _change(change: Change) -> Json:
    return {
        "before_on": change.before_on.isoformat(),
        "before": _finite(change.before),
        **interval_json("ratio", change.ratio, change.low, change.high),
        "reason": change.reason or None,
    }


def _share(share: Share) -> Json:
    return {
        "taxon": share.taxon,
        "method": share.method,
        "total": share.total,
        "stages": dict(share.stages),
    }


def _apart(apart: Apart) -> Json:
    return _key(apart.series) | counted_json(apart.series)


def not_looked_json(miss: NotLooked) -> Json:
    """What nobody looked at, with its reason and no figure."""
    said: Json = {
        "unit": miss.unit.full_name,
        "unit_id": str(miss.unit.id),
        "state": "not_looked",
        "reason": miss.reason,
        "last_on": None if miss.last_on is None else miss.last_on.isoformat(),
    }
    if miss.key is None:
        return said
    return said | {
        "taxon": miss.key.taxon,
        "stage": miss.key.stage,
        "method": miss.key.method,
    }


def _clean(clean: Clean) -> Json:
    return {
        "plants": clean.plants,
        "population": clean.population,
        "at_most_percent": _finite(clean.at_most_percent),
        "could_miss_plants": clean.could_miss_plants,
        "could_miss_percent": _finite(clean.could_miss_percent),
    }
