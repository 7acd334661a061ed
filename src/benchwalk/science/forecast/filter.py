"""The filter: every series walk by walk, many series at once.

Counts of one series and time are one walk. Between walks the state moves; treatments and plants
that come in are met in order of their times, those at the very time of a walk after it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchwalk.science.arguments import FloatArray
from benchwalk.science.forecast import motion
from benchwalk.science.forecast.data import AGAINST, Effect, IntArray, Result, Series, State
from benchwalk.science.forecast.distributions import normal_cdf
from benchwalk.science.forecast.params import DEFAULTS, Params
from benchwalk.science.forecast.passage import Passage
from benchwalk.science.forecast.schedule import batches, sources
from benchwalk.science.forecast.walks import Walks, check, events_of, walks_of

HORIZONS = (7.0, 14.0)


def start(series: Series, params: Params = DEFAULTS) -> State:
    """The state before any walk: unknown, of every series."""
    values = np.zeros((motion.ROWS, series.number))
    values[[motion.X, motion.AT, motion.TREATED]] = np.nan
    return State(values)


def run(
    series: Series,
    params: Params = DEFAULTS,
    horizons: tuple[float, ...] = HORIZONS,
    *,
    newest: bool = False,
) -> Result:
    """Filter all walks, with the forecasts that could be made on the day of each.

    Parameters
    ----------
    series : what was seen, see :class:`Series`.
    horizons : days ahead. [d]
    newest : make the forecasts of each series' last walk only; those of the others are NaN.

    Returns
    -------
    Result : one row for each walk. A count of 0 is a count; NaN and effort 0 change nothing.

    Raises
    ------
    ValueError : arrays of unlike length, counts not sorted by series and day, negative numbers,
        more infested than there are plants, a class that is not in ``params``.
    """
    return step(start(series, params), series, params, horizons, newest=newest)


def step(
    state: State,
    series: Series,
    params: Params = DEFAULTS,
    horizons: tuple[float, ...] = HORIZONS,
    *,
    newest: bool = False,
) -> Result:
    """Filter new walks only, from where the series stood; see :func:`run`."""
    check(series, params)
    walks, events = walks_of(series, params), events_of(series, params)
    source = sources(series, walks)
    passage = Passage(state, series, params, walks, events, source)
    kept = _Kept(series, walks, np.asarray(horizons, float), newest=newest)
    for batch in batches(series, walks, source):
        kept.keep(batch, passage)
    return kept.result(State(passage.values))


class _Kept:
    """What is kept of every walk."""

    def __init__(self, series: Series, walks: Walks, horizons: FloatArray, *, newest: bool) -> None:
        n, h = len(walks.series), len(horizons)
        self.series, self.walks, self.horizons = series, walks, horizons
        self.ahead, self.now = np.full((2, n), np.nan), np.full((2, n), np.nan)
        self.looked = np.full((2, n), np.nan)
        self.later = np.full((2, n, h), np.nan)
        self.over = np.full((n, h, len(AGAINST)), np.nan)
        self.residual, self.evidence = np.full(n, np.nan), np.zeros(n)
        self.effect = np.full((5, n), np.nan)
        self.asked = np.append(np.diff(walks.series) != 0, True)[:n] if newest else np.ones(n, bool)

    def keep(self, batch: IntArray, passage: Passage) -> None:
        seen = passage.walk(batch)
        self.ahead[:, batch], self.now[:, batch] = seen.before, seen.state[[motion.X, motion.XX]]
        self.residual[batch], self.evidence[batch] = seen.residual, seen.log_evidence
        self.looked[:, batch] = seen.looked
        self._keep_effect(batch, seen.state, passage)
        asked = np.flatnonzero(self.asked[batch])
        if len(asked):
            self._keep_ahead(batch[asked], seen.state[:, asked], passage)

    def _keep_ahead(self, batch: IntArray, state: FloatArray, passage: Passage) -> None:
        of = self.walks.series[batch]
        threshold = np.asarray(self.series.threshold, float)[of]
        for column, days in enumerate(self.horizons):
            mean, variance = passage.ahead(state, of, float(days))
            self.later[:, batch, column] = mean, variance
            self.over[batch, column] = _over(mean, np.sqrt(variance), threshold)

    def _keep_effect(self, batch: IntArray, state: FloatArray, passage: Passage) -> None:
        treated = np.flatnonzero(~np.isnan(state[motion.TREATED]))
        if len(treated):
            self.effect[:, batch[treated]] = motion.effect(state[:, treated], passage.params)

    def result(self, state: State) -> Result:
        last = self.walks.first + self.walks.number - 1
        return Result(
            series=self.walks.series,
            day=self.walks.day,
            walk_of_count=self.walks.walk_of_count,
            horizons=self.horizons,
            now_mean=self.now[0],
            now_sd=np.sqrt(self.now[1]),
            mean=self.later[0],
            sd=np.sqrt(self.later[1]),
            over=self.over,
            residual=self.residual,
            log_evidence=self.evidence,
            ahead_mean=self.ahead[0],
            ahead_sd=np.sqrt(self.ahead[1]),
            effect=Effect(*self.effect),
            state=state,
            effort=self.walks.counts.effort[last],
            size=self.walks.counts.size[last],
            looked_mean=self.looked[0],
            looked_sd=np.sqrt(self.looked[1]),
        )


def _over(mean: FloatArray, sd: FloatArray, threshold: FloatArray) -> FloatArray:
    """(walk, of the threshold): chance of a density above it; above 0 it always is."""
    with np.errstate(divide="ignore"):
        limits = np.log(threshold)[:, None] + np.log(np.array(AGAINST))
    return normal_cdf((mean[:, None] - limits) / sd[:, None])


def widened(result: Result, series: Series, factor: float) -> Result:
    """The same with the variance of every forecast times a factor, as by ``params.inflation``."""
    sd = result.sd * np.sqrt(factor)
    threshold = np.asarray(series.threshold, float)[result.series]
    over = [_over(result.mean[:, h], sd[:, h], threshold) for h in range(sd.shape[1])]
    return replace(result, sd=sd, over=np.stack(over, axis=1) if over else result.over)


def until(series: Series, day: float) -> Series:
    """The counts before a day; all else as it is."""
    return _some(series, np.asarray(series.day, float) < day)


def since(series: Series, day: float) -> Series:
    """The counts from a day on; all else as it is, and :func:`step` passes over what was met."""
    return _some(series, np.asarray(series.day, float) >= day)


def _some(series: Series, which: NDArray[np.bool_]) -> Series:
    flat = ("series", "day", "count", "effort", "plants", "kind", "exposure", "scout", "flags")
    held: dict[str, Any] = {n: getattr(series, n) for n in flat}
    some: dict[str, Any] = {n: None if v is None else np.asarray(v)[which] for n, v in held.items()}
    return replace(series, **some)
