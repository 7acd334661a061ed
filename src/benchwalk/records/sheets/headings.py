"""What a column holds, from the words of its heading: English, Spanish and German."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

from benchwalk.records.sheets.dates import parts
from benchwalk.records.sheets.names import SHORTEST, Named, stage_of, stage_words_for, taxon_of
from benchwalk.records.sheets.per import Per, per_of
from benchwalk.records.sheets.remarks import heading_and_key
from benchwalk.records.sheets.values import said
from benchwalk.records.sheets.words import MANY, fold, means, rows, tidy
from benchwalk.reference import stage_possible

CARDS = ("yellow_card", "blue_card")
HUNG = (*CARDS, "potato_disc", "pheromone_trap")  # what hangs or lies for days at a station
METHODS = (*HUNG, "plant_count", "plant_infested", "tap", "leaf_count", "flower_count")
IGNORED = "ignored"
LISTED = frozenset(row["meaning"] for row in rows("headings")) | {IGNORED}


@dataclass(frozen=True)
class Meant:
    """What a mapping that was given says of a column."""

    meaning: str
    tally: Tally | None


@dataclass(frozen=True)
class Tally:
    """A column of counts: a pest, a stage and a method.

    Parameters
    ----------
    taxon : none where the heading names no pest, or several.
    word : the part of the heading that names the pest.
    colour_said : whether the heading says the colour of a card.
    per : what its numbers are per, where it heads means.
    plants : plants inspected, where the heading says so for all rows ("thrips on 10 plants").
    method_said, stage_said : whether the heading says them; a row may where it does not.
    agreed : whether a person agreed to it, in a mapping.
    """

    word: str
    taxon: str | None
    stage: str
    method: str
    colour_said: bool = True
    per: Per | None = None
    plants: int | None = None
    method_said: bool = True
    stage_said: bool = True
    agreed: bool = False


@lru_cache(MANY)
def heading_key(heading: str) -> str:
    """A heading for comparing: folded, without signs between its words and without a key."""
    words = fold(heading_and_key(heading)[0])
    return " ".join(re.sub(r"[()/\\:,;&'\"\[\]]", " ", words).split())


@cache
def _meanings() -> Mapping[str, str]:
    return {heading_key(row["word"]): row["meaning"] for row in rows("headings")}


@cache
def _methods() -> Mapping[str, str]:
    return {heading_key(row["word"]): row["meaning"] for row in rows("methods")}


@lru_cache(MANY)
def listed(heading: str) -> str | None:
    """The meaning of a heading that is in the table of headings; none for another."""
    return _meanings().get(heading_key(heading))


@lru_cache(MANY)
def method_of(text: str) -> str | None:
    """The method a cell or part of a heading names; "card" where it says no colour."""
    return _methods().get(heading_key(text))


def tally_of(
    heading: str, own: Mapping[str, str], cells: Sequence[str], usual: str | None = None
) -> Tally | None:
    """A column of counts in a wide sheet; none where the heading names no pest.

    Parameters
    ----------
    own : the operation's own words for pests.
    cells : the column's cells: a word that no table knows heads a column of counts only where its
        cells are counts.
    usual : the method where the heading says none, from a title or the page's name.
    """
    if A_DAY.search(heading):
        return None  # the day that stands above several pests, put before each of them
    per = per_of(heading)
    words, method = _apart(heading_key(heading), own)
    if per is not None and (method != "plant_infested" or per.percent):
        words, method = _apart(heading_key(per.rest), own)
    else:
        per = None  # "inf./pl." is plants infested, and no mean per plant
    if not words:
        return None
    plain = _without_noise(words)
    found = _exact(words, own) or _exact(plain, own) or _misspelt(plain, own, cells)
    found = found or _with_more(plain, own, cells)
    if found is None:
        return None
    named, stage_word, word = found
    if word == heading_key(heading):
        word = tidy(heading_and_key(heading)[0])
    how, colour_said = _how(method or usual)
    stage = _stage(named.key, stage_word, how)
    return Tally(
        word=word,
        taxon=named.key,
        stage=stage,
        method=how,
        colour_said=colour_said,
        per=per,
        method_said=method is not None,
        stage_said=bool(stage_word),
        plants=_plants(heading),
    )


def unknown_pest(heading: str, usual: str | None) -> Tally:
    """A column of counts of something that no table names."""
    how, colour_said = _how(usual)
    return Tally(
        heading.strip(), None, "any", how, colour_said, method_said=False, stage_said=False
    )


A_DAY = re.compile(r"(?<![0-9])[0-9]{1,4}[-/.][0-9]{1,2}[-/.][0-9]{1,4}(?![0-9])")
# fmt: off
NOISE = frozenset([
    "no", "nr", "num", "number", "count", "counts", "counted", "found", "seen", "qty", "n",
    "total", "sum", "new", "live", "alive", "#", "?", "numero", "conteo", "nuevos", "nuevas",
    "vivos", "anzahl", "gezahlt", "neu", "neue", "lebend", "on", "in", "at", "sur", "en", "an",
])
# fmt: on
OF_PLANTS = re.compile(r"\b([1-9][0-9]{0,3})\s*(?:plants?|pl|plantas?|pflanzen)\b")


def _apart(heading: str, own: Mapping[str, str]) -> tuple[list[str], str | None]:
    """The words of a heading without those of a method, and the method.

    What is a pest's name as it stands is cut nowhere: a leaf miner is not counted on leaves.
    """
    words = OF_PLANTS.sub(" ", heading).split() or heading.split()
    if _exact(_without_noise(words), own):
        return words, None
    ways = list(_without_method(words))
    known = (way for way in ways if _exact(way[0], own) or _exact(_without_noise(way[0]), own))
    return next(known, ways[0] if ways else (words, None))


def _without_noise(words: list[str]) -> list[str]:
    """Words without those that only say that something is counted, and without figures."""
    kept = [w.strip("?#*=") for w in words]
    kept = [w for w in kept if w and w not in NOISE and not re.fullmatch("n?=?[0-9]+", w)]
    return kept or words


def _plants(heading: str) -> int | None:
    found = OF_PLANTS.search(fold(heading))
    return int(found[1]) if found else None


def _how(method: str | None) -> tuple[str, bool]:
    """The method, and whether the colour of a card is said: yellow is the one most in use."""
    return ("yellow_card", False) if method == "card" else (method or "plant_count", True)


def stage_on(taxon: str | None, method: str) -> str:
    """The stage meant where none is said: what sticks to a card flies; "any" elsewhere."""
    flies = method in CARDS and taxon is not None and stage_possible(taxon, "adult")
    return "adult" if flies else "any"


def _stage(taxon: str | None, word: str, method: str) -> str:
    if not word:
        return stage_on(taxon, method)
    if taxon is None:
        return stage_words_for(word)[0]
    return stage_of(word, taxon) or f"!{word}"


def _without_method(words: list[str]) -> Iterator[tuple[list[str], str]]:
    """The words that are left when those of a method are taken out, and the method: each way."""
    for size in range(min(4, len(words)), 0, -1):
        for start in range(len(words) - size, -1, -1):
            method = method_of(" ".join(words[start : start + size]))
            rest = words[:start] + words[start + size :]
            if method and rest and not _is_stage_letter(words[start : start + size]):
                yield rest, method


def _is_stage_letter(words: list[str]) -> bool:
    # a single letter is a stage before it is the colour of a card
    return len(words) == 1 and len(words[0]) == 1


def _splits(words: list[str]) -> list[tuple[str, str]]:
    """(name, stage) of every way to cut: the longest name first, the stage behind or before it."""
    cuts = [(" ".join(words), "")]
    for n in range(len(words) - 1, 0, -1):
        cuts.append((" ".join(words[:n]), " ".join(words[n:])))
        cuts.append((" ".join(words[-n:]), " ".join(words[:-n])))
    return [(name, stage) for name, stage in cuts if not stage or stage_words_for(stage)]


def _exact(words: list[str], own: Mapping[str, str]) -> tuple[Named, str, str] | None:
    for name, stage in _splits(words):
        named = taxon_of(name, own)
        if named.candidates and not named.proposed:
            return named, stage, name
    return None


def pest_and_stage(text: str, own: Mapping[str, str]) -> tuple[str, str] | None:
    """The pest and the stage that a cell names together: "thrips (larvae)"; none for another."""
    found = _exact(heading_key(text).split(), own)
    return None if found is None or not found[1] else (found[2], found[1])


def _misspelt(
    words: list[str], own: Mapping[str, str], cells: Sequence[str]
) -> tuple[Named, str, str] | None:
    """A column of counts whose pest is misspelt or not known at all, and is not passed over."""
    if not hold_counts(cells):
        return None
    cuts = _splits(words)
    for name, stage in cuts:
        named = taxon_of(name, own)
        if named.candidates:
            return named, stage, name
    staged = [(name, stage) for name, stage in cuts if stage]
    if staged:
        return taxon_of(staged[-1][0], own), staged[-1][1], staged[-1][0]
    return None


def _with_more(
    words: list[str], own: Mapping[str, str], cells: Sequence[str]
) -> tuple[Named, str, str] | None:
    """A column of counts with a pest in its heading, and words that nobody knows.

    What they say of the counts is not known, so the pest is asked and no count is taken for it.
    """
    if not hold_counts(cells):
        return None
    runs = [words[a:b] for a in range(len(words)) for b in range(a + 1, len(words) + 1)]
    if not any(len(" ".join(run)) >= SHORTEST and _exact(run, own) for run in runs):
        return None
    whole = " ".join(words)
    return Named(None, (), "unknown_pest"), "", whole


def hold_counts(cells: Sequence[str]) -> bool:
    """Whether most cells that say anything are counts."""
    filled = [c for c in cells if c.strip()]
    counts = [c for c in filled if said(c).how != "rejected" and means(c) != "not_looked"]
    return len(counts) * 2 > len(filled)


def hold_days(cells: Sequence[str]) -> bool:
    """Whether most cells that say anything are days."""
    filled = [c for c in cells if c.strip()]
    return sum(not isinstance(parts(c), str | None) for c in filled) * 2 > len(filled)
