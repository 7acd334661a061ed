"""Where each pest is heading: the records of every series through the forecast's filter.

Computed from the records each time, never stored or patched. A threshold enters at the end: it
changes probabilities of being over, and not one digit of a density.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from itertools import pairwise
from statistics import median

import numpy as np
from sqlalchemy.orm import Session

from benchwalk.records import Refit
from benchwalk.records.queries import Put
from benchwalk.science import forecast
from benchwalk.summarise.dispersion import learned
from benchwalk.summarise.forecasts.did import Did, StillWorks, each, pooled
from benchwalk.summarise.forecasts.moves import Moves, jumped, movements, moves_of
from benchwalk.summarise.forecasts.refitting import Learned, refit, scouts_of, stored, taken_up
from benchwalk.summarise.forecasts.seen import Population, arrays, of_key
from benchwalk.summarise.forecasts.treatments import Treatment, loads_of, treatments_of
from benchwalk.summarise.gathered import LEARN_DAYS, Gathered
from benchwalk.summarise.series import History, Key, all_series
from benchwalk.summarise.thresholds import in_force

__all__ = [
    "Ahead",
    "Day",
    "Did",
    "Forecasts",
    "Interval",
    "Learned",
    "StillWorks",
    "calibrated",
    "forecasts",
    "refitted",
]

LEVELS = (0.50, 0.80, 0.90, 0.95)
NOW_LEVEL = 0.90
HORIZONS = (7, 14)
FEW_WALKS = 3  # own choice: a growth rate needs more than two points
SURPRISE = 3.0
USUAL_GAP = 7  # days between walks where there were none yet; common practice, no source
#: chance of being over by the next walk from which a series is *near*
NEAR_FROM = 0.10
#: chance from which somebody is warned: in simulated seasons 5 of 100 walks that led to no
#: crossing were warned of (docs/science/forecast_measured.md)
WARNED_FROM = 0.35


@dataclass(frozen=True)
class Interval:
    """The middle `level` of what a density may be."""

    level: float
    low: float
    high: float


@dataclass(frozen=True)
class Day:
    """What is expected on one day, without a further treatment, in the series' own quantity.

    Attributes
    ----------
    over, over_70, over_150 : chance of being over the threshold, over 0.7 and over 1.5 of it; None
        where there is no threshold.
    """

    on: dt.date
    days: int
    middle: float
    intervals: tuple[Interval, ...]
    over: float | None
    over_70: float | None
    over_150: float | None

    def within(self, level: float) -> Interval:
        """The interval of one of the levels."""
        return next(i for i in self.intervals if i.level == level)


@dataclass(frozen=True)
class Ahead:
    """One series: where it stands, where it is heading, what the last treatment did.

    Attributes
    ----------
    next_walk : the day the unit is due, by its usual gap.
    today : where the state is carried on to the day of the forecast, for a series that was not
        counted within a week of it; None where it was. Nobody looked: it rests on older counts.
    surprising : how far the last count lay from what was expected, in standard deviations, where
        it was more than 3: for a second look.
    """

    population: Population
    last_on: dt.date
    now: Interval
    next_walk: Day
    days: tuple[Day, ...]
    surprising: float | None
    today: Day | None = None

    @property
    def key(self) -> Key:
        return self.population.key

    @property
    def few(self) -> bool:
        """Whether there were too few walks for a direction."""
        return self.population.walks < FEW_WALKS

    @property
    def warned(self) -> bool:
        """Whether the chance of being over is one to warn of, at 5 % false alarms."""
        return self.next_walk.over is not None and self.next_walk.over >= WARNED_FROM

    @property
    def near(self) -> bool:
        """Whether being over by the next walk is not unlikely: 10 % or more."""
        return self.next_walk.over is not None and self.next_walk.over >= NEAR_FROM


@dataclass(frozen=True)
class Forecasts:
    """Every series that was counted within a year, by what it is of; what treatments did.

    ``inflation`` is the factor on all variances that the operation's own past asks for; 1: none.
    ``learned`` is the stored refit whose numbers were used; None: start values.
    ``params`` are the numbers that were used, ``result`` the forecasts of newest walks alone.
    ``put`` is every load put out up to the day.
    """

    day: dt.date
    ahead: Mapping[Key, Ahead]
    did: tuple[Did, ...]
    still_works: tuple[StillWorks, ...]
    series: forecast.Series
    result: forecast.Result
    replayed: forecast.Replay
    inflation: float
    learned: Learned | None = None
    params: forecast.Params = forecast.DEFAULTS
    put: tuple[Put, ...] = ()

    def of(self, key: Key) -> Ahead | None:
        """What is known of a series; None where it was never counted."""
        return self.ahead.get(key)

    @cached_property
    def by_need(self) -> tuple[Ahead, ...]:
        """Series with a threshold, those most likely to be over by their next walk first."""
        held = [(a.next_walk.over, a) for a in self.ahead.values() if a.next_walk.over is not None]
        return tuple(a for _, a in sorted(held, key=lambda pair: -pair[0]))

    @cached_property
    def surprising(self) -> tuple[Ahead, ...]:
        """Series of which the last count is worth a second look."""
        return tuple(a for a in self.ahead.values() if a.surprising is not None)


def forecasts(
    session: Session,
    known: Gathered,
    params: forecast.Params | None = None,
    history: History | None = None,
) -> Forecasts | None:
    """Forecast every pest of the units alive on the day of what was gathered; None of none.

    Natural enemies have no forecast. ``history`` is not made again where it is given. Without
    ``params`` the newest refit up to the day is used, and start values where there is none.
    """
    history = all_series(known) if history is None else history
    loads = loads_of(session, known)
    populations = list(_populations(known, history, treatments_of(known, loads)))
    if not populations:
        return None
    moves = moves_of(session, _since(known), known.day)
    given = _given(known, populations, moves)
    learned = stored(moves.refits) if params is None else None
    params = forecast.DEFAULTS if params is None else params
    if learned is not None:
        scouts = scouts_of(session, _since(known), known.day) if learned.scouts else {}
        given, params = taken_up(learned, given, populations, scouts, known.day)
    dues = [_due(known, p) for p in populations]
    ahead = {(due - p.days[-1].on).days for due, p in zip(dues, populations, strict=True)}
    late = {(known.day - p.days[-1].on).days for p in populations}
    horizons = sorted({*ahead, *(days for days in late if days >= USUAL_GAP), *HORIZONS})
    result, replayed, factor = _filtered(given, params, horizons)
    rows = {int(result.series[row]): int(row) for row in result.last}
    found = {
        p.key: _ahead(known, p, result, rows[n], horizons, due)
        for n, (p, due) in enumerate(zip(populations, dues, strict=True))
        if n in rows
    }
    did = each(populations, given, result)
    return Forecasts(
        known.day, found, tuple(did), tuple(pooled(did)), given, result, replayed, factor, learned,
        params,
        put=tuple(one.put for one in loads),
    )  # fmt: skip


def _filtered(
    given: forecast.Series, params: forecast.Params, horizons: Sequence[int]
) -> tuple[forecast.Result, forecast.Replay, float]:
    """Forecasts by all walks, what they would have said of each, and the factor on variances.

    The factor is on forecasts alone, never on the state: one passage through the walks gives both.
    """
    plain = replace(params, inflation=1.0)
    result = forecast.run(given, plain, horizons=tuple(horizons), newest=True)
    replayed = forecast.replay(given, plain, result)
    factor = forecast.inflation(replayed)
    return forecast.widened(result, given, factor), replayed, factor


def refitted(session: Session, known: Gathered) -> Refit | None:
    """What the records up to the day teach, to be written; None where nothing was counted."""
    treatments = treatments_of(known, loads_of(session, known))
    populations = list(_populations(known, all_series(known), treatments))
    if not populations:
        return None
    given = _given(known, populations, moves_of(session, _since(known), known.day))
    return refit(given, populations, known, scouts_of(session, _since(known), known.day))


def _since(known: Gathered) -> dt.date:
    return known.day - dt.timedelta(days=LEARN_DAYS)


def _given(known: Gathered, populations: Sequence[Population], moves: Moves) -> forecast.Series:
    """The arrays of all populations, with plants that came in and levels that may have jumped."""
    given = arrays(
        known,
        populations,
        _exposures(known),
        moves.air,
        jumped(known, populations, moves),
    )
    return replace(given, movements=movements(known, populations, moves))


def _populations(
    known: Gathered, history: History, treatments: Sequence[Treatment]
) -> Iterator[Population]:
    alive = {u.id for u in known.units}
    keys = [
        k for k in history.samples if k.unit_id in alive and known.taxa[k.taxon].kind != "enemy"
    ]
    keys.sort(key=lambda k: (str(k.unit_id), k.taxon, k.stage, k.method))
    newest = [history.of(key)[-1] for key in keys]
    for key, last, spread in zip(keys, newest, learned(known, newest, history), strict=True):
        rule, _ = in_force(known, last)
        value = None if rule is None else rule.threshold.value
        yield of_key(known, key, history, treatments, spread, value)


def _exposures(known: Gathered) -> dict[tuple[Key, dt.date], float]:
    """Days the cards of a day hung, on average; those that nobody says are left out."""
    held: dict[tuple[Key, dt.date], list[float]] = {}
    for c in known.catches:
        if c.role == "interior" and c.days:
            key = Key(c.unit_id, c.taxon, c.stage, c.method)
            held.setdefault((key, c.walk_on), []).append(c.days)
    return {at: sum(days) / len(days) for at, days in held.items()}


def _due(known: Gathered, p: Population) -> dt.date:
    """The day of the next walk by the usual gap, at the earliest the day after the summary's."""
    on = [s.on for s in p.days]
    gaps = [(b - a).days for a, b in pairwise(on) if a < b]
    usual = round(median(gaps)) if gaps else USUAL_GAP
    return max(on[-1] + dt.timedelta(days=usual), known.day + dt.timedelta(days=1))


def _ahead(
    known: Gathered, p: Population, result: forecast.Result, row: int, horizons: Sequence[int],
    due: dt.date,
) -> Ahead:  # fmt: skip
    last = p.days[-1].on
    late = (known.day - last).days

    def day(days: int) -> Day:
        return _day(p, result, row, horizons.index(days), last, days)

    low, high = _ends(result.now_mean[row], result.now_sd[row], NOW_LEVEL, p.scale)
    residual = float(result.residual[row])
    return Ahead(
        population=p,
        last_on=last,
        now=Interval(NOW_LEVEL, low, high),
        next_walk=day((due - last).days),
        days=tuple(day(days) for days in HORIZONS),
        surprising=residual if abs(residual) > SURPRISE else None,
        today=day(late) if late >= USUAL_GAP else None,
    )


def _day(
    p: Population, result: forecast.Result, row: int, at: int, last: dt.date, days: int
) -> Day:
    mean, sd = float(result.mean[row, at]), float(result.sd[row, at])
    over = [None if np.isnan(v) else float(v) for v in result.over[row, at]]
    return Day(
        on=last + dt.timedelta(days=days),
        days=days,
        middle=float(np.exp(mean)) * p.scale,
        intervals=tuple(Interval(level, *_ends(mean, sd, level, p.scale)) for level in LEVELS),
        over=over[0],
        over_70=over[1],
        over_150=over[2],
    )


def _ends(mean: float, sd: float, level: float, scale: float) -> tuple[float, float]:
    half = _quantile((1 + level) / 2) * sd
    return float(np.exp(mean - half)) * scale, float(np.exp(mean + half)) * scale


@cache
def _quantile(level: float) -> float:
    return forecast.normal_quantile(level)


def calibrated(found: Forecasts) -> forecast.Scores | None:
    """How right past forecasts of these series were, each walk forecast by those before it."""
    return forecast.scores(found.replayed)
