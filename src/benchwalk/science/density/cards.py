"""Catches of sticky cards: a rate, a mean over cards read in part, a card read again and again."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from benchwalk.science.arguments import (
    BoolArray,
    FloatArray,
    TextArray,
    as_floats,
    first_reason,
    require_at_most,
    require_not_negative,
    require_positive,
    require_probability,
)
from benchwalk.science.density.insect_days import last_known, require_rising
from benchwalk.science.density.means import DENSITY_LEVEL, no_effort


@dataclass(frozen=True, eq=False)
class CardRate:
    """Catch of a card as if it were a full one, a day at a time."""

    per_card_day: FloatArray  #: [individuals/full card/day]
    card_days: FloatArray  #: the effort: days of a full card [card days]
    reason: TextArray


@dataclass(frozen=True, eq=False)
class CardsMean:
    """Mean catch of a full card over cards of which some squares were counted."""

    mean: FloatArray  #: [individuals/full card]
    low: FloatArray
    high: FloatArray
    between: FloatArray  #: variance of the cards' own means [individuals squared]
    within: FloatArray  #: part of the variance of the mean that is due to squares not counted
    cards: FloatArray  #: number of cards read
    reason: TextArray


@dataclass(frozen=True, eq=False)
class NewCatch:
    """What a card caught between a reading and the one before it."""

    new: FloatArray  #: [individuals]
    days: FloatArray  #: since the reading before that has a number, or since it was hung [days]
    reason: TextArray


def card_rate(
    count: ArrayLike,
    days: ArrayLike,
    squares_counted: ArrayLike = 1.0,
    squares_printed: ArrayLike = 1.0,
) -> CardRate:
    """Catch of a full card per day, from a count on some of its squares over some days.

    Parameters
    ----------
    count : individuals on the squares counted; NaN where no number was written. [individuals]
    days : since the card was hung, or since the reading before. [days]
    squares_counted, squares_printed : on all sides counted together; leave both for a whole card.

    Returns
    -------
    CardRate : NaN with "no_days", "no_squares" or "not_counted" where something is 0 or absent.
        Multiply by 7 for a week: 18 in 5 days are 25.2 in 7.

    Raises
    ------
    ValueError : negative numbers, more squares counted than printed.

    Examples
    --------
    >>> rate = card_rate(18, 5)
    >>> round(7 * float(rate.per_card_day), 1)
    25.2
    """
    caught, exposed, counted, printed = as_floats(
        count=count, days=days, squares_counted=squares_counted, squares_printed=squares_printed
    )
    named = (("count", caught), ("days", exposed), ("squares_counted", counted))
    for name, values in (*named, ("squares_printed", printed)):
        require_not_negative(name, values)
    require_at_most("squares_counted", counted, "squares_printed", printed)
    reason = first_reason(
        caught.shape,
        ("no_days", no_effort(exposed)),
        ("no_squares", no_effort(counted) | np.isnan(printed)),
        ("not_counted", np.isnan(caught)),
    )
    usable = (reason == "") | (reason == "not_counted")
    with np.errstate(divide="ignore", invalid="ignore"):
        card_days = np.where(usable, exposed * counted / printed, np.nan)
        return CardRate(caught / card_days, card_days, reason)


def two_stage_mean(
    count: ArrayLike,
    squares_printed: ArrayLike,
    cards_hung: ArrayLike = np.inf,
    *,
    level: ArrayLike = DENSITY_LEVEL,
) -> CardsMean:
    """Mean catch of a full card, from some squares of some cards ([Cochran1977]_, chapter 10).

    The mean of the cards' own means. Its variance is ``(1 - f1) s1**2 / n`` between cards plus
    ``f1`` times the mean over cards of ``(1 - f2) s2**2 / m`` within, divided by n; f1 and f2 are
    the shares of cards read and of squares counted. The interval is that of Student with n - 1
    degrees of freedom, of ln mean, since catches are lopsided.

    Parameters
    ----------
    count : of each square of each card, shape (..., cards, squares); NaN for a square that was not
        counted. A card without a number is not read. [individuals]
    squares_printed : on each card, all sides together; shape (...). [squares]
    cards_hung : in the place that the mean is of; infinity where they stand for many more places
        than cards. Shape (...). [cards]
    level : confidence of the interval, in (0, 1).

    Returns
    -------
    CardsMean : "no_effort" has no mean. "one_card", and "one_square" (of a card of which others
        were not counted, with finite ``cards_hung``), have a mean without an interval. Catches of 0
        on all cards give mean 0 and no width: "none_counted", also without an interval.

    Raises
    ------
    ValueError : negative counts, more squares counted than printed, more cards read than hung, a
        level outside (0, 1).

    Examples
    --------
    >>> squares = [[2, 3, 1], [0, 1, 0], [4, 2, 3], [1, 1, 2], [3, 2, 2]]
    >>> found = two_stage_mean(squares, squares_printed=12)
    >>> float(found.mean.round(2)), float(found.low.round(1)), float(found.high.round(1))
    (21.6, 12.6, 37.0)
    """
    y = np.asarray(count, np.float64)
    if y.ndim < 2:
        raise ValueError(
            f"got count of shape {y.shape}; expected cards and squares on the last two axes; give "
            "one row for each card"
        )
    printed, hung, confidence = as_floats(
        squares_printed=squares_printed, cards_hung=cards_hung, level=level
    )
    require_not_negative("count", y)
    require_positive("squares_printed", printed)
    require_probability("level", confidence)
    squares = _Squares.of(y, np.broadcast_to(printed[..., np.newaxis], y.shape[:-1]))
    require_at_most("squares counted", squares.counted, "squares_printed", squares.printed)
    require_at_most("cards read", squares.cards(), "cards_hung", hung)
    mean, between, within = squares.mean_and_variances(hung)
    cards = squares.cards()
    with np.errstate(divide="ignore", invalid="ignore"):
        variance = (1 - cards / hung) * between / cards + within
        half = special.stdtrit(cards - 1, (1 + confidence) / 2) * np.sqrt(variance) / mean
    reason = first_reason(
        mean.shape,
        ("no_effort", cards == 0),
        ("one_card", cards == 1),
        ("one_square", np.isnan(within)),
        ("none_counted", mean == 0),
    )
    factor = np.exp(np.where(reason == "", half, np.nan))
    return CardsMean(mean, mean / factor, mean * factor, between, within, cards, reason)


@dataclass(frozen=True, eq=False)
class _Squares:
    """Sums over the squares of each card."""

    counted: FloatArray  # number of squares
    printed: FloatArray
    mean: FloatArray  # of a square; NaN where the card was not read
    variance: FloatArray  # between squares of the card; NaN where one was counted

    @classmethod
    def of(cls, y: FloatArray, printed: FloatArray) -> _Squares:
        there = ~np.isnan(y)
        m = there.sum(axis=-1).astype(np.float64)
        with np.errstate(divide="ignore", invalid="ignore"):
            mean = np.where(there, y, 0).sum(axis=-1) / m
            rest = np.where(there, y - mean[..., np.newaxis], 0)
            variance = (rest**2).sum(axis=-1) / (m - 1)
        return cls(m, printed, mean, variance)

    def read(self) -> BoolArray:
        return self.counted > 0

    def cards(self) -> FloatArray:
        return np.asarray(self.read().sum(axis=-1), np.float64)

    def mean_and_variances(self, hung: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        read, n = self.read(), self.cards()
        full = np.where(read, self.mean * self.printed, 0)
        with np.errstate(divide="ignore", invalid="ignore"):
            mean = full.sum(axis=-1) / n
            rest = np.where(read, full - mean[..., np.newaxis], 0)
            between = (rest**2).sum(axis=-1) / (n - 1)
            left = self.printed**2 * (1 - self.counted / self.printed) / self.counted
            whole = self.counted >= self.printed
            of_card = np.where(read, np.where(whole, 0, left * self.variance), 0)
            # where the cards stand for very many places, theirs is all the variance there is
            within = np.where(np.isinf(hung), 0, n / hung * of_card.sum(axis=-1) / n**2)
        return mean, between, within


def new_catch(count: ArrayLike, day: ArrayLike) -> NewCatch:
    """What a card that is left hanging caught between its readings.

    Parameters
    ----------
    count : all individuals on the card at each reading, along the last axis; NaN where the card
        was not read or no number was written. [individuals]
    day : of each reading since the card was hung empty, rising. [days]

    Returns
    -------
    NewCatch : of each reading. "not_counted" has none, and the next reading answers for its days
        too. "fewer_than_before" has none: insects fell off or were overgrown, and what is there now
        is where the next reading starts from.

    Raises
    ------
    ValueError : negative counts, days that do not rise or are not above 0.

    Examples
    --------
    >>> found = new_catch([5, float("nan"), 19, 12, 20], [7, 14, 21, 28, 35])
    >>> found.new, found.days
    (array([ 5., nan, 14., nan,  8.]), array([ 7., nan, 14., nan,  7.]))
    """
    y, at = as_floats(count=count, day=day)
    require_not_negative("count", y)
    require_rising(at)
    if (at[..., 0] <= 0).any():
        raise ValueError(
            f"got a first reading on day {at[..., 0].min():g}; expected days since the card was "
            "hung, above 0; leave out the day it was hung"
        )
    known = ~np.isnan(y)
    before = np.nan_to_num(last_known(y, known))
    since = np.nan_to_num(last_known(at, known))
    reason = first_reason(y.shape, ("not_counted", ~known), ("fewer_than_before", y < before))
    answered = reason == ""
    return NewCatch(
        np.where(answered, y - before, np.nan), np.where(answered, at - since, np.nan), reason
    )
