"""How fast a pest can grow on its crop: the shipped rows of growth and development."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import cache
from statistics import median

from benchwalk import reference

WARM = 30.0  # degC; rates of increase are compared there


@dataclass(frozen=True)
class GrowthOf:
    """Growth of one pest on some crops: nothing below `t_low`, `r30` at 30 degC.

    `general` is true where the pest has no usable row: then it is the median over all pests.
    """

    r30: float
    t_low: float
    general: bool


def growth_of(taxa: tuple[str, ...], crops: Collection[str]) -> GrowthOf:
    """Growth by the rows of the pest on these crops, else of the pest, else of all pests.

    Parameters
    ----------
    taxa : the pest and what it belongs to, nearest first.
    crops : what stands in the unit, and the groups it belongs to.
    """
    own = next((t for t in taxa if _rates(t)), None)
    if own is None:
        rates = [row.at_warm for t in _pests_with_rates() for row in _rates(t)]
        bases = [_base(t) for t in _pests_with_rates()]
        return GrowthOf(median(rates), median(bases), general=True)
    here = [row for row in _rates(own) if row.host in crops]
    return GrowthOf(median(row.at_warm for row in here or _rates(own)), _base(own), False)


@dataclass(frozen=True)
class _Measured:
    """A rate measured on a host at some temperature, carried in a straight line to 30 degC."""

    host: str | None
    at_warm: float


@cache
def _rates(taxon: str) -> tuple[_Measured, ...]:
    base, held = _base(taxon), []
    for row in reference.growth():
        if row.taxon_key != taxon or row.use != "usable" or row.temp_c is None:
            continue
        if row.temp_c > base:
            at_warm = row.r_per_day * (WARM - base) / (row.temp_c - base)
            held.append(_Measured(row.host_crop_key, at_warm))
    return tuple(held)


@cache
def _base(taxon: str) -> float:
    """Base of the pest's default development, the whole of it before a part of it."""
    rows = [d for d in reference.development() if d.use == "default"]
    held = [(d.taxon_key, d.base_c) for d in rows if d.base_c is not None]
    own = [base for of, base in held if of == taxon]
    return float(median(own or [base for _, base in held]))


@cache
def _pests_with_rates() -> tuple[str, ...]:
    return tuple(sorted({r.taxon_key for r in reference.growth() if r.use == "usable"}))
