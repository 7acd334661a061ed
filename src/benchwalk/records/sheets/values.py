"""What a raw count cell says. Nothing is evaluated, rounded or filled in."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from benchwalk.records.sheets.dates import MONTHS
from benchwalk.records.sheets.words import MANY, fold, halfwidth, means, unaccented

DASHES = frozenset("-‐‑‒–—−")
# what a spreadsheet runs: OWASP ASVS 5.0, 1.2.10 has = + - @ and the tab; line ends and the
# full-width signs, which some take for the same, are from memory
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
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


@lru_cache(MANY)
def plain(raw: str) -> str:
    """A cell without outer and doubled spaces and without a guard, with one sign for minus."""
    text = raw.strip()
    if text.startswith("'") and hostile(text[1:]):
        # the mark that a file of rejects puts before what a spreadsheet would run
        text = text[1:]
    text = halfwidth(text)
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
    keyed = key.get(sign(text)) if key else None
    return _read(text if keyed is None else plain(keyed), decimal)


@lru_cache(MANY)
def _read(text: str, decimal: str) -> Said:
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
    if re.fullmatch(ERROR, text):
        return rejected("error_value")
    if re.match(r"[=@].|\+\s?[^\s+]|-[0-9.,]+\s?[-+*/^]", text):
        return rejected("formula_text")
    if re.fullmatch(r"-\s?[0-9]+([.,][0-9]+)?", text):
        return rejected("negative_count")
    return None


ERROR = r"#[¡¿]?[A-ZÀ-Þ][A-ZÀ-Þ0-9_/]*[!?]?|Err:[0-9]+"
MORE_THAN = r"(?:>|more than|over|mas de|uber|mehr als)"
AT_LEAST = r"(?:>=|≥|at least|min\.?|mindestens|al menos|ab)"
OR_MORE = "or more|plus|y mas|o mas|oder mehr|und mehr"
ABOUT = (
    r"(?:~|≈|±|<|<=|≤|c\.|ca\.?|circa|about|around|approx\.?|aprox\.?|etwa|less than|unter|up to"
    r"|bis|hasta|menos de|casi|unos|unas|weniger als|almost|nearly|max\.?)"
)
ABOUT_BEHIND = r"(?:\?|-?ish|~|approx\.?|aprox\.?|circa|ca\.?|est\.?|\(est\.?\))"


def _bound(text: str, decimal: str) -> Said | None:
    """A bound: "50+" is at least 50 and ">50" at least 51: counts are whole."""
    low = unaccented(text)
    if found := re.fullmatch(rf"({NUMBER})\s?(?:\+|(?:{OR_MORE}))", low):
        return Said("at_least", int(found[1]))
    if found := re.fullmatch(rf"{AT_LEAST}\s?({NUMBER})", low):
        return Said("at_least", int(found[1]))
    if found := re.fullmatch(rf"{MORE_THAN}\s?({NUMBER})", low):
        return Said("at_least", int(found[1]) + 1)
    if re.fullmatch(rf"{ABOUT}\s?[0-9].*|[0-9]+\s?{ABOUT_BEHIND}", low):
        return rejected("approximate_count")
    return None


def _fraction(text: str, decimal: str) -> Said | None:
    """A fraction: "4/25" is 4 of 25; a date that a spreadsheet made of it is refused."""
    if found := re.fullmatch(
        rf"({NUMBER})\s?(?:/|of|out of|de|von)\s?({NUMBER})(?: {PLANTS})?", text.casefold()
    ):
        return _infested(int(found[1]), int(found[2]))
    if _is_date(text):
        return rejected("date_in_count_cell")
    if re.fullmatch(rf"[0-9]+\s?{BETWEEN}\s?[0-9]+", text.casefold()):
        return rejected("range_not_count")
    return None


PLANTS = "(?:plants?|plantas?|pflanzen?|pl)\\.?"
BETWEEN = r"(?:[-‐‑‒–—−~+&]|to|bis|a|or|o|oder|and|y|und|\.\.+|…)"


def _infested(value: int, of: int) -> Said:
    if value > of:
        return rejected("infested_over_inspected")
    return Said("infested", value, of) if of else rejected("missing_effort")


DAY_AND_MONTH = re.compile(
    r"[0-9]{1,2}[-. ]{1,2}([^\W\d_]{3,})\.?(?:[-. ]{1,2}[0-9]{2,4})?"
    r"|([^\W\d_]{3,})\.?[-. ]{1,2}[0-9]{1,4}"
)


def _is_date(text: str) -> bool:
    """A date, or the day and month that a spreadsheet shows of one: "25-Apr", "Apr-25"."""
    if re.fullmatch(r"[0-9]{1,4}[-/.][0-9]{1,2}[-/.][0-9]{1,4}([ T][0-9:.]+)?", text):
        return True
    found = DAY_AND_MONTH.fullmatch(text.casefold())
    return found is not None and (found[1] or found[2]) in MONTHS


def _number(text: str, decimal: str) -> Said | None:
    """A number with a mark in it: whole only where the file's decimal mark leaves no doubt."""
    mark = re.escape(decimal)
    thousands = r"\." if decimal == "," else ","
    if re.fullmatch(rf"0+[.,]0+|[0-9]{{1,9}}{mark}0{{1,2}}", text):
        return Said("counted", int(re.split("[.,]", text)[0]))
    if decimal == "," and re.fullmatch(r"[1-9][0-9]{0,2}(\.[0-9]{3})+", text):
        return Said("counted", int(text.replace(".", "")))
    if re.fullmatch(rf"[0-9]*{thousands}[0-9]+|[1-9][0-9]{{0,2}}{GROUPS}", text):
        return rejected("ambiguous_decimal")
    return rejected("fractional_count") if re.fullmatch(rf"[0-9]*{mark}[0-9]+", text) else None


GROUPS = r"(?:[.,' ’][0-9]{3})+"


def _text(text: str, decimal: str) -> Said | None:
    """A number and a word: "12 adults" is 12 of that stage, which the column must agree with."""
    found = re.fullmatch(rf"({NUMBER}) ([^\W\d_].*)", text)
    return Said("counted", int(found[1]), stage_word=found[2]) if found else None


def hostile(text: str) -> bool:
    """Whether a spreadsheet would take a text for a formula."""
    return bool(text.strip()) and text.lstrip(" ").startswith(FORMULA_STARTS)


def marks(cells: Iterable[str]) -> str:
    """The decimal mark of a file, from its measured columns: "," where no "." is used, else "."."""
    found = {m[1] for c in cells if (m := re.fullmatch(r"[0-9]+([.,])[0-9]{1,2}", plain(c)))}
    return "," if found == {","} else "."
