"""What works against pests and diseases: actives, natural enemies, and what harms the latter."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from benchwalk.reference.reading import Cited
from benchwalk.reference.rows.animals import (
    MethodKey,
    PartKey,
    StageClassKey,
    StageKey,
    TaxonKey,
)
from benchwalk.reference.rows.counting import SamplingUnitKey, UnitKey


@dataclass(frozen=True, kw_only=True)
class Active(Cited):
    """An active ingredient in one scheme of modes of action, with the scheme's edition.

    Compare ``main_group``. ``rotation_group`` "unknown" is never "exempt". ``status`` is about the
    code alone; ``detail_status`` about targets, stages and uptake.
    """

    table = "actives"
    key = ("active_key", "scheme")
    active_key: str
    name: str
    kind: Literal[
        "insecticide",
        "acaricide",
        "acaricide_insecticide",
        "fungicide",
        "microbial",
        "botanical",
        "physical",
        "class",
    ]
    scheme: Literal["IRAC", "FRAC", "none"]
    code: str | None
    code_printed: str | None
    main_group: str | None
    rotation_group: Literal["yes", "no", "unknown"]
    moa: str | None
    igr: Literal["no", "insect", "mite", "insect_in_practice"]
    target_keys: tuple[TaxonKey, ...]
    stage_classes: tuple[StageClassKey, ...]
    stages_sterilised: tuple[StageClassKey, ...]
    stages_weak: tuple[StageClassKey, ...]
    uptake: str | None
    resistance_risk: Literal["low", "low_medium", "medium", "medium_high", "high"] | None
    risk_status: Literal["seen", "memory"] | None
    edition: str | None
    code_match: Literal[
        "exact",
        "secondary",
        "strain",
        "older_name",
        "genus",
        "class",
        "unlisted",
        "not_found",
        "not_checked",
    ]
    detail_status: Literal["memory"] | None
    note: str | None


@dataclass(frozen=True, kw_only=True)
class CodeAlias(Cited):
    """An old code or spelling of a mode of action; ``scope`` ``active:x`` is for that active."""

    table = "code_aliases"
    key = ("scheme", "old_code", "new_code")
    scheme: Literal["IRAC", "FRAC"]
    old_code: str
    new_code: str
    scope: str
    year_changed: int | None
    note: str | None


@dataclass(frozen=True, kw_only=True)
class RotationExempt(Cited):
    """Codes that never count in a rotation: digits match exactly, letters as a prefix."""

    table = "rotation_exempt"
    key = ("scheme", "code_prefix")
    scheme: Literal["IRAC", "FRAC"]
    code_prefix: str
    rotation_group: Literal["no"]
    note: str | None


@dataclass(frozen=True, kw_only=True)
class NaturalEnemy(Cited):
    """A release rate against a target, in ``rate_unit``; intervals [d]."""

    table = "natural_enemies"
    key = ("enemy_key", "target_key", "use", "rate_unit", "interval_low_days")
    enemy_key: TaxonKey
    target_key: TaxonKey
    target_stage_key: StageKey | None
    use: Literal["preventive", "curative", "hot_spot", "sachet", "dip"]
    rate_low: float | None
    rate_high: float | None
    rate_unit: UnitKey
    interval_low_days: float | None
    interval_high_days: float | None
    releases_per_week: float | None
    note: str | None


@dataclass(frozen=True, kw_only=True)
class NaturalEnemyClimate(Cited):
    """A number of climate or handling of a natural enemy."""

    table = "natural_enemy_climate"
    key = ("enemy_key", "quantity")
    enemy_key: TaxonKey
    quantity: str
    low: float | None
    high: float | None
    unit_key: UnitKey | None
    note: str | None


@dataclass(frozen=True, kw_only=True)
class Compatibility(Cited):
    """What an active, or another enemy, did to a natural enemy in one test.

    ``class_low``, ``class_high`` are IOBC classes 1 to 4, ``class_origin`` says whether the source
    states them. ``agent_key`` is an active or a taxon, as ``agent_kind`` says.
    """

    table = "compatibility"
    key = (
        "agent_kind",
        "agent_key",
        "enemy_key",
        "stage_key",
        "exposure",
        "dose_low",
        "dose_high",
        "residue_age_days",
        "value_unit",
        "source_key",
    )
    agent_kind: Literal["active", "enemy"]
    agent_key: str
    enemy_key: TaxonKey
    stage_key: StageKey | None
    exposure: Literal[
        "direct",
        "residue",
        "contact",
        "ingestion",
        "residue_and_contact",
        "residue_and_ingestion",
        "medium",
        "dip",
        "aged_residue",
        "not_stated",
    ]
    exposure_hours: float | None
    test_type: Literal[
        "lab", "semi_field", "field", "greenhouse", "lab_and_greenhouse", "not_stated"
    ]
    dose_low: float | None
    dose_high: float | None
    dose_unit: Literal["ppm", "multiple_of_T", "multiple_of_field_rate"] | None
    residue_age_days: float | None
    outcome: Literal[
        "no_effect",
        "harmless",
        "slightly_harmful",
        "slightly_to_moderately_harmful",
        "harmful",
        "affected",
        "some_tolerance",
        "compatible",
        "not_compatible",
        "less_than_imidacloprid",
        "persistence_only",
    ]
    value_low: float | None
    value_high: float | None
    value_unit: (
        Literal["pct_mortality", "pct_survival", "alive_of_20", "lc50_mg_per_l", "lc90_mg_per_l"]
        | None
    )
    class_low: int | None
    class_high: int | None
    class_origin: Literal["none", "stated", "inferred"]
    persistence_class: Literal["A", "B", "C", "D"] | None
    persistence_days_low: float | None
    persistence_days_high: float | None
    note: str | None


@dataclass(frozen=True, kw_only=True)
class IobcClass(Cited):
    """Bounds of an IOBC class of harm [% reduction] in one type of test."""

    table = "iobc_classes"
    key = ("iobc_class", "test_type")
    iobc_class: int
    test_type: Literal["lab", "semi_field", "field"]
    reduction_low_pct: float | None
    reduction_high_pct: float | None


@dataclass(frozen=True, kw_only=True)
class PersistenceClass(Cited):
    """Bounds of a class of persistence [d]."""

    table = "persistence_classes"
    key = ("persistence_class",)
    persistence_class: str
    days_low: float | None
    days_high: float | None


@dataclass(frozen=True, kw_only=True)
class Disease(Cited):
    """How a disease is scouted."""

    table = "diseases"
    key = ("disease_key",)
    disease_key: TaxonKey
    method_keys: tuple[MethodKey, ...]
    part_keys: tuple[PartKey, ...]
    sampling_unit_key: SamplingUnitKey | None
    measure: Literal["incidence", "any_find", "none"]
    any_find_matters: bool
    model: str


@dataclass(frozen=True, kw_only=True)
class DiseaseCondition(Cited):
    """One condition of a disease; ``at_low_c``..``at_high_c`` [deg C]: where it holds."""

    table = "disease_conditions"
    key = ("disease_key", "process", "quantity", "low", "at_low_c", "source_key", "note")
    disease_key: TaxonKey
    process: str
    quantity: str
    low: float | None
    high: float | None
    unit_key: UnitKey
    at_low_c: float | None
    at_high_c: float | None
    note: str | None
