"""Names of people in what somebody typed: found, and masked by a pseudonym."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from functools import lru_cache

from sqlalchemy import select
from sqlalchemy.orm import Session

from benchwalk.records.operations import Person

SHORTEST = 3  # own choice: letters of a part of a name that is looked for by itself
REMEMBERED = 10_000  # own choice: texts whose masked form is kept; most are said again and again
Mask = Callable[[str], str]
# words, and whether they are a pseudonym that was put in: what it says is not masked again
Piece = tuple[str, bool]


def simple(text: str) -> str:
    """A text without case and accents, as names are compared."""
    parted = unicodedata.normalize("NFKD", text.casefold())
    return "".join(c for c in parted if not unicodedata.combining(c)).strip()


def pattern_of(*names: str) -> re.Pattern[str] | None:
    """Finds whole names, and parts of three letters and more, in texts made `simple`."""
    words = {simple(name) for name in names}
    words |= {part for name in words for part in name.split() if len(part) >= SHORTEST}
    longest_first = sorted(filter(None, words), key=lambda w: (-len(w), w))
    if not longest_first:
        return None
    return re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, longest_first))})(?!\w)")


def masking(session: Session, *, but: Person | None = None) -> Mask:
    """Puts a pseudonym where a text names somebody; ``but`` is the one whose name may stay.

    It masks too much rather than too little: also a part of a name, whatever else it may mean.
    """
    others = [
        (pattern_of(other.name), f"[{other.pseudonym}]")
        for other in session.scalars(select(Person).order_by(Person.pseudonym))
        if other.name and (but is None or other.id != but.id)
    ]
    own = None if but is None else pattern_of(but.name or "")

    @lru_cache(REMEMBERED)
    def masked(text: str) -> str:
        pieces = [(text, False)]
        for pattern, pseudonym in others:
            if pattern is not None:
                pieces = [p for piece in pieces for p in _parted(piece, pattern, pseudonym, own)]
        return "".join(words for words, _ in pieces)

    return masked


def _parted(
    piece: Piece, pattern: re.Pattern[str], by: str, own: re.Pattern[str] | None
) -> list[Piece]:
    """A piece of a text with what a pattern finds replaced, found letter by letter as it was."""
    text, masked = piece
    if masked:
        return [piece]
    letters = [(_simple_letter(c), n) for n, c in enumerate(text)]
    flat = "".join(part for part, _ in letters)
    places = [n for part, n in letters for _ in part]
    out: list[Piece] = []
    last = 0
    for found in pattern.finditer(flat):
        start, stop = places[found.start()], places[found.end() - 1] + 1
        if start >= last and not (own is not None and own.fullmatch(found[0])):
            out += [(text[last:start], False), (by, True)]
            last = stop
    return [*out, (text[last:], False)]


def _simple_letter(letter: str) -> str:
    """One letter without case and accents; several for one that parts into several."""
    parted = unicodedata.normalize("NFKD", letter.casefold())
    return "".join(c for c in parted if not unicodedata.combining(c))
