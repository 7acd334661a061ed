"""Some of the series, with all that belongs to them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchwalk.science.forecast.data import IntArray, Movements, Programmes, Series, Treatments

COUNTS = ("day", "count", "effort", "plants", "kind", "exposure", "scout", "flags")
DESCRIBED = (
    "reference", "threshold", "pest", "method", "house", "group", "prior_mean", "prior_sd",
    "room",
)  # fmt: skip


def some(series: Series, which: IntArray) -> Series:
    """Series of these numbers, numbered anew in this order.

    Plants from a series that is left out are plants of which nothing is known.
    """
    number = np.full(series.number + 1, -1, np.int64)  # the last stands for "from outside"
    number[which] = np.arange(len(which))
    of = number[np.asarray(series.series, np.int64)]
    kept = np.flatnonzero(of >= 0)
    kept = kept[np.argsort(of[kept], kind="stable")]
    given: dict[str, Any] = {name: _at(getattr(series, name), kept) for name in COUNTS}
    given |= {name: _at(getattr(series, name), which) for name in DESCRIBED}
    return replace(
        series,
        series=of[kept],
        treatments=_treatments(series.treatments, number),
        programmes=_programmes(series.programmes, number),
        movements=_movements(series.movements, number),
        **given,
    )


def _at(values: Any, rows: IntArray) -> NDArray[Any] | None:
    return None if values is None else np.asarray(values)[rows]


def _treatments(held: Treatments, number: IntArray) -> Treatments:
    of = number[np.asarray(held.series, np.int64)]
    rows = np.flatnonzero(of >= 0)
    return Treatments(
        of[rows],
        np.asarray(held.day, float)[rows],
        tuple(held.kind[i] for i in rows),
        _at(held.share, rows),
        _at(held.residual, rows),
    )


def _programmes(held: Programmes, number: IntArray) -> Programmes:
    of = number[np.asarray(held.series, np.int64)]
    rows = np.flatnonzero(of >= 0)
    first, last = (np.asarray(a, float)[rows] for a in (held.first, held.last))
    return Programmes(of[rows], first, last)


def _movements(held: Movements, number: IntArray) -> Movements:
    of = number[np.asarray(held.series, np.int64)]
    rows = np.flatnonzero(of >= 0)
    columns = (held.day, held.plants, held.resident)
    day, plants, resident = (np.asarray(a, float)[rows] for a in columns)
    mean, sd = (np.asarray(a, float)[rows] for a in (held.log_mean, held.log_sd))
    origin = number[np.asarray(held.origin, np.int64)[rows]]
    return Movements(of[rows], day, plants, resident, origin, mean, sd)
