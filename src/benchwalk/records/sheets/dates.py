"""Dates as written in a column: one order of day and month for the whole column, or a question."""

from __future__ import annotations

import datetime as dt
import re
import statistics
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from benchwalk.records.sheets.words import halfwidth

Order = Literal["month first", "day first"]
ORDERS: tuple[Order, Order] = ("month first", "day first")
EARLIEST, LATEST = 1980, 2099  # own choice: no sheet of counts is older, none can be newer
FAR_YEARS = 5  # own choice: a file's dates lie within this many years of their median

MONTHS = {
    word: number
    for number, words in enumerate(
        (
            "jan january ene enero januar jänner",
            "feb february febrero februar",
            "mar march marzo mär märz mrz",
            "apr april abr abril",
            "may mayo mai",
            "jun june junio juni",
            "jul july julio juli",
            "aug august ago agosto",
            "sep sept september septiembre",
            "oct october octubre okt oktober",
            "nov november noviembre",
            "dec december dic diciembre dez dezember",
        ),
        start=1,
    )
    for word in words.split()
}
_ANSWERS: dict[str, Order] = {
    "m+d+y*|month(first)?": "month first",
    "d+m+y*|day(first)?": "day first",
}
CLOCK = re.compile(
    r"[T ][0-9]{1,2}:[0-9]{2}(:[0-9]{2}(\.[0-9]+)?)?( ?[ap]\.?m\.?)?(Z|[+-][0-9]{2}:?[0-9]{2})?$",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Parts:
    """A date of numbers whose first two may be day and month in either order."""

    first: int
    second: int
    year: int

    def on(self, order: Order) -> dt.date | None:
        """The day in an order; none where there is no such day."""
        month, day = (
            (self.first, self.second) if order == "month first" else (self.second, self.first)
        )
        return day_of(self.year, month, day)


@dataclass(frozen=True)
class Day:
    """What a date cell says: a day, or why there is none."""

    on: dt.date | None
    reason: str | None = None


@dataclass(frozen=True)
class Habit:
    """How a column orders day and month.

    Parameters
    ----------
    order : the order that some date settles and none contradicts; none otherwise.
    contradicted : dates of both habits stand in the column.
    doubtful : some date is a different day in each order.
    """

    order: Order | None
    contradicted: bool
    doubtful: bool


def order_of(answer: str) -> Order | None:
    """The order that an answer to "date_order" names ("m/d/yy"); none for another text."""
    letters = re.sub(r"[ _/.-]", "", answer.casefold())
    return next((o for form, o in _ANSWERS.items() if re.fullmatch(form, letters)), None)


def parts(raw: str) -> Parts | dt.date | str | None:
    """A date cell taken apart.

    Returns
    -------
    A day where only one is meant, `Parts` where the order of day and month is open, a reason where
    there is no such day, none where the text is no date.
    """
    text = CLOCK.sub("", halfwidth(raw))
    for read in (_iso, _dotted, _slashed, _named):
        found = read(text)
        if found is not None:
            return found
    return None


def day_of(year: int, month: int, day: int) -> dt.date | None:
    """A day of the calendar; none where there is no such day."""
    try:
        return dt.date(year, month, day)
    except ValueError:
        return None


def _whole_year(text: str) -> int:
    """Two digits are 1969 to 2068 (POSIX `strptime` %y)."""
    year = int(text)
    if len(text) > 2:
        return year
    return year + (1900 if year >= 69 else 2000)


def _iso(text: str) -> dt.date | str | None:
    found = re.fullmatch(r"([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})", text)
    if found is None:
        return None
    return day_of(int(found[1]), int(found[2]), int(found[3])) or "impossible_date"


def _dotted(text: str) -> dt.date | str | None:
    """Dots are day first: the habit of the countries that write them."""
    found = re.fullmatch(r"([0-9]{1,2})\. ?([0-9]{1,2})\. ?([0-9]{4}|[0-9]{2})", text)
    if found is None:
        return None
    return day_of(_whole_year(found[3]), int(found[2]), int(found[1])) or "impossible_date"


def _slashed(text: str) -> Parts | None:
    found = re.fullmatch(r"([0-9]{1,2}) ?[-/] ?([0-9]{1,2}) ?[-/] ?([0-9]{4}|[0-9]{2})", text)
    return Parts(int(found[1]), int(found[2]), _whole_year(found[3])) if found else None


def _named(text: str) -> dt.date | str | None:
    low = re.sub(r"(?<=[0-9])(st|nd|rd|th)\b|\b(de|of)\b", " ", text.casefold())
    words = re.sub(r"[-,./]", " ", low).split()
    if len(words) != 3:
        return None
    at = 0 if words[0] in MONTHS else 1
    month, day, year = MONTHS.get(words[at]), words[1 - at], words[2]
    if month is None or not re.fullmatch("[0-9]{1,2}", day):
        return None
    if not re.fullmatch("[0-9]{4}|[0-9]{2}", year):
        return None
    return day_of(_whole_year(year), month, int(day)) or "impossible_date"


def habit(cells: Iterable[str]) -> Habit:
    """The order of day and month in a column; see :class:`Habit`."""
    open_ = [p for p in map(parts, cells) if isinstance(p, Parts)]
    settled = {
        order
        for p in open_
        for order, other in (ORDERS, ORDERS[::-1])
        if p.on(order) and not p.on(other)
    }
    return Habit(
        order=settled.pop() if len(settled) == 1 else None,
        contradicted=len(settled) > 1,
        doubtful=any(_both(p) for p in open_),
    )


def _both(p: Parts) -> bool:
    days = {p.on(order) for order in ORDERS}
    return None not in days and len(days) == 2


def day(raw: str, order: Order | None, near: int | None = None) -> Day:
    """What a date cell says, once the order of its column is known.

    Parameters
    ----------
    order : day or month first; none while nothing settles it, then a date that could be either is
        refused and one that could not is taken.
    near : the median year of the file; a day more than five years from it is not plausible.
    """
    if not raw.strip():
        return Day(None, "missing_date")
    found = parts(raw)
    if isinstance(found, Parts):
        found = _ordered(found, order)
    if isinstance(found, str):
        return Day(None, found)
    if found is None:
        return Day(None, "impossible_date")
    far = near is not None and abs(found.year - near) > FAR_YEARS
    if far or not EARLIEST <= found.year <= LATEST:
        return Day(None, "date_out_of_range")
    return Day(found)


def _ordered(p: Parts, order: Order | None) -> dt.date | str:
    """The day meant; a date that is one in a single order is that day, whatever the column does."""
    days = {o: on for o in ORDERS if (on := p.on(o)) is not None}
    if order in days:
        return days[order]
    if len(set(days.values())) > 1:
        return "ambiguous_date"
    return next(iter(days.values()), "impossible_date")


def median_year(cells: Iterable[str]) -> int | None:
    """The median year of a column; none where no cell is a date."""
    years = [p.year for p in map(parts, cells) if isinstance(p, (Parts, dt.date))]
    return statistics.median_low(years) if years else None
