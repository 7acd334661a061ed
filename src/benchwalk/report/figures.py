"""Figures and dates as people read them: two digits, a decimal point, "0.4 to 1.2", "Thu 7 May"."""

from __future__ import annotations

import datetime as dt
import math
import unicodedata
from decimal import ROUND_HALF_UP, Decimal

from babel.dates import format_date

from benchwalk.catalogue import say

DIGITS = 2
_MOST_DIGITS = 17  # a float holds no more
LEAST = 0.005  # a chance below it is said as "under 1 %"


def figure(value: float, digits: int = DIGITS) -> str:
    """A number with two significant digits, halves away from zero: 2.4, 0.35, 18, 120; 0 is "0".

    Raises
    ------
    ValueError
        for NaN and infinity: an absent figure is a word, and there is none for it here.
    """
    if not math.isfinite(value):
        raise ValueError(f"got {value!r}, expected a finite number; say in words why there is none")
    exact = Decimal(repr(float(value)))
    if exact == 0:
        return "0"
    rounded = _rounded(exact, digits)
    # 9.96 has become 10.0: one digit too many
    if rounded.adjusted() > exact.adjusted():
        rounded = _rounded(exact, digits - 1)
    return f"{rounded:f}"


def _rounded(exact: Decimal, digits: int) -> Decimal:
    place = exact.adjusted() - digits + 1
    step = Decimal(1).scaleb(place)
    rounded = (exact / step).quantize(Decimal(1), rounding=ROUND_HALF_UP) * step
    return rounded.quantize(Decimal(1)) if place >= 0 else rounded.quantize(step)


def times_figure(value: float) -> str:
    """The same, with as many digits as keep a value on its own side of 1: 0.996, never "1.0"."""
    for digits in range(DIGITS, _MOST_DIGITS + 1):
        text = figure(value, digits)
        if (float(text) >= 1) == (value >= 1):
            return text
    return repr(float(value))


def interval(low: float, high: float, locale: str, *, times: bool = False) -> str:
    """Reads "0.4 to 1.2"; "0.4 or more" without an upper end; "" where there is no interval."""
    if math.isnan(low) or math.isnan(high):
        return ""
    show = times_figure if times else figure
    if math.isinf(high):
        return say("week.interval_open", locale, low=show(low))
    return say("week.interval", locale, low=show(low), high=show(high))


def percent(value: float) -> str:
    """Reads "97 %" with a gap that does not break; what is not 0 or 100 never reads so."""
    text = figure(value)
    if value < 100 <= float(text):
        text = f"{value:.1f}" if value < 99.95 else ">99.9"
    return f"{text}\N{NO-BREAK SPACE}%"


def chance(value: float, locale: str) -> str:
    """Reads "62 %", "under 1 %", "over 99 %": no forecast is sure."""
    if value < LEAST:
        return say("forecast.under_one", locale)
    if value > 1 - LEAST:
        return say("forecast.over_99", locale)
    return percent(100 * value) if 0.01 <= value <= 0.99 else percent(round(100 * value))


def day(on: dt.date, locale: str, *, year: bool = False) -> str:
    """Reads "Thu 7 May", "jue 7 may"; September is "sep" in both languages."""
    text = format_date(on, "EEE d MMM y" if year else "EEE d MMM", locale=locale)
    # CLDR has "sept" for some locales of one language and "sep" for others
    return text.replace("sept", "sep").replace("Sept", "Sep")


def moment(at: dt.datetime, zone: dt.tzinfo, locale: str, *, year: bool = True) -> str:
    """An instant on the clock of a zone: "Thu 7 May 2026 06:10"."""
    local = at.astimezone(zone)
    return f"{day(local.date(), locale, year=year)} {local:%H:%M}"


def capital(text: str) -> str:
    """The text with a capital letter in front, names and figures left alone."""
    return text[:1].upper() + text[1:]


def shown(text: str) -> str:
    """What somebody wrote, without the signs that move a cursor or turn the reading direction.

    Each such sign becomes U+FFFD: it is seen that something stood there.
    """
    return "".join("\N{REPLACEMENT CHARACTER}" if _moves(sign) else sign for sign in text)


def _moves(sign: str) -> bool:
    return unicodedata.category(sign) in ("Cc", "Cf", "Cs", "Zl", "Zp")
