"""Does it still work here? Many treatments of one active, pest and stage, taken together.

One treatment says little beyond its class. Effects of single treatments lie around that of the
active in this operation, which may drift slowly: a random walk seen with error, followed by a
Kalman filter over the treatments in order of time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import FloatArray
from benchwalk.science.forecast.distributions import normal_quantile

POOLED_LEVEL = 0.90
#: sd of single treatments around the active's own effect, log-kill; assumed, no source
SINGLE_SD = 0.3
DRIFT_SD_A_YEAR = 0.3  # assumed, no source
YEAR = 365.25


@dataclass(frozen=True)
class Pooled:
    """Effect of an active here, at the time of its last treatment, as a fall of log density.

    Attributes
    ----------
    mean, sd : of the log-kill; ``ends`` of the share taken away.
    expected_mean, expected_sd : of the class, before anything was seen.
    treatments, excluded : how many went in, and how many said nothing.
    """

    mean: float
    sd: float
    expected_mean: float
    expected_sd: float
    treatments: int
    excluded: int

    @property
    def share_of_data(self) -> float:
        """How much of the answer is data; the rest is the class."""
        return 1 - (self.sd / self.expected_sd) ** 2

    def ends(self, level: float = POOLED_LEVEL) -> tuple[float, float]:
        """Interval of the share taken away; negative where more were left than expected. [1]"""
        half = normal_quantile((1 + level) / 2) * self.sd
        return float(1 - np.exp(half - self.mean)), float(1 - np.exp(-half - self.mean))


def pooled_effect(
    day: ArrayLike,
    mean: ArrayLike,
    sd: ArrayLike,
    expected_mean: ArrayLike,
    expected_sd: ArrayLike,
    *,
    single_sd: float = SINGLE_SD,
    drift_sd_a_year: float = DRIFT_SD_A_YEAR,
) -> Pooled | None:
    """Effects of single treatments, pooled; None where none says anything.

    Parameters
    ----------
    day : of each treatment, in any order. [d]
    mean, sd : of its log-kill as the filter had it, the class included.
    expected_mean, expected_sd : what the class said of it; taken out again before pooling, so
        that the class is counted once. A treatment whose sd is not below that of its class, or
        NaN, says nothing and is excluded.

    Raises
    ------
    ValueError : sds that are 0 or less.
    """
    at, m, s, m0, s0 = (
        np.asarray(v, float) for v in np.broadcast_arrays(day, mean, sd, expected_mean, expected_sd)
    )
    if (s <= 0).any() or (s0 <= 0).any():
        raise ValueError("got an sd of 0 or less; expected sds above 0; leave the treatment out")
    with np.errstate(invalid="ignore", divide="ignore"):
        precision = 1 / s**2 - 1 / s0**2
        own = (m / s**2 - m0 / s0**2) / precision
    says = precision > 1e-9
    if not says.any():
        return None
    order = np.flatnonzero(says)[np.argsort(at[says], kind="stable")]
    centre, spread = float(np.mean(m0[says])), float(np.mean(s0[says]))
    found = _filtered(
        at[order], own[order], 1 / precision[order] + single_sd**2, centre, spread, drift_sd_a_year
    )
    return Pooled(*found, centre, spread, int(says.sum()), int((~says).sum()))


def _filtered(
    at: FloatArray,
    own: FloatArray,
    variance: FloatArray,
    centre: float,
    spread: float,
    drift: float,
) -> tuple[float, float]:
    """Mean and sd at the last treatment: the end of a filter needs no smoother."""
    m, v, before = centre, spread**2, at[0]
    for day, seen, noise in zip(at, own, variance, strict=True):
        v += drift**2 * (day - before) / YEAR
        gain = v / (v + noise)
        m, v, before = m + gain * (seen - m), v * (1 - gain), day
    return float(m), float(np.sqrt(v))
