"""How clumped each pest is, learned from the rounds before this one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from benchwalk.science import dispersion
from benchwalk.summarise.gathered import Gathered
from benchwalk.summarise.series import Key, Series


@dataclass(frozen=True)
class Dispersion:
    """k of the negative binomial for one series, and where it comes from."""

    k: float
    rounds: int
    assumed: bool  # fewer than ten rounds taught it


def learned(known: Gathered, now: Sequence[Series], sample: Sequence[Series]) -> list[Dispersion]:
    """Spread of each series from earlier rounds of the same unit, pest, stage and method.

    Only rounds of plants counted one by one teach anything: a pooled total has no spread.
    """
    taught: dict[Key, list[Series]] = defaultdict(list)
    for s in sample:
        if s.singles >= 2:
            taught[s.key].append(s)
    return [_of(known, s, _earlier(known, s, taught)) for s in now]


def _earlier(known: Gathered, s: Series, taught: dict[Key, list[Series]]) -> list[Series]:
    """Rounds before it in the same unit, and in those that the unit succeeded."""
    keys = [replace(s.key, unit_id=unit) for unit in known.unit_line(s.key.unit_id)]
    return [b for key in keys for b in taught[key] if b.on < s.on]


def _of(known: Gathered, s: Series, earlier: Sequence[Series]) -> Dispersion:
    n = np.array([b.singles for b in earlier], dtype=float)
    total = np.array([b.singles_total for b in earlier], dtype=float)
    squares = np.array([b.singles_squares for b in earlier], dtype=float)
    mean = total / n
    variance = (squares - n * mean**2) / (n - 1)
    prior = dispersion.PRIOR_K[known.methods[s.key.method].kind]
    found = dispersion.k_from_rounds(mean, variance, n, prior)
    return Dispersion(float(found.k), int(found.rounds), bool(found.assumed))
