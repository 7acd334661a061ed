"""When to stop counting: is a unit under or over a density, with few plants and known error rates.

Plants are counted one after the other; after each the cumulative count is compared with two limits.
At or under the lower one the unit is called *under*, at or over the upper one *over*, between them
counting goes on ([Wald1947]_). Two ways give the error rates and the number of plants: the formulas
of Wald, which neglect by how much the last count passes a limit, and exact sums over all counts
(:mod:`benchwalk.science.stopping.exact`). Nothing is drawn at random.

Reason codes (empty where there is an answer)

``no_means``
    One of the two densities to tell apart is absent.
``no_k``
    k of the negative binomial is absent.
``no_mean``
    The true mean asked about is absent.
``first_walks``, ``arrivals``, ``immigration``, ``regulated``, ``any_find``, ``ship``, ``disease``
    Why "under" is not called early.
"""

from benchwalk.science.stopping.characteristic import Characteristic
from benchwalk.science.stopping.counts import (
    Counts,
    HotSpot,
    InfestedUnits,
    NegativeBinomialCounts,
    PoissonCounts,
    WaldCounts,
)
from benchwalk.science.stopping.exact import exact_characteristic
from benchwalk.science.stopping.plan import (
    MissedCrossings,
    PlanSummary,
    early_under_refused,
    missed_crossings,
    summarise_plan,
)
from benchwalk.science.stopping.presence import (
    PresenceMean,
    infested_share,
    mean_from_infested,
    mean_of_share,
    wilson_room_share,
)
from benchwalk.science.stopping.presence_lines import (
    LogMeanVariance,
    PredictedMean,
    PresenceLine,
    ShareLine,
    kono_sugino_line,
    predicted_mean,
    share_at_mean,
    share_line,
    units_for_presence,
)
from benchwalk.science.stopping.tables import (
    NEVER_OVER,
    NEVER_UNDER,
    IwaoLimits,
    StopTable,
    iwao_limits,
    iwao_most_units,
    iwao_table,
    wald_table,
    without_early_under,
)
from benchwalk.science.stopping.wald import Lines, wald_characteristic, wald_lines

__all__ = [
    "NEVER_OVER",
    "NEVER_UNDER",
    "Characteristic",
    "Counts",
    "HotSpot",
    "InfestedUnits",
    "IwaoLimits",
    "Lines",
    "LogMeanVariance",
    "MissedCrossings",
    "NegativeBinomialCounts",
    "PlanSummary",
    "PoissonCounts",
    "PredictedMean",
    "PresenceLine",
    "PresenceMean",
    "ShareLine",
    "StopTable",
    "WaldCounts",
    "early_under_refused",
    "exact_characteristic",
    "infested_share",
    "iwao_limits",
    "iwao_most_units",
    "iwao_table",
    "kono_sugino_line",
    "mean_from_infested",
    "mean_of_share",
    "missed_crossings",
    "predicted_mean",
    "share_at_mean",
    "share_line",
    "summarise_plan",
    "units_for_presence",
    "wald_characteristic",
    "wald_lines",
    "wald_table",
    "wilson_room_share",
    "without_early_under",
]
