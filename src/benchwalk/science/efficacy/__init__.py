"""What a treatment did: percent control, corrected for what the untreated did meanwhile.

A number without its untreated is the weather. Every function compares with untreated units of the
same days, gives its interval where counts allow one, and keeps a negative answer: more pests than
without the treatment is a finding, and cutting it off at 0 would flatter the mean of many.

Reason codes (empty where there is an answer without a remark)

``none_after``
    None were left on the treated: 100 %, with a lower limit only (``sides`` = 1), or none.
``none_before``
    There was nothing on the treated to take away: no number.
``none_untreated``
    None were left on the untreated: nothing to compare with, no number.
``untreated_from_none``
    The untreated had none before: their growth has no number, and so has the control.
``no_effort``, ``not_counted``
    A cell was not looked at, or no number was written: no number. An absent count is never 0.
``no_k``, ``k_too_small``, ``not_whole``
    As in :mod:`benchwalk.science.density`: the number stands without its interval.
``no_pairs``, ``one_plant``
    No plant was counted on both days: no number. One had all there was before: no interval.
``no_untreated``
    No untreated unit has counts before and after: no number.
``one_untreated``
    One untreated unit: differences between units are not in the interval, for nobody knows them.
"""

from benchwalk.science.efficacy.formulas import (
    PercentControl,
    abbott,
    henderson_tilton,
    schneider_orelli,
    sun_shepard,
)
from benchwalk.science.efficacy.intervals import (
    EFFICACY_LEVEL,
    INTERVALS,
    Counts,
    Efficacy,
    Interval,
    abbott_interval,
    henderson_tilton_interval,
)
from benchwalk.science.efficacy.paired import paired_control
from benchwalk.science.efficacy.several import EfficacyAgainstUnits, control_against_units

__all__ = [
    "EFFICACY_LEVEL",
    "INTERVALS",
    "Counts",
    "Efficacy",
    "EfficacyAgainstUnits",
    "Interval",
    "PercentControl",
    "abbott",
    "abbott_interval",
    "control_against_units",
    "henderson_tilton",
    "henderson_tilton_interval",
    "paired_control",
    "schneider_orelli",
    "sun_shepard",
]
