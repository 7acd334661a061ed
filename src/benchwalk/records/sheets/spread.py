"""Columns that count one pest on several plants, cards, houses or units, each in its own."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache

from benchwalk.records.sheets.headings import listed, tally_of
from benchwalk.records.sheets.page import Row
from benchwalk.records.sheets.titles import Told
from benchwalk.records.sheets.words import MANY, tidy

NUMBERED = re.compile(r"([^\W\d_]+)\.?[ _#-]*(?:n[or]\.?[ _]?)?([0-9]{1,3}|[A-Za-z])")
CODE = re.compile(r"[A-Za-z]{1,2}[ -]?[0-9]{1,3}|[0-9]{1,2}[ -]?[A-Za-z]")  # "A1", "B-12", "3B"
SPREAD = ("plant", "station", "house", "unit")
SHORT = {"p": "plant"}  # "P1, P2, P3" beside a bench
NAMED_WHOLE = ("house", "unit")  # "House 1" is its name; plant 1 is "1"
NOT_BESIDE = {"count", "infested"}  # where they stand, such columns hold something else
DERIVED = "mean"


@lru_cache(MANY)
def spread_over(heading: str) -> tuple[str, str] | None:
    """What a heading with a number or letter names ("Plant 1", "GH2"): its meaning and its name."""
    found = NUMBERED.fullmatch(tidy(heading))
    if found is None:
        return None
    word = found[1].casefold()
    meaning = listed(found[1]) or SHORT.get(word)
    if meaning not in SPREAD or (word in SHORT and not found[2].isdigit()):
        return None
    return meaning, tidy(heading) if meaning in NAMED_WHOLE else found[2]


def spread_columns(headings: Row) -> tuple[str, Mapping[int, str]] | None:
    """The meaning that several columns are spread over, and the name in each; none where none is.

    None, too, where columns are spread over two things, or a column of counts stands beside them.
    """
    found: dict[str, dict[int, str]] = {}
    for n, heading in enumerate(headings):
        if said := spread_over(heading):
            found.setdefault(said[0], {})[n] = said[1]
    several = {meaning: names for meaning, names in found.items() if len(names) > 1}
    there = {listed(h) for h in headings}
    if not several and "unit" not in there:
        several = _codes(headings)
    if len(several) != 1 or NOT_BESIDE & there:
        return None
    return next(iter(several.items()))


def _codes(headings: Row) -> dict[str, dict[int, str]]:
    """Units by a letter and a number, where all headings but known ones are such codes."""
    open_ = {n: tidy(h) for n, h in enumerate(headings) if h.strip() and listed(h) is None}
    coded = len(open_) > 1 and all(CODE.fullmatch(h) for h in open_.values())
    return {"unit": open_} if coded else {}


def pest_in(titles: Sequence[tuple[int, Row]], own: Mapping[str, str]) -> dict[str, Told]:
    """The one pest, with its stage, that titles name for a whole table; empty where none is."""
    found: dict[str, dict[str, Told]] = {}
    for number, row in titles:
        for index, text in enumerate(row):
            tally = tally_of(text, own, ()) if text.strip() else None
            if tally is None or tally.taxon is None:
                continue
            spot = (number, index)
            said = {"pest": Told(tally.word, spot)}
            if tally.stage_said:
                said["stage"] = Told(tally.stage, spot)
            found.setdefault(tally.taxon, said)
    return next(iter(found.values())) if len(found) == 1 else {}
