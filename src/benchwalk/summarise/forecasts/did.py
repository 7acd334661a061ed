"""What treatments did: each one, and all of an active together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchwalk.science import forecast
from benchwalk.summarise.forecasts.seen import Population
from benchwalk.summarise.forecasts.treatments import RELEASE, Treatment


@dataclass(frozen=True)
class Did:
    """What a treatment of a series had done by the last walk that knows of it.

    Attributes
    ----------
    low, high : ends of the share taken away, against what was expected without it; 95 %.
    expected : share its class is expected to take away, before anything was seen.
    share_of_data : how much of the answer is data; the rest is the class.
    word : worked, did_not_work, cannot_tell.
    """

    population: Population
    treatment: Treatment
    days: float
    low: float
    high: float
    expected: float
    share_of_data: float
    word: str
    log_kill: float
    log_kill_sd: float
    expected_log_kill: float
    expected_log_kill_sd: float


@dataclass(frozen=True)
class StillWorks:
    """Treatments of one active against one pest at one stage, taken together; 90 %."""

    active: str
    taxon: str
    stage: str
    treatments: int
    excluded: int
    low: float
    high: float
    share_of_data: float
    word: str


def each(
    populations: Sequence[Population], series: forecast.Series, result: forecast.Result
) -> list[Did]:
    """Every treatment that a walk followed, in the order of series and time."""
    table = forecast.treatment_table(series, result)
    acting = [(p, t) for p in populations for t in p.treatments if t.kind != RELEASE]
    effect = table.effect
    low, high = effect.ends()
    words, shares = forecast.verdict(effect), effect.share_of_data
    return [
        Did(
            population=acting[row][0],
            treatment=acting[row][1],
            days=float(effect.days[n]),
            low=float(low[n]),
            high=float(high[n]),
            expected=float(effect.expected[n]),
            share_of_data=float(shares[n]),
            word=str(words[n]),
            log_kill=float(effect.mean[n]),
            log_kill_sd=float(effect.sd[n]),
            expected_log_kill=float(effect.expected_mean[n]),
            expected_log_kill_sd=float(effect.expected_sd[n]),
        )
        for n, row in enumerate(table.treatment)
    ]


def pooled(found: Sequence[Did]) -> list[StillWorks]:
    """One row for each active, pest and stage, those that say least last.

    A treatment of two units is two: what one unit says of it is not what the other says.
    """
    groups: dict[tuple[str, str, str], list[Did]] = defaultdict(list)
    for d in _once(found):
        if d.treatment.active is not None and d.expected_log_kill_sd > 0:
            groups[d.treatment.active, d.population.key.taxon, d.population.key.stage].append(d)
    rows = [row for names, held in groups.items() if (row := _pooled(names, held)) is not None]
    return sorted(rows, key=lambda r: (-r.share_of_data, r.active, r.taxon, r.stage))


def _once(found: Sequence[Did]) -> list[Did]:
    """Of a pest counted in several ways, the way that says most of a treatment of a unit."""
    best: dict[tuple[object, ...], Did] = {}
    for d in found:
        key, t = d.population.key, d.treatment
        of = (t.at, t.unit_id, t.what, key.taxon, key.stage)
        if of not in best or d.share_of_data > best[of].share_of_data:
            best[of] = d
    return list(best.values())


def _pooled(names: tuple[str, str, str], held: Sequence[Did]) -> StillWorks | None:
    found = forecast.pooled_effect(
        np.array([d.treatment.at for d in held]),
        np.array([d.log_kill for d in held]),
        np.array([d.log_kill_sd for d in held]),
        np.array([d.expected_log_kill for d in held]),
        np.array([d.expected_log_kill_sd for d in held]),
    )
    if found is None:
        return None
    low, high = found.ends()
    return StillWorks(
        *names,
        treatments=found.treatments,
        excluded=found.excluded,
        low=low,
        high=high,
        share_of_data=found.share_of_data,
        word=forecast.pooled_verdict(found),
    )
