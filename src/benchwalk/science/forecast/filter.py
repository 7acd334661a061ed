"""The filter: every series walk by walk, all series at once.

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
from benchwalk.science.forecast.data import (
    AGAINST,
    Effect,
    IntArray,
    Kind,
    Result,
    Series,
    State,
)
from benchwalk.science.forecast.distributions import normal_cdf
from benchwalk.science.forecast.observation import Counts, learned
from benchwalk.science.forecast.params import DEFAULTS, Params
from benchwalk.science.forecast.walks import (
    MOVEMENT,
    PROGRAMME,
    TREATMENT,
    Walks,
    check,
    events_of,
    walks_of,
)

HORIZONS = (7.0, 14.0)
#: of a card's days, in which its catch is added up; a treatment among them parts them well enough
PARTS = 12


def start(series: Series, params: Params = DEFAULTS) -> State:
    """The state before any walk: unknown, of every series."""
    values = np.zeros((motion.ROWS, series.number))
    values[[motion.X, motion.AT, motion.TREATED]] = np.nan
    return State(values)


def run(
    series: Series, params: Params = DEFAULTS, horizons: tuple[float, ...] = HORIZONS
) -> Result:
    """Filter all walks, with the forecasts that could be made on the day of each.

    Parameters
    ----------
    series : what was seen, see :class:`Series`.
    horizons : days ahead. [d]

    Returns
    -------
    Result : one row for each walk. A count of 0 is a count; NaN and effort 0 change nothing.

    Raises
    ------
    ValueError : arrays of unlike length, counts not sorted by series and day, negative numbers.
    """
    return step(start(series, params), series, params, horizons)


def step(
    state: State,
    series: Series,
    params: Params = DEFAULTS,
    horizons: tuple[float, ...] = HORIZONS,
) -> Result:
    """Filter new walks only, from where the series stood; see :func:`run`."""
    check(series)
    walks = walks_of(series, params)
    return _Filter(state, series, params, horizons, walks).result()


class _Filter:
    """One pass over the walks: the first of every series, then the second of every series ..."""

    def __init__(
        self, state: State, series: Series, params: Params, horizons: tuple[float, ...],
        walks: Walks,
    ) -> None:  # fmt: skip
        self.series, self.params, self.walks = series, params, walks
        self.horizons = np.asarray(horizons, float)
        self.values = np.array(state.values, float)
        self.group = motion.Group.of(series, params)
        self.growth = motion.Growth(series, params)
        self.events = events_of(series)
        self.next = np.searchsorted(self.events.series, np.arange(series.number))
        self._pass_over(np.arange(series.number), self.values[motion.AT])
        self.end = np.searchsorted(self.events.series, np.arange(series.number), side="right")
        n, h = len(walks.series), len(self.horizons)
        self.now, self.ahead = np.full((2, n), np.nan), np.full((2, n), np.nan)
        self.later = np.full((2, n, h), np.nan)
        self.residual, self.evidence = np.full(n, np.nan), np.zeros(n)
        self.effect = np.full((5, n), np.nan)

    def result(self) -> Result:
        order = np.argsort(self.walks.series, kind="stable")
        firsts = np.searchsorted(self.walks.series, np.arange(self.series.number))
        turn = np.arange(len(order)) - firsts[self.walks.series]
        for n in range(int(turn.max(initial=-1)) + 1):
            self._walk(np.flatnonzero(turn == n))
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
            over=self._over(),
            residual=self.residual,
            log_evidence=self.evidence,
            ahead_mean=self.ahead[0],
            ahead_sd=np.sqrt(self.ahead[1]),
            effect=Effect(*self.effect),
            state=State(self.values),
            effort=self.walks.counts.effort[last],
            size=self.walks.counts.size[last],
        )

    def _walk(self, walks: IntArray) -> None:
        """One walk of each of some series: to its day, its counts, then ahead."""
        of, day = self.walks.series[walks], self.walks.day[walks]
        s = self._to(of, day)
        s[motion.XX] += self.walks.jump[walks]
        self.ahead[:, walks] = s[[motion.X, motion.XX]]
        self._look(s, walks)
        self.now[:, walks] = s[[motion.X, motion.XX]]
        self.effect[:, walks] = self._done(s)
        self.values[:, of] = s
        for column, days in enumerate(self.horizons):
            later = self._moved(s, of, day + days)
            self.later[0, walks, column] = later[motion.X]
            self.later[1, walks, column] = later[motion.XX] * self.params.inflation

    def _to(self, of: IntArray, day: FloatArray) -> FloatArray:
        """The states of some series on their days, every event before them met."""
        s = self.values[:, of]
        new = np.isnan(s[motion.AT])
        if new.any():
            s[:, new] = self._first(of[new], day[new])
            self._pass_over(of[new], day[new])
        while True:
            at = self.next[of]
            there = at < self.end[of]
            there[there] = self.events.day[at[there]] < day[there]
            if not there.any():
                return self._moved(s, of, day)
            rows = np.flatnonzero(there)
            s[:, rows] = self._met(s[:, rows], of[rows], at[rows])
            self.next[of[rows]] += 1

    def _first(self, of: IntArray, day: FloatArray) -> FloatArray:
        """What is believed before a first walk; never from a threshold."""
        series, s = self.series, np.zeros((motion.ROWS, len(of)))
        s[motion.X] = np.log(np.asarray(series.reference, float)[of])
        s[motion.XX] = self.params.prior_variance
        for given, row, power in (
            (series.prior_mean, motion.X, 1),
            (series.prior_sd, motion.XX, 2),
        ):
            if given is not None:
                values = np.asarray(given, float)[of] ** power
                s[row] = np.where(np.isnan(values), s[row], values)
        s[motion.DD] = self.group.sg[of] ** 2
        s[motion.AT], s[motion.TREATED] = day, np.nan
        return s

    def _pass_over(self, of: IntArray, day: FloatArray) -> None:
        """What happened before a day is in the state already, or in what a first walk saw."""
        limit = np.full(self.series.number, -np.inf)
        limit[of] = np.where(np.isnan(day), -np.inf, day)
        past = self.events.day < limit[self.events.series]
        self.next += np.bincount(self.events.series[past], minlength=self.series.number)

    def _moved(self, s: FloatArray, of: IntArray, day: FloatArray) -> FloatArray:
        group = self.group.at(of)
        return motion.moved(s, day, of, group, self.growth, self.params)

    def _met(self, s: FloatArray, of: IntArray, events: IntArray) -> FloatArray:
        s = self._moved(s, of, self.events.day[events])
        what, row = self.events.what[events], self.events.row[events]
        for kind, meet in (
            (TREATMENT, self._treated), (PROGRAMME, self._released), (MOVEMENT, self._mixed)
        ):  # fmt: skip
            which = np.flatnonzero(what == kind)
            if len(which):
                part = s[:, which]
                meet(part, row[which])
                s[:, which] = part
        return s

    def _treated(self, s: FloatArray, row: IntArray) -> None:
        held = self.series.treatments
        classes = [self.params.classes[held.kind[i]] for i in row]
        kill, sd, lag, action = np.array(
            [(c.log_kill, c.log_kill_sd, c.lag, c.action) for c in classes]
        ).T
        share = np.ones(len(row)) if held.share is None else np.asarray(held.share, float)[row]
        if held.residual is not None:
            action = np.maximum(action, np.nan_to_num(np.asarray(held.residual, float)[row]))
        motion.treat(s, kill, sd, lag, action, share, self.params)

    def _released(self, s: FloatArray, row: IntArray) -> None:
        """A programme begins: growth is less known from here on, its mean is not changed."""
        s[motion.D] += self.params.programme_growth
        s[motion.DD] += self.params.programme_sd**2

    def _mixed(self, s: FloatArray, row: IntArray) -> None:
        held = self.series.movements
        mean, variance = (
            np.asarray(held.log_mean, float)[row],
            np.asarray(held.log_sd, float)[row] ** 2,
        )
        origin = np.asarray(held.origin, np.int64)[row]
        known = (origin >= 0) & ~np.isnan(self.values[motion.AT, origin])
        if known.any():
            # a state is never carried back: walked since, it says how it was at that walk
            from_ = self.values[:, origin[known]]
            day = np.maximum(np.asarray(held.day, float)[row[known]], from_[motion.AT])
            there = self._moved(from_, origin[known], day)
            mean[known], variance[known] = there[motion.X], there[motion.XX]
        plants, resident = (np.asarray(a, float)[row] for a in (held.plants, held.resident))
        said = ~np.isnan(mean) & ~np.isnan(variance)
        part = s[:, said]
        motion.mix(part, plants[said], resident[said], mean[said], variance[said])
        s[:, said] = part

    def _look(self, s: FloatArray, walks: IntArray) -> None:
        """Take the counts of a walk, one way of counting after another. In place."""
        most = int(self.walks.number[walks].max(initial=0))
        for way in range(most):
            which = np.flatnonzero(self.walks.number[walks] > way)
            rows = self.walks.first[walks[which]] + way
            part = s[:, which]
            residual, evidence = self._counted(part, self.walks.series[walks[which]], rows)
            s[:, which] = part
            held = self.residual[walks[which]]
            larger = np.isnan(held) | (np.abs(residual) > np.abs(held))
            self.residual[walks[which]] = np.where(larger, residual, held)
            self.evidence[walks[which]] += evidence

    def _counted(
        self, s: FloatArray, of: IntArray, rows: IntArray
    ) -> tuple[FloatArray, FloatArray]:
        counts = self.walks.counts.of(rows)
        shift, variance = self.walks.offset[rows], self.walks.offset_variance[rows]
        z, c = self._seen(s, of, self.walks.exposure[rows])
        residual = _residual(z + shift, _spread(s, c) + variance, counts)
        s[motion.XX] += np.where(
            np.abs(residual) > self.params.surprise, self.params.surprise_variance, 0
        )
        evidence = _update(s, z, c, counts, shift, variance)
        return residual, evidence

    def _seen(
        self, s: FloatArray, of: IntArray, exposure: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """What is counted, as a number z and its slope along (x, d, K, E): of plants x itself."""
        z, c = s[motion.X].copy(), np.zeros((4, s.shape[1]))
        c[0] = 1.0
        hung = np.flatnonzero(exposure > 0)
        if len(hung):
            z[hung], c[:, hung] = self._caught(s[:, hung], of[hung], exposure[hung])
        return z, c

    def _caught(
        self, s: FloatArray, of: IntArray, exposure: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Log of the average of density over a card's days, looked back on from the reading."""
        group, now = self.group.at(of), s[motion.AT]
        logs, slopes = np.empty((PARTS, len(of))), np.zeros((PARTS, 4, len(of)))
        for part in range(PARTS):
            at = now - exposure * (part + 0.5) / PARTS
            days = now - at
            slopes[part, 0] = 1.0
            slopes[part, 1] = -np.expm1(group.rho * days) / np.maximum(group.rho, 1e-12)
            slopes[part, 2] = motion.done(s, now) - motion.done(s, at)
            rate = self.params.rebound_rate
            slopes[part, 3] = motion.rebound(s, at, rate) - motion.rebound(s, now, rate)
            grown = group.a * self.growth.between(of, at, now)
            logs[part] = np.einsum("is,is->s", slopes[part], s[: motion.E + 1]) - grown
        top = logs.max(axis=0)
        shares = np.exp(logs - top)
        total = shares.sum(axis=0)
        return top + np.log(total / PARTS), np.einsum("ps,pis->is", shares / total, slopes)

    def _done(self, s: FloatArray) -> FloatArray:
        """Days since the treatment, what it did so far, and what its class would have done."""
        day = s[motion.AT]
        w, b = motion.done(s, day), motion.rebound(s, day, self.params.rebound_rate)
        with np.errstate(invalid="ignore"):
            days = day - s[motion.TREATED]
        mean = w * s[motion.K] - b * s[motion.E]
        variance = w**2 * s[motion.KK] - 2 * w * b * s[motion.KE] + b**2 * s[motion.EE]
        sd = np.sqrt(np.maximum(variance, 0))
        expected = w * s[motion.EXPECTED]
        expected_sd = np.sqrt((w * s[motion.EXPECTED_SD]) ** 2 + (b * self.params.rebound_sd) ** 2)
        found = np.stack([days, mean, sd, expected, expected_sd])
        return np.where(np.isnan(days), np.nan, found)

    def _over(self) -> FloatArray:
        threshold = np.asarray(self.series.threshold, float)[self.walks.series]
        with np.errstate(invalid="ignore", divide="ignore"):
            limits = np.log(threshold)[:, None] + np.log(np.array(AGAINST))
            z = (self.later[0][:, :, None] - limits[:, None, :]) / np.sqrt(self.later[1])[
                :, :, None
            ]
        return np.where(np.isnan(z), np.nan, normal_cdf(z))


def _spread(s: FloatArray, c: FloatArray) -> FloatArray:
    return np.asarray(np.einsum("is,is->s", c, _along(s, c)))


def _along(s: FloatArray, c: FloatArray) -> FloatArray:
    """Covariance of the state with what is counted: P c."""
    m = motion
    return np.stack([
        s[m.XX] * c[0] + s[m.XD] * c[1] + s[m.XK] * c[2] + s[m.XE] * c[3],
        s[m.XD] * c[0] + s[m.DD] * c[1] + s[m.DK] * c[2] + s[m.DE] * c[3],
        s[m.XK] * c[0] + s[m.DK] * c[1] + s[m.KK] * c[2] + s[m.KE] * c[3],
        s[m.XE] * c[0] + s[m.DE] * c[1] + s[m.KE] * c[2] + s[m.EE] * c[3],
    ])  # fmt: skip


def _residual(mean: FloatArray, variance: FloatArray, c: Counts) -> FloatArray:
    """How far a count lies from what was expected, in sds of its log; NaN of other kinds."""
    seen = np.log((c.count + 0.5) / c.effort)
    noise = 1 / c.size + 1 / (c.effort * np.exp(mean) + 0.5)
    plain = (c.kind == Kind.COUNT) | (c.kind == Kind.CARD)
    with np.errstate(invalid="ignore"):
        return np.where(plain, (seen - mean) / np.sqrt(variance + noise), np.nan)


def _update(
    s: FloatArray, z: FloatArray, c: FloatArray, counts: Counts, shift: FloatArray,
    variance: FloatArray,
) -> FloatArray:  # fmt: skip
    """Learn from the counts: z is updated, and its gain carries that to the rest. In place."""
    along = _along(s, c)
    before = np.einsum("is,is->s", c, along) + variance
    found = learned(z + shift, before, counts)
    gain = along / before
    s[: motion.E + 1] += gain * (found.mean - z - shift)
    less = before - found.variance
    row = motion.XX
    for i in range(4):
        for j in range(i, 4):
            s[row] -= gain[i] * gain[j] * less
            row += 1
    return found.log_evidence


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
