"""Rows that hold no record: blank ones, totals and means, headings repeated."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from benchwalk.records.sheets.context import Sheet, cell
from benchwalk.records.sheets.dates import parts
from benchwalk.records.sheets.headings import heading_key
from benchwalk.records.sheets.words import MANY, fold, means, tidy

SHARES = frozenset({"percent", "percentage", "pct", "porcentaje", "prozent"})
# before a place's name they make it no place: "avg per plant", "std dev"
# fmt: off
MEANS = frozenset([
    "avg", "average", "mean", "promedio", "media", "mittel", "mittelwert", "std", "sd", "stdev",
    "max", "min", "median",
])
# fmt: on


def why_skipped(sheet: Sheet, row: Sequence[str]) -> str | None:
    """Why a row holds no record: blank, totals, headings repeated; none for all others."""
    if not any(c.strip() for c in row):
        return "blank"
    if _adds_up(sheet, row):
        return "totals"
    first = tidy(row[0]) == sheet.headed[0]
    same = first and [tidy(c) for c in row] == sheet.headed
    return "headings repeated" if same else None


@lru_cache(MANY)
def _derived(text: str) -> bool:
    """Whether what stands for a place or pest says that its row is worked out: "% infested"."""
    words = fold(text.rstrip(":")).split()
    share = "%" in text or bool(words and words[0] in SHARES)
    return share or means(text.rstrip(":")) == "totals" or bool(words and words[0] in MEANS)


def _adds_up(sheet: Sheet, row: Sequence[str]) -> bool:
    """Whether a row adds up others: it says so where a place or pest would stand, or a day."""
    named = [sheet.text(row, meaning) for meaning in ("house", "unit", "plant", "pest")]
    if any(text and _derived(text) for text in named):
        return True
    first = next(c for c in sheet.layout.columns if cell(row, c).strip())
    date = sheet.layout.column("date")
    if first.meaning == "remarks" or (date and parts(cell(row, date)) is not None):
        return False
    if first is date and _derived(cell(row, date)):
        return True
    return any(means(word) == "totals" for word in heading_key(cell(row, first)).split())
