"""Who belongs to whom among taxa and crops, and what pages call them."""

from __future__ import annotations

from functools import cache

from benchwalk.reference.rows.animals import StageWord, Taxon, TaxonName
from benchwalk.reference.rows.crops import Crop, CropName
from benchwalk.reference.shelf import one, rows


def ancestors(taxon_key: str) -> tuple[str, ...]:
    """The levels above a taxon, the nearest first and the root last."""
    above: list[str] = []
    parent = one(Taxon, taxon_key).parent_key
    while parent is not None:
        above.append(parent)
        parent = one(Taxon, parent).parent_key
    return tuple(above)


@cache
def descendants(taxon_key: str) -> tuple[str, ...]:
    """Every taxon below this one, in the order of the table."""
    one(Taxon, taxon_key)
    return tuple(t.taxon_key for t in rows(Taxon) if taxon_key in ancestors(t.taxon_key))


def crop_ancestors(crop_key: str) -> tuple[str, ...]:
    """The groups a crop belongs to, the nearest first: their thresholds hold where it has none."""
    above: list[str] = []
    parent = one(Crop, crop_key).parent_key
    while parent is not None:
        above.append(parent)
        parent = one(Crop, parent).parent_key
    return tuple(above)


def taxon_label(taxon_key: str, locale: str = "en") -> str:
    """The name pages show, in English or Spanish."""
    one(Taxon, taxon_key)
    return next(
        n.name for n in rows(TaxonName) if n.taxon_key == taxon_key and n.language == locale
    )


def crop_label(crop_key: str, locale: str = "en") -> str:
    """The name pages show, in English or Spanish."""
    one(Crop, crop_key)
    return next(n.name for n in rows(CropName) if n.crop_key == crop_key and n.language == locale)


def stage_label(stage_key: str, locale: str = "en") -> str:
    """The name of a stage or set of stages, in English or Spanish."""
    word = one(StageWord, stage_key)
    return word.name_es if locale == "es" else word.name_en
