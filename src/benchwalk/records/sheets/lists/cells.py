"""What a cell of a list says: text, days, clocks, numbers with units. Nothing is filled in."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping
from functools import cache

from benchwalk.records.sheets.values import plain
from benchwalk.records.sheets.words import fold, halfwidth, means, rows

ERROR = re.compile(r"#[A-ZÀ-Þ][A-ZÀ-Þ0-9_/]*[!?]?|Err:[0-9]+")
NUMBER = re.compile(r"([+-]?[0-9]+(?:[.,'][0-9]+)*|[+-]?[.,][0-9]+)\s*(.*)", re.DOTALL)
CLOCK = re.compile(
    r"(?P<hour>[0-9]{1,2})(?:[:.h](?P<minute>[0-9]{2})(?:[:.](?P<second>[0-9]{2})"
    r"(?:[.,][0-9]+)?)?)?\s*(?P<half>[ap]\.?\s?m\.?)?\s*(?:uhr|hrs?|h)?",
    re.IGNORECASE,
)
OFFSET = re.compile(r"\s*(Z|(?:UTC|GMT)?\s?[+-][0-9]{1,2}:?[0-9]{2}|UTC|GMT)$", re.IGNORECASE)
STAMP = re.compile(
    r"(?P<day>.*?[0-9])(?:T|,?\s+)(?P<clock>[0-9]{1,2}:[0-9]{2}(?::[0-9]{2}(?:[.,][0-9]+)?)?"
    r"(?:\s*[ap]\.?\s?m\.?)?|[0-9]{1,2}\s*[ap]\.?\s?m\.?)",
    re.IGNORECASE,
)
NOTHING_SAID = frozenset("-‐‑‒–—−?")


class Fault(Exception):  # noqa: N818 - reads as what it says
    """A cell from which nothing can be taken, and so nothing of its row.

    Parameters
    ----------
    reason : a key of ``sheet.reason.*`` in the catalogue.
    meaning : what the column of the cell holds.
    question : the id of the question that would settle it; None where only mending the cell does.
    """

    def __init__(self, reason: str, meaning: str, question: str | None = None) -> None:
        super().__init__(f"{meaning}: {reason}")
        self.reason, self.meaning, self.question = reason, meaning, question


def text_of(raw: str) -> str | None:
    """A cell as text for keeping; None where it says nothing ("", "-", "n/a")."""
    text = plain(raw)
    if not text or set(text) <= NOTHING_SAID or means(text) == "not_looked":
        return None
    return halfwidth(text)


def fault_in(text: str) -> str | None:
    """Why a text can be no name or number: a formula, or an error of a spreadsheet."""
    if ERROR.fullmatch(text):
        return "list_error_value"
    return "list_formula" if text.startswith(("=", "@")) else None


@cache
def _words(table: str) -> Mapping[str, str]:
    return {fold(r["word"]): r["meaning"] for r in rows("list_cells") if r["table"] == table}


def word_of(text: str, table: str) -> str | None:
    """What a word of a list stands for, in one table of ``words/list_cells.csv``."""
    return _words(table).get(fold(text))


def meanings_of(table: str) -> tuple[str, ...]:
    """Everything that the words of a table can stand for."""
    return tuple(dict.fromkeys(_words(table).values()))


def decimal_of(cells: Iterable[str]) -> str | None:
    """The decimal mark that measured cells use; None where they use none, or both."""
    found = {
        mark
        for cell in cells
        if (m := NUMBER.match(plain(cell))) and len(mark := re.sub("[^.,]", "", m[1])) == 1
    }
    return found.pop() if len(found) == 1 else None


def number_of(text: str, decimal: str | None) -> tuple[float, str]:
    """A number and the text behind it, which may be its unit.

    Parameters
    ----------
    decimal : the decimal mark of the file; None where nothing tells it, then a number with one
        mark and three digits behind it is not read.

    Raises
    ------
    ValueError
        with the reason: ``unreadable_number`` or ``ambiguous_decimal``.
    """
    found = NUMBER.fullmatch(text)
    if found is None:
        raise ValueError("unreadable_number")
    return _value(found[1], decimal), found[2].strip()


def _value(digits: str, decimal: str | None) -> float:
    marks = re.sub("[^.,']", "", digits)
    if not marks:
        return float(digits)
    if decimal is None and not re.fullmatch(r"[+-]?[0-9]+\.[0-9]{1,2}", digits):
        raise ValueError("ambiguous_decimal")
    mark = decimal or "."
    whole, _, part = digits.partition(mark)
    grouped = re.fullmatch(r"[+-]?[0-9]{1,3}(?:[.,'][0-9]{3})+", whole)
    if not (re.fullmatch(r"[+-]?[0-9]*", whole) or grouped) or (not part.isdigit() and part):
        raise ValueError("ambiguous_decimal")
    return float(f"{re.sub('[^0-9+-]', '', whole) or '0'}.{part or '0'}")


def clock_of(text: str) -> dt.timedelta | None:
    """A time of day as what has passed since midnight; None where the text is none.

    24:00 is the end of the day. Twelve-hour clocks: 12 a.m. is midnight, 12 p.m. is noon.
    """
    found = CLOCK.fullmatch(halfwidth(text))
    if found is None or (found["minute"] is None and found["half"] is None):
        return None
    hour, half = int(found["hour"]), (found["half"] or "")[:1].casefold()
    minute, second = (int(found[part] or "0") for part in ("minute", "second"))
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "p" else 0)
    if minute > 59 or second > 59 or hour * 3600 + minute * 60 + second > 86400:
        return None
    return dt.timedelta(hours=hour, minutes=minute, seconds=second)


def offset_of(text: str) -> dt.timezone | None:
    """A zone written as an offset from UTC: "Z", "+01:00", "UTC-5"; None where it is none."""
    found = re.fullmatch(r"(?:Z|UTC|GMT)?\s?(?:([+-])([0-9]{1,2}):?([0-9]{2})?)?", text.strip())
    if not text.strip() or found is None:
        return None
    if found[1] is None:
        return dt.UTC
    ahead = dt.timedelta(hours=int(found[2]), minutes=int(found[3] or "0"))
    if ahead >= dt.timedelta(hours=24):
        return None
    return dt.timezone(-ahead if found[1] == "-" else ahead)


def parted(text: str) -> tuple[str, str | None, str | None]:
    """A stamp as (day, clock, offset), each as written; no clock where the text is a day alone."""
    plain_text = halfwidth(text)
    found = STAMP.fullmatch(plain_text)
    if found:
        return found["day"], found["clock"], None
    offset = OFFSET.search(plain_text)
    found = STAMP.fullmatch(plain_text[: offset.start()]) if offset else None
    if found and offset:
        return found["day"], found["clock"], offset[1]
    return plain_text, None, None
