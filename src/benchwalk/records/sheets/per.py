"""Headings of means: "thrips/card/wk", "aphids per leaf", "avg WF adults", in three languages."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, lru_cache

from benchwalk.records.sheets.words import MANY, rows, unaccented

PER = r"(?:/|\b(?:per|por|je|pro)\b)"


@dataclass(frozen=True)
class Per:
    """What the numbers of a column are per.

    Parameters
    ----------
    rest : the heading without the words of the mean; a card stays, as it may say its colour.
    item : plant, card, leaf, leaflet or flower; none where only a time, or a mean, is said.
    days : the time they are per [d]; none where none is said.
    percent : a share of plants, which is no count and no mean.
    """

    rest: str
    item: str | None = None
    days: int | None = None
    percent: bool = False


@lru_cache(MANY)
def per_of(heading: str) -> Per | None:
    """What a heading says its numbers are per; none where it heads plain counts."""
    text = unaccented(heading)
    if "%" in text:
        return Per(text.replace("%", " "), percent=True)
    item, days, mean = None, None, False
    if found := _pattern("item").search(text):
        item = _meanings("item")[found["word"]]
        kept = f" {found['word']} " if item == "card" else " "
        text = text[: found.start()] + kept + text[found.end() :]
    if found := _pattern("days").search(text):
        days = int(_meanings("days")[found["word"]])
        text = text[: found.start()] + " " + text[found.end() :]
    if found := _means().search(text):
        mean = True
        text = text[: found.start()] + " " + text[found.end() :]
    return Per(text, item, days) if item or days or mean else None


@cache
def _meanings(kind: str) -> dict[str, str]:
    pairs = ((unaccented(row["word"]), row["meaning"].split()) for row in rows("means"))
    return {word: meaning[-1] for word, meaning in pairs if meaning[0] == kind}


def _any(kind: str) -> str:
    words = sorted(_meanings(kind), key=len, reverse=True)
    return "|".join(map(re.escape, words))


@cache
def _pattern(kind: str) -> re.Pattern[str]:
    """A word of a kind behind "/" or "per", with the "no." of "no./card" before it."""
    number = rf"(?:\b(?:{_any('number')})\.?\s*|#\s*)?"
    return re.compile(rf"{number}{PER}\s*(?P<word>{_any(kind)})(?![a-z0-9])")


@cache
def _means() -> re.Pattern[str]:
    return re.compile(rf"(?<![a-z])(?:{_any('mean')})(?![a-z])\.?")
