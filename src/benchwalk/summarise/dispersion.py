"""How clumped each pest is, learned from the rounds before this one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from benchwalk.science import dispersion
from benchwalk.science.arguments import FloatArray
from benchwalk.summarise.gathered import Gathered
from benchwalk.summarise.series import History, Series


@dataclass(frozen=True)
class Dispersion:
    """k of the negative binomial for one series, and where it comes from."""

    k: float
    rounds: int
    assumed: bool  # fewer than ten rounds taught it


def learned(known: Gathered, now: Sequence[Series], history: History) -> list[Dispersion]:
    """Spread of each series from earlier rounds of the same unit, pest, stage and method.

    Rounds of the units that its unit succeeded are among them.
    """
    if not now:
        return []
    n, total, squares = _side_by_side([_earlier(known, s, history) for s in now])
    mean = total / n
    variance = (squares - n * mean**2) / (n - 1)
    prior = [dispersion.PRIOR_K[known.methods[s.key.method].kind] for s in now]
    found = dispersion.k_from_rounds(mean, variance, n, prior)
    each = zip(found.k.tolist(), found.rounds.tolist(), found.assumed.tolist(), strict=True)
    return [Dispersion(k, int(rounds), assumed) for k, rounds, assumed in each]


def _earlier(known: Gathered, s: Series, history: History) -> FloatArray:
    """Rounds before it in the same unit, and in those that the unit succeeded."""
    line = known.unit_line(s.key.unit_id)
    if len(line) == 1:
        return history.singles(s.key, s.on)
    keys = [replace(s.key, unit_id=unit) for unit in line]
    return np.concatenate([history.singles(key, s.on) for key in keys], axis=1)


def _side_by_side(rounds: Sequence[FloatArray]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Units, individuals and squares: a row for each series; NaN where one had fewer rounds."""
    held = np.full((3, len(rounds), max(r.shape[1] for r in rounds)), np.nan)
    for row, of in enumerate(rounds):
        held[:, row, : of.shape[1]] = of
    n, total, squares = held
    return n, total, squares
