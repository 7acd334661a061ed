"""Parts of a summary made by hand, each with plain values that a test may change."""

from __future__ import annotations

import datetime as dt
import uuid

from benchwalk.records import Crop, Method, Stage, Taxon, Threshold, setup
from benchwalk.records.queries import Place
from benchwalk.summarise import Key, Line, Series, UnitSummary
from benchwalk.summarise.dispersion import Dispersion
from benchwalk.summarise.week import Density

DAY = dt.date(2026, 5, 7)
SOUTH = "South house"


def place(name: str, house: str | None = SOUTH) -> Place:
    ident = uuid.uuid5(uuid.NAMESPACE_OID, f"{house}/{name}")
    return Place(ident, name, house, None, False, dt.date(2026, 1, 1), None)


def threshold(taxon: str, stage: str, method: str, crop: str, **said: object) -> Threshold:
    row: dict[str, object] = {
        "kind": "action",
        "rule": "crop",
        "phase": "any",
        "age_from_weeks": 0,
        "age_until_weeks": None,
        "sense": "ceiling",
        "value": 10.0,
        "high": None,
        "below": False,
        "per": "per_plant",
        "enemy": None,
        "source": "our own walks 2024, 2025",
        "status": "own",
        "from_on": dt.date(2020, 1, 1),
    }
    return Threshold(taxon=taxon, stage=stage, method=method, crop=crop, **(row | said))


def series(unit: Place, taxon: str, stage: str, method: str, **said: object) -> Series:
    row: dict[str, object] = {
        "on": DAY,
        "why": "sample",
        "looks": 20,
        "units_sampled": 20,
        "effort": 20.0,
        "per": "per_plant",
        "total": 43,
        "mean_only": None,
        "infested": None,
        "at_least": False,
        "found": True,
        "singles": 20,
        "singles_total": 43,
        "singles_squares": 300,
        "why_assumed": False,
        "none_at_all": 0,
        "lacks": "",
    }
    return Series(key=Key(unit.id, taxon, stage, method), **(row | said))


def line(s: Series, state: str, density: Density, **said: object) -> Line:
    row: dict[str, object] = {
        "dispersion": Dispersion(0.6, 12, False),
        "infested_percent": None,
        "rule": None,
        "unlike": (),
        "times": None,
        "change": None,
        "first": "",
    }
    key = s.key
    return Line(s, key.taxon, key.stage, key.method, state, density, **(row | said))


def unit(where: Place, state: str, lines: tuple[Line, ...], **said: object) -> UnitSummary:
    row: dict[str, object] = {
        "crops": ("chrysanthemum",),
        "plants_there": 450,
        "plants_looked": 20,
        "few": False,
        "on": DAY,
        "shares": (),
        "apart": (),
        "not_counted": (),
        "clean": None,
    }
    return UnitSummary(unit=where, state=state, lines=lines, **(row | said))


def vocabulary() -> dict[str, dict[str, object]]:
    held: dict[str, dict[str, object]] = {
        model.__name__: {} for model in (Taxon, Stage, Method, Crop)
    }
    for term in setup.vocabulary():
        held[type(term).__name__][term.code] = term
    part_unsaid = Method(
        code="part_unsaid",
        names={"en": "count on plants"},
        kind="plant",
        part="not_said",
        item="plant",
    )
    held["Method"]["part_unsaid"] = part_unsaid
    return held
