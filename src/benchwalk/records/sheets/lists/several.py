"""Several units in one cell: "Bay 1, Bay 3", "Bench 2 and 5", "Bench 1-4"."""

from __future__ import annotations

import re

from benchwalk.records.sheets.words import tidy

PARTS = re.compile(r"\s*[;,+&\n]\s*|\s+(?:and|y|und)\s+", re.IGNORECASE)
RANGE = re.compile(r"(?P<name>.*?)(?P<first>[0-9]+)\s?(?:-|–|to|a|bis)\s?(?P<last>[0-9]+)")
LONGEST_RANGE = 200  # own choice: no house has more units in a row
ALONE = re.compile("[0-9]+|[A-Za-z]")  # goes on with the word before it


def parts_of(text: str) -> list[str]:
    """The names in a cell, each whole: "Bench 2 and 5" names Bench 2 and Bench 5."""
    names: list[str] = []
    before = ""
    for part in filter(None, PARTS.split(text)):
        alone = ALONE.fullmatch(part) or part[:1].isdigit()
        names.append(f"{before}{part}" if alone else part)
        before = before if alone else word_of(part)
    return names


def word_of(name: str) -> str:
    """What stands before the number or letter of a name, or of a range, with its space."""
    ranged = RANGE.fullmatch(name)
    return ranged["name"] if ranged else re.sub("[0-9]+$|(?<= )[A-Za-z]$", "", tidy(name))


def in_range(found: re.Match[str]) -> list[str]:
    """The names of a range; none of one that runs backwards or is too long."""
    first, last = int(found["first"]), int(found["last"])
    if not first < last <= first + LONGEST_RANGE:
        return []
    return [f"{found['name']}{number}" for number in range(first, last + 1)]
