"""What a raw count cell says. Nothing is evaluated, rounded or filled in."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from benchwalk.records.sheets.dates import MONTHS
from benchwalk.records.sheets.words import fold, means

DASHES = frozenset("-‐‑‒–—−")
FORMULA_STARTS = ("=", "@", "+", "-", "\t", "\r")
NUMBER = r"[0-9]{1,9}"


@dataclass(frozen=True)
class Said:
    """What a cell says.

    Parameters
    ----------
    how : a kind of count, or "not_looked", or "rejected".
    value : the number; none where there is none.
    of : plants inspected, for "infested".
    reason : why it is rejected.
    stage_word : a word behind the number, which must name the stage ("12 adults").
    """

    how: Literal["counted", "at_least", "present", "infested", "not_looked", "rejected"]
    value: int | None = None
    of: int | None = None
    reason: str | None = None
    stage_word: str | None = None


def rejected(reason: str) -> Said:
    """A cell that a person has to look at."""
    return Said("rejected", reason=reason)


def plain(raw: str) -> str:
    """A cell without outer and doubled spaces, with one sign for each of minus, plus and digits."""
    text = " ".join(unicodedata.normalize("NFKC", raw).split())
    return "-" + text[1:] if text[:1] in DASHES else text


def said(raw: str, *, decimal: str = ".", key: Mapping[str, str] | None = None) -> Said:
    """What a count cell says.

    Parameters
    ----------
    raw : the cell as written.
    decimal : the decimal mark of the file, "." or ",".
    key : what the file's own key, or a person, says of signs and words: folded sign -> a cell's
        text ("-" -> "none", "tntc" -> "200+").

    Returns
    -------
    Said
        An empty cell is "not_looked", never 0.
    """
    text = plain(raw)
    keyed = (key or {}).get(sign(text))
    if keyed is not None:
        text = plain(keyed)
    for read in (_absent, _word, _whole, _formula, _bound, _fraction, _number, _text):
        found = read(text, decimal)
        if found is not None:
            return found
    return rejected("unreadable_text")


def sign(text: str) -> str:
    """A cell's text as a file's key names it: dashes are one sign, words are folded."""
    return "-" if text and set(text) <= DASHES else fold(text)


def _absent(text: str, decimal: str) -> Said | None:
    if not text:
        return Said("not_looked")
    return rejected("dash_without_key") if sign(text) == "-" else None


def _word(text: str, decimal: str) -> Said | None:
    meaning = means(text)
    if meaning in ("zero", "clean"):
        return Said("counted", 0)
    if meaning == "not_looked":
        return Said("not_looked")
    return Said("present") if meaning == "present" else None


def _whole(text: str, decimal: str) -> Said | None:
    return Said("counted", int(text)) if re.fullmatch(NUMBER, text) else None


def _formula(text: str, decimal: str) -> Said | None:
    if text.startswith("#"):
        return rejected("error_value")
    if text.startswith(("=", "@", "+")) or re.fullmatch(r"-[0-9.,]+[-+*/^].*", text):
        return rejected("formula_text")
    if re.fullmatch(r"-\s?[0-9]+([.,][0-9]+)?", text):
        return rejected("negative_count")
    return None


MORE_THAN = r"(?:>|more than|over|mas de|uber|mehr als)"
AT_LEAST = r"(?:>=|≥|at least|min\.?|mindestens|al menos|ab)"
ABOUT = (
    r"(?:~|≈|±|<|<=|≤|c\.|ca\.?|circa|about|around|approx\.?|aprox\.?|etwa|less than|unter|up to)"
)


def _bound(text: str, decimal: str) -> Said | None:
    """A bound: "50+" is at least 50 and ">50" at least 51: counts are whole."""
    low = _lowered(text)
    if found := re.fullmatch(rf"({NUMBER})\s?\+", low):
        return Said("at_least", int(found[1]))
    if found := re.fullmatch(rf"{AT_LEAST}\s?({NUMBER})", low):
        return Said("at_least", int(found[1]))
    if found := re.fullmatch(rf"{MORE_THAN}\s?({NUMBER})", low):
        return Said("at_least", int(found[1]) + 1)
    if re.fullmatch(rf"{ABOUT}\s?[0-9].*|[0-9]+\s?(\?|ish|~)", low):
        return rejected("approximate_count")
    return None


def _lowered(text: str) -> str:
    wide = unicodedata.normalize("NFKD", text.casefold())
    return "".join(c for c in wide if not unicodedata.combining(c))


def _fraction(text: str, decimal: str) -> Said | None:
    """A fraction: "4/25" is 4 of 25; a date that a spreadsheet made of it is refused."""
    if found := re.fullmatch(rf"({NUMBER})\s?(?:/|of|de|von)\s?({NUMBER})", text.casefold()):
        value, of = int(found[1]), int(found[2])
        return rejected("infested_over_inspected") if value > of else Said("infested", value, of)
    if _is_date(text):
        return rejected("date_in_count_cell")
    if re.fullmatch(r"[0-9]+\s?(-|–|—|to|bis|a|\.\.+)\s?[0-9]+", text.casefold()):
        return rejected("range_not_count")
    return None


def _is_date(text: str) -> bool:
    numeric = r"[0-9]{1,4}[-/.][0-9]{1,2}[-/.][0-9]{1,4}( [0-9:]+)?"
    named = r"[0-9]{1,2}[-. ]{1,2}[a-zä]{3}\.?([-. ][0-9]{2,4})?|[a-zä]{3}[-. ][0-9]{1,4}"
    month = re.search(r"[a-zä]{3}", text.casefold())
    if re.fullmatch(numeric, text):
        return True
    return bool(re.fullmatch(named, text.casefold())) and month is not None and month[0] in MONTHS


def _number(text: str, decimal: str) -> Said | None:
    """A number with a mark in it: whole only where the file's decimal mark leaves no doubt."""
    thousands = "." if decimal == "," else ","
    if re.fullmatch(rf"[0-9]+{re.escape(decimal)}0+", text):
        return Said("counted", int(text.partition(decimal)[0]))
    if re.fullmatch(rf"[0-9]*{re.escape(decimal)}[0-9]+", text):
        return rejected("fractional_count")
    if decimal == "," and re.fullmatch(r"[1-9][0-9]{0,2}(\.[0-9]{3})+", text):
        return Said("counted", int(text.replace(".", "")))
    if re.fullmatch(rf"[0-9]+({re.escape(thousands)}[0-9]+)+", text):
        return rejected("ambiguous_decimal")
    return None


def _text(text: str, decimal: str) -> Said | None:
    """A number and a word: "12 adults" is 12 of that stage, which the column must agree with."""
    found = re.fullmatch(rf"({NUMBER}) ([^\W\d_].*)", text)
    return Said("counted", int(found[1]), stage_word=found[2]) if found else None


def hostile(text: str) -> bool:
    """Whether a spreadsheet would take a text for a formula."""
    return text.lstrip(" ").startswith(FORMULA_STARTS)


def marks(cells: Iterable[str]) -> str:
    """The decimal mark of a file, from its measured columns: "," where it is used, else "."."""
    commas = sum(bool(re.fullmatch(r"[0-9]+,[0-9]{1,2}", plain(c))) for c in cells)
    return "," if commas else "."
