"""Acceptance number 0: how many plants to inspect, and what a clean inspection proves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import (
    BoolArray,
    FloatArray,
    TextArray,
    as_floats,
    first_reason,
    require_at_most,
    require_not_negative,
    require_positive,
    require_probability,
)
from benchwalk.science.detection.misses import TIE, Rounding, missed, whole_plants


@dataclass(frozen=True, eq=False)
class PlantsToInspect:
    """Sample size for detection; arrays of one shape."""

    plants: FloatArray  #: plants to inspect; NaN where there is no answer
    infested: FloatArray  #: infested plants it is meant to find; NaN for a large population
    confidence: FloatArray  #: chance of at least one find with that many plants
    reason: TextArray


@dataclass(frozen=True, eq=False)
class Confidence:
    """Chance that an infestation of the prevalence asked about would have been found."""

    confidence: FloatArray
    infested: FloatArray  #: infested plants it was computed for; NaN for a large population
    reason: TextArray


@dataclass(frozen=True, eq=False)
class PrevalenceLimit:
    """The most that a clean inspection leaves possible."""

    limit: FloatArray  #: upper confidence limit of the share of plants infested
    plants: FloatArray  #: the same in plants; NaN for a large population
    reason: TextArray


@dataclass(frozen=True, eq=False)
class PatchMissed:
    """The largest infestation that a clean inspection may well have missed."""

    plants: FloatArray
    share: FloatArray
    reason: TextArray


def plants_to_inspect(
    prevalence: ArrayLike,
    population: ArrayLike = np.inf,
    confidence: ArrayLike = 0.95,
    sensitivity: ArrayLike = 1.0,
    *,
    infested: Rounding = "floor",
) -> PlantsToInspect:
    """Fewest plants to inspect so that a given infestation is found with the confidence asked for.

    Finite population: the smallest n with ``1 - miss_probability(n, D, N, e) >= confidence``, the
    hypergeometric plan of [ISPM31]_ (its appendix tables are reproduced). Large population:
    ``n = ln(1 - confidence) / ln(1 - prevalence * sensitivity)``, rounded up, the binomial plan.

    Parameters
    ----------
    prevalence : share of plants infested that has to be found, in (0, 1].
    population : plants in the unit or delivery; infinity for a large population, NaN if absent.
    confidence : chance of at least one find, in (0, 1).
    sensitivity : chance of finding the pest on an infested plant that is inspected, in (0, 1].
    infested : what a fraction of a plant in ``D = prevalence * population`` becomes: "floor" as in
        the starred cells of [ISPM31]_ (never finds too few), or "ceil" (fewer plants to inspect).

    Returns
    -------
    PlantsToInspect : ``plants`` is NaN with reason "cannot_reach", "under_one_plant" or
        "no_population" where there is no answer; never the whole population in its place.

    Raises
    ------
    ValueError : prevalence, confidence or sensitivity outside their range, a negative population,
        a rounding other than the two.

    Examples
    --------
    >>> plan = plants_to_inspect(0.05, [200, 1000, float("inf")])
    >>> plan.plants
    array([51., 57., 59.])
    >>> plants_to_inspect(0.01, 100, sensitivity=0.8).reason  # one infested plant, 80 % at best
    array('cannot_reach', dtype='<U20')
    """
    p, size, c, e = as_floats(
        prevalence=prevalence, population=population, confidence=confidence, sensitivity=sensitivity
    )
    _check(p, size, c, e)
    d = whole_plants(p, size, infested)
    large = np.isinf(size)
    # rows without a finite population get a harmless one, and are masked below
    safe = np.where(np.isfinite(size), size, 1)
    safe_d = np.where(np.isfinite(size), d, 1)
    plants = np.where(
        large, _large_population(p * e, c), _fewest(safe_d, safe, e, (1 - c) * (1 + TIE))
    )
    reached = missed(np.where(large, 0, safe), safe_d, safe, e) <= (1 - c) * (1 + TIE)
    reason = first_reason(
        p.shape,
        ("no_population", np.isnan(size)),
        ("under_one_plant", d < 1),
        ("cannot_reach", ~large & ~reached),
    )
    plants = np.where(reason == "", plants, np.nan)
    miss = np.where(
        large, (1 - p * e) ** plants, missed(np.fmin(plants, safe), safe_d, safe, e)
    )  # fmt: skip
    found = np.where(reason == "", 1 - miss, np.nan)
    return PlantsToInspect(plants, np.where(large, np.nan, d), found, reason)


def _check(p: FloatArray, size: FloatArray, c: FloatArray, e: FloatArray) -> None:
    require_probability("prevalence", p, one_allowed=True)
    require_positive("population", size)
    require_probability("confidence", c)
    require_probability("sensitivity", e, one_allowed=True)


def _large_population(chance: FloatArray, c: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore"):
        exact = np.log1p(-c) / np.log1p(-chance)
    return np.maximum(1, np.ceil(exact * (1 - TIE)))


def _fewest(d: FloatArray, size: FloatArray, e: FloatArray, most_missed: FloatArray) -> FloatArray:
    """Smallest n whose chance of missing is low enough; the population where none is."""
    low, high = np.zeros(d.shape), size.copy()
    while (high - low > 1).any():
        middle = np.floor((low + high) / 2)
        enough = missed(middle, d, size, e) <= most_missed
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    return high


def confidence_after_clean(
    inspected: ArrayLike,
    prevalence: ArrayLike,
    population: ArrayLike = np.inf,
    sensitivity: ArrayLike = 1.0,
    *,
    infested: Rounding = "floor",
) -> Confidence:
    """Chance that an infestation of that prevalence would have been found by the plants inspected.

    ``1 - miss_probability`` in a finite population, ``1 - (1 - prevalence * sensitivity)**n`` in a
    large one ([ISPM31]_).

    Parameters
    ----------
    inspected : plants inspected, none of them infested; 0 and NaN give "no_effort".
    prevalence, population, sensitivity, infested : as in :func:`plants_to_inspect`.

    Raises
    ------
    ValueError : as in :func:`plants_to_inspect`, and more inspected than there are plants.

    Examples
    --------
    >>> float(confidence_after_clean(20, 0.05).confidence.round(3))
    0.642
    """
    n, p, size, e = as_floats(
        inspected=inspected, prevalence=prevalence, population=population, sensitivity=sensitivity
    )
    require_not_negative("inspected", n)
    _check(p, size, np.array(0.5), e)
    require_at_most("inspected", n, "population", size)
    d = whole_plants(p, size, infested)
    reason = first_reason(
        p.shape,
        ("no_effort", _nothing(n)),
        ("no_population", np.isnan(size)),
        ("under_one_plant", d < 1),
    )
    finite = (reason == "") & np.isfinite(size)
    n_safe, d_safe, size_safe = (np.where(finite, a, 1) for a in (n, d, size))
    chance = np.where(finite, missed(n_safe, d_safe, size_safe, e), (1 - p * e) ** n)
    found = np.where(reason == "", 1 - chance, np.nan)
    return Confidence(found, np.where(np.isinf(size), np.nan, d), reason)


def _nothing(n: FloatArray) -> BoolArray:
    return np.asarray(np.isnan(n) | (n == 0))


def prevalence_limit(
    inspected: ArrayLike,
    confidence: ArrayLike = 0.95,
    population: ArrayLike = np.inf,
    sensitivity: ArrayLike = 1.0,
) -> PrevalenceLimit:
    """Upper confidence limit of the share of plants infested, after a clean inspection.

    Large population: ``(1 - (1 - confidence)**(1/n)) / sensitivity``, near ``3/n`` at 95 %. Finite
    population: the largest number of infested plants that is missed with a chance above
    ``1 - confidence``; one plant more would have been found with the confidence asked for.

    Parameters
    ----------
    inspected : plants inspected, none of them infested; 0 and NaN give "no_effort".
    confidence : in (0, 1).
    population : plants in the unit; infinity (the default) for a large one, NaN if absent.
    sensitivity : chance of finding the pest on an infested plant that is inspected, in (0, 1].

    Raises
    ------
    ValueError : arguments outside their range, more inspected than there are plants.

    Examples
    --------
    >>> float(prevalence_limit(60).limit.round(4))
    0.0487
    >>> prevalence_limit(235, population=600).plants  # 6 plants, 1 %, would have been found
    array(5.)
    """
    n, c, size, e = _clean_arguments(inspected, confidence, population, sensitivity)
    reason = first_reason(
        n.shape, ("no_effort", _nothing(n)), ("no_population", np.isnan(size))
    )  # fmt: skip
    plants = _most_infested(n, size, e, (1 - c) * (1 + TIE), reason)
    limit = np.where(np.isinf(size), _binomial_limit(n, c, e), plants / size)
    return PrevalenceLimit(np.where(reason == "", limit, np.nan), plants, reason)


def largest_patch_missed(
    inspected: ArrayLike,
    population: ArrayLike,
    confidence: ArrayLike = 0.95,
    sensitivity: ArrayLike = 1.0,
) -> PatchMissed:
    """The most infested plants that a clean inspection had a fair chance to miss.

    Fair is ``1 - confidence`` or more: the largest D with ``miss_probability >= 1 - confidence``.

    The plants inspected are spread at random, so it makes no difference whether the infested ones
    stand together. For walks of neighbouring plants the true patch can be larger.

    Parameters
    ----------
    inspected, confidence, population, sensitivity : as in :func:`prevalence_limit`. A large
        population (infinity) has a share and no number of plants.

    Raises
    ------
    ValueError : arguments outside their range, more inspected than there are plants.

    Examples
    --------
    >>> missed = largest_patch_missed(20, 600)
    >>> float(missed.plants), round(float(missed.share), 4)
    (82.0, 0.1367)
    """
    n, c, size, e = _clean_arguments(inspected, confidence, population, sensitivity)
    reason = first_reason(
        n.shape, ("no_effort", _nothing(n)), ("no_population", np.isnan(size))
    )  # fmt: skip
    plants = _most_infested(n, size, e, (1 - c) * (1 - TIE), reason)
    share = np.where(np.isinf(size), _binomial_limit(n, c, e), plants / size)
    return PatchMissed(plants, np.where(reason == "", share, np.nan), reason)


def _clean_arguments(
    inspected: ArrayLike, confidence: ArrayLike, population: ArrayLike, sensitivity: ArrayLike
) -> list[FloatArray]:
    arrays = as_floats(
        inspected=inspected, confidence=confidence, population=population, sensitivity=sensitivity
    )
    n, c, size, e = arrays
    require_not_negative("inspected", n)
    require_probability("confidence", c)
    require_positive("population", size)
    require_probability("sensitivity", e, one_allowed=True)
    require_at_most("inspected", n, "population", size)
    return arrays


def _binomial_limit(n: FloatArray, c: FloatArray, e: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore"):
        return np.asarray(np.minimum(1, -np.expm1(np.log1p(-c) / n) / e))


def _most_infested(
    n: FloatArray, size: FloatArray, e: FloatArray, least_missed: FloatArray, reason: TextArray
) -> FloatArray:
    """Largest D that is missed with a chance above the one given; NaN without an answer."""
    usable = (reason == "") & np.isfinite(size)
    n, size = np.where(usable, n, 1), np.where(usable, size, 1)
    low, high = np.zeros(n.shape), size + 1
    while (high - low > 1).any():
        middle = np.floor((low + high) / 2)
        hidden = missed(n, middle, size, e) > least_missed
        low, high = np.where(hidden, middle, low), np.where(hidden, high, middle)
    return np.where(usable, low, np.nan)
