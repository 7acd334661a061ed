"""How clumped each pest is, learned from the rounds before this one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from benchwalk.science import dispersion
from benchwalk.science.arguments import FloatArray
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
    if not now:
        return []
    n, total, squares = _side_by_side([_earlier(known, s, taught) for s in now])
    mean = total / n
    variance = (squares - n * mean**2) / (n - 1)
    prior = [dispersion.PRIOR_K[known.methods[s.key.method].kind] for s in now]
    found = dispersion.k_from_rounds(mean, variance, n, prior)
    each = zip(found.k.tolist(), found.rounds.tolist(), found.assumed.tolist(), strict=True)
    return [Dispersion(k, int(rounds), assumed) for k, rounds, assumed in each]


def _earlier(known: Gathered, s: Series, taught: dict[Key, list[Series]]) -> list[Series]:
    """Rounds before it in the same unit, and in those that the unit succeeded."""
    line = known.unit_line(s.key.unit_id)
    keys = [s.key] if len(line) == 1 else [replace(s.key, unit_id=unit) for unit in line]
    return [b for key in keys for b in taught[key] if b.on < s.on]


def _side_by_side(rounds: Sequence[Sequence[Series]]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Units, individuals and squares: a row for each series; NaN where one had fewer rounds."""
    held = np.full((3, len(rounds), max(map(len, rounds))), np.nan)
    for row, of in enumerate(rounds):
        said = [(b.singles, b.singles_total, b.singles_squares) for b in of]
        held[:, row, : len(of)] = np.array(said, float).reshape(-1, 3).T
    n, total, squares = held
    return n, total, squares
