"""The way of a state from walk to walk: what it meets between them, what it learns at them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchwalk.science.arguments import FloatArray
from benchwalk.science.forecast import motion
from benchwalk.science.forecast.data import IntArray, Series, State
from benchwalk.science.forecast.observation import Counts, learned, residual
from benchwalk.science.forecast.params import Params
from benchwalk.science.forecast.schedule import Sources, beginning
from benchwalk.science.forecast.walks import (
    END,
    MOVEMENT,
    PROGRAMME,
    STEPS,
    TREATMENT,
    Events,
    Walks,
)

#: nodes of a piece of a card's days and their shares (Gauss-Legendre); two pieces each
_PIECE = np.polynomial.legendre.leggauss(3)
_ALONG, _SHARES = (_PIECE[0] + 1) / 2, _PIECE[1] / 2


@dataclass(frozen=True)
class Seen:
    """What walks said, one of each of some series."""

    state: FloatArray
    before: FloatArray  #: mean and variance of log density before the counts
    looked: FloatArray  #: the same of what is counted, seen with the eyes of the scout
    residual: FloatArray
    log_evidence: FloatArray


@dataclass(frozen=True)
class Looked:
    """What is counted, as a number z: log density, or its average over the days of a card."""

    mean: FloatArray
    variance: FloatArray
    along: FloatArray  #: covariance with (x, d, K, E)


class Passage:
    """States of all series, and what each has still to meet."""

    def __init__(
        self, state: State, series: Series, params: Params, walks: Walks, events: Events,
        source: Sources,
    ) -> None:  # fmt: skip
        self.series, self.params, self.walks, self.events = series, params, walks, events
        self.values = np.array(state.values, float)
        self.group = motion.Group.of(series, params)
        self.growth = motion.Growth(series, params)
        self.begin = beginning(self.values[motion.AT], walks, events)
        self.next = self.begin.event.copy()
        self.end = np.searchsorted(events.series, np.arange(series.number), side="right")
        self.source = source
        # where plants came from, as it stood at its last walk before they left
        origin = np.asarray(series.movements.origin, np.int64)
        self.left = self.values[:, np.maximum(origin, 0)]
        self.left[motion.AT, (origin < 0) | (source.walk >= 0)] = np.nan

    def walk(self, walks: IntArray) -> Seen:
        """To the day of each walk, and its counts."""
        of, day = self.walks.series[walks], self.walks.day[walks]
        s = self._begun(of)
        gap = day - s[motion.AT]
        s, self.next[of] = self._through(s, of, self.next[of], day)
        s[motion.XX] += self.walks.jump[walks]
        before = s[[motion.X, motion.XX]]
        surprise, evidence = np.full(len(of), np.nan), np.zeros(len(of))
        looked = np.full((2, len(of)), np.nan)
        for way in range(int(self.walks.number[walks].max(initial=0))):
            which = np.flatnonzero(self.walks.number[walks] > way)
            rows = self.walks.first[walks[which]] + way
            part = s[:, which]
            found, said, looked[:, which] = self._counted(part, of[which], rows, gap[which])
            s[:, which] = part
            evidence[which] += said
            larger = ~(np.abs(found) <= np.abs(surprise[which]))
            surprise[which] = np.where(larger & ~np.isnan(found), found, surprise[which])
        self.values[:, of] = s
        self._leave(walks)
        return Seen(s, before, looked, surprise, evidence)

    def ahead(self, s: FloatArray, of: IntArray, days: float) -> tuple[FloatArray, FloatArray]:
        """Mean and variance of log density so many days on, without a further event."""
        group = self.group.at(of)
        mean, variance = motion.ahead(s, days, of, group, self.growth, self.params)
        return mean, variance * self.params.inflation

    def _begun(self, of: IntArray) -> FloatArray:
        s = self.values[:, of]
        new = np.flatnonzero(np.isnan(s[motion.AT]))
        if len(new):
            s[:, new] = self._first(of[new])
        return s

    def _first(self, of: IntArray) -> FloatArray:
        """What is believed at a beginning; never from a threshold."""
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
        s[motion.TREATED] = np.nan
        event = self.begin.treated[of]
        treated = np.flatnonzero(event >= 0)
        if len(treated):
            part = s[:, treated]
            part[motion.AT] = self.events.day[event[treated]]
            self._treated(part, self.events.row[event[treated]])
            s[:, treated] = part
        s[motion.AT] = self.begin.day[of]
        return s

    def _through(
        self, s: FloatArray, of: IntArray, event: IntArray, day: FloatArray
    ) -> tuple[FloatArray, IntArray]:
        """The states on a day, every event before it met; and the events that are next."""
        event = event.copy()
        while True:
            there = event < self.end[of]
            there[there] = self.events.day[event[there]] < day[there]
            rows = np.flatnonzero(there)
            if not len(rows):
                return self._moved(s, of, day), event
            s[:, rows] = self._met(s[:, rows], of[rows], event[rows])
            event[rows] += 1

    def _moved(self, s: FloatArray, of: IntArray, day: FloatArray) -> FloatArray:
        return motion.moved(s, day, of, self.group.at(of), self.growth, self.params)

    def _met(self, s: FloatArray, of: IntArray, events: IntArray) -> FloatArray:
        s = self._moved(s, of, self.events.day[events])
        what, row = self.events.what[events], self.events.row[events]
        for kind, meet in (
            (TREATMENT, self._treated),
            (PROGRAMME, self._released),
            (END, self._ended),
            (MOVEMENT, self._mixed),
        ):
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
        """A step of a programme's ramp: what it does to growth is not known until learned."""
        s[motion.D] += self.params.programme_growth / STEPS
        s[motion.DD] += self.params.programme_sd**2 / STEPS

    def _ended(self, s: FloatArray, row: IntArray) -> None:
        s[motion.D] -= self.params.programme_growth / STEPS
        s[motion.DD] += self.params.programme_sd**2 / STEPS

    def _mixed(self, s: FloatArray, row: IntArray) -> None:
        """Plants with their pests; where nothing is known of them the level may jump."""
        held = self.series.movements
        mean = np.array(held.log_mean, float)[row]
        variance = np.array(held.log_sd, float)[row] ** 2
        for i in np.flatnonzero(~np.isnan(self.left[motion.AT, row])):
            mean[i], variance[i] = self._of_origin(int(row[i]))
        plants, resident = (np.asarray(a, float)[row] for a in (held.plants, held.resident))
        said = ~np.isnan(mean) & ~np.isnan(variance)
        s[motion.XX] += np.where(said, 0.0, self.params.jump_variance)
        part = s[:, said]
        motion.mix(part, plants[said], resident[said], mean[said], variance[said])
        s[:, said] = part

    def _of_origin(self, row: int) -> tuple[float, float]:
        """What is believed of the origin when plants leave it: from its walks until then."""
        held = self.series.movements
        origin = np.asarray(held.origin, np.int64)[row : row + 1]
        day = np.asarray(held.day, float)[row : row + 1]
        s = self.left[:, row : row + 1].copy()
        low, high = np.searchsorted(self.events.series, (origin[0], origin[0] + 1))
        event = low + np.searchsorted(self.events.day[low:high], s[motion.AT])
        s, _ = self._through(s, origin, event, day)
        return float(s[motion.X, 0]), float(s[motion.XX, 0])

    def _leave(self, walks: IntArray) -> None:
        if self.source.linked:
            for row in np.flatnonzero(np.isin(self.source.walk, walks)):
                self.left[:, row] = self.values[:, self.walks.series[self.source.walk[row]]]

    def _counted(
        self, s: FloatArray, of: IntArray, rows: IntArray, gap: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Learn from one count of each series. In place; residual, log evidence, what was ahead."""
        counts = self.walks.counts.of(rows)
        shift, noise = self.walks.offset[rows], self.walks.offset_variance[rows]
        exposure = self.walks.exposure[rows]
        look = self._looked(s, of, exposure, gap)
        seen = np.stack([look.mean + shift, look.variance + noise])
        found = residual(seen[0], seen[1], counts)
        wide = np.abs(np.nan_to_num(found)) > self.params.surprise
        if wide.any():
            s[motion.XX, wide] += self.params.surprise_variance
            look = self._looked(s, of, exposure, gap)
        return found, _update(s, look, counts, shift, noise), seen

    def _looked(self, s: FloatArray, of: IntArray, exposure: FloatArray, gap: FloatArray) -> Looked:
        look = Looked(s[motion.X].copy(), s[motion.XX].copy(), s[motion.XX : motion.DD].copy())
        hung = np.flatnonzero(exposure > 0)
        if len(hung):
            card = self._caught(s[:, hung], of[hung], exposure[hung], gap[hung])
            look.mean[hung], look.variance[hung] = card.mean, card.variance
            look.along[:, hung] = card.along
        return look

    def _caught(self, s: FloatArray, of: IntArray, exposure: FloatArray, gap: FloatArray) -> Looked:
        """Log of the average of density over a card's days, looked back on from the reading.

        Its days are parted at the treatment among them, else in halves.
        """
        group, now, rate = self.group.at(of), s[motion.AT], self.params.rebound_rate
        ago = now - s[motion.TREATED]
        later = np.where((ago > 0) & (ago < exposure), ago, exposure / 2) / exposure
        back = [later * u for u in _ALONG] + [later + (1 - later) * u for u in _ALONG]
        weight = [later * w for w in _SHARES] + [(1 - later) * w for w in _SHARES]
        logs, slopes = np.empty((len(back), len(of))), np.ones((len(back), 4, len(of)))
        for part, share in enumerate(back):
            days = exposure * share
            at = now - days
            fade = np.maximum(group.rho, 1e-12)
            slopes[part, 1] = np.where(group.rho > 0, -np.expm1(group.rho * days) / fade, -days)
            slopes[part, 2] = motion.done(s, now) - motion.done(s, at)
            slopes[part, 3] = motion.rebound(s, at, rate) - motion.rebound(s, now, rate)
            grown = group.a * self.growth.between(of, at, now)
            grown -= motion.crowded(s[motion.X] - grown, grown, group.room)[0]
            logs[part] = (slopes[part] * s[:4]).sum(axis=0) - grown + np.log(weight[part])
        top = logs.max(axis=0)
        shares = np.exp(logs - top)
        total = shares.sum(axis=0)
        slope = np.einsum("ps,pis->is", shares / total, slopes)
        along = _along(s, slope)
        # what moved by chance while the card hung was caught in part: a third of its variance in
        # the average, a half in common with today, where all of it stands in today's
        moved = group.q * np.minimum(exposure, gap)
        variance = np.maximum((slope * along).sum(axis=0) - 2 / 3 * moved, 1e-9)
        along[0] -= moved / 2
        return Looked(top + np.log(total), variance, along)


def _along(s: FloatArray, c: FloatArray) -> FloatArray:
    """Covariance of the state with a number of these slopes: P c."""
    m = motion
    return np.stack([
        s[m.XX] * c[0] + s[m.XD] * c[1] + s[m.XK] * c[2] + s[m.XE] * c[3],
        s[m.XD] * c[0] + s[m.DD] * c[1] + s[m.DK] * c[2] + s[m.DE] * c[3],
        s[m.XK] * c[0] + s[m.DK] * c[1] + s[m.KK] * c[2] + s[m.KE] * c[3],
        s[m.XE] * c[0] + s[m.DE] * c[1] + s[m.KE] * c[2] + s[m.EE] * c[3],
    ])  # fmt: skip


def _update(
    s: FloatArray, look: Looked, counts: Counts, shift: FloatArray, noise: FloatArray
) -> FloatArray:
    """Learn from the counts: z is updated, and its gain carries that to the rest. In place."""
    before = look.variance + noise
    found = learned(look.mean + shift, before, counts)
    gain = look.along / before
    s[: motion.E + 1] += gain * (found.mean - look.mean - shift)
    less = before - found.variance
    row = motion.XX
    for i in range(4):
        scaled = gain[i] * less
        for j in range(i, 4):
            s[row] -= scaled * gain[j]
            row += 1
    return found.log_evidence
