"""Learning from an operation's own past: empirical Bayes, in two stages.

The evidence of all counts, added up, with normal priors on the logs of the numbers of motion: all
series together first, then each group drawn to that; a group of few series keeps the common
numbers. Then the round error of each method, what treatment classes and programmes do, scouts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import FloatArray
from benchwalk.science.forecast.data import IntArray, Methods, Series
from benchwalk.science.forecast.filter import run
from benchwalk.science.forecast.params import DEFAULTS, Group, Params
from benchwalk.science.forecast.scouts import scout_offsets
from benchwalk.science.forecast.some import some

#: series that are enough, and below which a group or method keeps what was common
SAMPLE, FEWEST = 200, 50
#: treatments or programmes of a kind below which what was expected of them stays
FEWEST_EVENTS = 10
#: sds of the priors: log scale, all together and of a group; log-kill of a class (the first and
#: the last assumed, no source)
COMMON_SD, GROUP_SD, KILL_SD = 0.5, 0.25, 0.5
STEP, CLIP, CLOSE, SWEEPS = 0.15, 0.5, 0.02, 6
MOTION = ("a", "rho", "sg", "q", "room")
#: insects of a round below which it says nothing of clumping
FEWEST_INSECTS = 3

#: evidence of each unit (group, method, class) at a shift of one number in all of them
Evidence = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True)
class Fitted:
    """What was learned.

    Attributes
    ----------
    params : with ``groups``, classes, scouts and the date as ``version``.
    methods : k as given, so2 learned where there were series enough.
    group : of each series, -1 where it keeps what is common; pass it on as ``Series.group``.
    series, counts : how many it was learned from.
    log_evidence, log_evidence_before : of the sample, with what was learned and with the start.
    """

    params: Params
    methods: Methods
    group: IntArray
    series: int
    counts: int
    log_evidence: float
    log_evidence_before: float


def fit(
    series: Series,
    keys: ArrayLike,
    params: Params = DEFAULTS,
    *,
    version: str,
    seed: int = 0,
    alike: ArrayLike | None = None,
) -> Fitted:
    """New numbers from the counts of an operation.

    Parameters
    ----------
    series : all that was counted; ``group`` in it is not looked at.
    keys : for each series its group (pest x stage x method), any whole numbers from 0.
    version : date of the fit, kept with the numbers.
    seed : of the sample of series; the same seed gives the same fit.
    alike : for each row of ``series.methods`` a number; rows of one number share what is learned of
        their so2. None: each row by itself.

    Returns
    -------
    Fitted : with no counts, ``params`` as they were (the defaults, without fitting).

    Raises
    ------
    ValueError : keys that are not one for each series.
    """
    key = np.asarray(keys, np.int64)
    if key.shape != (series.number,):
        raise ValueError(
            f"got keys of shape {key.shape}; expected one for each of {series.number} series; "
            "give the group of each"
        )
    counted = np.unique(np.asarray(series.series, np.int64)[_looked(series)])
    if not len(counted):
        keep = np.full(series.number, -1, np.int64)
        return Fitted(params, series.methods, keep, 0, 0, 0.0, 0.0)
    rng = np.random.default_rng(seed)
    sample = _drawn(rng, counted)
    calm = replace(params, surprise=np.inf, groups=())
    common = _common(some(series, sample), calm)
    learned = replace(calm, common=common)
    learned, group = _by_group(series, learned, key, counted, rng)
    seen = some(replace(series, group=group), sample)
    methods = _round_errors(seen, learned, alike)
    seen = replace(seen, methods=methods)
    learned = _programmes(seen, _classes(seen, learned))
    scouts = scout_offsets(replace(series, group=group, methods=methods), learned)
    learned = replace(learned, scouts={s: o for s, o in scouts.items() if o.sd > 0})
    after = _total(seen, learned)
    before = _total(some(replace(series, group=None), sample), calm)
    final = replace(learned, surprise=params.surprise, version=version, source=f"fitted {version}")
    n = int(_looked(series).sum())
    return Fitted(final, methods, group, len(counted), n, after, before)


def k_of_rounds(mean: ArrayLike, variance: ArrayLike, plants: ArrayLike) -> float:
    """K between plants of a group of rounds, from their variance within a round; NaN if none says.

    sum(m² - s²/n) / sum(s² - m) over rounds with more than 3 insects (moments, as in
    :func:`benchwalk.science.dispersion.k_from_rounds`). Infinite where counts are no more spread
    than those of a Poisson.
    """
    m, s2, n = (np.asarray(a, float) for a in np.broadcast_arrays(mean, variance, plants))
    use = (m * n > FEWEST_INSECTS) & (n > 1) & ~np.isnan(s2)
    if not use.any():
        return float("nan")
    above, extra = (m**2 - s2 / n)[use].sum(), (s2 - m)[use].sum()
    return float(above / extra) if extra > 0 else float("inf")


def _looked(series: Series) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    y, effort, plants = (np.asarray(a, float) for a in (series.count, series.effort, series.plants))
    return np.asarray(~np.isnan(y) & (effort > 0) & (plants > 0))


def _drawn(rng: np.random.Generator, counted: IntArray) -> IntArray:
    if len(counted) <= SAMPLE:
        return counted
    return np.sort(rng.choice(counted, SAMPLE, replace=False))


def _evidence(series: Series, params: Params) -> FloatArray:
    """Of each series."""
    result = run(series, params, horizons=(1.0,))
    each = np.bincount(result.series, result.log_evidence, minlength=series.number)
    return np.asarray(each, float)


def _total(series: Series, params: Params) -> float:
    return float(_evidence(series, params).sum())


def _common(series: Series, params: Params) -> Group:
    alone = replace(series, group=np.zeros(series.number, np.int64))
    unit = np.zeros(series.number, np.int64)
    return _climbed(alone, params, [params.common], unit, params.common, COMMON_SD)[0]


def _by_group(
    series: Series, params: Params, key: IntArray, counted: IntArray, rng: np.random.Generator
) -> tuple[Params, IntArray]:
    """Numbers of each group of series enough, drawn to the common ones."""
    group = np.full(series.number, -1, np.int64)
    number, samples = 0, []
    for name in np.unique(key[counted]):
        mine = counted[key[counted] == name]
        if len(mine) >= FEWEST:
            group[key == name] = number
            number += 1
            samples.append(_drawn(rng, mine))
    if number < 2:
        # one group is all there is: it has been fitted
        return params, np.full(series.number, -1, np.int64)
    seen = some(replace(series, group=group), np.concatenate(samples))
    unit = np.asarray(seen.group, np.int64)
    groups = _climbed(seen, params, [params.common] * number, unit, params.common, GROUP_SD)
    return replace(params, groups=tuple(groups)), group


def _climbed(
    series: Series, params: Params, groups: list[Group], unit: IntArray, centre: Group, sd: float
) -> list[Group]:
    """Newton steps along one number after another, all groups at once."""
    moving = [n for n, name in enumerate(MOTION) if 0 < getattr(centre, name) < np.inf]
    logs = np.log([[getattr(g, name) for name in MOTION] for g in groups])
    middle = np.log([getattr(centre, name) for name in MOTION])

    def evidence(at: FloatArray) -> FloatArray:
        tried = tuple(_group(row) for row in at)
        each = _evidence(series, replace(params, groups=tried))
        return np.asarray(np.bincount(unit, each, minlength=len(groups)), float)

    for _ in range(SWEEPS):
        before = logs.copy()
        for column in moving:
            logs = _stepped(logs, column, evidence, middle[column], sd)
        if np.abs(logs - before).max() < CLOSE:
            break
    n = np.bincount(unit, minlength=len(groups))
    return [
        replace(_group(row), n=int(number), source="fitted")
        for row, number in zip(logs, n, strict=True)
    ]


def _group(logs: FloatArray) -> Group:
    return Group(**dict(zip(MOTION, np.exp(logs).tolist(), strict=True)))


def _stepped(
    logs: FloatArray, column: int, evidence: Evidence, middle: float, sd: float
) -> FloatArray:
    shift = np.zeros(logs.shape[1])
    shift[column] = STEP
    points = [evidence(logs - shift), evidence(logs), evidence(logs + shift)]
    out = logs.copy()
    out[:, column] = _newton(logs[:, column], points, STEP, middle, sd)
    return out


def _newton(
    at: FloatArray, points: list[FloatArray], step: float, middle: float | FloatArray, sd: float
) -> FloatArray:
    """One step up a curve known at three points, a normal prior added."""
    low, here, high = points
    slope = (high - low) / (2 * step) - (at - middle) / sd**2
    curve = np.maximum(-(high - 2 * here + low) / step**2, 0) + 1 / sd**2
    return np.asarray(at + np.clip(slope / curve, -CLIP, CLIP))


def _alone(start: float, sd: float, step: float, evidence: Callable[[float], float]) -> float:
    """The best single number, drawn to its start; ``step`` is of a size that it may move by."""
    at = np.array([start])
    for _ in range(SWEEPS):
        points = [np.array([evidence(float(at[0] + s))]) for s in (-step, 0.0, step)]
        after = _newton(at, points, step, start, sd)
        after = np.clip(after, at - 2.5 * step, at + 2.5 * step)
        moved, at = abs(float(after[0] - at[0])), after
        if moved < step / 8:
            break
    return float(at[0])


def _round_errors(series: Series, params: Params, alike: ArrayLike | None) -> Methods:
    """so2 of methods with series enough; k is that of :func:`k_of_rounds`, and stays.

    Rows of methods that are alike move by one factor.
    """
    methods, so2 = series.methods, np.array(series.methods.so2, float)
    kind = np.arange(len(so2)) if alike is None else np.asarray(alike, np.int64)
    of = np.zeros(series.number, np.int64) if series.method is None else series.method
    number = np.bincount(kind[np.asarray(of, np.int64)], minlength=int(kind.max()) + 1)
    for name in np.flatnonzero(number >= FEWEST):
        rows, before = kind == name, so2

        def evidence(
            log_factor: float, rows: FloatArray = rows, before: FloatArray = before
        ) -> float:
            tried = np.where(rows, before * np.exp(log_factor), before)
            return _total(replace(series, methods=Methods(methods.k, tried)), params)

        so2 = np.where(rows, so2 * np.exp(_alone(0.0, COMMON_SD, STEP, evidence)), so2)
    return Methods(methods.k, so2)


def _classes(series: Series, params: Params) -> Params:
    """Log-kill of each class used often enough; how far single treatments spread stays."""
    kinds = np.array(series.treatments.kind)
    for name in sorted(set(series.treatments.kind)):
        if (kinds == name).sum() < FEWEST_EVENTS:
            continue

        def evidence(kill: float, name: str = name, held: Params = params) -> float:
            return _total(series, _with_kill(held, name, kill))

        kill = _alone(params.classes[name].log_kill, KILL_SD, STEP, evidence)
        params = _with_kill(params, name, kill)
    return params


def _with_kill(params: Params, name: str, kill: float) -> Params:
    held = replace(params.classes[name], log_kill=kill, source="fitted")
    return replace(params, classes={**params.classes, name: held})


def _programmes(series: Series, params: Params) -> Params:
    """What programmes do to growth, from enough of them."""
    if len(np.asarray(series.programmes.series)) < FEWEST_EVENTS:
        return params

    def evidence(growth: float) -> float:
        return _total(series, replace(params, programme_growth=growth))

    growth = _alone(params.programme_growth, params.programme_sd, 0.005, evidence)
    return replace(params, programme_growth=growth)
