"""Rows that say the same of one thing, and rows that contradict each other."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass, replace
from typing import Any

from benchwalk.records.sheets.found import At, Duplicate, Reject
from benchwalk.records.sheets.lists.found import Thing


@dataclass(frozen=True)
class Sorted:
    """Rows after their repeats are told apart: each said once, said again, or contradicted."""

    things: tuple[Thing, ...]
    duplicates: tuple[Duplicate, ...]
    rejects: tuple[Reject, ...]


def said_by(thing: Thing) -> Thing:
    """What a row says, wherever it stands."""
    return replace(thing, at=At(0))


def without_repeats(
    things: Iterable[Thing],
    key: Callable[[Any], Hashable],
    name: Callable[[Any], str],
    reason: str = "list_said_twice",
) -> Sorted:
    """Take what is said twice once; refuse both of two rows that differ about one thing.

    Parameters
    ----------
    key : what two rows share that are about one thing.
    name : the words for that thing, shown with the refusal.
    """
    groups: dict[Hashable, list[Thing]] = {}
    for thing in things:
        groups.setdefault(key(thing), []).append(thing)
    kept: list[Thing] = []
    duplicates: list[Duplicate] = []
    rejects: list[Reject] = []
    for group in groups.values():
        first = group[0]
        if len(group) == 1:
            kept.append(first)
            continue
        other = next((t for t in group if said_by(t) != said_by(first)), None)
        if other is None:
            kept.append(first)
            duplicates += [Duplicate(t.at, first.at) for t in group[1:]]
        else:
            rejects += [
                Reject(t.at, reason, name(t), conflicts_with=(other if t is first else first).at)
                for t in group
            ]
    return Sorted(tuple(kept), tuple(duplicates), tuple(rejects))
