"""Rules that need more than one row: hierarchies, stages, sources, thresholds, actives."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TypeVar

from benchwalk.reference.reading import Cited, Row
from benchwalk.reference.rows.animals import (
    Lookalike,
    Stage,
    StageSet,
    StageWord,
    Taxon,
    TaxonAlias,
    TaxonName,
    Virus,
)
from benchwalk.reference.rows.control import (
    Active,
    Compatibility,
    NaturalEnemy,
    NaturalEnemyClimate,
    RotationExempt,
)
from benchwalk.reference.rows.counting import PlantPart, QuantityKind
from benchwalk.reference.rows.crops import Crop, CropName, Phase
from benchwalk.reference.rows.rules import RulePack
from benchwalk.reference.rows.sources import Source
from benchwalk.reference.rows.thermal import Development, Growth, Nonlinear
from benchwalk.reference.rows.thresholds import Threshold

R = TypeVar("R", bound=Row)

OWN_SOURCES = {"Design"}
"""Sources of words and rules that this project made; the only ones with status "own"."""
UNPUBLISHED = {"Untraced", "CommonPractice"}
"""Sources that are nobody's publication: whatever names them is from memory."""
MASK_BITS = 62
"""Bits of a stage mask that fit a signed 64-bit column with room to spare."""


HIERARCHIES: tuple[type[Taxon | Crop | PlantPart | Phase | RulePack], ...] = (
    Taxon,
    Crop,
    PlantPart,
    Phase,
    RulePack,
)


class Tables:
    """The rows of a folder, by their type."""

    def __init__(self, by_type: Mapping[type[Row], Sequence[Row]]) -> None:
        self._by_type = by_type

    def of(self, row_type: type[R]) -> Sequence[R]:
        return [row for row in self._by_type.get(row_type, ()) if isinstance(row, row_type)]

    def cited(self) -> Iterator[Cited]:
        for rows in self._by_type.values():
            yield from (row for row in rows if isinstance(row, Cited))


def incoherences(tables: Tables) -> list[str]:
    """A sentence for each rule broken."""
    return [sentence for rule in RULES for sentence in rule(tables)]


def _named(row: Row) -> str:
    return f"{row.table}.csv, {' '.join(str(getattr(row, name)) for name in row.key)}"


def _loops(tables: Tables) -> Iterator[str]:
    for row_type in HIERARCHIES:
        rows = tables.of(row_type)
        up = {getattr(row, row_type.key[0]): _parent(row) for row in rows}
        for key in up:
            if _comes_back(key, up):
                yield f"{row_type.table}.csv, {key}: is above itself"


def _parent(row: Taxon | Crop | PlantPart | Phase | RulePack) -> str | None:
    return row.parent_key


def _comes_back(key: str, up: Mapping[str, str | None]) -> bool:
    above, walked = up.get(key), set[str]()
    while above is not None and above not in walked:
        walked.add(above)
        above = up.get(above)
    return key in walked


def _taxon_tree(tables: Tables) -> Iterator[str]:
    by_key = {taxon.taxon_key: taxon for taxon in tables.of(Taxon)}
    for taxon in by_key.values():
        if (taxon.rank == "root") != (taxon.parent_key is None):
            yield f"{_named(taxon)}: a root has no parent, and nothing else is without"
        parent = by_key.get(taxon.parent_key or "")
        if parent is not None and parent.role != taxon.role:
            yield f"{_named(taxon)}: is {taxon.role}, and {parent.taxon_key} is {parent.role}"


def _eppo_codes(tables: Tables) -> Iterator[str]:
    codes = Counter(taxon.eppo_code for taxon in tables.of(Taxon))
    for taxon in tables.of(Taxon):
        if taxon.eppo_code is not None and codes[taxon.eppo_code] > 1:
            yield f"{_named(taxon)}: EPPO code {taxon.eppo_code} stands at another taxon too"
        if (taxon.eppo_code is None) != (taxon.eppo_status is None):
            yield f"{_named(taxon)}: an EPPO code says where it was seen, and only a code does"


def _labels(tables: Tables) -> Iterator[str]:
    taxa = {(name.taxon_key, name.language) for name in tables.of(TaxonName)}
    crops = {(name.crop_key, name.language) for name in tables.of(CropName)}
    for language in ("en", "es"):
        for taxon in tables.of(Taxon):
            if (taxon.taxon_key, language) not in taxa:
                yield f"{_named(taxon)}: has no name in {language!r} in taxon_names.csv"
        for crop in tables.of(Crop):
            if (crop.crop_key, language) not in crops:
                yield f"{_named(crop)}: has no name in {language!r} in crop_names.csv"


def _aliases(tables: Tables) -> Iterator[str]:
    written = {(name.name, name.taxon_key) for name in tables.of(TaxonName)}
    for alias in tables.of(TaxonAlias):
        if (alias.alias, alias.taxon_key) not in written:
            yield f"{_named(alias)}: is not in taxon_names.csv, so no sheet can use it"


def _sources(tables: Tables) -> Iterator[str]:
    used = {row.source_key for row in tables.cited()}
    used |= {row.via_source_key or "" for row in tables.of(Development)}
    used |= {row.via_source_key or "" for row in tables.of(Nonlinear)}
    for row in tables.cited():
        yield from _status(row)
    for source in tables.of(Source):
        if source.source_key not in used:
            yield f"{_named(source)}: no row of any table uses it"


def _status(row: Cited) -> Iterator[str]:
    if (row.status == "own") != (row.source_key in OWN_SOURCES):
        yield f"{_named(row)}: status own belongs to this project's words and rules alone"
    if row.source_key in UNPUBLISHED and row.status != "memory":
        yield f"{_named(row)}: {row.source_key} is no publication, so the status is memory"
    if row.source_key == "trade_sheet" and row.status not in ("weak", "memory"):
        yield f"{_named(row)}: a producer's sheet is a weak source"


def _stage_lists(tables: Tables) -> Iterator[str]:
    orders: dict[str, set[int]] = {}
    for stage in tables.of(Stage):
        orders.setdefault(stage.taxon_key, set()).add(stage.sort_order)
        if stage.scouted and not stage.method_keys:
            yield f"{_named(stage)}: is scouted, and no method says how"
    for taxon_key, order in orders.items():
        if sorted(order) != list(range(1, len(order) + 1)):
            yield f"stages.csv, {taxon_key}: the order has a gap"


def _stage_sets(tables: Tables) -> Iterator[str]:
    own = _stages_of(tables)
    for row in tables.of(StageSet):
        if row.stage_key not in own.get(row.taxon_key, ()):
            yield f"{_named(row)}: {row.taxon_key} has no stage {row.stage_key}"
        if row.set_key in own.get(row.taxon_key, ()):
            yield f"{_named(row)}: {row.set_key} is a stage of {row.taxon_key} already"


def _stage_words(tables: Tables) -> Iterator[str]:
    basic = {stage.stage_key for stage in tables.of(Stage)}
    sets = {row.set_key for row in tables.of(StageSet)}
    if len(basic) > MASK_BITS:
        yield f"stages.csv: {len(basic)} basic stages do not fit a mask of {MASK_BITS} bits"
    for word in tables.of(StageWord):
        if word.stage_key not in basic | sets:
            yield f"{_named(word)}: is neither a stage nor a set of any taxon"


def _stages_of(tables: Tables) -> dict[str, set[str]]:
    own: dict[str, set[str]] = {}
    for stage in tables.of(Stage):
        own.setdefault(stage.taxon_key, set()).add(stage.stage_key)
    return own


def _stages_used(tables: Tables) -> Iterator[str]:
    has = _stages_of(tables)
    for named in tables.of(StageSet):
        has.setdefault(named.taxon_key, set()).add(named.set_key)
    used: list[tuple[Row, str, str | None]] = [
        *((row, row.taxon_key, row.stage_key) for row in tables.of(Threshold)),
        *((row, row.target_key, row.target_stage_key) for row in tables.of(NaturalEnemy)),
        *((row, row.enemy_key, row.stage_key) for row in tables.of(Compatibility)),
    ]
    for row, taxon_key, stage_key in used:
        if stage_key is not None and stage_key not in has.get(taxon_key, ()):
            yield f"{_named(row)}: {taxon_key} has no stage or set {stage_key}"


def _development(tables: Tables) -> Iterator[str]:
    order = {(s.taxon_key, s.stage_key): s.sort_order for s in tables.of(Stage)}
    defaults = Counter[tuple[str | None, ...]]()
    for row in tables.of(Development):
        first = order.get((row.taxon_key, row.first_stage))
        last = order.get((row.taxon_key, row.last_stage))
        if first is None or last is None or first > last:
            yield f"{_named(row)}: {row.first_stage} to {row.last_stage} is no span of its stages"
        if row.use == "default":
            defaults[row.taxon_key, row.measure, row.first_stage, row.last_stage, row.sex] += 1
            yield from _default(row)
    for span, n in defaults.items():
        if n > 1:
            yield f"development.csv: {n} defaults for {' '.join(str(part) for part in span)}"


def _default(row: Development) -> Iterator[str]:
    if row.status in ("memory", "weak"):
        yield f"{_named(row)}: a default does not rest on memory or a weak source"
    if row.base_c is None or (row.measure == "development" and row.constant_dd is None):
        yield f"{_named(row)}: a default has a base and a constant"


def _proxies(tables: Tables) -> Iterator[str]:
    parent = {taxon.taxon_key: taxon.parent_key for taxon in tables.of(Taxon)}
    studies: list[tuple[Development | Growth, bool]] = [
        *((row, row.use == "default") for row in tables.of(Development)),
        *((row, row.use == "usable") for row in tables.of(Growth)),
    ]
    for row, relied_on in studies:
        own = row.taxon_key in (row.measured_taxon_key, parent.get(row.measured_taxon_key))
        if relied_on and not own:
            yield f"{_named(row)}: measured on {row.measured_taxon_key}, not on {row.taxon_key}"
    for row in tables.of(Growth):
        if row.use == "usable" and row.temp_c is None:
            yield f"{_named(row)}: usable, and the temperature is not known"


def _thresholds(tables: Tables) -> Iterator[str]:
    period = {kind.quantity_kind: kind.period_days for kind in tables.of(QuantityKind)}
    for row in tables.of(Threshold):
        if row.low is None and row.high is None:
            yield f"{_named(row)}: has neither a low nor a high end"
        if row.ship_as_default and row.status in ("memory", "weak"):
            yield f"{_named(row)}: a shipped default does not rest on memory or a weak source"
        if row.sense == "ratio" and row.enemy_key is None:
            yield f"{_named(row)}: a ratio needs the enemy"
        expected = period.get(row.quantity_kind)
        if expected is not None and row.period_days != expected:
            yield f"{_named(row)}: counts {row.period_days} days, its quantity {expected}"


def _roles(tables: Tables) -> Iterator[str]:
    role = {taxon.taxon_key: taxon.role for taxon in tables.of(Taxon)}
    wanted: list[tuple[Row, str | None, str]] = [
        *((row, row.enemy_key, "beneficial") for row in tables.of(Threshold)),
        *((row, row.enemy_key, "beneficial") for row in tables.of(NaturalEnemy)),
        *((row, row.enemy_key, "beneficial") for row in tables.of(NaturalEnemyClimate)),
        *((row, row.enemy_key, "beneficial") for row in tables.of(Compatibility)),
        *((row, row.agent_key, "pathogen") for row in tables.of(Virus)),
    ]
    for row, taxon_key, wants in wanted:
        if taxon_key is not None and role.get(taxon_key, wants) != wants:
            yield f"{_named(row)}: {taxon_key} is {role[taxon_key]}, and must be {wants}"


def _actives(tables: Tables) -> Iterator[str]:
    exempt = tables.of(RotationExempt)
    for row in tables.of(Active):
        if row.scheme == "none":
            if row.rotation_group != "unknown" or row.code is not None:
                yield f"{_named(row)}: without a scheme it has no code, and its group is unknown"
            continue
        if (row.rotation_group == "no") != _is_exempt(row, exempt):
            yield f"{_named(row)}: rotation_group {row.rotation_group} is against rotation_exempt"
        if row.rotation_group == "yes" and row.main_group is None:
            yield f"{_named(row)}: counts in a rotation, and has no main group"
        if row.edition is None:
            yield f"{_named(row)}: a code needs the edition of its scheme"
        if row.code is not None and row.code != (row.code_printed or "").replace(" ", ""):
            yield f"{_named(row)}: code {row.code} is printed {row.code_printed}"


def _is_exempt(row: Active, exempt: Sequence[RotationExempt]) -> bool:
    if row.code is None:
        return True
    # digits match exactly: IRAC 8 is exempt, 18 and 8-like prefixes of longer numbers are not
    return any(
        rule.scheme == row.scheme
        and (
            row.code == rule.code_prefix
            or (not rule.code_prefix.isdigit() and row.code.startswith(rule.code_prefix))
        )
        for rule in exempt
    )


def _compatibility(tables: Tables) -> Iterator[str]:
    agents = {
        "active": {row.active_key for row in tables.of(Active)},
        "enemy": {taxon.taxon_key for taxon in tables.of(Taxon)},
    }
    for row in tables.of(Compatibility):
        if row.agent_key not in agents[row.agent_kind]:
            yield f"{_named(row)}: {row.agent_key!r} is no {row.agent_kind} of the tables"
        if (row.class_origin == "none") != (row.class_low is None):
            yield f"{_named(row)}: a class says where it comes from, and only a class does"


def _lookalikes(tables: Tables) -> Iterator[str]:
    for row in tables.of(Lookalike):
        if (row.lookalike_key is None) == (row.abiotic_cause is None):
            yield f"{_named(row)}: a look-alike or a cause, one of the two"
        if row.lookalike_key == row.taxon_key:
            yield f"{_named(row)}: looks like itself"


RULES: tuple[Callable[[Tables], Iterator[str]], ...] = (
    _loops,
    _taxon_tree,
    _eppo_codes,
    _labels,
    _aliases,
    _sources,
    _stage_lists,
    _stage_sets,
    _stage_words,
    _stages_used,
    _development,
    _proxies,
    _thresholds,
    _roles,
    _actives,
    _compatibility,
    _lookalikes,
)
