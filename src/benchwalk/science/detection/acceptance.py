"""Acceptance sampling: a delivery passes with at most so many infested plants found.

Acceptance number 0 is detection (:mod:`benchwalk.science.detection.inspection`). A higher one needs
more plants and can tell a delivery that is good enough from one that is not, with both risks named.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

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
from benchwalk.science.detection.misses import (
    TIE,
    Rounding,
    log_hypergeometric,
    missed,
    whole_plants,
)

# standard deviations of the number met, and plants, beyond which its chance is under 1e-20
_REACH_SD = 10.0
_REACH = 12.0
# acceptance numbers tried before a plan is given up
_MOST_ALLOWED = 2000


@dataclass(frozen=True, eq=False)
class Acceptance:
    """Operating characteristic of a plan: how often a delivery passes."""

    probability: FloatArray
    infested: FloatArray  #: infested plants it was computed for; NaN for a large population
    reason: TextArray


@dataclass(frozen=True, eq=False)
class AcceptancePlan:
    """Fewest plants that keep both risks; arrays of one shape."""

    plants: FloatArray  #: plants to inspect
    allowed: FloatArray  #: infested plants found at most for the delivery to pass
    pass_acceptable: FloatArray  #: chance that a delivery at the acceptable prevalence passes
    pass_rejectable: FloatArray  #: chance that one at the rejectable prevalence passes
    reason: TextArray


@dataclass(frozen=True, eq=False)
class Carries:
    """Chance that plants that leave carry the pest."""

    probability: FloatArray  #: that at least one of them is infested
    expected: FloatArray  #: infested plants among them, on average
    reason: TextArray


def pass_probability(
    inspected: ArrayLike,
    allowed: ArrayLike,
    prevalence: ArrayLike,
    population: ArrayLike = np.inf,
    sensitivity: ArrayLike = 1.0,
    *,
    infested: Rounding = "floor",
) -> Acceptance:
    """Chance of finding at most ``allowed`` infested plants among those inspected.

    Finite population: ``sum_h P(h of D met) P(at most allowed of h found)``, hypergeometric and
    binomial, summed in full. Large population: binomial with share ``prevalence * sensitivity``
    ([DodgeRomig1959]_). Over prevalences it is the operating characteristic.

    Parameters
    ----------
    inspected : plants inspected; 0 and NaN give "no_effort".
    allowed : infested plants found at most for the delivery to pass; 0 is detection.
    prevalence : share of plants infested, in [0, 1].
    population : plants in the delivery; infinity for a large one, NaN if absent.
    sensitivity : chance of finding the pest on an infested plant that is inspected, in (0, 1].
    infested : what a fraction of a plant in ``prevalence * population`` becomes.

    Returns
    -------
    Acceptance : NaN with "no_effort" or "no_population". Less than one infested plant in a finite
        population is none with "floor", and passes.

    Raises
    ------
    ValueError : arguments outside their range, more inspected than there are plants.

    Examples
    --------
    >>> pass_probability(89, 2, [0.01, 0.05]).probability.round(4)
    array([0.9397, 0.1721])
    """
    n, most, p, size, e = as_floats(
        inspected=inspected, allowed=allowed, prevalence=prevalence,
        population=population, sensitivity=sensitivity,
    )  # fmt: skip
    require_not_negative("inspected", n)
    require_not_negative("allowed", most)
    _check_prevalence("prevalence", p)
    require_positive("population", size)
    require_probability("sensitivity", e, one_allowed=True)
    require_at_most("inspected", n, "population", size)
    reason = first_reason(
        p.shape, ("no_effort", ~(n > 0)), ("no_population", np.isnan(size))
    )  # fmt: skip
    d = whole_plants(p, size, infested)
    answered = reason == ""
    n, most, p, size, e, d = (np.where(answered, column, 1) for column in (n, most, p, size, e, d))
    found = np.where(answered, _pass(n, most, p, d, size, e), np.nan)
    return Acceptance(found, np.where(answered & np.isfinite(size), d, np.nan), reason)


def _check_prevalence(name: str, p: FloatArray) -> None:
    wrong = ~((p >= 0) & (p <= 1))
    if wrong.any():
        raise ValueError(
            f"got {name} {p[wrong][0]:g}; expected a share in [0, 1]; divide plants by plants"
        )


def _pass(
    n: FloatArray, most: FloatArray, p: FloatArray, d: FloatArray, size: FloatArray, e: FloatArray
) -> FloatArray:
    large = np.isinf(size)
    safe = np.where(large, n + 1, size)
    finite = _pass_finite(n, most, np.where(large, 0, d), safe, e)
    return np.where(large, _at_most(most, n, p * e), finite)


def _at_most(most: FloatArray, n: FloatArray, chance: FloatArray) -> FloatArray:
    """P(binomial of n at most ``most``)."""
    inside = most < n
    upper = special.betainc(np.where(inside, most, 0) + 1, np.where(inside, n - most, 1), chance)
    return np.where(inside, 1 - upper, 1.0)


def _pass_finite(
    n: FloatArray, most: FloatArray, d: FloatArray, size: FloatArray, e: FloatArray
) -> FloatArray:
    """Sum over the infested plants met, in a window that holds all but a chance of 1e-20."""
    mean = n * d / size
    reach = _REACH + _REACH_SD * np.sqrt(mean * (1 - d / size) * (1 - n / size))
    met = np.floor(np.maximum(np.maximum(0, n - (size - d)), mean - reach))
    end = np.ceil(np.minimum(np.minimum(n, d), mean + reach))
    total = np.zeros(n.shape)
    while (going := met <= end).any():
        at = np.where(going, met, end)
        chance = np.exp(log_hypergeometric(at, n, d, size)) * _at_most(most, at, e)
        total = total + np.where(going, chance, 0)
        met = met + 1
    return np.minimum(total, 1.0)


def acceptance_plan(
    acceptable: ArrayLike,
    rejectable: ArrayLike,
    *,
    producer_risk: ArrayLike,
    consumer_risk: ArrayLike,
    population: ArrayLike = np.inf,
    sensitivity: ArrayLike = 1.0,
    infested: Rounding = "floor",
) -> AcceptancePlan:
    """Fewest plants, and infested ones allowed, that keep two risks.

    A delivery at the acceptable prevalence is refused with at most the producer's risk, one at the
    rejectable prevalence passes with at most the consumer's risk ([DodgeRomig1959]_). For each
    acceptance number from 0 on, the fewest plants that keep the consumer's risk; the first that
    keep the producer's too.

    Parameters
    ----------
    acceptable, rejectable : shares of plants infested, the first below the second; 0 is acceptable
        where any find counts.
    producer_risk, consumer_risk : in (0, 1); 0.05 and 0.10 are usual (common practice, no source).
    population, sensitivity, infested : as in :func:`pass_probability`.

    Returns
    -------
    AcceptancePlan : NaN with "cannot_reach" (not even all plants tell the two apart),
        "under_one_plant" or "no_population".

    Raises
    ------
    ValueError : arguments outside their range, acceptable not below rejectable.

    Examples
    --------
    >>> plan = acceptance_plan(0.01, 0.06, producer_risk=0.05, consumer_risk=0.10)
    >>> float(plan.plants), float(plan.allowed)
    (110.0, 3.0)
    """
    p1, p2, alpha, beta, size, e = as_floats(
        acceptable=acceptable, rejectable=rejectable, producer_risk=producer_risk,
        consumer_risk=consumer_risk, population=population, sensitivity=sensitivity,
    )  # fmt: skip
    _check_plan(p1, p2, alpha, beta, size, e)
    d1, d2 = whole_plants(p1, size, infested), whole_plants(p2, size, infested)
    reason = first_reason(
        p1.shape,
        ("no_population", np.isnan(size)),
        ("under_one_plant", np.isfinite(size) & (d2 < 1)),
    )
    rows = reason == ""
    two = _Two(*(column[rows] for column in (p1, p2, d1, d2, size, e)))
    plants, allowed, good, bad = (np.full(p1.shape, np.nan) for _ in range(4))
    plants[rows], allowed[rows] = two.plan(alpha[rows] * (1 + TIE), beta[rows] * (1 + TIE))
    reason = np.where(rows & np.isnan(plants), "cannot_reach", reason)
    rows = ~np.isnan(plants)
    two = _Two(*(column[rows] for column in (p1, p2, d1, d2, size, e)))
    good[rows] = two.passes(plants[rows], allowed[rows])
    bad[rows] = two.slips(plants[rows], allowed[rows])
    return AcceptancePlan(plants, allowed, good, bad, reason)


def _check_plan(
    p1: FloatArray,
    p2: FloatArray,
    alpha: FloatArray,
    beta: FloatArray,
    size: FloatArray,
    e: FloatArray,
) -> None:
    _check_prevalence("acceptable", p1)
    _check_prevalence("rejectable", p2)
    require_probability("producer_risk", alpha)
    require_probability("consumer_risk", beta)
    require_positive("population", size)
    require_probability("sensitivity", e, one_allowed=True)
    wrong = p1 >= p2
    if wrong.any():
        raise ValueError(
            f"got acceptable {p1[wrong][0]:g} and rejectable {p2[wrong][0]:g}; expected the first "
            "below the second; check whether the two were exchanged"
        )


@dataclass(frozen=True, eq=False)
class _Two:
    """A delivery at its acceptable and at its rejectable prevalence."""

    p1: FloatArray
    p2: FloatArray
    d1: FloatArray
    d2: FloatArray
    size: FloatArray
    e: FloatArray

    def rows(self, chosen: NDArray[np.int64]) -> _Two:
        columns = (self.p1, self.p2, self.d1, self.d2, self.size, self.e)
        return _Two(*(column[chosen] for column in columns))

    def passes(self, n: FloatArray, allowed: FloatArray) -> FloatArray:
        return _pass(n, allowed, self.p1, self.d1, self.size, self.e)

    def slips(self, n: FloatArray, allowed: FloatArray) -> FloatArray:
        return _pass(n, allowed, self.p2, self.d2, self.size, self.e)

    def plan(
        self, producer_risk: FloatArray, consumer_risk: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Plants and acceptance numbers of flat rows; NaN where no plan keeps both risks."""
        plants, allowed = np.full((2, self.p1.size), np.nan)
        left = np.arange(self.p1.size)
        for number in range(_MOST_ALLOWED):
            if left.size == 0:
                break
            rows = self.rows(left)
            most = np.full(left.shape, float(number))
            fewest, kept = rows.fewest(most, consumer_risk[left])
            done = kept & (1 - rows.passes(fewest, most) <= producer_risk[left])
            plants[left[done]], allowed[left[done]] = fewest[done], number
            # a higher number makes the consumer's risk larger: all plants do not keep it either
            left = left[kept & ~done]
        return plants, allowed

    def fewest(self, allowed: FloatArray, risk: FloatArray) -> tuple[FloatArray, BoolArray]:
        """Fewest plants that keep the consumer's risk, and where any number of them does."""
        low, high = np.zeros(self.p1.shape), np.minimum(allowed + 1, self.size)
        while (short := (self.slips(high, allowed) > risk) & (high < self.size)).any():
            low = np.where(short, high, low)
            high = np.where(short, np.minimum(2 * high, self.size), high)
        kept = np.asarray(self.slips(high, allowed) <= risk)
        while (high - low > 1).any():
            middle = np.floor((low + high) / 2)
            enough = self.slips(middle, allowed) <= risk
            low, high = np.where(enough, low, middle), np.where(enough, middle, high)
        return high, kept


def lot_carries(
    lot: ArrayLike,
    prevalence: ArrayLike,
    population: ArrayLike = np.inf,
    *,
    infested: Rounding = "floor",
) -> Carries:
    """Chance that a lot of plants carries at least one infested plant.

    The lot is taken at random from a population of that prevalence:
    ``1 - miss_probability(lot, D, N)``, or ``1 - (1 - prevalence)**lot`` for a large one.

    Parameters
    ----------
    lot : plants that leave together; 0 carry nothing, NaN gives "no_effort".
    prevalence : share of plants infested where they come from, in [0, 1].
    population : plants there; infinity for a large number, NaN if absent.
    infested : what a fraction of a plant in ``prevalence * population`` becomes.

    Raises
    ------
    ValueError : arguments outside their range, a lot of more plants than there are.

    Examples
    --------
    >>> float(lot_carries(600, 0.005).probability.round(3))
    0.951
    """
    n, p, size = as_floats(lot=lot, prevalence=prevalence, population=population)
    require_not_negative("lot", n)
    _check_prevalence("prevalence", p)
    require_positive("population", size)
    require_at_most("lot", n, "population", size)
    d = whole_plants(p, size, infested)
    reason = first_reason(
        n.shape, ("no_effort", np.isnan(n)), ("no_population", np.isnan(size))
    )  # fmt: skip
    finite = (reason == "") & np.isfinite(size)
    n_safe, d_safe, size_safe = (np.where(finite, column, 1) for column in (n, d, size))
    none = np.where(finite, missed(n_safe, d_safe, size_safe, np.ones(n.shape)), (1 - p) ** n)
    expected = n * np.where(finite, d_safe / size_safe, p)
    answered = reason == ""
    return Carries(
        np.where(answered, 1 - none, np.nan), np.where(answered, expected, np.nan), reason
    )


def infested_after_clean(prior: ArrayLike, confidence: ArrayLike) -> FloatArray:
    """Chance that a unit is infested although a clean inspection had that confidence.

    ``prior (1 - confidence) / (1 - prior confidence)``, by Bayes; one minus it is the probability
    of freedom ([Martin2007]_).

    Parameters
    ----------
    prior : chance that the unit is infested, before the inspection, in [0, 1]; NaN passes.
    confidence : of :func:`confidence_after_clean` for the prevalence an infested unit would have;
        NaN where nothing was inspected, and the answer is NaN: not looked is no evidence.

    Raises
    ------
    ValueError : values outside [0, 1], both 1.

    Examples
    --------
    >>> float(infested_after_clean(0.5, 0.95).round(4))
    0.0476
    """
    before, c = as_floats(prior=prior, confidence=confidence)
    for name, values in (("prior", before), ("confidence", c)):
        require_not_negative(name, values)
        require_at_most(name, values, "certainty", np.ones(values.shape))
    if ((before == 1) & (c == 1)).any():
        raise ValueError(
            "got prior 1 and confidence 1; expected one of them below 1; an infested unit cannot "
            "be clean for certain"
        )
    return np.asarray(before * (1 - c) / (1 - before * c))


def plants_by_approximation(
    prevalence: ArrayLike,
    population: ArrayLike,
    confidence: ArrayLike = 0.95,
    sensitivity: ArrayLike = 1.0,
    *,
    form: Literal["simple", "cannon_roe"],
    infested: Rounding,
) -> FloatArray:
    """Plants to inspect by two closed forms in print, to compare with figures from elsewhere.

    With D infested of N plants, e the sensitivity and ``x = 1 - (1 - confidence)**(1/D)``::

        simple      n = x N / e                       differs by a plant or more
        cannon_roe  n = x (N - (D - 1)/2) / e         near the exact number ([CannonRoe1982]_)

    Use :func:`plants_to_inspect`; an approximation can ask for more plants than a large population
    needs, or than there are.

    Parameters
    ----------
    prevalence, population, confidence, sensitivity, infested : as in :func:`plants_to_inspect`;
        the population is finite.

    Returns
    -------
    array of whole numbers; NaN where there is less than one infested plant.

    Raises
    ------
    ValueError : arguments outside their range, a form other than the two, a large population.

    Examples
    --------
    >>> float(plants_by_approximation(0.01, 500, form="simple", infested="ceil"))
    226.0
    """
    p, size, c, e = as_floats(
        prevalence=prevalence, population=population, confidence=confidence, sensitivity=sensitivity
    )
    require_probability("prevalence", p, one_allowed=True)
    require_probability("confidence", c)
    require_probability("sensitivity", e, one_allowed=True)
    require_positive("population", size)
    if form not in ("simple", "cannon_roe") or np.isinf(size).any():
        raise ValueError(
            f"got form {form!r} and a population up to {np.max(size):g}; expected 'simple' or "
            "'cannon_roe' and a finite population; use plants_to_inspect otherwise"
        )
    d = whole_plants(p, size, infested)
    d = np.where(d >= 1, d, np.nan)
    base = size if form == "simple" else size - (d - 1) / 2
    return np.asarray(np.ceil(-np.expm1(np.log1p(-c) / d) * base / e * (1 - TIE)))
