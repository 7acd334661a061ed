"""Rule packs on records, entry and display: starting points, to be checked against the rule."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated, Literal

from benchwalk.reference.reading import Cited, To
from benchwalk.reference.rows.counting import UnitKey

PackKey = Annotated[str, To("rule_packs")]


@dataclass(frozen=True, kw_only=True)
class RulePack(Cited):
    """A pack of rules of one jurisdiction; it adds to its parent's."""

    table = "rule_packs"
    key = ("pack_key",)
    pack_key: str
    jurisdiction: str
    parent_key: PackKey | None
    effective_from: date | None
    name: str
    note: str | None


@dataclass(frozen=True, kw_only=True)
class RecordedField(Cited):
    """A thing that a record or a display must say."""

    table = "fields"
    key = ("field_key",)
    field_key: str
    name: str


@dataclass(frozen=True, kw_only=True)
class RecordField(Cited):
    """A field that a kind of record needs under a pack."""

    table = "record_fields"
    key = ("pack_key", "record_kind", "field_key")
    pack_key: PackKey
    record_kind: str
    field_key: Annotated[str, To("fields")]
    required: Literal["yes", "if_applicable"]
    note: str | None


@dataclass(frozen=True, kw_only=True)
class RetentionRule(Cited):
    """How long or how soon a record is kept, written or shown."""

    table = "retention_rules"
    key = ("pack_key", "record_kind", "quantity")
    pack_key: PackKey
    record_kind: str
    quantity: Literal[
        "keep",
        "record_within",
        "display_within",
        "display_for",
        "copy_to_customer_within",
        "valid_for",
        "covers_treatments_within",
    ]
    low: float | None
    high: float | None
    unit_key: UnitKey
    counted_from: str
    note: str | None


@dataclass(frozen=True, kw_only=True)
class VentilationRule(Cited):
    """One way of ending the ventilation of an enclosed space; all hours of an option are needed."""

    table = "ventilation_rules"
    key = ("pack_key", "option_key")
    pack_key: PackKey
    option_key: str
    sort_order: int
    label_level: bool
    air_exchanges: float | None
    closed_h: float | None
    mechanical_h: float | None
    passive_h: float | None
    combinable: bool
    note: str | None


@dataclass(frozen=True, kw_only=True)
class EnclosedSpaceRule(Cited):
    """Who is kept out of an enclosed space; ``reading``: two readings of one row."""

    table = "enclosed_space_rules"
    key = ("pack_key", "row_no", "reading")
    pack_key: PackKey
    row_no: int
    reading: Literal["and", "or"] | None
    application: str
    excluded_area: str
    extra_distance_ft: float | None
    until: str
    then_restricted: str
    note: str | None


@dataclass(frozen=True, kw_only=True)
class WorkerRule(Cited):
    """A rule for people near a treated area."""

    table = "worker_rules"
    key = ("pack_key", "topic", "item")
    pack_key: PackKey
    topic: str
    item: str
    low: float | None
    high: float | None
    unit_key: UnitKey | None
    value_word: str | None
    note: str | None
