"""All tables of the reference, each read once."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from functools import cache
from typing import Any, TypeVar

from benchwalk.reference.reading import Row, read
from benchwalk.reference.rows import (
    animals,
    control,
    counting,
    crops,
    rules,
    sources,
    thermal,
    thresholds,
)

R = TypeVar("R", bound=Row)

ROW_TYPES: tuple[type[Row], ...] = (
    sources.Source,
    animals.Taxon,
    animals.TaxonAlias,
    animals.TaxonName,
    animals.Regulated,
    animals.StageClass,
    animals.StageWord,
    animals.StageName,
    animals.Stage,
    animals.StageSet,
    animals.Lookalike,
    animals.Virus,
    crops.Crop,
    crops.CropName,
    crops.Phase,
    crops.BbchPrincipal,
    counting.PlantPart,
    counting.Method,
    counting.ReferenceMethod,
    counting.SamplingUnit,
    counting.Unit,
    counting.QuantityKind,
    counting.Practice,
    thresholds.Threshold,
    thermal.Development,
    thermal.Growth,
    thermal.Nonlinear,
    thermal.NonlinearCheck,
    thermal.TemperatureLimit,
    thermal.ObservedDuration,
    control.Active,
    control.CodeAlias,
    control.RotationExempt,
    control.NaturalEnemy,
    control.NaturalEnemyClimate,
    control.Compatibility,
    control.IobcClass,
    control.PersistenceClass,
    control.Disease,
    control.DiseaseCondition,
    rules.RulePack,
    rules.RecordedField,
    rules.RecordField,
    rules.RetentionRule,
    rules.VentilationRule,
    rules.EnclosedSpaceRule,
    rules.WorkerRule,
)


_ROW_TYPE = {row_type.table: row_type for row_type in ROW_TYPES}


class NoSuchKey(LookupError):  # noqa: N818 - reads as what it says
    """No row of a table has this key."""


def rows(row_type: type[R]) -> tuple[R, ...]:
    """Every row of a shipped table, in the order of its file."""
    return _rows(row_type.table)


# by the table's name: a class is no cache key that a type checker accepts
@cache
def _rows(table: str) -> tuple[Any, ...]:
    return read(_ROW_TYPE[table])


@cache
def _by_key(table: str) -> Mapping[str, Any]:
    return {getattr(row, row.key[0]): row for row in _rows(table)}


def one(row_type: type[R], key: str) -> R:
    """The row with this key, of a table with a single key column.

    Raises
    ------
    NoSuchKey
        if there is none; the message names the table and the nearest keys.
    """
    rows_by_key: Mapping[str, R] = _by_key(row_type.table)
    if key not in rows_by_key:
        near = ", ".join(get_close_matches(key, rows_by_key, n=3)) or "nothing"
        raise NoSuchKey(f"{row_type.table}.csv has no {row_type.key[0]} {key!r}; near it: {near}")
    return rows_by_key[key]
