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
``by_extremes``
    Readings of the day have too long a gap: its minimum and maximum stand for it.
``gap``
    Too long a gap, and nothing to stand for it: no number, and none for a sum that needs it.
``too_cold``
    At the base or below there is no development: rate 0, days infinite.
``too_warm``, ``outside_range``
    Warmer than the straight line holds, or outside the temperatures of the study: no number.
``too_few``, ``one_temperature``, ``no_rise``
    No line can be fitted to so few temperatures, to one, or to slower development in the warm.
``no_heat``
    The heat to be reached is absent.
``not_reached``
    The days given are too few.
"""

from benchwalk.science.degree_days.calendar import (
    DayReached,
    StageCalendar,
    day_reached,
    generation_ends,
    stage_calendar,
)
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
from benchwalk.science.degree_days.development import (
    Duration,
    LinearDevelopment,
    LinearFit,
    Rate,
    fit_line,
)
from benchwalk.science.degree_days.rates import (
    CURVES,
    NonlinearDevelopment,
    briere1,
    briere1_optimum,
    briere2,
    lactin1,
    lactin2,
    logan6,
    logan10,
    taylor_gauss,
)
from benchwalk.science.degree_days.readings import LONGEST_GAP, HeatOfDays, heat_of_days

__all__ = [
    "CURVES",
    "CUTOFFS",
    "LONGEST_GAP",
    "Cutoff",
    "DayReached",
    "DegreeDays",
    "Duration",
    "HeatOfDays",
    "LinearDevelopment",
    "LinearFit",
    "NonlinearDevelopment",
    "Rate",
    "StageCalendar",
    "briere1",
    "briere1_optimum",
    "briere2",
    "day_reached",
    "double_sine",
    "double_triangle",
    "fit_line",
    "generation_ends",
    "heat_of_days",
    "lactin1",
    "lactin2",
    "logan6",
    "logan10",
    "modified_average",
    "simple_average",
    "single_sine",
    "single_triangle",
    "stage_calendar",
    "taylor_gauss",
]
