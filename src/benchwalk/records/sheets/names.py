"""Names of pests, stages and crops as people write them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Literal

from rapidfuzz.distance import OSA

from benchwalk.records.sheets.words import MANY, fold, squeezed
from benchwalk.reference import (
    crop_names,
    crops,
    stage_names,
    stage_possible,
    stage_words,
    taxa,
    taxon_names,
)

# Limits of a misspelling (own choice, kept small so that one pest is not read for another):
# one slip in a name of five to seven letters, two in a longer one, none in a shorter.
SHORTEST, LONG = 5, 8
REFUSED = "no"
LARVA, NYMPH = "larva", "nymph"


@dataclass(frozen=True)
class Named:
    """What a name stands for.

    Parameters
    ----------
    key : the taxon; none where it is not known or not certain.
    candidates : the taxa it could be.
    reason : why there is no key.
    proposed : the key is that of the one name near to a misspelling.
    """

    key: str | None
    candidates: tuple[str, ...] = ()
    reason: Literal["unknown_pest", "ambiguous_pest"] | None = None
    proposed: bool = False


def _singulars(key: str) -> tuple[str, ...]:
    """A squeezed name as written, and without an ending of the plural."""
    found = [key]
    if len(key) > 4:
        if key.endswith("ies"):
            found.append(key[:-3] + "y")
        if key.endswith("es"):
            found.append(key[:-2])
        if key.endswith("s"):
            found.append(key[:-1])
    return tuple(found)


@cache
def _taxa_by_name() -> Mapping[str, frozenset[str]]:
    names = [(n.name, n.taxon_key) for n in taxon_names()]
    names += [(t.taxon_key, t.taxon_key) for t in taxa()]
    names += [(t.eppo_code, t.taxon_key) for t in taxa() if t.eppo_code]
    names += [(t.scientific_name, t.taxon_key) for t in taxa() if t.scientific_name]
    return _index(names)


def _index(names: Iterable[tuple[str, str]]) -> dict[str, frozenset[str]]:
    found: dict[str, frozenset[str]] = {}
    for name, key in names:
        found[squeezed(name)] = found.get(squeezed(name), frozenset()) | {key}
    return found


@cache
def _spelt() -> Mapping[str, frozenset[str]]:
    """Names long enough to be misspelt; abbreviations are no model for a misspelling."""
    written = [(n.name, n.taxon_key) for n in taxon_names() if n.language != "abbr"]
    return {k: v for k, v in _index(written).items() if len(k) >= SHORTEST}


def taxon_of(text: str, own: Mapping[str, str] | None = None) -> Named:
    """What a name of a pest or enemy stands for.

    Parameters
    ----------
    own : the operation's own words, word -> taxon; they go before all others.

    Returns
    -------
    Named
        Exact after folding case, accents, spaces, hyphens and the plural; else the taxon of the
        one name near to it, "proposed"; else a reason and the candidates.
    """
    key = squeezed(text)
    mine = {squeezed(word): taxon for word, taxon in (own or {}).items()}
    if key in mine:
        return Named(mine[key], (mine[key],))
    for form in _singulars(key):
        if exact := _taxa_by_name().get(form):
            return _only(exact)
    return _near(text, key)


def _only(found: frozenset[str]) -> Named:
    candidates = tuple(sorted(found))
    if len(candidates) == 1:
        return Named(candidates[0], candidates)
    return Named(None, candidates, "ambiguous_pest")


@cache
def _written() -> Mapping[str, tuple[str, ...]]:
    """A squeezed name -> the name in folded words."""
    return {squeezed(n.name): tuple(fold(n.name).split()) for n in taxon_names()}


def _word_by_word(text: str, name: str) -> bool:
    """Whether no short word of a name would be another word: a root aphid is no rose aphid."""
    mine, theirs = fold(text).split(), _written()[name]
    if len(mine) != len(theirs) or len(mine) == 1:
        return True
    return all(
        OSA.distance(a, b) <= (1 if len(b) < LONG else 2) for a, b in zip(mine, theirs, strict=True)
    )


def _near(text: str, key: str) -> Named:
    limit = 1 if len(key) < LONG else 2
    # a lost character is no slip of the pen: what stood there is not known
    if len(key) < SHORTEST or "?" in text or "\ufffd" in text:
        return Named(None, (), "unknown_pest")
    near = [
        taxa_
        for name, taxa_ in _spelt().items()
        if OSA.distance(key, name, score_cutoff=limit) <= limit and _word_by_word(text, name)
    ]
    found = _only(frozenset().union(*near)) if near else Named(None, (), "unknown_pest")
    return Named(found.key, found.candidates, found.reason, proposed=found.key is not None)


@cache
def _stages_by_name() -> Mapping[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    names = [(n.name, n.stage_key) for n in stage_names()]
    names += [(s.stage_key, s.stage_key) for s in stage_words()]
    for name, key in names:
        found[squeezed(name)] = (*found.get(squeezed(name), ()), key)
    return found


@lru_cache(MANY)
def stage_words_for(text: str) -> tuple[str, ...]:
    """Every stage that a word may stand for, whatever the animal."""
    return tuple(dict.fromkeys(_stages_by_name().get(squeezed(text), ())))


@lru_cache(MANY)
def stage_of(text: str, taxon: str) -> str | None:
    """The stage a word means for a taxon; none where it knows no such word or has no such stage."""
    words = stage_words_for(text)
    possible = [s for s in words if stage_possible(taxon, s)]
    if not possible and LARVA in words and stage_possible(taxon, NYMPH):
        return NYMPH  # the young of whitefly and aphids are called larvae in much of Europe
    return possible[0] if possible else None


@cache
def _crops_by_name() -> Mapping[str, frozenset[str]]:
    names = [(n.name, n.crop_key) for n in crop_names()]
    names += [(c.crop_key, c.crop_key) for c in crops()]
    return _index(names)


@lru_cache(MANY)
def crop_of(text: str) -> str | None:
    """The crop a word stands for; none where no crop, or more than one, goes by it."""
    for form in _singulars(squeezed(text)):
        found = _crops_by_name().get(form, frozenset())
        if len(found) == 1:
            return next(iter(found))
    return None
