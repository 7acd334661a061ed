"""How many plants to inspect to find a pest, and what a clean inspection proves.

Detection with acceptance number 0 as in [ISPM31]_: the unit is called infested at the first find.
Plants are chosen at random without replacement from a population (the unit, or a delivery); a
scout finds the pest on an infested plant with chance ``sensitivity`` and never calls a clean plant
infested. Clumps of infested plants do no harm to this as long as the plants are chosen at random;
they do when neighbours are inspected together. Higher acceptance numbers, with their operating
characteristic, are in :mod:`benchwalk.science.detection.acceptance`.

Reason codes (empty where there is an answer)

``cannot_reach``
    Even every plant of the population inspected gives less than the confidence asked for, or does
    not tell an acceptable from a rejectable delivery.
``under_one_plant``
    The prevalence asked for is less than one plant of the population.
``no_effort``
    Nothing was inspected (0 or absent).
``no_population``
    The number of plants is absent.
"""

from benchwalk.science.detection.acceptance import (
    Acceptance,
    AcceptancePlan,
    Carries,
    acceptance_plan,
    infested_after_clean,
    lot_carries,
    pass_probability,
    plants_by_approximation,
)
from benchwalk.science.detection.inspection import (
    Confidence,
    PatchMissed,
    PlantsToInspect,
    PrevalenceLimit,
    confidence_after_clean,
    largest_patch_missed,
    plants_to_inspect,
    prevalence_limit,
)
from benchwalk.science.detection.misses import Rounding, miss_probability

__all__ = [
    "Acceptance",
    "AcceptancePlan",
    "Carries",
    "Confidence",
    "PatchMissed",
    "PlantsToInspect",
    "PrevalenceLimit",
    "Rounding",
    "acceptance_plan",
    "confidence_after_clean",
    "infested_after_clean",
    "largest_patch_missed",
    "lot_carries",
    "miss_probability",
    "pass_probability",
    "plants_by_approximation",
    "plants_to_inspect",
    "prevalence_limit",
]
