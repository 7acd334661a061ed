"""Words as people write them in cells: folding, and the tables in ``words/``."""

from __future__ import annotations

import csv
import unicodedata
from collections.abc import Iterator
from functools import cache, lru_cache
from importlib.resources import files

# cells of a sheet say the same few words over and over; this many texts are kept for each question
MANY = 1 << 15
INVISIBLE = dict.fromkeys(map(ord, "\u200b\u2060\ufeff"), "")


@lru_cache(MANY)
def halfwidth(text: str) -> str:
    """Text with full-width signs as plain ones, without signs of no width or doubled spaces.

    A small raised digit stays what it is: "5²" is no 52.
    """
    wide = (unicodedata.decomposition(c).startswith("<wide>") for c in text)
    signs = (unicodedata.normalize("NFKC", c) if w else c for c, w in zip(text, wide, strict=True))
    return " ".join("".join(signs).translate(INVISIBLE).split())


@lru_cache(MANY)
def tidy(text: str) -> str:
    """Text for showing: without doubled, non-breaking and outer spaces."""
    return " ".join(unicodedata.normalize("NFC", text).split())


@lru_cache(MANY)
def fold(text: str) -> str:
    """Text for comparing: also without case, accents, dots, hyphens and underscores."""
    return " ".join(unaccented(text).translate(_SPACED).split())


@lru_cache(MANY)
def unaccented(text: str) -> str:
    """Text without case and accents."""
    wide = unicodedata.normalize("NFKD", text.casefold())
    return "".join(c for c in wide if not unicodedata.combining(c))


_SPACED = dict.fromkeys(map(ord, ".-_‐‑–"), " ") | INVISIBLE


def rows(table: str) -> Iterator[dict[str, str]]:
    """The rows of a table of words, as shipped."""
    text = (files("benchwalk.records.sheets") / "words" / f"{table}.csv").read_text("utf-8")
    return csv.DictReader(text.splitlines())


@cache
def cell_words() -> dict[str, str]:
    """Folded word without its spaces -> what a cell of that word means."""
    return {squeezed(row["word"]): row["meaning"] for row in rows("cells")}


@lru_cache(MANY)
def means(text: str) -> str | None:
    """What a cell that is one of the known words means; none for any other text."""
    return cell_words().get(squeezed(text))


def squeezed(text: str) -> str:
    """A text without case, accents, marks and spaces: "spidermite", "n.a." and "n. a."."""
    return fold(text).replace(" ", "")
