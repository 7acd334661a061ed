"""From the flat arrays to walks and events, each sorted by series and time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchwalk.science.arguments import FloatArray, require_at_most, require_probability
from benchwalk.science.forecast.data import Flag, IntArray, Kind, Series
from benchwalk.science.forecast.observation import Counts
from benchwalk.science.forecast.params import Params

TREATMENT, PROGRAMME, END, MOVEMENT = range(4)
STEPS = 4  # of a programme's ramp
_RAMP = np.arange(STEPS) / STEPS


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


def check(series: Series, params: Params) -> None:
    """Refuse arrays of unlike length, counts out of order, the impossible, series not described.

    Raises
    ------
    ValueError : what was given, what was expected, what to do.
    """
    _check_lengths(series)
    _check_order(np.asarray(series.series, np.int64), np.asarray(series.day, float), series.number)
    _check_meaning(series, params)
    for name in ("count", "effort", "plants"):
        values = np.asarray(getattr(series, name), float)
        if (values < 0).any():
            raise ValueError(
                f"got {name} {np.nanmin(values):g}; expected 0 or more; mend the count"
            )
    if not (np.asarray(series.reference, float) > 0).all():
        raise ValueError(
            "got a reference density that is not above 0; expected one for each series; "
            "give a wide guess where none is known"
        )


def _check_lengths(series: Series) -> None:
    optional = ("kind", "exposure", "scout", "flags")
    given = [name for name in optional if getattr(series, name) is not None]
    names = ["series", "day", "count", "effort", "plants", *given]
    lengths = sorted({len(np.asarray(getattr(series, name))) for name in names})
    if len(lengths) > 1:
        raise ValueError(
            f"got {', '.join(names)} of lengths {lengths}; expected one length; "
            "give a value for each count"
        )


def _check_meaning(series: Series, params: Params) -> None:
    """Infested are no more than all, a class is known, a share is one, plants came somewhere."""
    if series.kind is not None:
        infested = np.asarray(series.kind) == Kind.INFESTED
        require_at_most(
            "count",
            np.asarray(series.count, float)[infested],
            "plants",
            np.asarray(series.plants, float)[infested],
        )
    unknown = sorted(set(series.treatments.kind) - set(params.classes))
    if unknown:
        raise ValueError(
            f"got treatment class {unknown[0]!r}; expected one of {sorted(params.classes)}; "
            "add it to params.classes"
        )
    if series.treatments.share is not None:
        share = np.asarray(series.treatments.share, float)
        require_probability("share", share, one_allowed=True)
    held = series.movements
    if not (np.asarray(held.plants, float) + np.asarray(held.resident, float) > 0).all():
        raise ValueError(
            "got a movement of no plants to none; expected more than 0 on one side; leave it out"
        )


def _check_order(of: IntArray, day: FloatArray, number: int) -> None:
    if len(of) and (of[0] < 0 or of.max() >= number):
        raise ValueError(
            f"got series {of.min()} to {of.max()} and {number} reference densities; expected "
            "series counted from 0; describe each series"
        )
    turns = np.diff(of)
    if (turns < 0).any() or (np.diff(day)[turns == 0] < 0).any():
        raise ValueError(
            "got counts that are not sorted; expected them by series and day; sort them with "
            "numpy.lexsort((day, series))"
        )


def walks_of(series: Series, params: Params) -> Walks:
    """The walks in the counts; what was not counted, or on nothing, is left out.

    Counts of one walk, kind, scout and exposure are added up: one sum, however it was split.
    """
    y, effort, plants = (np.asarray(a, float) for a in (series.count, series.effort, series.plants))
    known = np.flatnonzero(~np.isnan(y) & (effort > 0) & (plants > 0))

    def given(values: IntArray | FloatArray | None, default: float) -> FloatArray:
        return np.full(len(known), default) if values is None else np.asarray(values, float)[known]

    of, day = np.asarray(series.series, np.int64)[known], np.asarray(series.day, float)[known]
    kind, exposure = given(series.kind, Kind.COUNT), given(series.exposure, 0.0)
    scout, flags = given(series.scout, -1), given(series.flags, 0)
    walk = _numbered(of, day)
    walk_of_count = np.full(len(y), -1, np.int64)
    walk_of_count[known] = walk
    first = np.flatnonzero(np.diff(walk, prepend=-1))
    order = np.arange(len(known))
    if len(first) < len(known):
        order = np.lexsort((exposure, scout, kind, walk))
    starts = np.flatnonzero(np.diff(_numbered(*(a[order] for a in (walk, kind, scout, exposure))),
                                    prepend=-1))  # fmt: skip
    rows = order[starts]
    sums = [_added(a[known][order], starts) for a in (y, effort, plants)]
    count, effort, plants = sums
    at = of[first]
    method = np.zeros(len(rows), np.int64)
    if series.method is not None:
        method = np.asarray(series.method, np.int64)[of[rows]]
    counts = Counts(
        count=count,
        effort=effort,
        plants=plants,
        kind=kind[rows].astype(np.int64),
        k=np.asarray(series.methods.k, float)[method],
        so2=np.asarray(series.methods.so2, float)[method],
    )
    jumped = (flags.astype(np.int64) & Flag.LEVEL_JUMP) > 0
    number = np.bincount(walk[rows], minlength=len(first))
    offset, variance = _offsets(scout[rows].astype(np.int64), day[rows], params)
    return Walks(
        walk=walk[rows],
        counts=counts,
        exposure=exposure[rows],
        offset=offset,
        offset_variance=variance,
        series=at,
        day=day[first],
        jump=np.where(np.bincount(walk, jumped, len(first)) > 0, params.jump_variance, 0.0),
        walk_of_count=walk_of_count,
        first=np.cumsum(number) - number,
        number=number,
    )


def _numbered(*columns: IntArray | FloatArray) -> IntArray:
    """Number of each run of equal rows, in order."""
    if not len(columns[0]):
        return np.empty(0, np.int64)
    other = np.zeros(len(columns[0]), dtype=bool)
    for column in columns:
        other[1:] |= column[1:] != column[:-1]
    return np.cumsum(other)


def _added(values: FloatArray, starts: IntArray) -> FloatArray:
    return np.add.reduceat(values, starts) if len(starts) < len(values) else values


def _offsets(scout: IntArray, day: FloatArray, params: Params) -> tuple[FloatArray, FloatArray]:
    mean, variance = np.zeros(len(scout)), np.zeros(len(scout))
    for number, offset in params.scouts.items():
        known = (scout == number) & (day >= offset.known_from)
        mean[known], variance[known] = offset.mean, offset.sd**2
    return mean, variance


def events_of(series: Series, params: Params) -> Events:
    """What happened between walks, in order of time; a programme comes on, and goes, in steps."""
    treated, moved, programmes = series.treatments, series.movements, series.programmes
    on = np.asarray(programmes.first, float)[None] + params.programme_ramp * _RAMP[:, None]
    last = np.asarray(programmes.last, float)
    running = np.asarray(programmes.series, np.int64)
    row = np.arange(len(running))
    parts = [_events(treated.series, treated.day, TREATMENT)]
    parts.append(_events(moved.series, moved.day, MOVEMENT))
    parts += [(running[d <= last], d[d <= last], PROGRAMME, row[d <= last]) for d in on]
    parts += [(running, last + params.programme_ramp * step, END, row) for step in _RAMP]
    whose = np.concatenate([part[0] for part in parts])
    day = np.concatenate([part[1] for part in parts])
    what = np.concatenate([np.full(len(part[0]), part[2]) for part in parts])
    rows = np.concatenate([part[3] for part in parts])
    use = np.isfinite(day)
    order = np.flatnonzero(use)[np.lexsort((rows[use], what[use], day[use], whose[use]))]
    return Events(whose[order], day[order], what[order], rows[order])


def _events(
    series: IntArray, day: FloatArray, what: int
) -> tuple[IntArray, FloatArray, int, IntArray]:
    of = np.asarray(series, np.int64)
    return of, np.asarray(day, float), what, np.arange(len(of))
