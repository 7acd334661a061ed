"""Series: the counts of one unit, pest, stage and method on one day, added up and ready to compare.

A density is never a mean of ratios: individuals and effort are each summed first.
"""

from __future__ import annotations

import datetime as dt
import uuid
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import chain
from typing import NamedTuple

import numpy as np

from benchwalk.records import Method, queries
from benchwalk.science.arguments import FloatArray
from benchwalk.summarise.gathered import Gathered

SAMPLE = "sample"
WEEK = 7.0


@dataclass(frozen=True, slots=True)
class Key:
    """What may be compared with itself over time, and with nothing else.

    Its hash is made once: a season of 400 units looks keys up a million times.
    """

    unit_id: uuid.UUID
    taxon: str
    stage: str
    method: str
    _hash: int = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        said = hash((self.unit_id, self.taxon, self.stage, self.method))
        object.__setattr__(self, "_hash", said)

    def __hash__(self) -> int:
        return self._hash


class Series(NamedTuple):
    """One day's counts of one key.

    Attributes
    ----------
    units_sampled : how many plants, cards or discs; None when the records do not say.
    effort : what the total is divided by: plants, leaves, card-weeks of a full card, discs.
    total : individuals; None when nothing was counted.
    at_least : some counts were capped or only said "present": the total is a lower bound.
    found : anything of it was seen, counted or not.
    singles, singles_total, singles_squares : looks at one plant, counted exactly: what k is
        learned from.
    none_at_all : looks that found no pest whatever; they count as zeros of this one too.
    lacks : why there is no density, when there is none ("" otherwise).
    """

    key: Key
    on: dt.date
    why: str
    looks: int
    units_sampled: int | None
    effort: float | None
    per: str
    total: int | None
    mean_only: float | None
    infested: int | None
    at_least: bool
    found: bool
    singles: int
    singles_total: int
    singles_squares: int
    why_assumed: bool
    none_at_all: int
    lacks: str

    @property
    def counts(self) -> tuple[int, int, float] | None:
        """(total, units sampled, effort) when all three are known and there was effort."""
        if self.total is None or not self.units_sampled or not self.effort or self.lacks:
            return None
        return self.total, self.units_sampled, self.effort


class History:
    """Every series at hand, by what may be compared with itself: no page goes through them all.

    Attributes
    ----------
    samples : counts by the plan, of each key the oldest first; other looks make no density.
    apart : what was counted on flagged and edge plants.
    """

    def __init__(self, series: Iterable[Series]) -> None:
        samples: dict[Key, list[Series]] = defaultdict(list)
        self.apart: list[Series] = []
        for s in series:
            (samples[s.key] if s.why == SAMPLE else self.apart).append(s)
        for held in samples.values():
            held.sort(key=_day)
        self.samples: Mapping[Key, Sequence[Series]] = dict(samples)
        self._singles: dict[Key, tuple[list[dt.date], FloatArray]] = {}

    def __iter__(self) -> Iterator[Series]:
        return chain(*self.samples.values(), self.apart)

    def of(self, key: Key) -> Sequence[Series]:
        """Samples of a key, the oldest first; none where it was never counted."""
        return self.samples.get(key, ())

    def of_units(self, units: Collection[uuid.UUID]) -> Iterator[Series]:
        """Samples of some units, key by key."""
        return chain.from_iterable(self.samples[k] for u in units for k in self.keys.get(u, ()))

    @cached_property
    def keys(self) -> Mapping[uuid.UUID, Sequence[Key]]:
        """What was ever sampled in each unit."""
        held: dict[uuid.UUID, list[Key]] = defaultdict(list)
        for key in self.samples:
            held[key.unit_id].append(key)
        return held

    @cached_property
    def days(self) -> Mapping[uuid.UUID, tuple[dt.date, dt.date]]:
        """The first and the last day of each unit that any series is of."""
        held: dict[uuid.UUID, tuple[dt.date, dt.date]] = {}
        ends = ((s[0].key.unit_id, s[0].on, s[-1].on) for s in self.samples.values())
        for unit, begin, end in chain(ends, ((s.key.unit_id, s.on, s.on) for s in self.apart)):
            first, last = held.get(unit, (begin, end))
            held[unit] = min(first, begin), max(last, end)
        return held

    def newest(self, since: dt.date, until: dt.date) -> dict[Key, Series]:
        """The latest day's sample of each key within a span of days."""
        return {key: s for key in self.samples if (s := self.last(key, since, until)) is not None}

    def last(self, key: Key, since: dt.date, until: dt.date) -> Series | None:
        """The latest day's sample of a key within a span of days; None where there is none."""
        held = self.of(key)
        end = bisect_right(held, until, key=_day)
        return held[end - 1] if end > 0 and held[end - 1].on >= since else None

    def singles(self, key: Key, before: dt.date) -> FloatArray:
        """What rounds before a day teach a dispersion: a column each of n, total and squares.

        Only rounds of plants counted one by one teach anything: a pooled total has no spread.
        """
        if key not in self._singles:
            said = [s for s in self.of(key) if s.singles >= 2]
            numbers = [(s.singles, s.singles_total, s.singles_squares) for s in said]
            self._singles[key] = [s.on for s in said], np.array(numbers, float).reshape(-1, 3).T
        days, held = self._singles[key]
        return held[:, : bisect_left(days, before)]


def _day(s: Series) -> dt.date:
    return s.on


def all_series(known: Gathered) -> History:
    """Every series of the records at hand, looks and cards, by day."""
    plants = plants_of(known.methods, known.rounds, known.efforts)
    return History(chain(plants, cards_of(known.methods, known.catches)))


Methods = Mapping[str, Method]
Day = tuple[Key, dt.date, str]


Keys = dict[tuple[uuid.UUID, str, str, str], Key]


def plants_of(
    methods: Methods,
    rounds: Iterable[queries.Round],
    efforts: Iterable[queries.Effort],
    keys: Keys | None = None,
) -> Iterator[Series]:
    """Series of looks at plants, out of all rounds and efforts of their days.

    ``keys`` are used again, those that it lacks are added.
    """
    keys = {} if keys is None else keys
    empty: dict[tuple[object, ...], list[queries.Effort]] = defaultdict(list)
    for e in efforts:
        if e.empty_looks:
            empty[e.unit_id, e.walk_on, e.method].append(e)
    days: dict[Day, list[queries.Round]] = defaultdict(list)
    for r in rounds:
        said = (r.unit_id, r.taxon, r.stage, r.method)
        key = keys.get(said)
        if key is None:
            key = keys[said] = Key(*said)
        days[key, r.walk_on, r.why].append(r)
    for (key, on, why), of in days.items():
        sampled = bool(empty) and why == SAMPLE
        nothing = empty.get((key.unit_id, on, key.method), []) if sampled else []
        yield _plants_of_a_day(methods[key.method].item, (key, on, why), of, nothing)


def _sum(values: Iterable[int | None]) -> int | None:
    """A sum, or None as soon as one part is not known; None of no parts too."""
    held = list(values)
    return sum(v for v in held if v is not None) if held and None not in held else None


def _plants_of_a_day(
    item: str | None, day: Day, rounds: list[queries.Round], nothing: list[queries.Effort]
) -> Series:
    """Rounds of a day, and looks that said "none at all": zeros of every pest counted that way."""
    if len(rounds) == 1 and not nothing:
        return _plants_of_a_round(item, day, rounds[0])
    key, on, why = day
    plants = _sum([*(r.plants for r in rounds), *(e.empty_plants for e in nothing)])
    items = _sum([*(r.items for r in rounds), *(e.empty_items for e in nothing)])
    effort = plants if item == "plant" else items
    empty_plants = sum(e.empty_looks for e in nothing)
    counted = [r.total for r in rounds if r.total is not None]
    present = sum(r.present for r in rounds)
    means = sum(r.means for r in rounds)
    total = sum(counted) + present if counted or present else None
    return Series(
        key=key,
        on=on,
        why=why,
        looks=sum(r.looks for r in rounds) + empty_plants,
        units_sampled=plants,
        effort=effort,
        per=f"per_{item}",
        total=None if means else total,
        mean_only=_mean_only(rounds, plants, total) if means else None,
        infested=_sum(r.infested for r in rounds),
        at_least=present + sum(r.capped for r in rounds) > 0,
        found=any(r.present or r.total or r.infested or r.weighted_mean for r in rounds),
        singles=sum(r.singles for r in rounds) + empty_plants,
        singles_total=sum(r.singles_total for r in rounds),
        singles_squares=sum(r.singles_squares for r in rounds),
        why_assumed=any(r.assumed for r in rounds),
        none_at_all=empty_plants,
        lacks="" if effort is not None else "effort_not_said",
    )


def _plants_of_a_round(item: str | None, day: Day, r: queries.Round) -> Series:
    """The same of one round and no look that said "none at all", as nearly all days are."""
    key, on, why = day
    effort = r.plants if item == "plant" else r.items
    counted = r.total is not None or r.present > 0
    total = (r.total if r.total is not None else 0) + r.present if counted else None
    return Series(
        key=key,
        on=on,
        why=why,
        looks=r.looks,
        units_sampled=r.plants,
        effort=effort,
        per=f"per_{item}",
        total=None if r.means else total,
        mean_only=_mean_only([r], r.plants, total) if r.means else None,
        infested=r.infested,
        at_least=r.present + r.capped > 0,
        found=bool(r.present or r.total or r.infested or r.weighted_mean),
        singles=r.singles,
        singles_total=r.singles_total,
        singles_squares=r.singles_squares,
        why_assumed=bool(r.assumed),
        none_at_all=0,
        lacks="" if effort is not None else "effort_not_said",
    )


def _mean_only(
    rounds: list[queries.Round], plants: int | None, counted: int | None
) -> float | None:
    """Mean per plant where some looks give only means: each weighted by the plants behind it.

    Individuals that other looks of the day counted are added to those the means stand for.
    """
    weighted = [r.weighted_mean for r in rounds if r.means]
    if plants is None or None in weighted:
        return None
    individuals = sum(w for w in weighted if w is not None)
    return (individuals if counted is None else individuals + counted) / plants


def cards_of(methods: Methods, catches: Iterable[queries.Caught]) -> Iterator[Series]:
    """Series of cards, out of all catches of their days."""
    days: dict[tuple[Key, dt.date], list[queries.Caught]] = defaultdict(list)
    for c in catches:
        if c.role == "interior":  # door and vent cards have their own uses
            days[Key(c.unit_id, c.taxon, c.stage, c.method), c.walk_on].append(c)
    for (key, on), cards in days.items():
        yield _cards_of_a_day(methods[key.method], key, on, cards)


def _cards_of_a_day(method: Method, key: Key, on: dt.date, cards: list[queries.Caught]) -> Series:
    weeks = [card_weeks(c) for c in cards]
    known_weeks = [w for w in weeks if w is not None]
    whole = len(known_weeks) == len(cards)
    is_card = method.kind == "card"
    fresh = [c.fresh for c in cards if c.fresh is not None]
    lacks = "" if whole or not is_card else "exposure_not_said"
    if any(c.fresh is None and c.how in ("counted", "at_least") for c in cards):
        lacks = "card_fell_below"
    timed = is_card and whole
    return Series(
        key=key,
        on=on,
        why=SAMPLE,
        looks=len(cards),
        units_sampled=len(cards),
        effort=sum(known_weeks) if timed else float(len(cards)),
        per="per_card_per_week" if timed else f"per_{method.item}",
        total=sum(fresh) if fresh else None,
        mean_only=None,
        infested=None,
        at_least=any(c.how in ("at_least", "present") for c in cards),
        found=any(c.how == "present" or c.fresh for c in cards),
        singles=0,
        singles_total=0,
        singles_squares=0,
        why_assumed=any(c.assumed_why for c in cards),
        none_at_all=0,
        lacks=lacks,
    )


def card_weeks(card: queries.Caught) -> float | None:
    """Weeks a full card was exposed [card-weeks]: days / 7 times the share of squares counted.

    18 caught in 5 days on a full card are 18 / (5 / 7) = 25.2 per card and week. None when the
    day out is not said or the card hung for no time at all.
    """
    if card.days is None or card.days <= 0:
        return None
    share = 1.0 if card.squares is None or not card.of_squares else card.squares / card.of_squares
    return card.days / WEEK * share
