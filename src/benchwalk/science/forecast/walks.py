"""From the flat arrays to walks and events, each sorted by series and time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchwalk.science.arguments import FloatArray
from benchwalk.science.forecast.data import Flag, IntArray, Kind, Series
from benchwalk.science.forecast.observation import Counts
from benchwalk.science.forecast.params import Params

TREATMENT, PROGRAMME, MOVEMENT = range(3)


@dataclass(frozen=True)
class Walks:
    """Counts that say something, added up: one row for each walk and way of counting."""

    walk: IntArray  #: of each row
    counts: Counts
    exposure: FloatArray
    offset: FloatArray
    offset_variance: FloatArray
    series: IntArray  #: of each walk
    day: FloatArray
    jump: FloatArray  #: variance added before the walk
    walk_of_count: IntArray
    first: IntArray  #: first row of each walk
    number: IntArray  #: rows of each walk


@dataclass(frozen=True)
class Events:
    """Treatments, programmes and movements of all series, by series and time."""

    series: IntArray
    day: FloatArray
    what: IntArray
    row: IntArray


def check(series: Series) -> None:
    """Refuse arrays of unlike length, counts out of order, negative numbers."""
    lengths = {len(np.asarray(a)) for a in (series.series, series.day, series.count)}
    lengths |= {len(np.asarray(a)) for a in (series.effort, series.plants)}
    if len(lengths) > 1:
        raise ValueError(
            f"got series, day, count, effort and plants of lengths {sorted(lengths)}; expected one "
            "length; give a value for each count"
        )
    at = np.stack([np.asarray(series.series, float), np.asarray(series.day, float)])
    if at.shape[1] and np.lexsort(at[::-1]).tolist() != list(range(at.shape[1])):
        raise ValueError(
            "got counts that are not sorted; expected them by series and day; sort them with "
            "numpy.lexsort((day, series))"
        )
    for name in ("count", "effort", "plants"):
        values = np.asarray(getattr(series, name), float)
        if (values < 0).any():
            raise ValueError(
                f"got {name} {np.nanmin(values):g}; expected 0 or more; mend the count"
            )


def walks_of(series: Series, params: Params) -> Walks:
    """The walks in the counts; what was not counted, or on nothing, is left out."""
    y, effort, plants = (np.asarray(a, float) for a in (series.count, series.effort, series.plants))
    size = len(y)

    def given(values: IntArray | FloatArray | None, default: float) -> FloatArray:
        return np.full(size, default) if values is None else np.asarray(values, float)

    kind, exposure = given(series.kind, Kind.COUNT), given(series.exposure, 0.0)
    scout, flags = given(series.scout, -1), given(series.flags, 0)
    use = ~np.isnan(y) & (effort > 0) & (plants > 0)
    of = np.asarray(series.series, np.int64)
    day = np.asarray(series.day, float)
    known = np.flatnonzero(use)
    pairs = np.stack([of[use].astype(float), day[use]])
    walk_pairs, walk = np.unique(pairs, axis=1, return_inverse=True)
    walk = walk.reshape(-1)
    walk_of_count = np.full(size, -1, np.int64)
    walk_of_count[known] = walk
    ways = np.stack([walk.astype(float), kind[use], scout[use], exposure[use]])
    rows, row = np.unique(ways, axis=1, return_inverse=True)
    row = row.reshape(-1)
    numbers = [np.bincount(row, a[use], minlength=rows.shape[1]) for a in (y, effort, plants)]
    at = walk_pairs[0].astype(np.int64)
    method = np.zeros(series.number, np.int64)
    if series.method is not None:
        method = np.asarray(series.method, np.int64)
    row_walk = rows[0].astype(np.int64)
    of_row = method[at[row_walk]]
    count, effort_of, plants_of = (np.asarray(number, float) for number in numbers)
    counts = Counts(
        count,
        effort_of,
        plants_of,
        kind=rows[1].astype(np.int64),
        k=np.asarray(series.methods.k, float)[of_row],
        so2=np.asarray(series.methods.so2, float)[of_row],
    )
    jumped = np.bincount(walk, (flags[use].astype(np.int64) & Flag.LEVEL_JUMP) > 0, len(at)) > 0
    offsets = {number: (o.mean, o.sd**2) for number, o in params.scouts.items()}
    seen = np.array([offsets.get(int(s), (0.0, 0.0)) for s in rows[2]]).reshape(-1, 2)
    per_walk = np.bincount(row_walk, minlength=len(at))
    return Walks(
        walk=row_walk,
        counts=counts,
        exposure=rows[3],
        offset=seen[:, 0],
        offset_variance=seen[:, 1],
        series=at,
        day=walk_pairs[1],
        jump=np.where(jumped, params.jump_variance, 0.0),
        walk_of_count=walk_of_count,
        first=np.concatenate([[0], np.cumsum(per_walk)[:-1]]).astype(np.int64),
        number=per_walk,
    )


def events_of(series: Series) -> Events:
    """What happened between walks, in order of time."""
    parts: list[tuple[IntArray, FloatArray, IntArray, IntArray]] = []
    for what, held, days in (
        (TREATMENT, series.treatments.series, series.treatments.day),
        (PROGRAMME, series.programmes.series, series.programmes.first),
        (MOVEMENT, series.movements.series, series.movements.day),
    ):
        of = np.asarray(held, np.int64)
        parts.append((of, np.asarray(days, float), np.full(len(of), what), np.arange(len(of))))
    whose, day, kind, row = (np.concatenate(columns) for columns in zip(*parts, strict=True))
    order = np.lexsort((row, kind, day, whose))
    return Events(whose[order], day[order], kind[order], row[order])
