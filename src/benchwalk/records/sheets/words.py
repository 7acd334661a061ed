"""Words as people write them in cells: folding, and the tables in ``words/``."""

from __future__ import annotations

import csv
import unicodedata
from collections.abc import Iterator
from functools import cache
from importlib.resources import files


def tidy(text: str) -> str:
    """Text for showing: without doubled, non-breaking and outer spaces."""
    return " ".join(unicodedata.normalize("NFC", text).split())


def fold(text: str) -> str:
    """Text for comparing: also without case, accents, dots, hyphens and underscores."""
    wide = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(c for c in wide if not unicodedata.combining(c))
    return " ".join(plain.translate(_SPACED).split())


_SPACED = str.maketrans(dict.fromkeys(".-_‐‑–", " "))


def rows(table: str) -> Iterator[dict[str, str]]:
    """The rows of a table of words, as shipped."""
    text = (files("benchwalk.records.sheets") / "words" / f"{table}.csv").read_text("utf-8")
    return csv.DictReader(text.splitlines())


@cache
def cell_words() -> dict[str, str]:
    """Folded word -> what a cell of that word means."""
    return {fold(row["word"]): row["meaning"] for row in rows("cells")}


def means(text: str) -> str | None:
    """What a cell that is one of the known words means; none for any other text."""
    return cell_words().get(fold(text))
