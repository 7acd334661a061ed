"""Where a pest is heading, and what a treatment did: one filter over all series of counts.

See ``docs/science/forecast.md``. Numbers in, numbers out; nothing here knows of records.
"""

from benchwalk.science.forecast import calibration, fit, scouts
from benchwalk.science.forecast.calibration import (
    Reliability,
    Replay,
    Scores,
    coverage,
    inflation,
    reliability,
    replay,
    scores,
)
from benchwalk.science.forecast.data import (
    AGAINST,
    QUANTILES,
    Effect,
    Flag,
    Kind,
    Methods,
    Movements,
    Pests,
    Programmes,
    Result,
    Series,
    State,
    Temperature,
    Treatments,
)
from benchwalk.science.forecast.distributions import normal_cdf, normal_quantile
from benchwalk.science.forecast.effects import (
    CANNOT_TELL,
    DID_NOT_WORK,
    WORKED,
    TreatmentTable,
    pooled_verdict,
    treatment_table,
    verdict,
)
from benchwalk.science.forecast.filter import HORIZONS, run, since, start, step, until
from benchwalk.science.forecast.params import (
    CLASSES,
    DEFAULTS,
    Group,
    Params,
    ScoutOffset,
    TreatmentClass,
)
from benchwalk.science.forecast.pooled import Pooled, pooled_effect

__all__ = [
    "AGAINST",
    "CANNOT_TELL",
    "CLASSES",
    "DEFAULTS",
    "DID_NOT_WORK",
    "HORIZONS",
    "QUANTILES",
    "WORKED",
    "Effect",
    "Flag",
    "Group",
    "Kind",
    "Methods",
    "Movements",
    "Params",
    "Pests",
    "Pooled",
    "Programmes",
    "Reliability",
    "Replay",
    "Result",
    "Scores",
    "ScoutOffset",
    "Series",
    "State",
    "Temperature",
    "TreatmentClass",
    "TreatmentTable",
    "Treatments",
    "calibration",
    "coverage",
    "fit",
    "inflation",
    "normal_cdf",
    "normal_quantile",
    "pooled_effect",
    "pooled_verdict",
    "reliability",
    "replay",
    "run",
    "scores",
    "scouts",
    "since",
    "start",
    "step",
    "treatment_table",
    "until",
    "verdict",
]
