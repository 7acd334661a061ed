"""How many pests there are: a mean per sample unit with its interval, a share, a rate, a change.

Counts of one round are taken as negative binomial with a k that is known or learned before
(:func:`benchwalk.science.dispersion.k_from_rounds`), so the total over n units is negative binomial
with mean ``n * mean`` and size ``n * k``. ``k = infinity`` is the Poisson.

Reason codes (empty where there is an answer)

``no_effort``
    Nothing was looked at: n, the exposure or the number inspected is 0 or absent. No mean.
``not_counted``
    Looked, and no number was written: the total is absent. An absent count is never 0.
``no_k``
    k is absent: the mean stands without its interval.
``k_too_small``
    ``n * k`` is under 0.1: so clumped a total bounds nothing. The mean stands without its interval.
``not_whole``
    The total is no whole number of individuals: the mean stands without its interval.
``capped``
    The total is "at least": the mean and the lower limit are lower bounds, there is no upper limit.
``none_before``
    Nothing was counted before, so a ratio has no upper limit.
``none_counted``
    Nothing was counted on either occasion: no ratio.
``no_days``, ``no_squares``
    A card's days of exposure, or the squares counted on it, are 0 or absent.
``one_card``, ``one_square``
    From one card, or one square of a card, nothing is known of the differences between them: the
    mean stands without its interval.
``fewer_than_before``
    A card that was left hanging holds fewer than at the reading before: no number.
``some_not_looked``, ``some_not_counted``
    A mean over units leaves out those that have none, and says so.
``no_weight``
    The weight of a unit is absent, or all are 0: no mean over units.
``gap``, ``one_look``, ``no_look``
    Not looked at for too long, or fewer than twice: no area under the density.
"""

from benchwalk.science.density.cards import (
    CardRate,
    CardsMean,
    NewCatch,
    card_rate,
    new_catch,
    two_stage_mean,
)
from benchwalk.science.density.changes import (
    DifferenceInterval,
    RatioInterval,
    difference_interval,
    ratio_interval,
)
from benchwalk.science.density.insect_days import InsectDays, insect_days
from benchwalk.science.density.means import (
    DENSITY_LEVEL,
    MeanInterval,
    ShareInterval,
    infested_interval,
    mean_interval,
    poisson_interval,
)
from benchwalk.science.density.pooled import PooledMean, pooled_mean

__all__ = [
    "DENSITY_LEVEL",
    "CardRate",
    "CardsMean",
    "DifferenceInterval",
    "InsectDays",
    "MeanInterval",
    "NewCatch",
    "PooledMean",
    "RatioInterval",
    "ShareInterval",
    "card_rate",
    "difference_interval",
    "infested_interval",
    "insect_days",
    "mean_interval",
    "new_catch",
    "poisson_interval",
    "pooled_mean",
    "ratio_interval",
    "two_stage_mean",
]
