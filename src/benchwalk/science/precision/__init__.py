"""How many sample units a mean of given precision takes, and when enough were counted.

The relative error D is one of two things, and papers use both: the standard error over the mean, or
the half-width of a confidence interval over the mean ([Karandinos1976]_), which takes z**2 times as
many units. So D is never a bare number here::

    standard_error(0.25)              SE / mean = 0.25
    half_width(0.25, level=0.95)      half of a 95 % interval / mean = 0.25

Sizes assume that units are chosen at random and that their number is large enough for the mean to
be about normal; ``population`` corrects for a unit of few plants. The number of a formula is in
``exact``, the whole number to count in ``units``.

Reason codes (empty where there is an answer)

``no_mean``
    The mean (or share) is absent.
``zero_mean``
    Where nothing is expected no number of units gives a relative precision.
``no_law``
    k, a and b, alpha and beta, or the variance is absent.
``no_variance``
    The law implies no variance, or less, at that mean: it does not hold there.
``all_infested``
    A share of 1 has no variance.
``no_population``, ``no_effort``
    The number of plants, or of units counted, is absent or 0.
``no_line``
    A stop line needs b below 2.
``too_few_units``
    The stop line begins further on: no total on so few units is precise enough.
"""

from benchwalk.science.precision.asked import Precision, half_width, standard_error
from benchwalk.science.precision.lines import (
    ReachedPrecision,
    StopLine,
    green_line,
    kuno_line,
    precision_reached,
)
from benchwalk.science.precision.sizes import (
    SampleSize,
    units_binomial,
    units_from_variance,
    units_iwao,
    units_negative_binomial,
    units_poisson,
    units_taylor,
)

__all__ = [
    "Precision",
    "ReachedPrecision",
    "SampleSize",
    "StopLine",
    "green_line",
    "half_width",
    "kuno_line",
    "precision_reached",
    "standard_error",
    "units_binomial",
    "units_from_variance",
    "units_iwao",
    "units_negative_binomial",
    "units_poisson",
    "units_taylor",
]
