"""Dates as written in a column: one order of day and month for the whole column, or a question."""

from __future__ import annotations

import datetime as dt
import re
import statistics
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from benchwalk.records.sheets.words import MANY, halfwidth, means

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


A_TIME = re.compile(
    r"(?P<hour>[01]?[0-9]|2[0-4])(?:[:.h](?P<minute>[0-5][0-9]))?(?::[0-9]{2})?(?:\.[0-9]+)?"
    r" ?(?:h|uhr|hrs|(?P<half>[ap])\.?m\.?)?",
    re.IGNORECASE,
)
HALVES = {
    word: half
    for half, words in (
        ("am", "am morning mañana vormittag vormittags morgen früh a.m."),
        ("pm", "pm afternoon evening tarde noche nachmittag nachmittags abend p.m."),
    )
    for word in words.split()
}


WEEKDAYS = {
    word: number
    for number, words in enumerate(
        (
            "monday mon mo lunes lun montag",
            "tuesday tues tue tu martes dienstag di",
            "wednesday wed we miércoles miercoles mié mie mittwoch mi",
            "thursday thurs thur thu th jueves jue donnerstag do",
            "friday fri fr viernes vie freitag",
            "saturday sat sa sábado sabado sáb sab samstag sonnabend",
            "sunday sun su domingo dom sonntag so",
        )
    )
    for word in words.split()
}
DAY_NAMED = re.compile(
    rf"({'|'.join(sorted(WEEKDAYS, key=len, reverse=True))})(?:[.,]+ ?| )(?=[^ ]+[ /.-])",
    re.IGNORECASE,
)
SHORT = re.compile(r"([0-9]{1,2})( ?[-/.] ?)([0-9]{1,2})\.?")
A_WEEK = "week|wk|semana|sem|woche|kw|w"
WEEK = re.compile(
    rf"(?:(?P<year>[0-9]{{4}})[ -]?)?(?:{A_WEEK})\.? ?(?P<week>[0-9]{{1,2}})", re.IGNORECASE
)
WEEK_FIRST = re.compile(
    rf"(?:{A_WEEK})\.? ?(?P<week>[0-9]{{1,2}})[ ,/-]+(?P<year>[0-9]{{4}})", re.IGNORECASE
)
SERIAL = re.compile(r"[1-9][0-9]{4}(\.[0-9]+)?")
SERIAL_START = dt.date(1899, 12, 30)  # from March 1900 on; ECMA-376 part 1, 18.17.4.1
SOME_LEAP_YEAR = 2024


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


def clock_in(raw: str) -> str | None:
    """The time behind a day, as HH:MM; none where there is none, or midnight stands for none."""
    found = CLOCK.search(halfwidth(raw))
    told = time_in(found[0][1:]) if found else None
    return None if told == "00:00" else told


@lru_cache(MANY)
def time_in(raw: str) -> str | None:
    """A time of day as HH:MM, or the half of the day that a word names; none for other texts."""
    text = halfwidth(raw).casefold()
    if text in HALVES:
        return HALVES[text]
    found = A_TIME.fullmatch(text)
    if found is None:
        return None
    hour = int(found["hour"])
    if found["half"] and hour <= 12:
        hour = hour % 12 + (12 if found["half"] == "p" else 0)
    return f"{hour % 24:02}:{found['minute'] or '00'}"


def order_of(answer: str) -> Order | None:
    """The order that an answer to "date_order" names ("m/d/yy"); none for another text."""
    letters = re.sub(r"[ _/.-]", "", answer.casefold())
    return next((o for form, o in _ANSWERS.items() if re.fullmatch(form, letters)), None)


@lru_cache(MANY)
def parts(raw: str, year: int | None = None) -> Parts | dt.date | str | None:
    """A date cell taken apart.

    Parameters
    ----------
    year : the year of days that are written without one ("5/6", "6-May"); none where none is said.

    Returns
    -------
    A day where only one is meant, `Parts` where the order of day and month is open, a reason where
    there is no such day, none where the text is no date.
    """
    text = CLOCK.sub("", halfwidth(raw))
    if weekday := DAY_NAMED.match(text):
        return _on_weekday(parts(text[weekday.end() :], year), WEEKDAYS[weekday[1].casefold()])
    for read in (_iso, _dotted, _slashed, _named):
        found = read(text)
        if found is not None:
            return found
    week = WEEK.fullmatch(text) or WEEK_FIRST.fullmatch(text)
    if week is not None and (week["year"] or year):
        return _monday(int(week["year"] or str(year)), int(week["week"])) or "impossible_date"
    return _without_year(text, year) if year is not None else None


def _on_weekday(found: Parts | dt.date | str | None, weekday: int) -> Parts | dt.date | str | None:
    """A date behind the name of its weekday, which can settle the order of day and month."""
    if isinstance(found, Parts):
        fit = {on for o in ORDERS if (on := found.on(o)) is not None and on.weekday() == weekday}
        return fit.pop() if len(fit) == 1 else found if fit else "date_contradicts_week"
    if isinstance(found, dt.date) and found.weekday() != weekday:
        return "date_contradicts_week"
    return found


def _without_year(text: str, year: int) -> Parts | dt.date | str | None:
    if found := SHORT.fullmatch(text):
        return parts(f"{found[1]}{found[2]}{found[3]}{found[2]}{year}")
    words = re.sub(r"[-,./]", " ", text).split()
    return parts(f"{text} {year}") if len(words) == 2 and _a_month(words) else None


def _a_month(words: list[str]) -> bool:
    return any(w.casefold() in MONTHS for w in words)


def _monday(year: int, week: int) -> dt.date | None:
    try:
        return dt.date.fromisocalendar(year, week, 1)
    except ValueError:
        return None


def is_week(raw: str) -> bool:
    """Whether a date cell names a week and no day: "Wk 19"."""
    text = halfwidth(raw)
    return (WEEK.fullmatch(text) or WEEK_FIRST.fullmatch(text)) is not None


def serial(raw: str, from_1904: bool = False) -> dt.date | None:
    """The day that a spreadsheet keeps as a number of days: 45418 is 2024-05-06; else none.

    Only numbers of 1980 to 2099 are days; counted from 1904 they are 1,462 less.
    """
    text = halfwidth(raw)
    if not SERIAL.fullmatch(text):
        return None
    on = SERIAL_START + dt.timedelta(days=int(text.partition(".")[0]))
    on = on + dt.timedelta(days=1_462) if from_1904 else on
    return on if EARLIEST <= on.year <= LATEST else None


def heading_day(raw: str, year: int | None) -> object:
    """What a heading says as a day: not none for a day, a week, or a day without its year."""
    found = parts(raw, year or SOME_LEAP_YEAR)
    return None if isinstance(found, str) else found or serial(raw)


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
    found = found or re.fullmatch(r"(19[89][0-9]|20[0-9]{2})([01][0-9])([0-3][0-9])", text)
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


def habit(cells: Iterable[str], year: int | None = None) -> Habit:
    """The order of day and month in a column; see :class:`Habit`."""
    open_ = [p for c in set(cells) if isinstance(p := parts(c, year), Parts)]
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


@lru_cache(MANY)
def day(
    raw: str,
    order: Order | None,
    near: int | None = None,
    *,
    year: int | None = None,
    from_1904: bool = False,
) -> Day:
    """What a date cell says, once the order of its column is known.

    Parameters
    ----------
    order : day or month first; none while nothing settles it, then a date that could be either is
        refused and one that could not is taken.
    near : the median year of the file; a day more than five years from it is not plausible.
    year : the year of days without one.
    from_1904 : whether numbers that are days are counted from 1904.
    """
    if not raw.strip() or means(raw) == "not_looked":
        return Day(None, "missing_date")
    found = parts(raw, year)
    if isinstance(found, Parts):
        found = _ordered(found, order)
    if found is None:
        found = serial(raw, from_1904)
    if isinstance(found, str):
        return Day(None, found)
    if found is None:
        no_year = heading_day(raw, None) is not None
        return Day(None, "missing_date" if no_year else "impossible_date")
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


def median_year(
    cells: Iterable[str], year: int | None = None, *, from_1904: bool = False
) -> int | None:
    """The median year of a column; none where no cell is a date."""
    found = (parts(c, year) or serial(c, from_1904) for c in cells)
    years = [p.year for p in found if isinstance(p, (Parts, dt.date))]
    return statistics.median_low(years) if years else None
