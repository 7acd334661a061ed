"""Whether two scouts see the same, and how much each of them sees.

Tables are units by scouts, and NaN is "did not look", which is no disagreement.

Reason codes (empty where there is an answer)

``no_units``
    No unit was looked at by both (by two or more): no number.
``one_class``
    All units are in one class: chance alone agrees in full, no number.
``too_few``
    Fewer than two units: no spread to compare with.
``no_spread``
    All counts are alike: no number.
``none_known``
    The scout was shown no infested plant.
``not_looked``
    A scout without a unit.
``not_connected``
    Groups of scouts that share no unit: they cannot be compared.
``no_rest``
    As many unknowns as counts: offsets without standard errors.
``not_counted``, ``not_whole``
    As in :mod:`benchwalk.science.density`.
"""

from benchwalk.science.agreement.correlation import (
    FORMS,
    Form,
    IntraclassCorrelation,
    MeanSquares,
    intraclass_correlation,
    mean_squares,
)
from benchwalk.science.agreement.differences import (
    MULTIPLE,
    LimitsOfAgreement,
    RatioLimits,
    ScoutOffsets,
    limits_of_agreement,
    ratio_limits,
    repeatability,
    scout_offsets,
)
from benchwalk.science.agreement.kappa import (
    WEIGHTS,
    Kappa,
    ManyKappa,
    Weights,
    cohen_kappa,
    fleiss_kappa,
    fleiss_kappa_of_counts,
    kappa_of_table,
)
from benchwalk.science.agreement.sensitivity import Sensitivity, scout_sensitivity

__all__ = [
    "FORMS",
    "MULTIPLE",
    "WEIGHTS",
    "Form",
    "IntraclassCorrelation",
    "Kappa",
    "LimitsOfAgreement",
    "ManyKappa",
    "MeanSquares",
    "RatioLimits",
    "ScoutOffsets",
    "Sensitivity",
    "Weights",
    "cohen_kappa",
    "fleiss_kappa",
    "fleiss_kappa_of_counts",
    "intraclass_correlation",
    "kappa_of_table",
    "limits_of_agreement",
    "mean_squares",
    "ratio_limits",
    "repeatability",
    "scout_offsets",
    "scout_sensitivity",
]
