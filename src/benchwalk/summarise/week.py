"""From series to the week's summary."""

from __future__ import annotations

import datetime as dt
import uuid
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from sqlalchemy.orm import Session

from benchwalk.records import queries
from benchwalk.science import density, detection
from benchwalk.summarise.changes import LEVEL as LEVEL  # pages name it beside every interval
from benchwalk.summarise.changes import NAN, Change, changes
from benchwalk.summarise.dispersion import Dispersion, learned
from benchwalk.summarise.forecasts import Ahead, Forecasts
from benchwalk.summarise.gathered import Gathered, gather
from benchwalk.summarise.series import History, Key, Series, all_series
from benchwalk.summarise.thresholds import InForce, Unlike, in_force

SURE = 0.95  # of what a clean walk proves
NO_HISTORY = History(())
FEW = 0.01  # fewer than one plant in a hundred: common practice, no source
BEFORE_DAYS = 28  # a series counted within four weeks is missed when it is no longer counted


@dataclass(frozen=True)
class Density:
    """Mean per plant, leaf, card-week ... with its 90 % interval, or NaN and why there is none."""

    mean: float
    low: float
    high: float
    reason: str


@dataclass(frozen=True)
class Line:
    """One unit, pest, stage and method: what was found, and how often its threshold that is.

    `state`: over, near (under, and not unlikely to be over by the next walk), under, none (looked,
    none), at_least (a lower bound below the threshold: it may be over), present (found, not
    counted), no_density (counted, over an effort nobody wrote down), no_threshold, or enemy (a
    natural enemy: no threshold is looked for).
    """

    series: Series
    taxon: str
    stage: str
    method: str
    state: str
    density: Density
    dispersion: Dispersion
    infested_percent: tuple[float, float, float] | None
    rule: InForce | None
    unlike: tuple[Unlike, ...]
    times: tuple[float, float, float] | None
    change: Change | None
    first: str  # "operation", "unit" or ""
    ahead: Ahead | None = None  # where it is heading, once that was asked for

    def by_need(self) -> tuple[int, float, str, str]:
        """What lines are sorted by, those that need somebody first."""
        return ORDER.index(self.state), -(self.times or (0,))[0], self.taxon, self.stage


@dataclass(frozen=True)
class Share:
    """Stage structure: of all individuals of a pest counted in one way, how many at each stage."""

    taxon: str
    method: str
    total: int
    stages: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class Apart:
    """Finds on plants that were not chosen at random: shown, never part of a density."""

    series: Series
    enemy: bool = False  # a natural enemy, which needs nobody


@dataclass(frozen=True)
class NotLooked:
    """A unit nobody looked at, or (with a key) a series that this week's walk did not count."""

    unit: queries.Place
    reason: str  # the scout's word, or: no_word, not_sent, no_walk, not_counted
    last_on: dt.date | None
    key: Key | None = None


@dataclass(frozen=True)
class Clean:
    """What a walk that found nothing proves, and the most it could have missed."""

    plants: int
    population: int | None
    at_most_percent: float
    could_miss_plants: int | None
    could_miss_percent: float


@dataclass(frozen=True)
class UnitSummary:
    unit: queries.Place
    crops: tuple[str, ...]
    plants_there: int | None
    plants_looked: int | None
    few: bool
    on: dt.date
    state: str
    lines: tuple[Line, ...]
    shares: tuple[Share, ...]
    apart: tuple[Apart, ...]
    not_counted: tuple[NotLooked, ...]
    clean: Clean | None


@dataclass(frozen=True)
class Summary:
    """The week, unit by unit, those that need somebody first.

    `counts` has a figure for every word and adds up to the units alive on the day.
    """

    known: Gathered
    units: tuple[UnitSummary, ...]
    not_looked: tuple[NotLooked, ...]
    counts: dict[str, int]
    history: History = NO_HISTORY  # what it was reckoned from, earlier weeks too
    forecasts: Forecasts | None = None  # once they were asked for

    @property
    def day(self) -> dt.date:
        return self.known.day

    @property
    def since(self) -> dt.date:
        return self.known.since


ORDER = (
    "over",
    "near",
    "at_least",
    "present",
    "no_density",
    "no_threshold",
    "under",
    "none",
    "enemy",
)


def summarise(session: Session, day: dt.date | None = None, days: int = 7) -> Summary | None:
    """The summary of the ``days`` up to and with ``day`` (by default the newest walk's day).

    None when nobody has walked anything yet.
    """
    ground = queries.ground(session)
    day = day or ground.last_walk_on
    return None if day is None else of_gathered(gather(session, day, days, ground))


def of_gathered(known: Gathered, history: History | None = None) -> Summary:
    """The summary, reckoned from what was gathered and nothing else.

    ``history`` is not made again where it is given.
    """
    history = all_series(known) if history is None else history
    lines = _lines(known, history)
    days = _days_looked(known, history)
    apart = _apart(known, history)
    units = [
        _unit(known, place, days[place.id], lines[place.id], history, apart[place.id])
        for place in known.units
        if place.id in days and days[place.id] >= known.since
    ]
    looked = sorted(units, key=by_need)
    seen = {u.unit.id for u in looked}
    missing = [not_looked(known, p, days.get(p.id)) for p in known.units if p.id not in seen]
    counts = Counter(u.state for u in looked) + Counter(not_looked=len(missing))
    return Summary(known, tuple(looked), tuple(missing), dict(counts), history)


def by_need(unit: UnitSummary) -> tuple[int, float, str]:
    """What units are sorted by: their word, then how far over; those near by their chance."""
    if unit.state == "near":
        chances = [x.ahead.next_walk.over for x in unit.lines if x.ahead and x.state == "near"]
        worst = max((c for c in chances if c is not None), default=0.0)
    else:
        worst = max((line.times[0] for line in unit.lines if line.times), default=0.0)
    return ORDER.index(unit.state), -worst, unit.unit.full_name


def _lines(known: Gathered, history: History) -> dict[uuid.UUID, list[Line]]:
    now = list(history.newest(known.since, known.day).values())
    spread = learned(known, now, history)
    densities = densities_of(now, spread)
    compared = changes(known, now, spread, history)
    held: dict[uuid.UUID, list[Line]] = defaultdict(list)
    parts = zip(now, densities, spread, compared, _infested(now), strict=True)
    for s, d, k, change, infested in parts:
        held[s.key.unit_id].append(_line(known, s, d, k, change, infested, history))
    for lines in held.values():
        lines.sort(key=Line.by_need)
    return held


def _line(
    known: Gathered,
    s: Series,
    d: Density,
    k: Dispersion,
    change: Change | None,
    infested: tuple[float, float, float] | None,
    history: History,
) -> Line:
    rule, unlike = in_force(known, s)
    return Line(
        series=s,
        taxon=s.key.taxon,
        stage=s.key.stage,
        method=s.key.method,
        state=_state(known, s, rule, d),
        density=d,
        dispersion=k,
        infested_percent=infested,
        rule=rule,
        unlike=() if rule else unlike,
        times=_times(rule, d),
        change=change,
        first=_first(known, s, history),
    )


def densities_of(series: Sequence[Series], spread: Sequence[Dispersion]) -> list[Density]:
    """Mean and interval of each series, in the quantity it is compared in."""
    if not series:
        return []
    found = density.mean_interval(
        np.array([_or_nan(s.total) for s in series]),
        np.array([_or_nan(s.units_sampled) for s in series]),
        np.array([d.k for d in spread]),
        level=LEVEL,
        at_least=np.array([s.at_least for s in series]),
    )
    parts = zip(series, found.mean, found.low, found.high, found.reason, strict=True)
    return [_density(s, float(m), float(lo), float(hi), str(r)) for s, m, lo, hi, r in parts]


def _density(s: Series, mean: float, low: float, high: float, reason: str) -> Density:
    """From per plant or card to per leaf, card-week ... : the effort is what one is divided by."""
    if s.lacks == "card_fell_below":
        return Density(NAN, NAN, NAN, s.lacks)
    if s.mean_only is not None and s.total is None:
        return Density(s.mean_only, NAN, NAN, "mean_only")
    if s.total is None:
        return Density(NAN, NAN, NAN, "not_counted")
    if s.units_sampled is None or not s.effort:
        return Density(NAN, NAN, NAN, s.lacks or "effort_not_said")
    per_item = s.units_sampled / s.effort
    return Density(mean * per_item, low * per_item, high * per_item, reason)


def _or_nan(value: float | None) -> float:
    return NAN if value is None else float(value)


def _times(rule: InForce | None, d: Density) -> tuple[float, float, float] | None:
    """Mean, low and high in units of the threshold (1 = act)."""
    if rule is None or rule.threshold.value is None or np.isnan(d.mean):
        return None
    value = rule.threshold.value
    return d.mean / value, d.low / value, d.high / value


def _state(known: Gathered, s: Series, rule: InForce | None, d: Density) -> str:
    if known.taxa[s.key.taxon].kind == "enemy":
        return "enemy"
    if not s.found:
        return "none"
    if rule is not None and rule.threshold.sense == "any_find":
        return "over"
    if np.isnan(d.mean):
        return "present" if d.reason == "not_counted" else "no_density"
    times = _times(rule, d)
    if times is None:
        return "no_threshold"
    if times[0] >= 1:
        return "over"
    return "at_least" if s.at_least else "under"


def _infested(series: Sequence[Series]) -> list[tuple[float, float, float] | None]:
    """Infested plants of 100 of each, with the interval; None when some look does not say."""
    known = [s.infested is not None and bool(s.units_sampled) for s in series]
    asked = [s for s, is_known in zip(series, known, strict=True) if is_known]
    if not asked:
        return [None] * len(series)
    n, of = (np.array(x, float) for x in zip(*map(_sampled, asked), strict=True))
    found = density.infested_interval(n, of, level=LEVEL)
    shares = iter(zip(found.share, found.low, found.high, strict=True))
    return [_percents(next(shares)) if is_known else None for is_known in known]


def _sampled(s: Series) -> tuple[int | None, int | None]:
    return s.infested, s.units_sampled


def _percents(shares: tuple[float, float, float]) -> tuple[float, float, float]:
    share, low, high = (100 * float(x) for x in shares)
    return share, low, high


def _first(known: Gathered, s: Series, history: History) -> str:
    """Whether a pest was never found before here, or anywhere; "" on a unit's very first walk.

    What was found in a unit that it succeeded was found here.
    """
    here = known.unit_line(s.key.unit_id)
    found = {on for unit in here if (on := known.first_found.get((unit, s.key.taxon)))}
    if min(found, default=None) != s.on:
        return ""
    if not any(history.days[unit][0] < s.on for unit in here if unit in history.days):
        return ""
    return "operation" if known.first_anywhere[s.key.taxon] == s.on else "unit"


def _days_looked(known: Gathered, history: History) -> dict[uuid.UUID, dt.date]:
    """The newest day somebody looked in each unit, found something or not."""
    days = {unit: last for unit, (_, last) in history.days.items()}
    for unit, efforts in known.efforts_of.items():
        ends = [e.walk_on for e in efforts] + ([days[unit]] if unit in days else [])
        if ends:
            days[unit] = max(ends)
    return days


def _apart(known: Gathered, history: History) -> dict[uuid.UUID, list[Apart]]:
    """Finds of the week on flagged and edge plants."""
    held: dict[uuid.UUID, list[Apart]] = defaultdict(list)
    for s in history.apart:
        if s.found and s.on >= known.since:
            held[s.key.unit_id].append(Apart(s, known.taxa[s.key.taxon].kind == "enemy"))
    return held


def _unit(
    known: Gathered,
    place: queries.Place,
    on: dt.date,
    lines: Sequence[Line],
    history: History,
    apart: Sequence[Apart],
) -> UnitSummary:
    standing = known.plantings_of[place.id]
    there = [p.plants for p in standing]
    plants_there = sum(p for p in there if p is not None) if there and None not in there else None
    looked = _plants_looked(known, place, on)
    return UnitSummary(
        unit=place,
        crops=tuple(dict.fromkeys(p.crop for p in standing)),
        plants_there=plants_there,
        plants_looked=looked,
        few=looked is not None and plants_there is not None and looked < FEW * plants_there,
        on=on,
        state=worst(lines, apart),
        lines=tuple(lines),
        shares=_shares(known, lines),
        apart=tuple(apart),
        not_counted=_not_counted(known, place, lines, history),
        clean=None if any(not a.enemy for a in apart) else _clean(lines, looked, plants_there),
    )


def worst(lines: Sequence[Line], apart: Sequence[Apart]) -> str:
    """A unit is as its worst pest; a stage without a threshold leaves that to its pest's others.

    Finds on flagged or edge plants alone make no density, and still it is not "looked, none".
    """
    compared = {line.taxon for line in lines if line.rule is not None}
    pests = [
        line.state
        for line in lines
        if line.state != "enemy" and (line.state != "no_threshold" or line.taxon not in compared)
    ]
    state = min(pests, key=ORDER.index, default="none")
    return "present" if state == "none" and any(not a.enemy for a in apart) else state


def _plants_looked(known: Gathered, place: queries.Place, on: dt.date) -> int | None:
    """Plants looked at on the day; the same plants are looked at in several ways."""
    ways = [e for e in known.efforts_of[place.id] if e.walk_on == on]
    by_method: dict[str, list[int | None]] = defaultdict(list)
    for e in ways:
        by_method[e.method].append(e.plants)
    sums = [
        sum(p for p in held if p is not None) for held in by_method.values() if None not in held
    ]
    return max(sums, default=None)


def _shares(known: Gathered, lines: Sequence[Line]) -> tuple[Share, ...]:
    """Stage structure where every stage was counted exactly, on one day, and none overlaps."""
    held: dict[tuple[str, str, dt.date], list[Line]] = defaultdict(list)
    for line in lines:
        held[line.taxon, line.method, line.series.on].append(line)
    shares = [_share(known, taxon, method, of) for (taxon, method, _), of in sorted(held.items())]
    return tuple(share for share in shares if share is not None)


def _share(known: Gathered, taxon: str, method: str, of: Sequence[Line]) -> Share | None:
    exact = [
        (x.stage, x.series.total)
        for x in of
        if x.series.total is not None and not x.series.at_least
    ]
    total = sum(n for _, n in exact)
    if len(of) < 2 or len(exact) < len(of) or total == 0 or not _apart_stages(known, exact):
        return None
    return Share(taxon, method, total, tuple(sorted(exact)))


def _apart_stages(known: Gathered, stages: Sequence[tuple[str, int]]) -> bool:
    """Whether no individual can stand under two of the stages."""
    bits = [known.stages[stage].bits for stage, _ in stages]
    return all((a & b) == 0 for i, a in enumerate(bits) for b in bits[i + 1 :])


def _not_counted(
    known: Gathered, place: queries.Place, lines: Sequence[Line], history: History
) -> tuple[NotLooked, ...]:
    """Series counted here within four weeks before, and not on this week's walk."""
    earliest = known.since - dt.timedelta(days=BEFORE_DAYS)
    latest = known.since - dt.timedelta(days=1)
    counted = {line.series.key for line in lines}
    last = [
        history.last(key, earliest, latest)
        for key in history.keys.get(place.id, ())
        if key not in counted
    ]
    return tuple(NotLooked(place, "not_counted", s.on, s.key) for s in last if s is not None)


def _clean(lines: Sequence[Line], looked: int | None, there: int | None) -> Clean | None:
    if not looked or any(line.series.found for line in lines if line.state != "enemy"):
        return None
    if any(line.state != "enemy" and line.series.at_least for line in lines):
        return None
    proved = detection.prevalence_limit(looked, SURE)
    missed = detection.largest_patch_missed(looked, there, SURE) if there else None
    return Clean(
        plants=looked,
        population=there,
        at_most_percent=100 * float(proved.limit),
        could_miss_plants=None if missed is None else int(missed.plants),
        could_miss_percent=100 * float(proved.limit if missed is None else missed.share),
    )


def not_looked(known: Gathered, place: queries.Place, last: dt.date | None) -> NotLooked:
    """The scout's own reason, else what the office can say."""
    calls = sorted(known.called_of[place.id], key=lambda c: c.walk_on, reverse=True)
    for call in calls:
        if call.reason is not None:
            return NotLooked(place, call.reason, last)
    silent = [call for call in calls if call.state is None]
    if silent:
        return NotLooked(place, "not_sent" if _holds(known, silent[0]) else "no_word", last)
    return NotLooked(place, "nothing_recorded" if calls else "no_walk", last)


def _holds(known: Gathered, call: queries.Called) -> bool:
    """Whether the walk's phone has said since that it holds records it could not send."""
    if not call.unsent or call.heard_at is None:
        return False
    return call.heard_at.astimezone(known.clock).date() >= call.walk_on
