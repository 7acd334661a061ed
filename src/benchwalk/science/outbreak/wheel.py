"""One stage of a population: individuals by the thermal time at which they will leave it.

When individuals enter, one multinomial draw says when each goes on or dies; after that nothing is
drawn until something else kills them. A wheel of columns holds them, a column for each short span
of thermal time to come.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammainccinv

from benchwalk.science.arguments import FloatArray
from benchwalk.science.outbreak.layout import IntArray
from benchwalk.science.outbreak.life_cycle import Stage

Counts = NDArray[np.int32]
# columns to a stage's mean: rounding to one adds 0.29/12 = 2.4 % of the mean to its spread
_COLUMNS = 12
# of a million individuals one takes longer and is taken for the slowest column
_LONGEST = 1e-6


class Wheel:
    """Individuals in one stage, for many plants at once."""

    def __init__(self, stage: Stage, places: int) -> None:
        longest = stage.spread**2 * gammainccinv(1 / stage.spread**2, _LONGEST)
        self.stage = stage
        self.width = stage.degree_days / _COLUMNS
        self.span = int(np.ceil(longest * _COLUMNS)) + 1
        self.next = 0  # the column due next, counted from the beginning of time
        self.going_on: Counts = np.zeros((self.span + 1, places), dtype=np.int32)
        self.dying: Counts = np.zeros((self.span + 1, places), dtype=np.int32)
        self.number: Counts = np.zeros(places, dtype=np.int32)

    def enter(
        self, places: IntArray, entering: IntArray, at: float, rng: np.random.Generator
    ) -> None:
        """Put individuals in, new to the stage at a thermal time; places once each."""
        if len(places) == 0:
            return
        self.number[places] += entering.astype(np.int32)
        columns, shares = self._shares(at)
        # a column after the other in memory, as the wheel is
        drawn = rng.multinomial(entering, shares).T.astype(np.int32, order="C")
        for column, come in zip(columns.tolist(), drawn, strict=True):
            self._column(column)[places] += come

    def _shares(self, at: float) -> tuple[IntArray, FloatArray]:
        """Columns, numbered on through those that die, and the chance of each."""
        after = (self.next + np.arange(self.span + 1)) * self.width - at
        edges = np.asarray(after, dtype=np.float64)
        edges[0], edges[-1] = 0.0, np.inf
        leaving = -np.diff(self.stage.present(edges))
        going_on = np.diff(self.stage.moved_on(edges))
        shares = np.maximum(np.concatenate([going_on, leaving - going_on]), 0.0)
        possible = np.flatnonzero(shares > _LONGEST**2)
        return possible, shares[possible] / shares[possible].sum()

    def _column(self, n: int) -> Counts:
        wheel = self.going_on if n < self.span else self.dying
        column: Counts = wheel[(self.next + n % self.span) % (self.span + 1)]
        return column

    def leave(self, clock: float) -> tuple[IntArray, IntArray]:
        """Take out all that is due by a thermal time; where, and how many, go on."""
        here = np.flatnonzero(self.number)
        on = np.zeros(len(here), dtype=np.int64)
        # a column is due at its middle, so that rounding to columns makes nothing late
        while (self.next + 0.5) * self.width <= clock:
            column = self.next % (self.span + 1)
            due = self.going_on[column, here]
            on += due
            self.number[here] -= due + self.dying[column, here]
            self.going_on[column, here] = 0
            self.dying[column, here] = 0
            self.next += 1
        some = on > 0
        return here[some], on[some]

    def kill(self, places: IntArray, share: FloatArray, rng: np.random.Generator) -> IntArray:
        """Kill a share at some places, each individual by chance; how many died at each."""
        before = self.number[places].astype(np.int64)
        left = np.zeros(len(places), dtype=np.int32)
        for wheel in (self.going_on, self.dying):
            block = wheel[:, places]
            column, place = np.nonzero(block)
            block[column, place] = rng.binomial(block[column, place], 1 - share[place])
            wheel[:, places] = block
            left += block.sum(axis=0, dtype=np.int32)
        self.number[places] = left
        return before - left

    def swap(self, these: IntArray, those: IntArray) -> None:
        """Everything at these places goes to those, and back."""
        both, crossed = np.concatenate([these, those]), np.concatenate([those, these])
        for wheel in (self.going_on, self.dying):
            wheel[:, both] = wheel[:, crossed]
        self.number[both] = self.number[crossed]

    def clear(self, places: IntArray) -> None:
        """Nothing is left at these places."""
        self.going_on[:, places] = 0
        self.dying[:, places] = 0
        self.number[places] = 0
