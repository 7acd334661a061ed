"""In which order walks are taken, and where each series begins.

Walks of unlinked series are taken side by side: all first walks, all second walks, ... A series
that plants came to from another waits for the walk of the other that says most of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from benchwalk.science.arguments import FloatArray
from benchwalk.science.forecast.data import IntArray, Series
from benchwalk.science.forecast.walks import MOVEMENT, TREATMENT, Events, Walks

#: series taken side by side: their arrays stay in the processor's cache
CHUNK = 4096


@dataclass(frozen=True)
class Beginning:
    """Where each series begins: its kept state, or its first walk, or plants that came before it.

    Attributes
    ----------
    day : of the beginning; infinite where there is nothing to begin with. [d]
    event : first event that is still to be met.
    treated : the last treatment before, as a row of the events; -1 where there was none.
    """

    day: FloatArray
    event: IntArray
    treated: IntArray


def beginning(at: FloatArray, walks: Walks, events: Events) -> Beginning:
    """Begin at the days of the kept states; at the first walk or movement where there is none."""
    number, day = len(at), at.copy()
    new = np.isnan(at)
    first = np.full(number, np.inf)
    # the last assignment holds, so the first walk is assigned last
    first[walks.series[::-1]] = walks.day[::-1]
    came = np.flatnonzero(events.what == MOVEMENT)[::-1]
    arrived = np.full(number, np.inf)
    arrived[events.series[came]] = events.day[came]
    day[new] = np.minimum(first, arrived)[new]
    past = np.flatnonzero(events.day < day[events.series])
    event = np.searchsorted(events.series, np.arange(number))
    event += np.bincount(events.series[past], minlength=number)
    treated = np.full(number, -1, np.int64)
    sprayed = past[events.what[past] == TREATMENT]
    treated[events.series[sprayed]] = sprayed
    treated[~new] = -1
    return Beginning(day, event, treated)


@dataclass(frozen=True)
class Sources:
    """For each movement the walk of its origin that says most of the plants; -1: none."""

    walk: IntArray
    linked: bool


def sources(series: Series, walks: Walks) -> Sources:
    """The last walk of the origin up to the movement."""
    held = series.movements
    origin, day = np.asarray(held.origin, np.int64), np.asarray(held.day, float)
    walk = np.full(len(np.asarray(held.series)), -1, np.int64)
    for row in np.flatnonzero(origin >= 0):
        low, high = np.searchsorted(walks.series, (origin[row], origin[row] + 1))
        before = low + np.searchsorted(walks.day[low:high], day[row], side="right") - 1
        walk[row] = before if before >= low else -1
    return Sources(walk, bool((origin >= 0).any()))


def turns(series: Series, walks: Walks, source: Sources) -> IntArray:
    """When each walk is taken: after the one before, and after those its plants came from."""
    firsts = np.searchsorted(walks.series, np.arange(series.number))
    turn = np.arange(len(walks.series)) - firsts[walks.series]
    held = series.movements
    to, origin = np.asarray(held.series, np.int64), np.asarray(held.origin, np.int64)
    day = np.asarray(held.day, float)
    after = np.full(len(to), -1, np.int64)
    for row in np.argsort(day, kind="stable") if source.linked else ():
        earlier = (to == origin[row]) & (day < day[row])
        known = turn[source.walk[row]] if source.walk[row] >= 0 else -1
        after[row] = max(known, after[earlier].max(initial=-1))
        low, high = np.searchsorted(walks.series, (to[row], to[row] + 1))
        next_walk = low + np.searchsorted(walks.day[low:high], day[row], side="right")
        if next_walk < high:
            turn[next_walk:high] += max(after[row] + 1 - turn[next_walk], 0)
    return turn


def batches(series: Series, walks: Walks, source: Sources) -> Iterator[IntArray]:
    """Walks that can be taken side by side, at most one of each series."""
    turn = turns(series, walks, source)
    chunk = series.number if source.linked else CHUNK
    for first in range(0, series.number, max(chunk, 1)):
        low, high = np.searchsorted(walks.series, (first, first + chunk))
        order = low + np.argsort(turn[low:high], kind="stable")
        ends = np.flatnonzero(np.diff(turn[order])) + 1
        yield from (part for part in np.split(order, ends) if len(part))
