"""What was put out, from its words: only what the reference knows by exactly that name."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from rapidfuzz.distance import OSA

from benchwalk.records.sheets.names import LONG, REFUSED
from benchwalk.records.sheets.questions import AGREED
from benchwalk.records.sheets.remarks import bare, material_in, spaced
from benchwalk.records.sheets.words import fold, rows
from benchwalk.reference import actives, taxa, taxon_names

# an amount beside a name: "2 %", "1.5 ml/l", "50 000"
AMOUNT = re.compile(
    r"[0-9]+(?:[.,' ][0-9]+)*\s*(?:%|(?:ml|l|g|kg|oz|fl oz|lb|lbs|gal|pt|qt|ppm|cc)\b"
    r"(?:\s?/\s?(?:l|ha|m2|m²|gal|100 gal|acre|hl)\b)?)?",
    re.IGNORECASE,
)
SEVERAL = re.compile(r"\s*(?:\+|;|&|,|\band\b|\by\b|\bund\b)\s*", re.IGNORECASE)


@dataclass(frozen=True)
class Substance:
    """A known substance or natural enemy; ``active`` is its name in the reference."""

    active: str | None
    kind: str | None


@cache
def _by_name() -> Mapping[str, Substance]:
    enemies = {t.taxon_key: t for t in taxa() if t.role == "beneficial" and t.parent_key}
    names = {spaced(n.name): enemies[n.taxon_key] for n in taxon_names() if n.taxon_key in enemies}
    released = {name: Substance(t.scientific_name, "release") for name, t in names.items()}
    active = {spaced(name): Substance(name, None) for name in _actives()}
    full = {spaced(a.name): Substance(bare(a.name), None) for a in actives()}
    own = {
        spaced(r["word"]): Substance(r["active"] or None, KINDS_OF_WORK.get(r["kind"], r["kind"]))
        for r in rows("materials")
    }
    return released | full | active | own


# the words for materials know weeding as one of several kinds of work in the crop
KINDS_OF_WORK = {"cultural": "weed"}


@cache
def _actives() -> tuple[str, ...]:
    return tuple(dict.fromkeys(bare(a.name) for a in actives()))


def substance_of(text: str) -> Substance | None:
    """The substance that a text names, amounts left aside; None where it names none.

    The whole text must be the name: a trade name with a known word in it is not known. A living
    thing may have words beside its name ("swirskii, in sachets").
    """
    known = _by_name()
    found = known.get(spaced(text)) or known.get(spaced(AMOUNT.sub(" ", text)))
    if found is not None:
        return found
    living = material_in(text)
    if living is None or living.kind != "release" or living.active is None:
        return None
    return Substance(living.active, living.kind)


def several_in(text: str) -> bool:
    """Whether a text names two substances or more, each known by itself."""
    parts = [p for p in SEVERAL.split(text) if p.strip()]
    known = {s.active for p in parts if (s := substance_of(p)) is not None}
    return substance_of(text) is None and len(known) > 1


def near_active(text: str) -> str | None:
    """The one active ingredient that a text is a slip or two away from; None where none is."""
    key = fold(text)
    if len(key) < LONG:
        return None
    near = [a for a in _actives() if OSA.distance(key, fold(a), score_cutoff=2) <= 2]
    return near[0] if len(near) == 1 else None


def agreed_active(answer: str, proposed: str | None) -> str | None:
    """The active ingredient that a person agreed to; None where the answer is no, or no name."""
    if fold(answer) == AGREED:
        return proposed
    named = None if fold(answer) == REFUSED else substance_of(answer)
    return named.active if named else None
