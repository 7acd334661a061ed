"""Percent control from means or shares: the four formulas, without an interval.

C = untreated, T = treated; b = before, a = after. Three of them are one identity: with mortality
counted as the fall since before, Schneider-Orelli and Sun-Shepard give what Henderson-Tilton gives.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import (
    BoolArray,
    FloatArray,
    TextArray,
    as_floats,
    first_reason,
    require_not_negative,
)


@dataclass(frozen=True, eq=False)
class PercentControl:
    """What a treatment took away of the pests that would be there without it."""

    percent: FloatArray  #: 100 = none left; negative = more than without the treatment [%]
    reason: TextArray


def abbott(untreated_after: ArrayLike, treated_after: ArrayLike) -> PercentControl:
    """``100 (Ca - Ta) / Ca`` ([Abbott1925]_): live pests after, of units that began alike.

    Parameters
    ----------
    untreated_after, treated_after : live pests, means per sample unit or totals of equal effort;
        NaN where nothing was counted. [individuals]

    Returns
    -------
    PercentControl : "none_untreated" has no number: nothing was left to compare with.

    Raises
    ------
    ValueError : negative numbers.

    Examples
    --------
    >>> float(abbott(100, 20).percent)
    80.0
    """
    ca, ta = as_floats(untreated_after=untreated_after, treated_after=treated_after)
    _counts(untreated_after=ca, treated_after=ta)
    return _control(ca - ta, ca, ("none_untreated", ca == 0))


def henderson_tilton(
    untreated_before: ArrayLike,
    untreated_after: ArrayLike,
    treated_before: ArrayLike,
    treated_after: ArrayLike,
) -> PercentControl:
    """``100 (1 - Ta Cb / (Tb Ca))`` ([HendersonTilton1955]_): units that began unlike.

    Parameters
    ----------
    untreated_before, untreated_after, treated_before, treated_after : live pests, means per sample
        unit; NaN where nothing was counted. [individuals/sample unit]

    Returns
    -------
    PercentControl : no number where there was "none_before" on the treated, or "none_untreated"
        after, or "untreated_from_none": pests that came from nowhere say nothing of growth.

    Raises
    ------
    ValueError : negative numbers.

    Examples
    --------
    >>> float(henderson_tilton(40, 60, 50, 5).percent.round(5))
    93.33333
    """
    cb, ca, tb, ta = as_floats(
        untreated_before=untreated_before, untreated_after=untreated_after,
        treated_before=treated_before, treated_after=treated_after,
    )  # fmt: skip
    _counts(untreated_before=cb, untreated_after=ca, treated_before=tb, treated_after=ta)
    return _control(
        tb * ca - ta * cb,
        tb * ca,
        ("none_before", tb == 0),
        ("none_untreated", ca == 0),
        ("untreated_from_none", cb == 0),
    )


def schneider_orelli(untreated_dead: ArrayLike, treated_dead: ArrayLike) -> PercentControl:
    """``100 (mT - mC) / (100 - mC)`` ([SchneiderOrelli1947]_), from mortality.

    Parameters
    ----------
    untreated_dead, treated_dead : share dead; negative where there are more than before. [%]

    Returns
    -------
    PercentControl : "none_untreated" where all the untreated died.

    Raises
    ------
    ValueError : more than 100 %.

    Examples
    --------
    >>> float(schneider_orelli(2.5, 65).percent.round(5))
    64.10256
    """
    mc, mt = as_floats(untreated_dead=untreated_dead, treated_dead=treated_dead)
    _shares(untreated_dead=mc, treated_dead=mt)
    return _control(mt - mc, 100 - mc, ("none_untreated", mc == 100))


def sun_shepard(treated_fall: ArrayLike, untreated_change: ArrayLike) -> PercentControl:
    """``100 (mT + g) / (100 + g)`` ([SunShepard1947]_), from the changes since before.

    Parameters
    ----------
    treated_fall : ``100 (Tb - Ta) / Tb``; negative where the treated grew. [%]
    untreated_change : ``100 (Ca - Cb) / Cb``; negative where the untreated fell. [%]

    Returns
    -------
    PercentControl : "none_untreated" where nothing was left on the untreated.

    Raises
    ------
    ValueError : a fall of more than 100 %.

    Examples
    --------
    >>> float(sun_shepard(90, 50).percent.round(5))
    93.33333
    """
    mt, g = as_floats(treated_fall=treated_fall, untreated_change=untreated_change)
    _shares(treated_fall=mt, untreated_fall=-g)
    return _control(mt + g, 100 + g, ("none_untreated", g == -100))


def _control(
    taken: FloatArray, without: FloatArray, *undefined: tuple[str, BoolArray]
) -> PercentControl:
    absent = np.isnan(taken) | np.isnan(without)
    reason = first_reason(taken.shape, ("not_counted", absent), *undefined)
    with np.errstate(divide="ignore", invalid="ignore"):
        return PercentControl(np.where(reason == "", 100 * taken / without, np.nan), reason)


def _counts(**named: FloatArray) -> None:
    for name, values in named.items():
        require_not_negative(name, values)


def _shares(**named: FloatArray) -> None:
    for name, values in named.items():
        if (values > 100).any():
            raise ValueError(
                f"got {name} {values[values > 100][0]:g} %; expected at most 100 %; give a share "
                "in per cent, not a count"
            )
