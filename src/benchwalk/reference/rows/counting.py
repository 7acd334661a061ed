"""How is counted: methods, sampling units, units of measure, and what a count is per."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from benchwalk.reference.reading import Cited, To
from benchwalk.reference.rows.animals import MethodKey, PartKey, StageKey, TaxonKey

SamplingUnitKey = Annotated[str, To("sampling_units")]
UnitKey = Annotated[str, To("units")]
QuantityKindKey = Annotated[str, To("quantity_kinds")]


@dataclass(frozen=True, kw_only=True)
class PlantPart(Cited):
    """A part of a plant, or another place where animals sit."""

    table = "plant_parts"
    key = ("part_key",)
    part_key: str
    kind: Literal["plant", "medium", "place", "air"]
    parent_key: PartKey | None
    name: str
    name_es: str


@dataclass(frozen=True, kw_only=True)
class Method(Cited):
    """A way of counting, with the thing it counts on and the device it needs."""

    table = "methods"
    key = ("method_key",)
    method_key: str
    name: str
    name_es: str
    sampling_unit_key: SamplingUnitKey
    device: str
    destructive: bool
    note: str | None


@dataclass(frozen=True, kw_only=True)
class ReferenceMethod(Cited):
    """The method by which scouts generally count a stage, and other ways in use."""

    table = "reference_methods"
    key = ("taxon_key", "stage_key", "method_key")
    taxon_key: TaxonKey
    stage_key: StageKey
    method_key: MethodKey
    use: Literal["reference", "alternative"]


@dataclass(frozen=True, kw_only=True)
class SamplingUnit(Cited):
    """The thing a count is made on: plant, leaf, card, disc."""

    table = "sampling_units"
    key = ("sampling_unit_key",)
    sampling_unit_key: str
    name: str
    name_es: str


@dataclass(frozen=True, kw_only=True)
class Unit(Cited):
    """A unit of measure: in its base unit a value is ``value * factor + offset``.

    ``factor`` is None where no fixed factor exists: a calendar month has no number of days.
    Readings (``deg_f``) and differences (``delta_f``) are different units.
    """

    table = "units"
    key = ("unit_key",)
    unit_key: str
    dimension: str
    base_unit: UnitKey | None
    factor: float | None
    offset: float
    name: str


@dataclass(frozen=True, kw_only=True)
class QuantityKind(Cited):
    """What a count is per. Unlike kinds are never compared."""

    table = "quantity_kinds"
    key = ("quantity_kind",)
    quantity_kind: str
    counted: str
    per: str
    period_days: float | None
    description: str
    description_es: str
    comparable_after: str | None


@dataclass(frozen=True, kw_only=True)
class Practice(Cited):
    """A fact of scouting practice: a range in its unit, or a word where the unit is a pattern."""

    table = "practice"
    key = ("practice_key",)
    practice_key: str
    topic: str
    low: float | None
    high: float | None
    unit_key: UnitKey
    value_word: str | None
    note: str | None
