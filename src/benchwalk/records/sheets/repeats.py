"""Counts that stand twice: the same count is taken once, different ones not at all."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable
from dataclasses import replace

from benchwalk.records.sheets.context import place_key
from benchwalk.records.sheets.found import Count, Duplicate, NothingSeen, Reject
from benchwalk.records.sheets.gathering import Gathering
from benchwalk.records.sheets.headings import HUNG


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
        count.time,
    )


def without_repeats(found: Gathering) -> Gathering:
    """Move counts that repeat or contradict another out of the records."""
    found.records = _in_rounds(found.records)
    groups: dict[Hashable, list[Count]] = defaultdict(list)
    for count in found.records:
        groups[key_of(count)].append(count)
    for same in groups.values():
        if len({_said(c) for c in same}) > 1:
            _conflict(found, same)
        else:
            found.duplicates += [Duplicate(c.at, same[0].at) for c in same[1:]]
    gone = {d.at for d in found.duplicates} | {r.at for r in found.rejects}
    found.records = [c for c in found.records if c.at not in gone]
    _looks_once(found)
    _none_against_some(found)
    return found


def _in_rounds(counts: list[Count]) -> list[Count]:
    """Counts with their time where it tells two rounds of one day apart, and without elsewhere.

    The time of a count alone makes no look of its own: pests of one plant are noted one by one.
    """
    if not any(c.time for c in counts):
        return counts
    times: dict[Hashable, set[str | None]] = defaultdict(set)
    for c in counts:
        times[key_of(replace(c, time=None))].add(c.time)
    twice = {_place(c) for c in counts if len(times[key_of(replace(c, time=None))]) > 1}
    return [c if c.time is None or _place(c) in twice else replace(c, time=None) for c in counts]


def _place(c: Count) -> Hashable:
    names = (c.unit, c.station or "", c.plant or "", c.scout or "")
    return c.on, c.method, *map(place_key, names)


def _said(c: Count) -> Hashable:
    """The number and what it was found on: 3 on 10 plants and 3 on 20 are not the same."""
    return c.how, c.value, c.of, c.plants, c.items, c.squares_counted, c.squares_printed


def _conflict(found: Gathering, same: list[Count]) -> None:
    for count in same:
        other = next(c for c in same if _said(c) != _said(count))
        found.rejects.append(
            Reject(
                at=count.at,
                reason="conflicting_duplicate",
                raw=count.raw,
                conflicts_with=other.at,
            )
        )


def _none_against_some(found: Gathering) -> None:
    """A plant that has "none" in one row and animals in another: neither is taken."""
    some: dict[Hashable, list[Count]] = defaultdict(list)
    for c in found.records:
        if c.plant and (c.value is None or c.value > 0):
            some[_plant(c)].append(c)
    against = [(n, some[_plant(n)]) for n in found.nothing_seen if n.plant and some[_plant(n)]]
    for none, counts in against:
        pairs = [(none.at, "none", counts[0].at), *((c.at, c.raw, none.at) for c in counts)]
        found.rejects += [
            Reject(at=at, reason="conflicting_duplicate", raw=raw, conflicts_with=other)
            for at, raw, other in pairs
        ]
    gone = {none.at for none, _ in against} | {c.at for _, counts in against for c in counts}
    found.records = [c for c in found.records if c.at not in gone]
    found.nothing_seen = [n for n in found.nothing_seen if n.at not in gone]


def _plant(s: Count | NothingSeen) -> Hashable:
    return s.on, place_key(s.unit), place_key(s.plant or ""), s.method, place_key(s.scout or "")


def _looks_once(found: Gathering) -> None:
    first: dict[Hashable, NothingSeen] = {}
    for look in found.nothing_seen:
        # a look at a card names no station: two in one unit may be of two cards
        card = look.at if look.method in HUNG else None
        scout = place_key(look.scout or "")
        key = (look.on, place_key(look.unit), look.plant, look.method, scout, card)
        kept = first.setdefault(key, look)
        if kept is not look:
            found.duplicates.append(Duplicate(look.at, kept.at))
    found.nothing_seen = list(first.values())
