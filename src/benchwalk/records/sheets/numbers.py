"""Numbers of a workbook as text: days that are stored as numbers, and all others."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from functools import lru_cache

from benchwalk.records.sheets.words import MANY

# ECMA-376 part 1, 18.8.30: formats that need no code; 27-36 and 50-58 are days in some languages
DAYS = frozenset({*range(14, 23), *range(27, 37), *range(45, 48), *range(50, 59)})
# what stands in quotes, brackets or behind a backslash is shown as it is
LITERAL = re.compile(r'"[^"]*"|\[(?!h+\]|m+\]|s+\])[^\]]*\]|\\.|_.|\*.', re.IGNORECASE)
# day 60 of a workbook counted from 1900 is a 29 February that there was not
BEFORE_1900_MARCH = dt.datetime(1899, 12, 31)
FROM_1900_MARCH = dt.datetime(1899, 12, 30)
FROM_1904 = dt.datetime(1904, 1, 1)
LAST = 2_958_465  # 9999-12-31, the last day a workbook knows


def date_styles(used: Sequence[int], formats: Mapping[int, str]) -> frozenset[int]:
    """Which cell styles show a number as a day or a time.

    Parameters
    ----------
    used : the number format of each cell style, in their order.
    formats : the code of each format that has one.
    """
    days = DAYS | {number for number, code in formats.items() if shows_a_day(code)}
    return frozenset(style for style, number in enumerate(used) if number in days)


def shows_a_day(code: str) -> bool:
    """Whether a number format shows a day or a time: "d-mmm", but not "0.0" or "General"."""
    first = LITERAL.sub("", code).split(";")[0]
    if first.strip().casefold() in ("general", "standard", "@"):
        return False
    return re.search(r"[ymdhs]", first, re.IGNORECASE) is not None


def number_text(value: str) -> str:
    """A number as it is shown when nothing formats it: 15 digits, no trailing zeros."""
    try:
        # nothing added: "-0" is 0
        return value if value.isdigit() else f"{float(value) + 0.0:.15g}"
    except ValueError:
        return value


@lru_cache(MANY)
def day_text(value: str, from_1904: bool) -> str:
    """A number that is shown as a day, in ISO 8601; a time alone is HH:MM:SS."""
    try:
        number = float(value)
    except ValueError:
        return value
    if not 0 <= number < LAST:
        return value
    if number < 1:
        return f"{moment(number, from_1904):%H:%M:%S}"
    at = moment(number, from_1904)
    return at.date().isoformat() if at.time() == dt.time() else at.isoformat(" ", "seconds")


def moment(number: float, from_1904: bool) -> dt.datetime:
    """The moment that a workbook keeps as a number of days, to the second."""
    start = FROM_1900_MARCH if number >= 60 else BEFORE_1900_MARCH
    if from_1904:
        start = FROM_1904
    return start + dt.timedelta(seconds=round(number * 86_400))
