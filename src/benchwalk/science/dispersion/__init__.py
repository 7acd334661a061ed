"""How clumped a pest is: mean and variance of counts, indices, k, and the laws of variance.

``variance = mean + mean**2 / k``: the smaller k, the more a few plants carry most of the pests;
k = infinity is the Poisson, plants independent of each other. Five ways to estimate k from the
counts of one round ([BlissFisher1953]_, [Anscombe1949]_), one to learn it from many rounds, indices
of one round ([Lloyd1967]_, [Morisita1959]_, [Green1966]_), and two laws of how the variance grows
with the mean ([Taylor1961]_, [Iwao1968]_).

Reason codes (empty where there is an answer)

``too_few``
    Fewer than two sample units: there is no variance.
``none_counted``
    Nothing was found, so nothing is known of clumping.
``one_individual``
    One individual was found, and two are needed to stand together.
``not_aggregated``
    The variance is no larger than the mean allows for: k is infinite, the Poisson. An answer, and
    marked so that nobody takes it for a large k that was measured.
``one_unit``
    Everything found was on one unit, and the estimate would be 0, which is no distribution.
``all_infested``
    No empty unit, so the share of empty ones says nothing of k.
``too_few_rounds``
    Fewer rounds than a line needs.
``one_density``
    The rounds have nearly the same mean, so nothing is known of how the variance grows with it.
"""

from benchwalk.science.dispersion.indices import (
    MeanCrowding,
    Morisita,
    SpreadIndex,
    green_index,
    mean_crowding,
    mean_crowding_of_individuals,
    morisita,
)
from benchwalk.science.dispersion.k import (
    CountSpread,
    DispersionK,
    common_k_by_likelihood,
    common_k_by_moments,
    count_spread,
    k_bias_lowered,
    k_by_likelihood,
    k_by_moments,
    k_by_zero_term,
)
from benchwalk.science.dispersion.laws import (
    ROUNDS_FOR_A_LAW,
    IwaoLaw,
    LearnedTaylorLaw,
    TaylorLaw,
    iwao_law,
    iwao_variance,
    negative_binomial_variance,
    taylor_a,
    taylor_from_rounds,
    taylor_law,
    taylor_variance,
)
from benchwalk.science.dispersion.rounds import (
    PRIOR_K,
    PRIOR_SD,
    ROUNDS_TO_LEARN,
    LearnedK,
    k_from_rounds,
)

__all__ = [
    "PRIOR_K",
    "PRIOR_SD",
    "ROUNDS_FOR_A_LAW",
    "ROUNDS_TO_LEARN",
    "CountSpread",
    "DispersionK",
    "IwaoLaw",
    "LearnedK",
    "LearnedTaylorLaw",
    "MeanCrowding",
    "Morisita",
    "SpreadIndex",
    "TaylorLaw",
    "common_k_by_likelihood",
    "common_k_by_moments",
    "count_spread",
    "green_index",
    "iwao_law",
    "iwao_variance",
    "k_bias_lowered",
    "k_by_likelihood",
    "k_by_moments",
    "k_by_zero_term",
    "k_from_rounds",
    "mean_crowding",
    "mean_crowding_of_individuals",
    "morisita",
    "negative_binomial_variance",
    "taylor_a",
    "taylor_from_rounds",
    "taylor_law",
    "taylor_variance",
]
