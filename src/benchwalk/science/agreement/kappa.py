"""Agreement on classes, beyond what chance would give: kappa of two scouts and of more."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from benchwalk.science.arguments import (
    FloatArray,
    TextArray,
    first_reason,
    require_not_negative,
    require_probability,
)

Weights = Literal["none", "linear", "quadratic"]
WEIGHTS = ("none", "linear", "quadratic")


@dataclass(frozen=True, eq=False)
class Kappa:
    """Agreement beyond chance, 1 at most, 0 as by chance; arrays of one shape."""

    kappa: FloatArray
    low: FloatArray
    high: FloatArray
    standard_error: FloatArray
    units: FloatArray  #: that both scouts looked at
    reason: TextArray


@dataclass(frozen=True, eq=False)
class ManyKappa:
    """Agreement beyond chance of several scouts."""

    kappa: FloatArray
    units: FloatArray  #: that two or more scouts looked at
    reason: TextArray


def cohen_kappa(
    classes: ArrayLike,
    *,
    weights: Weights | ArrayLike = "none",
    categories: ArrayLike | None = None,
    level: float = 0.95,
) -> Kappa:
    """Kappa of two scouts ([Cohen1960]_), weighted where classes have an order ([Cohen1968]_).

    Parameters
    ----------
    classes : of each unit by each scout as numbers, shape (units, 2); NaN where a scout did not
        look, which leaves out the unit.
    weights : how bad it is to be so many classes apart: "none" all alike, "linear", "quadratic", or
        a matrix of disagreement with 0 on its diagonal.
    categories : all classes there are, in order; without it, those that occur.
    level : confidence of the interval, by the large-sample standard error of [FleissEtAl1969]_.

    Returns
    -------
    Kappa : "no_units" and "one_class" (both scouts put all units into one) have no number.

    Raises
    ------
    ValueError : not two scouts, a class that is not among the categories, a matrix that does not
        fit, level outside (0, 1).

    Examples
    --------
    >>> found = cohen_kappa([[0, 0]] * 20 + [[0, 1]] * 5 + [[1, 0]] * 10 + [[1, 1]] * 15)
    >>> float(found.kappa.round(3)), float(found.low.round(3)), float(found.high.round(3))
    (0.4, 0.151, 0.649)
    """
    x = np.asarray(classes, np.float64)
    if x.ndim != 2 or x.shape[1] != 2:
        raise ValueError(
            f"got classes of shape {x.shape}; expected (units, 2); give a column for each of two "
            "scouts, and use fleiss_kappa for more"
        )
    both = x[~np.isnan(x).any(axis=1)]
    index, count = _indices(both, categories)
    table = np.zeros((count, count))
    np.add.at(table, (index[:, 0], index[:, 1]), 1)
    return kappa_of_table(table, weights=weights, level=level)


def kappa_of_table(
    table: ArrayLike, *, weights: Weights | ArrayLike = "none", level: float = 0.95
) -> Kappa:
    """Kappa from numbers of units by class of the first (rows) and second scout (columns).

    Parameters
    ----------
    table : shape (..., classes, classes). [units] Shares give the kappa, and no standard error of
        any use.
    weights, level : as :func:`cohen_kappa`.

    Raises
    ------
    ValueError : negative numbers, a table that is not square, and as :func:`cohen_kappa`.
    """
    counts = np.asarray(table, np.float64)
    if counts.ndim < 2 or counts.shape[-1] != counts.shape[-2]:
        raise ValueError(
            f"got a table of shape {counts.shape}; expected as many rows as columns; list all "
            "classes for both scouts"
        )
    require_not_negative("table", counts)
    require_probability("level", np.asarray(level, np.float64))
    w = _agreement(weights, counts.shape[-1])
    n = counts.sum(axis=(-2, -1))
    with np.errstate(divide="ignore", invalid="ignore"):
        p = counts / n[..., np.newaxis, np.newaxis]
        rows, columns = p.sum(axis=-1), p.sum(axis=-2)
        expected = np.einsum("...i,ij,...j->...", rows, w, columns)
        kappa = ((w * p).sum(axis=(-2, -1)) - expected) / (1 - expected)
        error = np.sqrt(np.maximum(_variance(p, w, rows, columns, kappa, expected) / n, 0))
    reason = first_reason(n.shape, ("no_units", n == 0), ("one_class", ~(expected < 1)))
    kappa, error = (np.where(reason == "", a, np.nan) for a in (kappa, error))
    half = special.ndtri((1 + level) / 2) * error
    return Kappa(kappa, kappa - half, kappa + half, error, n, reason)


def _variance(
    p: FloatArray,
    w: FloatArray,
    rows: FloatArray,
    columns: FloatArray,
    kappa: FloatArray,
    expected: FloatArray,
) -> FloatArray:
    """Of one unit's worth; [FleissEtAl1969]_."""
    by_row = np.einsum("ij,...j->...i", w, columns)[..., :, np.newaxis]
    by_column = np.einsum("ij,...i->...j", w, rows)[..., np.newaxis, :]
    left = (1 - kappa)[..., np.newaxis, np.newaxis]
    squares = (p * (w - (by_row + by_column) * left) ** 2).sum(axis=(-2, -1))
    return np.asarray((squares - (kappa - expected * (1 - kappa)) ** 2) / (1 - expected) ** 2)


def _agreement(weights: Weights | ArrayLike, classes: int) -> FloatArray:
    """Weights of agreement: 1 on the diagonal, 0 where it could not be worse."""
    apart = np.abs(np.subtract.outer(np.arange(classes), np.arange(classes))).astype(np.float64)
    if isinstance(weights, str):
        if weights not in WEIGHTS:
            raise ValueError(
                f"got weights {weights!r}; expected one of {', '.join(WEIGHTS)}, or a matrix; "
                "choose one of them"
            )
        disagreement = {"none": np.sign(apart), "linear": apart, "quadratic": apart**2}[weights]
    else:
        disagreement = np.asarray(weights, np.float64)
    if disagreement.shape != apart.shape or np.diag(disagreement).any():
        raise ValueError(
            f"got weights of shape {disagreement.shape}; expected {apart.shape} with 0 on the "
            "diagonal; give the disagreement of each pair of classes"
        )
    require_not_negative("weights", disagreement)
    return np.asarray(1 - disagreement / max(disagreement.max(initial=0), np.finfo(float).tiny))


def _indices(
    classes: FloatArray, categories: ArrayLike | None
) -> tuple[np.ndarray[tuple[int, ...], np.dtype[np.intp]], int]:
    given = np.unique(classes) if categories is None else np.asarray(categories, np.float64)
    match = classes[..., np.newaxis] == given
    if not match.any(axis=-1).all():
        wrong = classes[~match.any(axis=-1)][0]
        raise ValueError(
            f"got class {wrong:g}; expected one of {', '.join(f'{c:g}' for c in given)}; add it to "
            "the categories or correct it"
        )
    return match.argmax(axis=-1) if given.size else classes.astype(np.intp), given.size


def fleiss_kappa(classes: ArrayLike, *, categories: ArrayLike | None = None) -> ManyKappa:
    """Kappa of several scouts ([Fleiss1971]_).

    Parameters
    ----------
    classes : of each unit by each scout as numbers, shape (units, scouts); NaN where a scout did
        not look. Units may differ in how many scouts looked; under two, a unit is left out.
    categories : all classes there are; without it, those that occur.

    Returns
    -------
    ManyKappa : "no_units" and "one_class" have no number.

    Raises
    ------
    ValueError : another shape, a class that is not among the categories.
    """
    x = np.asarray(classes, np.float64)
    if x.ndim != 2:
        raise ValueError(
            f"got classes of shape {x.shape}; expected (units, scouts); give a row for each unit"
        )
    given = np.unique(x[~np.isnan(x)]) if categories is None else np.asarray(categories, np.float64)
    _indices(x[~np.isnan(x)], given)
    return fleiss_kappa_of_counts((x[..., np.newaxis] == given).sum(axis=1))


def fleiss_kappa_of_counts(counts: ArrayLike) -> ManyKappa:
    """Kappa from how many scouts put each unit into each class, shape (units, classes).

    Raises
    ------
    ValueError : negative numbers, another shape.
    """
    given = np.asarray(counts, np.float64)
    if given.ndim != 2:
        raise ValueError(
            f"got counts of shape {given.shape}; expected (units, classes); give a row for each "
            "unit"
        )
    require_not_negative("counts", given)
    scouts = given.sum(axis=1)
    given, scouts = given[scouts >= 2], scouts[scouts >= 2]
    units = np.asarray(float(scouts.size))
    with np.errstate(divide="ignore", invalid="ignore"):
        pairs = (given * (given - 1)).sum(axis=1) / (scouts * (scouts - 1))
        observed = pairs.sum() / units
        expected = ((given.sum(axis=0) / scouts.sum()) ** 2).sum()
        kappa = (observed - expected) / (1 - expected)
    reason = first_reason((), ("no_units", units == 0), ("one_class", ~(expected < 1)))
    return ManyKappa(np.where(reason == "", kappa, np.nan), units, reason)
