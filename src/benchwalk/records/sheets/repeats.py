"""Counts that stand twice: the same count is taken once, different ones not at all."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable

from benchwalk.records.sheets.context import place_key
from benchwalk.records.sheets.found import Count, Duplicate, NothingSeen, Reject
from benchwalk.records.sheets.gathering import Gathering
from benchwalk.records.sheets.headings import CARDS


def key_of(count: Count) -> Hashable:
    """What two counts of one thing share; two scouts on one plant are two looks."""
    return (
        count.on,
        place_key(count.unit),
        place_key(count.station or ""),
        place_key(count.plant or ""),
        count.method,
        count.taxon,
        count.stage,
        place_key(count.scout or ""),
        count.hung_on,
    )


def without_repeats(found: Gathering) -> Gathering:
    """Move counts that repeat or contradict another out of the records."""
    groups: dict[Hashable, list[Count]] = defaultdict(list)
    for count in found.records:
        groups[key_of(count)].append(count)
    for same in groups.values():
        if len({(c.how, c.value, c.of) for c in same}) > 1:
            _conflict(found, same)
        else:
            found.duplicates += [Duplicate(c.at, same[0].at) for c in same[1:]]
    gone = {d.at for d in found.duplicates} | {r.at for r in found.rejects}
    found.records = [c for c in found.records if c.at not in gone]
    _looks_once(found)
    return found


def _conflict(found: Gathering, same: list[Count]) -> None:
    for count in same:
        other = next(
            c for c in same if (c.how, c.value, c.of) != (count.how, count.value, count.of)
        )
        found.rejects.append(
            Reject(
                at=count.at,
                reason="conflicting_duplicate",
                raw=count.raw,
                conflicts_with=other.at,
            )
        )


def _looks_once(found: Gathering) -> None:
    first: dict[Hashable, NothingSeen] = {}
    for look in found.nothing_seen:
        # a look at a card names no station: two in one unit may be of two cards
        card = look.at if look.method in CARDS else None
        scout = place_key(look.scout or "")
        key = (look.on, place_key(look.unit), look.plant, look.method, scout, card)
        kept = first.setdefault(key, look)
        if kept is not look:
            found.duplicates.append(Duplicate(look.at, kept.at))
    found.nothing_seen = list(first.values())
