"""Stop tables: two whole numbers for each number of units, from lines or limits."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchwalk.science.arguments import (
    FloatArray,
    as_floats,
    require_not_negative,
    require_positive,
)
from benchwalk.science.dispersion.laws import iwao_variance
from benchwalk.science.stopping.wald import Lines

IntArray = NDArray[np.int64]
Cut = Literal["middle"] | int | None

#: limits that no count reaches
NEVER_UNDER = -1
NEVER_OVER = int(np.iinfo(np.int64).max)
# of a total; a limit that is whole but for rounding is met by that whole number
_WHOLE = 1e-9


@dataclass(frozen=True, eq=False)
class StopTable:
    """After n units: *under* where the total is at or below ``under[n - 1]``, *over* where it is at
    or above ``over[n - 1]``, else one more unit.

    Raises
    ------
    ValueError : limits of different length, none at all, limits that cross, a cut outside the last
        ones, an end at which nothing could be decided.
    """

    under: IntArray  #: NEVER_UNDER where it cannot be called
    over: IntArray  #: NEVER_OVER where it cannot be called
    cut: int | None  #: at the last unit a total up to it is *under*, above *over*; None: left open

    def __post_init__(self) -> None:
        """Refuse limits that contradict each other."""
        if self.under.shape != self.over.shape or self.under.ndim != 1 or self.under.size == 0:
            raise ValueError(
                f"got limits of shapes {self.under.shape} and {self.over.shape}; expected two rows "
                "of one length, at least one unit; give a pair for each number of units"
            )
        if self.cut is None and self.over[-1] == NEVER_OVER:
            raise ValueError(
                "got a table that ends without an upper limit and without a cut; expected one of "
                "them; say what a total at the last unit means"
            )
        self._check_crossing()

    def _check_crossing(self) -> None:
        low, high, _ = self.carried()
        crossed = np.flatnonzero(low >= high)
        if crossed.size:
            n = int(crossed[0])
            raise ValueError(
                f"got limits {low[n]} and {high[n]} after {n + 1} units; expected the lower one "
                "below the upper one and the cut between them; no total is both under and over"
            )

    @property
    def most_units(self) -> int:
        """Units after which the count ends at the latest."""
        return int(self.under.size)

    def carried(self) -> tuple[IntArray, IntArray, IntArray]:
        """Limits that hold for what is still to come, and the unit at which the upper one acts.

        A total never falls: one that has reached the next upper limit there is will be *over* then.
        """
        low, high = self.under.copy(), self.over.copy()
        if self.cut is not None:
            low[-1], high[-1] = self.cut, self.cut + 1
        units = np.arange(1, high.size + 1)
        finite = np.where(high < NEVER_OVER, units, high.size)
        next_at = np.minimum.accumulate(finite[::-1])[::-1]
        return low, high[next_at - 1], next_at


def wald_table(lines: Lines, most: int, *, fewest: int = 1, cut: Cut = None) -> StopTable:
    """Whole limits of Wald's lines for 1 to ``most`` units.

    Parameters
    ----------
    lines : one pair of :func:`wald_lines`, not an array of them.
    most : units after which the count ends.
    fewest : units before which nothing is decided.
    cut : what the last unit decides: "middle" the line midway between the two, a number, or None to
        leave it open. Ending early raises both error rates: see :func:`exact_characteristic`.

    Raises
    ------
    ValueError : lines without an answer or more than one pair, fewest above most.

    Examples
    --------
    >>> from benchwalk.science.stopping import PoissonCounts, wald_lines
    >>> table = wald_table(wald_lines(PoissonCounts(), 1, 2, alpha=0.1, beta=0.1), 6, cut="middle")
    >>> table.under, table.over, table.cut
    (array([-1, -1,  1,  2,  4,  5]), array([ 5,  7,  8,  9, 11, 12]), 8)
    """
    slope, under, over = _one_pair(lines)
    n = _units(most, fewest)
    low = np.floor(under + slope * n + _WHOLE)
    high = np.ceil(over + slope * n - _WHOLE)
    middle = int(np.floor((under + over) / 2 + slope * most + _WHOLE))
    return _table(low, high, n >= fewest, middle if cut == "middle" else cut)


def _one_pair(lines: Lines) -> tuple[float, float, float]:
    if lines.slope.shape != ():
        raise ValueError(
            f"got lines of shape {lines.slope.shape}; expected one pair; make a table for each"
        )
    if lines.reason != "":
        raise ValueError(
            f"got lines without an answer ({lines.reason}); expected two means and a k; give what "
            "is absent"
        )
    return float(lines.slope), float(lines.under), float(lines.over)


def _units(most: int, fewest: int) -> IntArray:
    if not 1 <= fewest <= most:
        raise ValueError(
            f"got fewest {fewest} and most {most} units; expected 1 <= fewest <= most; "
            "correct them and try again"
        )
    return np.arange(1, most + 1)


def _table(
    low: FloatArray, high: FloatArray, decides: NDArray[np.bool_], cut: int | None
) -> StopTable:
    under = np.where(decides & (low >= 0), low, NEVER_UNDER).astype(np.int64)
    reached = np.where(decides, np.maximum(high, 0), 0).astype(np.int64)
    return StopTable(under, np.where(decides, reached, NEVER_OVER), cut)


@dataclass(frozen=True, eq=False)
class IwaoLimits:
    """Confidence limits of the cumulative count at a critical mean."""

    under: FloatArray  #: [individuals]
    over: FloatArray  #: [individuals]


def iwao_limits(
    n: ArrayLike, critical: ArrayLike, line: tuple[ArrayLike, ArrayLike], t: ArrayLike
) -> IwaoLimits:
    """Limits of Iwao: ``n m +/- t sqrt(n ((alpha + 1) m + (beta - 1) m**2))`` ([Iwao1975]_).

    Where the total is outside them the mean differs from the critical one by a test of that size at
    that n. Tests are repeated after each unit, so the error rates over a count are larger.

    Parameters
    ----------
    n : sample units.
    critical : the mean m to decide about [individuals/sample unit].
    line : alpha and beta of ``mean crowding = alpha + beta mean``; 0 and ``1 + 1/k`` for a known k.
    t : normal deviate of the test, 1.96 for 5 % on both sides.

    Returns
    -------
    IwaoLimits : no units give 0 and 0; NaN passes.

    Raises
    ------
    ValueError : a negative n or critical mean, t of 0 or less.

    Examples
    --------
    >>> found = iwao_limits([10, 100], 2, (0.5, 1.3), 1.96)
    >>> found.under.round(3), found.over.round(3)
    (array([  7.298, 159.832]), array([ 32.702, 240.168]))
    """
    units, m, alpha, beta, deviate = as_floats(
        n=n, critical=critical, alpha=line[0], beta=line[1], t=t
    )
    require_not_negative("n", units)
    require_positive("t", deviate)
    width = deviate * np.sqrt(units * iwao_variance(m, alpha, beta))
    return IwaoLimits(np.asarray(units * m - width), np.asarray(units * m + width))


def iwao_most_units(
    critical: ArrayLike,
    line: tuple[ArrayLike, ArrayLike],
    t: ArrayLike,
    half_width: ArrayLike,
) -> FloatArray:
    """Units after which a mean at the critical one is known to ``half_width`` ([Iwao1975]_).

    ``n = t**2 ((alpha + 1) m + (beta - 1) m**2) / half_width**2``; a longer count decides no more.

    Parameters
    ----------
    critical, line, t : as in :func:`iwao_limits`.
    half_width : of the confidence interval, absolute [individuals/sample unit].

    Raises
    ------
    ValueError : a negative critical mean; t or half_width of 0 or less.

    Examples
    --------
    >>> float(iwao_most_units(2, (0.5, 1.3), 1.96, 0.5).round(4))
    64.5389
    """
    m, alpha, beta, deviate, width = as_floats(
        critical=critical, alpha=line[0], beta=line[1], t=t, half_width=half_width
    )
    require_positive("t", deviate)
    require_positive("half_width", width)
    return np.asarray(deviate**2 * iwao_variance(m, alpha, beta) / width**2)


def iwao_table(
    critical: float,
    line: tuple[float, float],
    t: float,
    most: int,
    *,
    fewest: int = 1,
    cut: Cut = None,
) -> StopTable:
    """Whole limits of Iwao for 1 to ``most`` units.

    Parameters
    ----------
    critical, line, t : as in :func:`iwao_limits`, one value each.
    most, fewest, cut : as in :func:`wald_table`; "middle" is the critical mean.

    Raises
    ------
    ValueError : a line that implies no variance at the critical mean, fewest above most.
    """
    if not iwao_variance(critical, *line) > 0:
        raise ValueError(
            f"got a line of alpha {line[0]:g}, beta {line[1]:g}; expected a variance above 0 at "
            f"mean {critical:g}; fit the line to rounds near that mean"
        )
    n = _units(most, fewest)
    found = iwao_limits(n, critical, line, t)
    middle = int(np.floor(critical * most + _WHOLE))
    return _table(
        np.floor(found.under + _WHOLE),
        np.ceil(found.over - _WHOLE),
        n >= fewest,
        middle if cut == "middle" else cut,
    )


def without_early_under(table: StopTable) -> StopTable:
    """The same table with *under* at its last unit only: *over* may still end a count early.

    See :func:`early_under_refused` for when that is asked for.
    """
    under = np.full(table.under.shape, NEVER_UNDER, dtype=np.int64)
    under[-1] = table.under[-1]
    return replace(table, under=under)
