"""Stop tables for the phone: when a target of a unit is surely under or over its threshold.

The sequential test of [Wald1947]_ between a quarter of the threshold and the threshold, with the
clumping that the operation's own rounds taught, and this package's guard rails. It is the way
without a prior: the week's forecast has no part in it.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from math import floor, log10

from sqlalchemy.orm import Session

from benchwalk.records.sync.asked import Asked
from benchwalk.records.sync.entering import arrived_since
from benchwalk.science.stopping import (
    NEVER_OVER,
    NEVER_UNDER,
    NegativeBinomialCounts,
    StopTable,
    early_under_refused,
    missed_crossings,
    wald_lines,
    wald_table,
    without_early_under,
)
from benchwalk.summarise.dispersion import Dispersion, learned
from benchwalk.summarise.gathered import Gathered, gather
from benchwalk.summarise.series import SAMPLE, Key, Series, all_series
from benchwalk.summarise.thresholds import InForce, Unlike, in_force

N_MIN, N_MAX = 5, 40  # plants; own choice, by simulation
LOW = 0.25  # of the threshold: below it nobody acts. Own choice, by simulation
ALPHA, BETA = 0.1, 0.05  # nominal chances of "over" at LOW, of "under" at the threshold; own choice
FULL_EVERY = 4  # every fourth walk of a unit is a full one. Own choice
VALID = dt.timedelta(days=2)  # before and after the day of the plan; own choice
Limits = tuple[int | None, ...]


@dataclass(frozen=True)
class Stop:
    """After n plants *under* at or below ``under[n - 1]``, *over* at or above ``over[n - 1]``.

    ``missed``: how often a unit at twice the threshold is called under, on plants with k 0.2 and
    with all pests on 5 % of the plants; None where it is never called under.
    """

    taxon: str
    stage: str
    method: str
    refused: str | None = None
    n_min: int = N_MIN
    items: int | None = None
    at: float | None = None  # the threshold [individuals/plant]
    k: float | None = None
    k_assumed: bool | None = None
    no_under: str | None = None
    under: Limits | None = None
    over: Limits | None = None
    missed: tuple[float, float] | None = None


@dataclass(frozen=True)
class Walked:
    """The days a unit was looked at, and whether plants came since the last of them."""

    days: Collection[dt.date] = field(default_factory=frozenset)
    arrivals: bool = False


def stops(
    session: Session, day: dt.date, asked: Mapping[uuid.UUID, Sequence[Asked]]
) -> dict[uuid.UUID, list[Stop]]:
    """Stop tables of the targets of each unit for walks on and about a day."""
    known = gather(session, day, 7)
    walked = _walked(known)
    newest = {unit: max(days) for unit, days in walked.items()}
    since = min(newest.values(), default=day)
    arrived = arrived_since(session, newest, since)
    there = {place.id for place in known.units}
    return stops_of(
        known,
        {unit: targets for unit, targets in asked.items() if unit in there},
        {unit: Walked(walked[unit], unit in arrived) for unit in walked},
    )


def _walked(known: Gathered) -> dict[uuid.UUID, set[dt.date]]:
    days: dict[uuid.UUID, set[dt.date]] = defaultdict(set)
    for effort in known.efforts:
        days[effort.unit_id].add(effort.walk_on)
    return days


def stops_of(
    known: Gathered,
    asked: Mapping[uuid.UUID, Sequence[Asked]],
    walked: Mapping[uuid.UUID, Walked],
) -> dict[uuid.UUID, list[Stop]]:
    """Stop tables from what was gathered and nothing else."""
    wanted = [(unit, a) for unit, targets in asked.items() for a in targets]
    series = [_yet_to_count(known, unit, a) for unit, a in wanted]
    spread = learned(known, series, all_series(known))
    held: dict[uuid.UUID, list[Stop]] = {unit: [] for unit in asked}
    for (unit, a), s, k in zip(wanted, series, spread, strict=True):
        held[unit].append(_stop(known, a, s, k, walked.get(unit, Walked())))
    return held


def _yet_to_count(known: Gathered, unit: uuid.UUID, a: Asked) -> Series:
    """The series that a walk on the day would make: what a threshold is looked up by."""
    return Series(
        key=Key(unit, a.taxon, a.stage, a.method),
        on=known.day,
        why=SAMPLE,
        looks=0,
        units_sampled=None,
        effort=None,
        per=f"per_{known.methods[a.method].item}",
        total=None,
        mean_only=None,
        infested=None,
        at_least=False,
        found=False,
        singles=0,
        singles_total=0,
        singles_squares=0,
        why_assumed=False,
        none_at_all=0,
        lacks="",
    )


def _stop(known: Gathered, a: Asked, series: Series, k: Dispersion, walked: Walked) -> Stop:
    rule, unlike = in_force(known, series)
    refused = _refused(known, a, rule, unlike, walked)
    if refused or rule is None:
        return Stop(a.taxon, a.stage, a.method, refused)
    if rule.threshold.sense == "any_find":
        return _any_find(a)
    assert rule.threshold.value is not None  # only any_find and none go without
    per_item = known.methods[a.method].item != "plant"
    items = a.items if per_item else None
    at = rule.threshold.value * (items or 1)
    fewest = max(N_MIN, a.plants_min or N_MIN)
    no_under = str(
        early_under_refused(len(walked.days), arrivals=walked.arrivals, kind=_kind(known, a, rule))
    )
    rounded = _rounded_down(k.k)
    under, over, missed = _limits(at, rounded, min(fewest, N_MAX), bool(no_under))
    return Stop(
        a.taxon,
        a.stage,
        a.method,
        n_min=fewest,
        items=items,
        at=at,
        k=rounded,
        k_assumed=k.assumed,
        no_under=no_under or None,
        under=under,
        over=over,
        missed=missed,
    )


def _refused(
    known: Gathered, a: Asked, rule: InForce | None, unlike: Iterable[Unlike], walked: Walked
) -> str | None:
    """Why there is no table; None: there is one."""
    method = known.methods[a.method]
    if method.kind not in ("plant", "place"):
        return "not_on_plants"
    if rule is None:
        return "quantity" if any(u.why == "quantity" for u in unlike) else "no_threshold"
    if rule.threshold.sense == "any_find":
        return None
    if method.item != "plant" and a.items is None:
        return "items"
    full = len(walked.days) % FULL_EVERY == FULL_EVERY - 1
    return "full_walk" if full else None


def _kind(known: Gathered, a: Asked, rule: InForce) -> str:
    """What the target is for, as the guard rails name it."""
    taxon, threshold = known.taxa[a.taxon], rule.threshold
    if taxon.regulated or threshold.rule == "regulated":
        return "regulated"
    if threshold.rule == "ship" or threshold.kind == "ship":
        return "ship"
    return "disease" if taxon.kind == "disease" else "action"


def _any_find(a: Asked) -> Stop:
    """One is enough, from the first plant on; that there is none is never called early."""
    return Stop(
        a.taxon,
        a.stage,
        a.method,
        n_min=1,
        no_under="any_find",
        under=(None,) * N_MAX,
        over=(1,) * N_MAX,
    )


def _rounded_down(k: float) -> float:
    """Two figures, downwards: a k too large costs more than one too small."""
    step = 10.0 ** (floor(log10(k)) - 1)
    return round(floor(k / step + 1e-9) * step, 6)


@lru_cache(maxsize=4096)
def _limits(
    at: float, k: float, fewest: int, no_under: bool
) -> tuple[Limits, Limits, tuple[float, float] | None]:
    """The two limits by plants, and how often twice the threshold is missed by them."""
    lines = wald_lines(NegativeBinomialCounts(k), LOW * at, at, alpha=ALPHA, beta=BETA)
    table = wald_table(lines, N_MAX, fewest=fewest, cut="middle")
    missed = None if no_under else missed_crossings(table, at, k)
    if no_under:
        table = without_early_under(table)
    return (
        _written(table, "under", NEVER_UNDER),
        _written(table, "over", NEVER_OVER),
        None if missed is None else (_share(missed.clumped), _share(missed.hot_spot)),
    )


def _written(table: StopTable, name: str, never: int) -> Limits:
    limits = getattr(table, name)
    return tuple(None if int(limit) == never else int(limit) for limit in limits)


def _share(chance: object) -> float:
    return round(float(chance), 2)  # type: ignore[arg-type]  # an array of one value
