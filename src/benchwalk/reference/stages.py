"""Which stages a taxon goes through, and which of them a count covers.

A species without stages of its own goes by its nearest level above that has some, the root left
out: nothing is known of "a pest" that would tell its stages. A group whose own list is coarse
("whitefly": egg, nymph, pupa, adult) may also be counted at the finer stages of its species, and
a group without a list (plant-feeding mites) at the stages of any of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache
from types import MappingProxyType

from benchwalk.reference.rows.animals import Stage, StageSet, StageWord, Taxon
from benchwalk.reference.rows.counting import ReferenceMethod
from benchwalk.reference.shelf import one, rows
from benchwalk.reference.taxonomy import ancestors, descendants


class NoSuchStage(LookupError):  # noqa: N818 - reads as what it says
    """The taxon has no such stage: an aphid has no pupa."""


def stages(taxon_key: str) -> tuple[Stage, ...]:
    """The stages of a taxon in their order, its own or those of the nearest level that has some.

    Empty for disease agents.
    """
    level = _level_with_stages(taxon_key)
    if level is None:
        return ()
    return _own(level) or _in_order(s for t in descendants(level) for s in _own(t))


def development_stages(taxon_key: str, stage_key: str) -> tuple[str, ...]:
    """The stages of development that a counted stage covers: a whitefly's "nymph" is four.

    Raises
    ------
    NoSuchStage
        if the taxon has no such stage; the message names those it has.
    NoSuchKey
        if the taxon or the stage is not in the tables.
    """
    one(StageWord, stage_key)
    covered = _covered(taxon_key, stage_key)
    if not covered:
        raise NoSuchStage(f"{taxon_key} has no stage {stage_key!r}; it has {_has(taxon_key)}")
    return covered


def stage_possible(taxon_key: str, stage_key: str) -> bool:
    """Whether a taxon can be counted at a stage or set of stages; "any" always.

    Raises
    ------
    NoSuchKey
        if the taxon or the stage is not in the tables.
    """
    one(StageWord, stage_key)
    return bool(_covered(taxon_key, stage_key)) or stage_key == "any"


@cache
def stage_bits() -> Mapping[str, int]:
    """Stage or set -> its bits in the records: masks that overlap are never added.

    Each basic stage has one bit, in the order of ``stage_vocabulary.csv``. A set is the union of
    its members' bits over all taxa. A word that is a stage of one taxon and a set of another
    ("larva") is its own bit and its members'.
    """
    basic = {stage.stage_key for stage in rows(Stage)}
    own = [word.stage_key for word in rows(StageWord) if word.stage_key in basic]
    members: dict[str, set[str]] = {}
    for row in rows(StageSet):
        members.setdefault(row.set_key, set()).add(row.stage_key)

    def mask(key: str) -> int:
        bits = 1 << own.index(key) if key in basic else 0
        for member in members.get(key, ()):
            bits |= mask(member)
        return bits

    return MappingProxyType({word.stage_key: mask(word.stage_key) for word in rows(StageWord)})


def reference_methods(taxon_key: str, stage_key: str) -> tuple[ReferenceMethod, ...]:
    """How scouts generally count a stage of a taxon: the reference first, then other ways.

    The rows are those of the nearest level, from the taxon upwards, that has any for this stage or
    for a set that holds it. Empty where the tables know none.
    """
    asked = stage_bits()[one(StageWord, stage_key).stage_key]
    for level in (taxon_key, *ancestors(taxon_key)):
        fitting = [
            row
            for row in rows(ReferenceMethod)
            if row.taxon_key == level and asked & ~stage_bits()[row.stage_key] == 0
        ]
        if fitting:
            return tuple(sorted(fitting, key=lambda row: row.use != "reference"))
    return ()


@cache
def _own(taxon_key: str) -> tuple[Stage, ...]:
    mine = (stage for stage in rows(Stage) if stage.taxon_key == taxon_key)
    return tuple(sorted(mine, key=lambda stage: stage.sort_order))


@cache
def _sets(taxon_key: str) -> Mapping[str, frozenset[str]]:
    found: dict[str, frozenset[str]] = {}
    for row in rows(StageSet):
        if row.taxon_key == taxon_key:
            found[row.set_key] = found.get(row.set_key, frozenset()) | {row.stage_key}
    return found


@cache
def _level_with_stages(taxon_key: str) -> str | None:
    above = (key for key in ancestors(taxon_key) if one(Taxon, key).rank != "root")
    for level in (taxon_key, *above):
        if _own(level) or any(_own(below) for below in descendants(level)):
            return level
    return None


@cache
def _covered(taxon_key: str, stage_key: str) -> tuple[str, ...]:
    level = _level_with_stages(taxon_key)
    if level is None:
        return ()
    mine = _covered_by(level, stage_key)
    if mine:
        return mine
    below = {key for t in descendants(level) for key in _covered_by(t, stage_key)}
    return tuple(word.stage_key for word in rows(StageWord) if word.stage_key in below)


def _covered_by(taxon_key: str, stage_key: str) -> tuple[str, ...]:
    wanted = _sets(taxon_key).get(stage_key, frozenset({stage_key}))
    return tuple(stage.stage_key for stage in _own(taxon_key) if stage.stage_key in wanted)


def _in_order(found: Iterable[Stage]) -> tuple[Stage, ...]:
    first = {stage.stage_key: stage for stage in reversed(list(found))}
    return tuple(first[w.stage_key] for w in rows(StageWord) if w.stage_key in first)


def _has(taxon_key: str) -> str:
    words = (word.stage_key for word in rows(StageWord))
    return ", ".join(key for key in words if stage_possible(taxon_key, key))
