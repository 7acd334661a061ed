"""Heat and development: how far a pest has come since a day, and when it will be where.

Insects and mites develop as fast as their surroundings are warm. Between a lower threshold and
the temperature of fastest development the rate is nearly a straight line, and development is
counted in degree-days: degrees above the threshold, times days. Temperatures and thresholds are
on one scale throughout; a degree-day of Fahrenheit is 5/9 of one of Celsius.

A model is used with the method its parameters were made with. Parameters from constant
temperatures belong with readings through the day or with a sine, not with an average.

Reason codes (empty where there is an answer without a remark)

``no_reading``
    A temperature is absent: no number.
``no_threshold``
    A threshold is absent: no number. Infinity is "no upper threshold", NaN is "not known".
``below_zero``
    An intermediate cut-off would take heat away: the day counts as 0.
``no_next_minimum``
    A double curve without the next day's minimum: the day's own stands for it.
"""

from benchwalk.science.degree_days.daily import (
    CUTOFFS,
    Cutoff,
    DegreeDays,
    double_sine,
    double_triangle,
    modified_average,
    simple_average,
    single_sine,
    single_triangle,
)

__all__ = [
    "CUTOFFS",
    "Cutoff",
    "DegreeDays",
    "double_sine",
    "double_triangle",
    "modified_average",
    "simple_average",
    "single_sine",
    "single_triangle",
]
