"""What changed since the walk before."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from benchwalk.science import density
from benchwalk.summarise.dispersion import Dispersion
from benchwalk.summarise.gathered import Gathered
from benchwalk.summarise.series import History, Series

LEVEL = 0.90  # of the interval of a density, everywhere
NAN = float("nan")


@dataclass(frozen=True)
class Change:
    """A walk over the one before it of the same key: a ratio with its interval."""

    before_on: dt.date
    before: float
    ratio: float
    low: float
    high: float
    reason: str


def changes(
    known: Gathered,
    now: Sequence[Series],
    spread: Sequence[Dispersion],
    history: History,
) -> list[Change | None]:
    """Each series against the one before of the same key and quantity, if there is one.

    A unit goes on from the one it succeeded.
    """
    before = [_before(known, s, history) for s in now]
    pairs = [
        (n, s, b, k.k)
        for n, (s, b, k) in enumerate(zip(now, before, spread, strict=True))
        if b is not None and s.counts is not None
    ]
    out: list[Change | None] = [None] * len(now)
    for (n, s, b, _), ratio in zip(pairs, _ratios(pairs), strict=True):
        out[n] = _change(s, b, *ratio)
    return out


def _before(known: Gathered, s: Series, history: History) -> Series | None:
    """The newest earlier series of the same quantity that has counts, here or in a unit before."""
    keys = [replace(s.key, unit_id=unit) for unit in known.unit_line(s.key.unit_id)]
    found = [b for key in keys if (b := _newest_before(s, history.of(key))) is not None]
    return max(found, key=lambda b: b.on, default=None)


def _newest_before(s: Series, held: Sequence[Series]) -> Series | None:
    earlier = (b for b in reversed(held) if b.on < s.on and b.per == s.per)
    return next((b for b in earlier if b.counts is not None), None)


Pair = tuple[int, Series, Series, float]


def _ratios(pairs: Sequence[Pair]) -> list[tuple[float, float, float, str]]:
    """Ratio of the means per plant (card) with its limits, and why there is none."""
    if not pairs:
        return []
    rounds = [(*_counts(s)[:2], *_counts(b)[:2], k) for _, s, b, k in pairs]
    total, n, total_0, n_0, k = np.array(rounds, dtype=np.float64).T
    found = density.ratio_interval(total, n, total_0, n_0, k, level=LEVEL)
    parts = zip(found.ratio, found.low, found.high, found.reason, strict=True)
    return [(float(r), float(lo), float(hi), str(why)) for r, lo, hi, why in parts]


def _counts(s: Series) -> tuple[int, int, float]:
    assert s.counts is not None  # pairs are made of series that have them
    return s.counts


def _change(
    now: Series, before: Series, ratio: float, low: float, high: float, reason: str
) -> Change:
    _, n, effort = _counts(now)
    total_0, n_0, effort_0 = _counts(before)
    # from a ratio of means per plant (card) to one of densities
    per_item = (n / effort) / (n_0 / effort_0)
    capped = now.at_least or before.at_least
    return Change(
        before_on=before.on,
        before=total_0 / effort_0,
        ratio=ratio * per_item,
        low=NAN if capped else low * per_item,
        high=NAN if capped else high * per_item,
        reason="capped" if capped else reason,
    )
