"""Setting up an operation: its row, its vocabulary, and the thresholds that ship with a source.

The vocabulary is copied from the reference so that an operation is complete in itself: what it
was told to count, and what it compared with, stays readable whatever the reference says later.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from dataclasses import dataclass
from difflib import get_close_matches
from zoneinfo import ZoneInfo, available_timezones

from sqlalchemy import Engine, func, insert, select

from benchwalk import reference
from benchwalk.catalogue import Refusal
from benchwalk.records.base import Record
from benchwalk.records.compared import Threshold, threshold_key
from benchwalk.records.database import session, writing
from benchwalk.records.ledger import Ledgered, columns, write_new
from benchwalk.records.operations import Operation
from benchwalk.records.plants import NOT_SAID
from benchwalk.records.vocabulary import Crop, Method, Stage, Taxon
from benchwalk.reference.rows.animals import Regulated

EVER = dt.date(1900, 1, 1)  # a shipped threshold holds for the oldest sheet too
ROLES = {"pest": "pest", "beneficial": "enemy", "pathogen": "disease", "other": "other"}
KINDS = {"card": "card", "disc": "disc", "wedge": "disc", "trap": "trap", "place": "place"}
COMPARED = ("ceiling", "any_find")  # floors and ratios come with releases of natural enemies
ALWAYS_TRUE = ("none", "no_tospovirus")  # conditions that hold until somebody records otherwise


class SetupRefusedError(Refusal):
    """There is no operation, or one already, or a word is not in the vocabulary."""


@dataclass(frozen=True)
class Made:
    """What setting up wrote."""

    operation: int
    terms: int
    thresholds: int


def set_up(engine: Engine, name: str, zone: str, *, practice: bool = False) -> Made:
    """Make an operation with its vocabulary and the shipped thresholds.

    Raises
    ------
    SetupRefusedError
        if an operation of this name is there already, or the zone is not one of IANA's.
    """
    if zone not in available_timezones():
        raise SetupRefusedError("refused.zone", zone=zone)
    operation = _new_operation(engine, name, zone, practice=practice)
    with writing(engine, operation) as s:
        terms = write_new(s, vocabulary())
        thresholds = write_new(s, shipped_thresholds())
    return Made(operation, terms, thresholds)


def _new_operation(engine: Engine, name: str, zone: str, *, practice: bool) -> int:
    with engine.execution_options(benchwalk_writes=True).begin() as connection:
        if connection.execute(select(Operation.id).where(Operation.name == name)).first():
            raise SetupRefusedError("refused.operation_there", name=name)
        newest = connection.execute(select(func.max(Operation.id))).scalar()
        number = 1 if newest is None else newest + 1
        row = {"id": number, "uid": uuid.uuid4(), "name": name, "zone": ZoneInfo(zone).key}
        connection.execute(insert(Operation), row | {"epoch": 1, "practice": practice})
    return number


def vocabulary() -> list[Record]:
    """Taxa, stages, methods and crops of the reference, parents before what belongs to them."""
    taxa = {t.taxon_key: t.parent_key for t in reference.taxa()}
    crops = {c.crop_key: c.parent_key for c in reference.crops()}
    return [
        *sorted(_taxa(), key=lambda t: _depth(t.code, taxa)),
        *_stages(),
        *_methods(),
        *sorted(_crops(), key=lambda c: _depth(c.code, crops)),
    ]


def _depth(code: str | None, parents: dict[str, str | None]) -> int:
    return 0 if code is None else 1 + _depth(parents[code], parents)


def _taxa() -> list[Taxon]:
    spanish = _spanish(
        {n.taxon_key: n.name for n in reversed(reference.taxon_names()) if n.language == "es"}
    )
    regulated = {r.taxon_key for r in reference.rows(Regulated)}
    return [
        Taxon(
            code=t.taxon_key,
            names={"en": t.common_name} | spanish[t.taxon_key],
            source=t.source_key,
            parent=t.parent_key,
            kind=ROLES[t.role],
            scientific=t.scientific_name,
            regulated=t.taxon_key in regulated,
        )
        for t in reference.taxa()
    ]


def _spanish(names: dict[str, str]) -> dict[str, dict[str, str]]:
    return defaultdict(dict, {key: {"es": name} for key, name in names.items()})


def _stages() -> list[Stage]:
    bits = reference.stage_bits()
    return [
        Stage(code=s.stage_key, names={"en": s.name_en, "es": s.name_es}, bits=bits[s.stage_key])
        for s in reference.stage_words()
    ]


def _methods() -> list[Method]:
    stale = reference.practice("potato_void_after").low
    void_after = None if stale is None else int(stale)
    return [
        Method(
            code=m.method_key,
            names={"en": m.name, "es": m.name_es},
            source=m.source_key,
            kind=(kind := KINDS.get(m.sampling_unit_key, "plant")),
            part=_part(m.sampling_unit_key) if kind == "plant" else None,
            item=m.sampling_unit_key,
            void_after_h=void_after if m.device == "potato" else None,
        )
        for m in reference.methods()
    ]


def _part(sampling_unit: str) -> str:
    """The part that a method looks at; a count per plant does not say which."""
    return NOT_SAID if sampling_unit == "plant" else sampling_unit


def _crops() -> list[Crop]:
    spanish = _spanish(
        {n.crop_key: n.name for n in reversed(reference.crop_names()) if n.language == "es"}
    )
    return [
        Crop(
            code=c.crop_key,
            names={"en": c.name} | spanish[c.crop_key],
            source=c.source_key,
            parent=c.parent_key,
            edible=c.edible,
        )
        for c in reference.crops()
    ]


def shipped_thresholds() -> list[Threshold]:
    """Thresholds that ship as defaults: seen in their source, comparable, unconditional.

    A condition such as "tospovirus present" binds an air space once that is recorded there; it is
    not in force before. Where a source gives an injury level and a threshold below it, acting
    begins at the threshold.
    """
    held: dict[tuple[object, ...], Threshold] = {}
    for row in reference.thresholds():
        fits = row.sense in COMPARED and row.condition in ALWAYS_TRUE
        if row.ship_as_default and row.record_kind is not None and fits:
            t = _threshold(row, row.record_kind)
            other = held.get(threshold_key(t))
            if other is None or _lower(t, other):
                held[threshold_key(t)] = t
    return list(held.values())


def thresholds_under(condition: str, air_space_id: uuid.UUID, since: dt.date) -> list[Threshold]:
    """Thresholds of the reference that a condition brings into force in one air space, from a day.

    A virus found there binds its carriers: "tospovirus_present" puts thrips on cards at 1 a week,
    whatever the crop. The caller writes them.

    Raises
    ------
    SetupRefusedError
        if no threshold of the reference is for this condition.
    """
    held = [t for t in reference.thresholds() if t.condition == condition and t.ship_as_default]
    found = [_threshold(t, t.record_kind) for t in held if t.record_kind is not None]
    if not found or condition in ALWAYS_TRUE:
        known = sorted({t.condition for t in reference.thresholds()} - set(ALWAYS_TRUE))
        raise SetupRefusedError(
            "refused.word", kind="condition", word=condition, near=", ".join(known)
        )
    for t in found:
        t.rule, t.air_space_id, t.from_on, t.reason = "virus", air_space_id, since, condition
    return found


def _lower(t: Threshold, other: Threshold) -> bool:
    return t.value is not None and other.value is not None and t.value < other.value


def _threshold(t: reference.Threshold, kind: str) -> Threshold:
    any_find = t.sense == "any_find"
    rule = "phase" if t.phase_key != "any" else "general" if _is_group(t.crop_key) else "crop"
    return Threshold(
        taxon=t.taxon_key,
        stage=t.stage_key,
        method=t.method_key,
        kind=kind,
        rule="ship" if kind == "ship" else rule,
        crop=t.crop_key,
        phase=t.phase_key,
        age_from_weeks=_weeks(t.crop_age_weeks_low),
        age_until_weeks=None if t.crop_age_weeks_high is None else int(t.crop_age_weeks_high),
        from_on=EVER,
        sense=t.sense,
        value=None if any_find else t.acts_at,
        high=None if any_find or t.low is None else t.high,
        below=not any_find and t.low is None,
        per=None if any_find else t.quantity_kind,
        source=t.source_key,
        status=t.status,
    )


def _weeks(age: float | None) -> int:
    """Where an age begins; blank is from the first week on."""
    return int(age) if age is not None else 0


def only_operation(engine: Engine) -> int:
    """The one operation of a database.

    Raises
    ------
    SetupRefusedError
        if there is none yet, or several.
    """
    with engine.connect() as connection:
        found = connection.execute(select(Operation.id, Operation.name)).all()
    if not found:
        raise SetupRefusedError("refused.no_operation")
    if len(found) > 1:
        raise SetupRefusedError("refused.many_operations", n=len(found))
    return int(found[0].id)


def own_threshold(
    *,
    taxon: str,
    stage: str,
    method: str,
    crop: str,
    phase: str,
    value: float,
    high: float | None,
    per: str,
    kind: str,
    source: str,
    since: dt.date,
) -> Threshold:
    """A ceiling of the operation's own; the rule follows from phase and crop.

    Raises
    ------
    SetupRefusedError
        for a kind that says no action, a value of 0 or less, or a quantity nobody counts in.
    """
    if kind not in ("action", "economic"):
        raise SetupRefusedError("refused.kind", kind=kind)
    if not value > 0 or (high is not None and high < value):
        given = f"{value:g}" if high is None else f"{value:g} to {high:g}"
        raise SetupRefusedError("refused.threshold_value", given=given)
    quantities = [q.quantity_kind for q in reference.quantity_kinds()]
    if per not in quantities:
        raise SetupRefusedError("refused.per", per=per, known=", ".join(quantities))
    rule = "phase" if phase != "any" else "general" if _is_group(crop) else "crop"
    return Threshold(
        taxon=taxon,
        stage=stage,
        method=method,
        kind=kind,
        rule=rule,
        crop=crop,
        phase=phase,
        age_from_weeks=0,
        from_on=since,
        sense="ceiling",
        value=value,
        high=high,
        below=False,
        per=per,
        source=source,
        status="own",
    )


def _is_group(crop: str) -> bool:
    return any(c.crop_key == crop and c.category == "group" for c in reference.crops())


def set_threshold(s: Ledgered, threshold: Threshold) -> Threshold:
    """Record a threshold of the operation's own, in force from its day on.

    The same key on the same day is a correction of what stands there (a higher rev).

    Raises
    ------
    SetupRefusedError
        naming the word that is not in the operation's vocabulary.
    """
    for model, code in (
        (Taxon, threshold.taxon),
        (Stage, threshold.stage),
        (Method, threshold.method),
        (Crop, threshold.crop),
    ):
        known = set(s.scalars(select(model.code)))
        if code not in known:
            near = get_close_matches(code, sorted(known), n=5, cutoff=0.5)
            raise SetupRefusedError(
                "refused.word", kind=model.__tablename__, word=code, near=", ".join(near) or "-"
            )
    key = threshold_key(threshold), threshold.from_on
    held = s.scalars(select(Threshold))
    there = next((t for t in held if (threshold_key(t), t.from_on) == key), None)
    if there is None:
        s.add(threshold)
        return threshold
    said = columns(threshold)
    for name in ("sense", "value", "high", "below", "per", "source", "status", "reason"):
        setattr(there, name, said[name])
    return there


def opened(engine: Engine) -> Ledgered:
    """A session on the database's only operation."""
    return session(engine, only_operation(engine))
