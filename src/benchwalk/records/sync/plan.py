"""What a phone loads for a shift without network (docs/phone-protocol.md)."""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import and_, func, select
from sqlalchemy.orm import Session, aliased

from benchwalk.catalogue import LOCALES, say
from benchwalk.records.accounts.people import SCOUTS
from benchwalk.records.joins import alive, of
from benchwalk.records.operations import Operation, Person
from benchwalk.records.places import House, Station, Unit
from benchwalk.records.plain import shape_of
from benchwalk.records.queries.standing import Standing, plantings, thresholds
from benchwalk.records.queries.words import vocabulary
from benchwalk.records.seen import Card, Flag, Observation, Visit, Walk
from benchwalk.records.sync.asked import Asking
from benchwalk.records.sync.entering import Entering, entering
from benchwalk.records.vocabulary import Method, Taxon, Term

VERSION = 1
WALKS_OF = dt.timedelta(days=8)  # own choice: last week's round and those to come
THRESHOLD = ("taxon", "stage", "method", "kind", "rule", "crop", "phase", "sense", "value", "per")
TERM = ("names", "kind", "part", "item", "squares", "bits", "regulated", "parent", "edible")
WHERE: Mapping[str, str] = {  # taxa with words of their own; others have those of their group
    "thrips": "phones.where_thrips",
    "whitefly": "phones.where_whitefly",
    "spider_mite": "phones.where_spider_mite",
    "tarsonemid_mite": "phones.where_tarsonemid_mite",
    "aphid": "phones.where_aphid",
    "mealybug": "phones.where_mealybug",
    "scale": "phones.where_scale",
    "fungus_gnat": "phones.where_fungus_gnat",
    "shore_fly": "phones.where_shore_fly",
    "leafminer": "phones.where_leafminer",
    "caterpillar": "phones.where_caterpillar",
    "slug_snail": "phones.where_slug_snail",
    "plant_bug": "phones.where_plant_bug",
}
ByUnit = Mapping[uuid.UUID, list[dict[str, Any]]]


def plan(session: Session, operation: int, day: dt.date, device: uuid.UUID) -> dict[str, Any]:
    """The plan of a day as JSON holds it: texts, numbers, lists.

    Parameters
    ----------
    day : today where the operation is.
    device : the phone that asks.
    """
    own = session.scalars(select(Operation).where(Operation.id == operation)).one()
    now = dt.datetime.now(dt.UTC)
    standing = plantings(session, day)
    words = vocabulary(session)
    compared = thresholds(session, day)
    asking = Asking(session, day, lambda: compared, words.crops)
    units = _units(session, day, standing, asking, entering(session, now, ZoneInfo(own.zone)))
    return {
        "version": VERSION,
        "operation": {
            "uid": str(own.uid),
            "name": own.name,
            "zone": own.zone,
            "practice": own.practice,
        },
        "epoch": own.epoch,
        "device": str(device),
        "made_at": now.isoformat(),
        "people": _people(session),
        "taxa": _terms(words.taxa),
        "stages": _terms(words.stages),
        "methods": _terms(words.methods) | _hours(session, words.methods),
        "crops": _terms(words.crops),
        "thresholds": [{name: getattr(t, name) for name in THRESHOLD} for t in compared],
        "where": _where(units, words.taxa),
        "units": units,
        "walks": _walks(session, day),
    }


def _people(session: Session) -> list[dict[str, Any]]:
    found = session.scalars(select(Person).where(Person.role.in_(SCOUTS)))
    return [{"id": str(p.id), "name": p.name or p.pseudonym, "role": p.role} for p in found]


def _terms(terms: Mapping[str, Term]) -> dict[str, Any]:
    return {
        code: {n: getattr(t, n) for n in TERM if n in shape_of(type(t)).blank}
        for code, t in terms.items()
    }


def _hours(session: Session, methods: Mapping[str, Term]) -> dict[str, Any]:
    """Methods whose items are void after some hours, with how many."""
    found = select(Method.code, Method.void_after_h).where(Method.void_after_h.is_not(None))
    held = _terms(methods)
    return {
        code: held[code] | {"void_after_h": hours} for code, hours in session.execute(found).all()
    }


def _where(units: list[dict[str, Any]], taxa: Mapping[str, Taxon]) -> dict[str, dict[str, str]]:
    """Where on the plant each pest that is looked for is, in both languages."""
    held: dict[str, dict[str, str]] = {}
    for taxon in sorted({t["taxon"] for unit in units for t in unit["targets"]}):
        at: str | None = taxon
        while at is not None and at not in WHERE:
            at = taxa[at].parent if at in taxa else None
        if at is not None:
            held[taxon] = {locale: say(WHERE[at], locale) for locale in LOCALES}
    return held


def _units(
    session: Session,
    day: dt.date,
    standing: list[Standing],
    asking: Asking,
    binding: Entering,
) -> list[dict[str, Any]]:
    house = of(House, Unit, "house_id")
    found = session.execute(
        select(Unit, House.name)
        .outerjoin(House, house)
        .where(alive(Unit, day))
        .order_by(House.name, Unit.name)
    ).all()
    crops = _by_unit(standing)
    stations, flags = _stations(session, day), _flags(session)
    asked = {unit.id: asking.of(unit.id, crops.get(unit.id, [])) for unit, _ in found}
    return [
        {
            "id": str(unit.id),
            "name": unit.name,
            "kind": unit.kind,
            "house": name,
            "level": unit.level,
            "plantings": [_planting(p) for p in crops.get(unit.id, [])],
            "stations": stations.get(unit.id, []),
            "flags": flags.get(unit.id, []),
            "targets": [asdict(target) for target in asked[unit.id].targets],
            "targets_from": asked[unit.id].said_by,
            "closures": binding.closures.get(unit.id, []),
            "notices": binding.notices.get(unit.id, []),
        }
        for unit, name in found
    ]


def _by_unit(standing: list[Standing]) -> Mapping[uuid.UUID, list[Standing]]:
    held: dict[uuid.UUID, list[Standing]] = defaultdict(list)
    for p in standing:
        held[p.unit_id].append(p)
    return held


def _planting(p: Standing) -> dict[str, Any]:
    return {"id": str(p.id), "crop": p.crop, "phase": p.phase}


def _stations(session: Session, day: dt.date) -> ByUnit:
    """Stations by unit, each with the cards that hang there."""
    hangs = and_(of(Station, Card, "station_id"), Card.taken_at.is_(None))
    rows = select(Station, Card).outerjoin(Card, hangs).where(alive(Station, day))
    rows = rows.order_by(Station.code)
    held: dict[uuid.UUID, dict[uuid.UUID, dict[str, Any]]] = defaultdict(dict)
    for station, card in session.execute(rows):
        said = {"id": str(station.id), "code": station.code, "kind": station.kind}
        one = held[station.unit_id].setdefault(
            station.id, said | {"role": station.role, "cards": []}
        )
        if card is not None:
            one["cards"].append(_card(card))
    return {unit: list(stations.values()) for unit, stations in held.items()}


def _card(card: Card) -> dict[str, Any]:
    hung = None if card.hung_at is None else card.hung_at.isoformat()
    return {"id": str(card.id), "rev": card.rev, "method": card.method, "hung_at": hung}


def _flags(session: Session) -> ByUnit:
    """Flags by unit whose last mark did not clear them."""
    later = aliased(Observation)
    newer = (
        select(func.max(later.seen_at))
        .where(of(Flag, later, "flag_id"))
        .correlate(Flag)
        .scalar_subquery()
    )
    cleared = (
        select(Observation.id)
        .where(
            Observation.operation_id == Flag.operation_id,
            Observation.flag_id == Flag.id,
            Observation.flag_mark == "cleared",
            Observation.seen_at == newer,
        )
        .exists()
    )
    held: dict[uuid.UUID, list[dict[str, Any]]] = defaultdict(list)
    for flag in session.scalars(select(Flag).where(~cleared).order_by(Flag.id)):
        said = {"id": str(flag.id), "colour": flag.colour, "reason": flag.reason}
        held[flag.unit_id].append(said | {"position": flag.position})
    return held


def _walks(session: Session, day: dt.date) -> list[dict[str, Any]]:
    walks = session.scalars(
        select(Walk).where(Walk.walk_on >= day - WALKS_OF).order_by(Walk.walk_on, Walk.id)
    ).all()
    visited: dict[uuid.UUID, list[str]] = defaultdict(list)
    recent = select(Visit.walk_id, Visit.unit_id).where(Visit.walk_id.in_([w.id for w in walks]))
    for walk, unit in session.execute(recent):
        visited[walk].append(str(unit))
    return [
        {
            "id": str(w.id),
            "walk_on": w.walk_on.isoformat(),
            "scout_id": None if w.scout_id is None else str(w.scout_id),
            "route": [
                {"unit_id": str(r.unit_id), "place": r.place, "depth": r.depth, "plants": r.plants}
                for r in w.route
            ],
            "visits": visited[w.id],
        }
        for w in walks
    ]
