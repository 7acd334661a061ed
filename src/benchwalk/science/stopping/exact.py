"""Error rates and number of units of any stop table, summed over all counts: nothing is drawn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from benchwalk.science.arguments import FloatArray, first_reason
from benchwalk.science.stopping.characteristic import Characteristic
from benchwalk.science.stopping.counts import Counts
from benchwalk.science.stopping.tables import StopTable

# chance of still counting, below which the rest is left out
_LEFT_OUT = 1e-13


def exact_characteristic(table: StopTable, counts: Counts, mean: ArrayLike) -> Characteristic:
    """Chance of each ending and expected number of units, exactly.

    The distribution of the cumulative count is carried from unit to unit by convolution with that
    of one unit, and what lies outside the limits is taken off as it is decided.

    Parameters
    ----------
    table : limits after each unit.
    counts : distribution of the count of one unit: the one the plan was made for, or another to try
        it on (another k, a hot spot). One k for all means; NaN gives "no_k".
    mean : true mean of the unit, any shape; NaN gives "no_mean", 0 is a clean unit.

    Returns
    -------
    Characteristic : ``units`` counts the last unit too. Without a cut ``open`` is what was not
        decided; chances below 1e-13 are left out.

    Raises
    ------
    ValueError : a negative mean, a share above 1, more than one k.

    Examples
    --------
    >>> from benchwalk.science.stopping import PoissonCounts, wald_lines, wald_table
    >>> lines = wald_lines(PoissonCounts(), 1, 2, alpha=0.1, beta=0.1)
    >>> found = exact_characteristic(wald_table(lines, 1000), PoissonCounts(), [1, 2])
    >>> found.under.round(4), found.units.round(2)
    (array([0.9432, 0.0759]), array([7.37, 6.59]))
    """
    given = np.asarray(mean, dtype=np.float64)
    counts.check_means("mean", given)
    no_counts = counts.only_one()
    absent = np.full(given.shape, no_counts != "")
    reason = first_reason(given.shape, (no_counts, absent), ("no_mean", np.isnan(given)))
    known = given[reason == ""]
    ends = _Ends.of(table, np.unique(known), counts)
    place = np.searchsorted(np.unique(known), known)
    columns = []
    for values in (ends.under, ends.over, ends.open, ends.units):
        column = np.full(given.shape, np.nan)
        column[reason == ""] = values[place]
        columns.append(column)
    under, over, rest, units = columns
    return Characteristic(given, under, over, rest, units, reason)


@dataclass(frozen=True, eq=False)
class _Ends:
    under: FloatArray
    over: FloatArray
    open: FloatArray
    units: FloatArray

    @classmethod
    def of(cls, table: StopTable, means: FloatArray, counts: Counts) -> _Ends:
        """All totals that are neither *under* nor certain to be *over* are carried on."""
        low, high, decided_at = table.carried()
        under, over, units = (np.zeros(means.shape) for _ in range(3))
        first = 0
        carried = np.ones((means.size, 1))
        step = _Steps.of(counts, means, int(np.max(high - np.append(-1, low[:-1]))))
        for n in range(1, low.size + 1):
            before = carried.sum(axis=-1)
            totals = step.add(carried, max(int(high[n - 1]) - first, 0))
            # what passes the top is certain to be over, at the next unit that has an upper limit
            passed = np.maximum(before - totals.sum(axis=-1), 0)
            over += passed
            units += passed * decided_at[n - 1]
            bottom = max(int(low[n - 1]) + 1, first)
            done = totals[:, : bottom - first].sum(axis=-1)
            under += done
            units += done * n
            carried, first = totals[:, bottom - first :], bottom
            if (carried.sum(axis=-1) < _LEFT_OUT).all():
                break
        rest = carried.sum(axis=-1)
        return cls(under, over, rest, units + rest * n)


@dataclass(frozen=True, eq=False)
class _Steps:
    """Chances of going from one total to another by one more unit."""

    chances: FloatArray  #: means x totals before x totals after, both from the same first total

    @classmethod
    def of(cls, counts: Counts, means: FloatArray, most: int) -> _Steps:
        one = np.exp(counts.log_chances(means, most))
        padded = np.concatenate([np.zeros((means.size, most)), one], axis=-1)
        total = np.arange(most + 1)
        return cls(padded[:, most + total[None, :] - total[:, None]])

    def add(self, carried: FloatArray, width: int) -> FloatArray:
        """Totals after one more unit, as many as ``width`` from the same first one."""
        steps = self.chances[:, : carried.shape[-1], :width]
        return np.asarray((carried[:, None, :] @ steps)[:, 0, :])
