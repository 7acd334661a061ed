"""Who belongs to whom among taxa."""

from __future__ import annotations

from functools import cache

from benchwalk.reference.rows.animals import Taxon
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
