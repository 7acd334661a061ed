"""How many of the pests that are there a scout finds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import FloatArray, TextArray
from benchwalk.science.density.means import DENSITY_LEVEL, infested_interval
from benchwalk.science.limits import Rule


@dataclass(frozen=True, eq=False)
class Sensitivity:
    """Share of infested plants that a scout finds, with its confidence limits."""

    sensitivity: FloatArray
    low: FloatArray
    high: FloatArray
    reason: TextArray


def scout_sensitivity(
    found: ArrayLike,
    known: ArrayLike,
    *,
    level: ArrayLike = DENSITY_LEVEL,
    rule: Rule = "mid_p",
) -> Sensitivity:
    """Found of known infested plants, as :mod:`benchwalk.science.detection` takes it.

    Parameters
    ----------
    found : infested plants that the scout called infested. [plants]
    known : infested plants shown to the scout; 0 or NaN gives "none_known". [plants]
    level, rule : as :func:`benchwalk.science.density.infested_interval`.

    Returns
    -------
    Sensitivity : none found has 0 and an upper limit above 0; "not_counted" has no number.

    Raises
    ------
    ValueError : negative numbers, more found than known, level outside (0, 1), an unknown rule.

    Examples
    --------
    >>> scout = scout_sensitivity(16, 20)
    >>> float(scout.sensitivity), float(scout.low.round(2)), float(scout.high.round(2))
    (0.8, 0.62, 0.92)
    """
    share = infested_interval(found, known, level=level, rule=rule)
    reason = np.where(share.reason == "no_effort", "none_known", share.reason)
    return Sensitivity(share.share, share.low, share.high, reason)
