"""What a relative error is measured in: standard errors, or half-widths of an interval."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from benchwalk.science.arguments import FloatArray, as_floats, require_probability


@dataclass(frozen=True, eq=False)
class Precision:
    """Relative error asked for; made by :func:`standard_error` or :func:`half_width`."""

    share: FloatArray  #: D, as a share of the mean
    z: FloatArray  #: standard errors in D

    @property
    def standard_error(self) -> FloatArray:
        """The SE over the mean that this amounts to."""
        return np.asarray(self.share / self.z)


def standard_error(share: ArrayLike) -> Precision:
    """D as standard error over mean, in (0, infinity); 0.25 is usual for pest management decisions.

    Raises
    ------
    ValueError : a share of 0, less, or NaN.

    Examples
    --------
    >>> standard_error(0.25).standard_error
    array(0.25)
    """
    return _precision(as_floats(share=share, z=1.0))


def half_width(share: ArrayLike, level: ArrayLike) -> Precision:
    """D as half-width of a normal confidence interval over mean.

    Parameters
    ----------
    share : in (0, infinity).
    level : confidence of the interval, in (0, 1).

    Raises
    ------
    ValueError : a share of 0, less, or NaN; a level outside (0, 1).

    Examples
    --------
    >>> float(half_width(0.25, 0.95).standard_error.round(4))
    0.1276
    """
    d, confidence = as_floats(share=share, level=level)
    require_probability("level", confidence)
    return _precision([d, np.asarray(special.ndtri((1 + confidence) / 2))])


def _precision(share_and_z: list[FloatArray]) -> Precision:
    share, z = share_and_z
    if not (share > 0).all():
        given = share[~(share > 0)][0]
        raise ValueError(
            f"got a precision of {given:g}; expected more than zero; 0.25 is a quarter of the mean"
        )
    return Precision(share, z)


def require_named(precision: Precision) -> None:
    if not isinstance(precision, Precision):
        raise TypeError(
            f"got precision {precision!r}; expected standard_error(D) or half_width(D, level), "
            "which differ z**2 times in units; say which one D is"
        )
