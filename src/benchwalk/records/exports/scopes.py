"""Efforts and what was looked for in them: the scope that an absence holds for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from benchwalk.records.exports.count import FOUND, Count
from benchwalk.records.vocabulary import Crop, Method, Stage, Taxon

Series = tuple[str, str]  # taxon and stage
ABIOTIC = "abiotic"  # heat, salts ...: seen on plants, and no organism
DAY_S = 86_400


@dataclass(frozen=True)
class Vocabulary:
    """What codes mean to people outside; names in English."""

    scientific: Mapping[str, str]
    vernacular: Mapping[str, str]
    organisms: frozenset[str]
    stages: Mapping[str, str]
    methods: Mapping[str, str]
    items: Mapping[str, str]
    crops: Mapping[str, str]

    def name(self, taxon: str) -> str:
        """The scientific name, of the taxon or the nearest above it; else the code."""
        return self.scientific.get(taxon, taxon)

    def quantity(self, count: Count) -> tuple[float | int | None, str | None]:
        """How many there were, and what that number is: a count, a lower bound, or a mean."""
        if count.how == "counted":
            return count.number, "individuals"
        if count.how == "at_least":
            return count.number, "individuals, at least"
        if count.how == "density":
            return count.mean, "individuals, mean per plant or card"
        return None, None


@dataclass(frozen=True)
class Effort:
    """One part looked at in one way in one look or reading, with what was looked for.

    Attributes
    ----------
    scope : taxa and stages tallied here; of a look that found nothing and so holds no tally, those
        that its visit counted in the same way.
    size, value : items (or plants) examined; plants, or days a card hung. None where not said.
    """

    id: str
    first: Count
    tallies: tuple[Count, ...]
    scope: tuple[Series, ...]
    protocol: str
    habitat: str | None
    scope_stages: tuple[str, ...]
    size: int | None
    size_unit: str | None
    value: float | int | None
    value_unit: str | None

    @property
    def scope_taxa(self) -> tuple[Series, ...]:
        """One pair for each taxon of the scope."""
        return tuple({taxon: (taxon, stage) for taxon, stage in self.scope}.values())

    @property
    def none_of(self) -> tuple[str, ...]:
        """Taxa looked for and not found at any stage."""
        found = {count.taxon for count in self.tallies if count.looked == FOUND}
        return tuple(taxon for taxon, _ in self.scope_taxa if taxon not in found)

    @property
    def words(self) -> str | None:
        """The effort in words, all that was said of it."""
        printed = "" if self.first.of_items is None else f" of {self.first.of_items}"
        size = None if self.size is None else f"{self.size}{printed} {self.size_unit}"
        value = None if self.value is None else f"{self.value} {self.value_unit}"
        return "; ".join(dict.fromkeys(part for part in (value, size) if part)) or None


def vocabulary(session: Session) -> Vocabulary:
    """The operation's own codes and what they mean."""
    taxa = list(session.scalars(select(Taxon)))
    methods = list(session.scalars(select(Method)))
    return Vocabulary(
        _scientific(taxa),
        {t.code: t.names["en"] for t in taxa if "en" in t.names},
        frozenset(t.code for t in taxa if t.kind != ABIOTIC),
        {s.code: s.names.get("en", s.code) for s in session.scalars(select(Stage))},
        {m.code: m.names.get("en", m.code) for m in methods},
        {m.code: m.item for m in methods},
        {c.code: c.names.get("en", c.code) for c in session.scalars(select(Crop))},
    )


def _scientific(taxa: Sequence[Taxon]) -> dict[str, str]:
    """Code -> scientific name of the lowest rank that is known: its own, or the nearest above."""
    held = {t.code: t for t in taxa}
    found = {}
    for taxon in taxa:
        at: Taxon | None = taxon
        while at is not None and at.scientific is None:
            at = None if at.parent is None else held.get(at.parent)
        if at is not None and at.scientific is not None:
            found[taxon.code] = at.scientific
    return found


def scope_of(held: Sequence[Count], known: Vocabulary) -> Mapping[str, tuple[Series, ...]]:
    """What a visit looked for, by the way of looking."""
    found = defaultdict[str, dict[Series, None]](dict)
    for count in held:
        if count.method is not None and count.taxon in known.organisms and count.stage:
            found[count.method][count.taxon, count.stage] = None
    return defaultdict(tuple, {method: tuple(sorted(s)) for method, s in found.items()})


def effort_of(
    named: str, held: Sequence[Count], of_visit: tuple[Series, ...], known: Vocabulary
) -> Effort:
    """One effort from its rows; ``of_visit`` is its scope where it holds no tally."""
    first, tallies = held[0], tuple(c for c in held if c.taxon in known.organisms)
    empty = all(count.taxon is None for count in held)
    own = tuple(sorted((str(c.taxon), str(c.stage)) for c in tallies))
    scope = of_visit if empty else own
    method = str(first.method)
    plants = (first.plants, "plant" if first.plants is not None else None)
    item = known.items.get(method, "item")
    return Effort(
        named,
        first,
        tallies,
        scope,
        known.methods.get(method, method),
        None if first.crop is None else f"greenhouse: {known.crops.get(first.crop, first.crop)}",
        tuple(dict.fromkeys(known.stages.get(stage, stage) for _, stage in scope)),
        *(plants if first.items is None else (first.items, item)),
        *(_hung(first) if first.kind == "reading" else plants),
    )


def _hung(count: Count) -> tuple[float | None, str | None]:
    """Days that a card had hung, where a reading counts since then and its day out was said."""
    if count.since != "hung" or count.hung_at is None or count.seen_at is None:
        return None, None
    return round((count.seen_at - count.hung_at).total_seconds() / DAY_S, 2), "card-day"
