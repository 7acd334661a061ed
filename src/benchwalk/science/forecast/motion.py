"""How a state moves between walks: growth, the work of a treatment, plants that come in.

A state is Normal: log density x, deviation of growth d, log-kill K of the latest treatment, change
of growth E that it caused. It is kept as one array, (:data:`ROWS`, series): means, upper triangle
of the covariance, and what is known of the latest treatment.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchwalk.science.arguments import FloatArray
from benchwalk.science.forecast.data import IntArray, Series
from benchwalk.science.forecast.params import Params

X, D, K, E = range(4)
#: rows of the covariance
XX, XD, XK, XE, DD, DK, DE, KK, KE, EE = range(4, 14)
#: day of the state; day, lag and action of the treatment; what its class expects
AT, TREATED, LAG, ACTION, EXPECTED, EXPECTED_SD = range(14, 20)
ROWS = 20
HOT, TOP = 35.0, 33.0  # degC: heat kills above it; growth is no faster above it


@dataclass(frozen=True)
class Group:
    """Numbers of motion, for each series."""

    a: FloatArray
    rho: FloatArray
    sg: FloatArray
    q: FloatArray
    room: FloatArray  #: density at which growth has stopped; inf: never

    @classmethod
    def of(cls, series: Series, params: Params) -> Group:
        """Those of each series' group, the deviation of growth doubled where growth is general."""
        every = (*params.groups, params.common)  # -1 is the last
        number = np.full(series.number, -1) if series.group is None else np.asarray(series.group)
        table = np.array([(g.a, g.rho, g.sg, g.q, g.room) for g in every])[number].T
        table[4] *= np.asarray(series.reference, float)
        if series.room is not None:
            said = np.asarray(series.room, float)
            table[4] = np.where(np.isnan(said), table[4], said)
        if series.pests.general is not None:
            table[2] *= np.where(np.asarray(series.pests.general)[_pest(series)], 2.0, 1.0)
        return cls(*table)

    def at(self, rows: IntArray) -> Group:
        """Those of some series."""
        return Group(*(of[rows] for of in (self.a, self.rho, self.sg, self.q, self.room)))


def _pest(series: Series) -> IntArray:
    return np.zeros(series.number, np.int64) if series.pest is None else np.asarray(series.pest)


class Growth:
    """Growth that temperature allows, summed up over days for each pest in each house."""

    def __init__(self, series: Series, params: Params) -> None:
        pest = _pest(series)
        house = np.zeros(series.number, np.int64)
        if series.house is not None and series.temperature is not None:
            house = np.asarray(series.house, np.int64)
        pairs, row = np.unique(np.stack([pest, house]), axis=1, return_inverse=True)
        self.row = row.reshape(-1)
        warmth = _warmth(series, params)
        so_far = _mean_so_far(warmth, params.assumed_temperature)
        filled = np.where(np.isnan(warmth), so_far[:, 1:], warmth)
        rate = _rate(series, pairs[0], filled[pairs[1]])
        self.usual = _rate(series, pairs[0], so_far[pairs[1]])
        self.sums = np.concatenate([np.zeros((len(rate), 1)), np.cumsum(rate, axis=1)], axis=1)
        self.first = 0.0 if series.temperature is None else float(series.temperature.first_day)

    def expected(self, rows: IntArray, at: FloatArray, days: float) -> FloatArray:
        """Growth of the days ahead as it is expected at a time: no later reading is looked at."""
        known = np.ceil(np.clip(at - self.first, 0, self.sums.shape[1] - 1)).astype(np.int64)
        return np.asarray(days * self.usual[self.row[rows], known])

    def between(self, rows: IntArray, since: FloatArray, until: FloatArray) -> FloatArray:
        """Integral of the rate of increase from one time to another. [1]"""
        return self._upto(rows, until) - self._upto(rows, since)

    def _upto(self, rows: IntArray, at: FloatArray) -> FloatArray:
        pair, days = self.row[rows], self.sums.shape[1] - 1
        along = at - self.first
        inside = np.clip(along, 0, days)
        whole = np.minimum(inside.astype(np.int64), max(days - 1, 0))
        low = self.sums[pair, whole]
        high = self.sums[pair, np.minimum(whole + 1, days)]
        return np.asarray(
            low
            + (inside - whole) * (high - low)
            + np.minimum(along, 0) * self.usual[pair, 0]
            + np.maximum(along - days, 0) * self.usual[pair, -1]
        )


def _warmth(series: Series, params: Params) -> FloatArray:
    if series.temperature is None:
        return np.full((1, 1), params.assumed_temperature)
    return np.asarray(series.temperature.by_house, float)


def _mean_so_far(warmth: FloatArray, otherwise: float) -> FloatArray:
    """Mean of a house's readings before each day and after the last (houses, days + 1)."""
    known = ~np.isnan(warmth)
    start = np.zeros((len(warmth), 1))
    number = np.concatenate([start, np.cumsum(known, axis=1)], axis=1)
    total = np.concatenate([start, np.cumsum(np.where(known, warmth, 0), axis=1)], axis=1)
    return np.where(number > 0, total / np.maximum(number, 1), otherwise)


def _rate(series: Series, pest: IntArray, temperature: FloatArray) -> FloatArray:
    """Rate of increase at temperatures (pairs, days). [1/d]"""
    pests = series.pests
    r30, low = np.asarray(pests.r30, float)[pest], np.asarray(pests.t_low, float)[pest]
    grown = np.minimum(temperature, TOP) - low[:, None]
    rate = (r30 / (30 - low))[:, None] * np.maximum(grown, 0)
    if pests.heat_death is not None:
        rate -= np.asarray(pests.heat_death)[pest][:, None] * np.maximum(temperature - HOT, 0)
    if pests.cold_decline is not None:
        rate -= np.asarray(pests.cold_decline)[pest][:, None] * (grown < 0)
    return np.asarray(rate)


def done(s: FloatArray, at: FloatArray) -> FloatArray:
    """Share of the kill done at a time; 0 before the treatment, and where there was none."""
    with np.errstate(invalid="ignore"):
        share = np.clip((at - s[TREATED] - s[LAG]) / s[ACTION], 0, 1)
    return np.where(np.isnan(share), 0.0, share)


def rebound(s: FloatArray, at: FloatArray, rate: float) -> FloatArray:
    """Days of full rebound at a time: (1 - exp(-rate tau)) / rate. [d]"""
    tau = np.nan_to_num(np.maximum(at - s[TREATED], 0))
    return np.asarray(-np.expm1(-rate * tau) / rate)


def moved(
    s: FloatArray, until: FloatArray, rows: IntArray, group: Group, growth: Growth, params: Params
) -> FloatArray:
    """The states at a later time, without a further event; ``s`` is left as it is."""
    since = s[AT]
    days = until - since
    phi = np.exp(-group.rho * days)
    b = np.where(group.rho > 0, -np.expm1(-group.rho * days) / np.maximum(group.rho, 1e-12), days)
    kill = done(s, since) - done(s, until)
    back = rebound(s, until, params.rebound_rate) - rebound(s, since, params.rebound_rate)
    x = s.copy()
    x[AT] = until
    grown = group.a * growth.between(rows, since, until)
    less, slope = crowded(s[X], grown, group.room)
    x[X] += grown - less + b * s[D] + kill * s[K] + back * s[E]
    x[D] *= phi
    to_x = slope * s[XX] + b * s[XD] + kill * s[XK] + back * s[XE]
    to_d = slope * s[XD] + b * s[DD] + kill * s[DK] + back * s[DE]
    to_k = slope * s[XK] + b * s[DK] + kill * s[KK] + back * s[KE]
    to_e = slope * s[XE] + b * s[DE] + kill * s[KE] + back * s[EE]
    own, fade = group.sg**2, np.maximum(group.rho, 1e-12)
    x[XX] = slope * to_x + b * to_d + kill * to_k + back * to_e
    x[XX] += group.q * days + own * (2 / fade * (days - b) - b**2)
    x[XD] = phi * to_d + own * b * (1 - phi)
    x[XK], x[XE] = to_k, to_e
    x[DD] = phi**2 * s[DD] + own * (1 - phi**2)
    x[DK], x[DE] = phi * s[DK], phi * s[DE]
    return x


def crowded(x: FloatArray, grown: FloatArray, room: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Growth that crowding takes away, and how the log density after hangs on that before.

    Growth fades in a straight line of density to none at ``room``, so it is logistic: from D to
    D e^G / (1 + (e^G - 1) D / room). Taken at the middle of what is believed of the density.
    """
    taken = np.expm1(np.maximum(grown, 0)) * np.exp(np.minimum(x, 50.0)) / room
    return np.log1p(taken), 1 / (1 + taken)


def ahead(
    s: FloatArray, days: float, rows: IntArray, group: Group, growth: Growth, params: Params
) -> tuple[FloatArray, FloatArray]:
    """Mean and variance of log density so many days on: the first row of :func:`moved`."""
    until = s[AT] + days
    phi = np.exp(-group.rho * days)
    fade = np.maximum(group.rho, 1e-12)
    b = np.where(group.rho > 0, (1 - phi) / fade, days)
    grown = group.a * growth.expected(rows, s[AT], days)
    less, slope = crowded(s[X], grown, group.room)
    mean = s[X] + grown - less + b * s[D]
    variance = slope * (slope * s[XX] + 2 * b * s[XD]) + b * b * s[DD] + group.q * days
    variance += group.sg**2 * (2 / fade * (days - b) - b * b)
    treated = ~np.isnan(s[TREATED])
    if treated.any():
        t, rate = s[:, treated], params.rebound_rate
        kill = done(t, t[AT]) - done(t, until[treated])
        back = rebound(t, until[treated], rate) - rebound(t, t[AT], rate)
        b, slope = b[treated], slope[treated]
        mean[treated] += kill * t[K] + back * t[E]
        variance[treated] += kill**2 * t[KK] + back**2 * t[EE] + 2 * back * kill * t[KE]
        variance[treated] += 2 * kill * (slope * t[XK] + b * t[DK])
        variance[treated] += 2 * back * (slope * t[XE] + b * t[DE])
    return mean, variance


def effect(s: FloatArray, params: Params) -> FloatArray:
    """Days since the treatment, log-kill so far and its sd; both as its class expected them."""
    now = s[AT]
    w, b = done(s, now), rebound(s, now, params.rebound_rate)
    variance = w**2 * s[KK] - 2 * w * b * s[KE] + b**2 * s[EE]
    expected_sd = np.hypot(w * s[EXPECTED_SD], b * params.rebound_sd)
    mean = w * s[K] - b * s[E]
    sd = np.sqrt(np.maximum(variance, 0))
    return np.stack([now - s[TREATED], mean, sd, w * s[EXPECTED], expected_sd])


def fold(s: FloatArray, params: Params) -> None:
    """What the latest treatment has still to do is done at once, and is forgotten. In place."""
    rest = 1 - done(s, s[AT])
    had = ~np.isnan(s[TREATED])
    rest = np.where(had, rest, 0.0)
    left = np.where(had, np.exp(-params.rebound_rate * np.nan_to_num(s[AT] - s[TREATED])), 0.0)
    s[X] -= rest * s[K]
    s[D] += left * s[E]
    s[XX] += rest**2 * s[KK] - 2 * rest * s[XK]
    s[XD] += left * s[XE] - rest * s[DK] - rest * left * s[KE]
    s[DD] += left**2 * s[EE] + 2 * left * s[DE]
    s[[K, E, XK, XE, DK, DE, KK, KE, EE]] = 0.0
    s[TREATED] = np.nan


def treat(
    s: FloatArray, log_kill: FloatArray, sd: FloatArray, lag: FloatArray, action: FloatArray,
    share: FloatArray, params: Params,
) -> None:  # fmt: skip
    """A treatment now, of a share of the unit, takes the place of the one before. In place."""
    fold(s, params)
    left = 1 - share + share * np.exp(-log_kill)
    s[K] = s[EXPECTED] = -np.log(left)
    # how the unit's fall moves with that of its treated part
    s[EXPECTED_SD] = sd * share * np.exp(-log_kill) / left
    s[KK] = s[EXPECTED_SD] ** 2
    s[EE] = params.rebound_sd**2
    s[TREATED], s[LAG], s[ACTION] = s[AT], lag, np.maximum(action, 1e-6)


def mix(
    s: FloatArray, plants: FloatArray, resident: FloatArray, mean: FloatArray, variance: FloatArray
) -> None:
    """Plants come in with their pests: mean and variance matched on the natural scale. In place.

    Mean and variance are those of the mixture, weighted by plants: a walk may see either. So the
    expected number of pests on all plants is what it was on both together. The deviation of growth
    stays that of the plants that were there, and hangs less on their density.
    """
    there = resident / (plants + resident)
    other = np.exp(mean + variance / 2)
    # none there: what is believed of them has no weight, however wide it is
    own = np.where(there > 0, np.exp(s[X] + s[XX] / 2), other)
    total = there * own + (1 - there) * other
    widths = (np.where(there > 0, s[XX], 0.0), variance)
    parts = (there, own), (1 - there, other)
    after = np.log(
        sum(w * (m / total) ** 2 * np.exp(v) for (w, m), v in zip(parts, widths, strict=True))
    )
    part = there * own / total
    s[X], s[XX] = np.log(total) - after / 2, after
    for row in (XD, XK, XE):
        s[row] *= part
