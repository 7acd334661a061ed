"""Series: the counts of one unit, pest, stage and method on one day, added up and ready to compare.

A density is never a mean of ratios: individuals and effort are each summed first.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from benchwalk.records import queries
from benchwalk.summarise.gathered import Gathered

SAMPLE = "sample"
WEEK = 7.0


@dataclass(frozen=True, slots=True)
class Key:
    """What may be compared with itself over time, and with nothing else."""

    unit_id: uuid.UUID
    taxon: str
    stage: str
    method: str


@dataclass(frozen=True, slots=True)
class Series:
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


def all_series(known: Gathered) -> list[Series]:
    """Every series of the records at hand, looks and cards, by day."""
    return [*_of_plants(known), *_of_cards(known)]


def _of_plants(known: Gathered) -> Iterable[Series]:
    empty: dict[tuple[object, ...], list[queries.Effort]] = defaultdict(list)
    for e in known.efforts:
        if e.empty_looks:
            empty[e.unit_id, e.walk_on, e.method].append(e)
    days: dict[tuple[Key, dt.date, str], list[queries.Round]] = defaultdict(list)
    for r in known.rounds:
        days[Key(r.unit_id, r.taxon, r.stage, r.method), r.walk_on, r.why].append(r)
    for (key, on, why), rounds in days.items():
        nothing = empty[key.unit_id, on, key.method] if why == SAMPLE else []
        yield _plants_of_a_day(known, key, on, why, rounds, nothing)


def _sum(values: Iterable[int | None]) -> int | None:
    """A sum, or None as soon as one part is not known; None of no parts too."""
    held = list(values)
    return sum(v for v in held if v is not None) if held and None not in held else None


def _plants_of_a_day(
    known: Gathered,
    key: Key,
    on: dt.date,
    why: str,
    rounds: list[queries.Round],
    nothing: list[queries.Effort],
) -> Series:
    """Rounds of a day, and looks that said "none at all": zeros of every pest counted that way."""
    if len(rounds) == 1 and not nothing:
        return _plants_of_a_round(known, key, on, why, rounds[0])
    plants = _sum([*(r.plants for r in rounds), *(e.empty_plants for e in nothing)])
    item = known.methods[key.method].item
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


def _plants_of_a_round(
    known: Gathered, key: Key, on: dt.date, why: str, r: queries.Round
) -> Series:
    """The same of one round and no look that said "none at all", as nearly all days are."""
    item = known.methods[key.method].item
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


def _of_cards(known: Gathered) -> Iterable[Series]:
    days: dict[tuple[Key, dt.date], list[queries.Caught]] = defaultdict(list)
    for c in known.catches:
        if c.role == "interior":  # door and vent cards have their own uses
            days[Key(c.unit_id, c.taxon, c.stage, c.method), c.walk_on].append(c)
    for (key, on), cards in days.items():
        yield _cards_of_a_day(known, key, on, cards)


def _cards_of_a_day(known: Gathered, key: Key, on: dt.date, cards: list[queries.Caught]) -> Series:
    weeks = [card_weeks(c) for c in cards]
    known_weeks = [w for w in weeks if w is not None]
    whole = len(known_weeks) == len(cards)
    is_card = known.methods[key.method].kind == "card"
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
        per="per_card_per_week" if timed else f"per_{known.methods[key.method].item}",
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


def newest(series: Iterable[Series], since: dt.date, until: dt.date) -> dict[Key, Series]:
    """The latest day's series of each key within a span of days."""
    held: dict[Key, Series] = {}
    for s in series:
        if since <= s.on <= until and (s.key not in held or held[s.key].on < s.on):
            held[s.key] = s
    return held
