"""Shipped facts: pests, stages, crops, methods, thresholds, actives, with the source of each.

Every table is a CSV file in ``tables/`` and a class in ``rows/``; a new crop, pest or threshold is
a row, not code. Blank is "not known" and reads as None. ``python -m benchwalk.reference`` checks
all tables, and :func:`check_tables` those of any folder.
"""

from __future__ import annotations

from benchwalk.reference.check import check_tables
from benchwalk.reference.citing import bibliography, cite
from benchwalk.reference.reading import TableError
from benchwalk.reference.rows.animals import (
    Stage,
    StageName,
    StageWord,
    Taxon,
    TaxonAlias,
    TaxonName,
)
from benchwalk.reference.rows.control import Active
from benchwalk.reference.rows.counting import (
    Method,
    Practice,
    QuantityKind,
    ReferenceMethod,
    SamplingUnit,
    Unit,
)
from benchwalk.reference.rows.crops import Crop, CropName, Phase
from benchwalk.reference.rows.sources import Source
from benchwalk.reference.rows.thermal import Development, Growth
from benchwalk.reference.rows.thresholds import RECORD_KINDS, STRIP_KINDS, Threshold
from benchwalk.reference.shelf import ROW_TYPES, NoSuchKey, one, rows
from benchwalk.reference.stages import (
    NoSuchStage,
    development_stages,
    reference_methods,
    stage_bits,
    stage_possible,
    stages,
)
from benchwalk.reference.taxonomy import (
    ancestors,
    descendants,
)

__all__ = [
    "RECORD_KINDS",
    "ROW_TYPES",
    "STRIP_KINDS",
    "Active",
    "Crop",
    "CropName",
    "Development",
    "Growth",
    "Method",
    "NoSuchKey",
    "NoSuchStage",
    "Phase",
    "Practice",
    "QuantityKind",
    "ReferenceMethod",
    "SamplingUnit",
    "Source",
    "Stage",
    "StageName",
    "StageWord",
    "TableError",
    "Taxon",
    "TaxonAlias",
    "TaxonName",
    "Threshold",
    "Unit",
    "actives",
    "ancestors",
    "bibliography",
    "check_tables",
    "cite",
    "crop",
    "crop_names",
    "crops",
    "descendants",
    "development",
    "development_stages",
    "growth",
    "methods",
    "one",
    "phases",
    "practice",
    "quantity_kinds",
    "reference_methods",
    "rows",
    "sampling_units",
    "source",
    "sources",
    "stage_bits",
    "stage_names",
    "stage_possible",
    "stage_words",
    "stages",
    "taxa",
    "taxon",
    "taxon_aliases",
    "taxon_names",
    "thresholds",
    "units",
]


def taxa() -> tuple[Taxon, ...]:
    """Every taxon: pests, natural enemies, disease agents, harmless animals."""
    return rows(Taxon)


def taxon(taxon_key: str) -> Taxon:
    """The taxon with this key; :class:`NoSuchKey` if there is none."""
    return one(Taxon, taxon_key)


def taxon_names() -> tuple[TaxonName, ...]:
    """Every way of writing a taxon; a name with several rows is ambiguous."""
    return rows(TaxonName)


def taxon_aliases() -> tuple[TaxonAlias, ...]:
    """Older and newer scientific names."""
    return rows(TaxonAlias)


def stage_names() -> tuple[StageName, ...]:
    """Every way of writing a stage; with several rows, what the taxon can be is meant."""
    return rows(StageName)


def stage_words() -> tuple[StageWord, ...]:
    """Every stage and set of stages, with its English and Spanish name."""
    return rows(StageWord)


def crop_names() -> tuple[CropName, ...]:
    """Every way of writing a crop."""
    return rows(CropName)


def methods() -> tuple[Method, ...]:
    """Every method of counting."""
    return rows(Method)


def sampling_units() -> tuple[SamplingUnit, ...]:
    """Everything that a count is made on."""
    return rows(SamplingUnit)


def quantity_kinds() -> tuple[QuantityKind, ...]:
    """Everything that a count can be per."""
    return rows(QuantityKind)


def units() -> tuple[Unit, ...]:
    """Every unit of measure."""
    return rows(Unit)


def crops() -> tuple[Crop, ...]:
    """Every crop and group of crops, and plants that only host a study."""
    return rows(Crop)


def crop(crop_key: str) -> Crop:
    """The crop with this key; :class:`NoSuchKey` if there is none."""
    return one(Crop, crop_key)


def phases() -> tuple[Phase, ...]:
    """Every phase of a crop."""
    return rows(Phase)


def thresholds() -> tuple[Threshold, ...]:
    """Every published threshold, and related facts that are no thresholds to be compared with."""
    return rows(Threshold)


def practice(practice_key: str) -> Practice:
    """The fact of scouting practice with this key; :class:`NoSuchKey` if there is none."""
    return one(Practice, practice_key)


def actives() -> tuple[Active, ...]:
    """Every active ingredient in each scheme it stands in."""
    return rows(Active)


def development() -> tuple[Development, ...]:
    """Every published pair of base temperature and thermal constant."""
    return rows(Development)


def growth() -> tuple[Growth, ...]:
    """Every published intrinsic rate of increase."""
    return rows(Growth)


def sources() -> tuple[Source, ...]:
    """Every source."""
    return rows(Source)


def source(source_key: str) -> Source:
    """The source with this key; :class:`NoSuchKey` if there is none."""
    return one(Source, source_key)
