"""What a phone loads for a shift without network (docs/phone-protocol.md)."""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Mapping
from typing import Any

from sqlalchemy import and_, func, select
from sqlalchemy.orm import Session, aliased

from benchwalk.records.compared import Target
from benchwalk.records.operations import Operation, Person
from benchwalk.records.places import House, Station, Unit
from benchwalk.records.plain import shape_of
from benchwalk.records.queries.standing import Standing, plantings, thresholds
from benchwalk.records.queries.words import vocabulary
from benchwalk.records.seen import Card, Flag, Observation, Visit, Walk
from benchwalk.records.vocabulary import Method, Term

VERSION = 1
WALKS_OF = dt.timedelta(days=8)  # own choice: last week's round and those to come
THRESHOLD = ("taxon", "stage", "method", "kind", "rule", "crop", "phase", "sense", "value", "per")
TERM = ("names", "kind", "part", "item", "squares", "bits", "regulated", "parent", "edible")
ByUnit = Mapping[uuid.UUID, list[dict[str, Any]]]


def plan(session: Session, operation: int, day: dt.date, device: uuid.UUID) -> dict[str, Any]:
    """The plan of a day as JSON holds it: texts, numbers, lists.

    Parameters
    ----------
    day : today where the operation is.
    device : the phone that asks.
    """
    own = session.scalars(select(Operation).where(Operation.id == operation)).one()
    standing = plantings(session, day)
    words = vocabulary(session)
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
        "made_at": dt.datetime.now(dt.UTC).isoformat(),
        "people": _people(session),
        "taxa": _terms(words.taxa),
        "stages": _terms(words.stages),
        "methods": _terms(words.methods) | _hours(session, words.methods),
        "crops": _terms(words.crops),
        "thresholds": [
            {name: getattr(t, name) for name in THRESHOLD} for t in thresholds(session, day)
        ],
        "units": _units(session, day, standing),
        "walks": _walks(session, day),
    }


def _people(session: Session) -> list[dict[str, Any]]:
    found = session.scalars(select(Person).where(Person.role.in_(("scout", "grower", "manager"))))
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


def _units(session: Session, day: dt.date, standing: list[Standing]) -> list[dict[str, Any]]:
    house = and_(House.operation_id == Unit.operation_id, House.id == Unit.house_id)
    alive = (Unit.opened_on <= day) & (Unit.closed_on.is_(None) | (Unit.closed_on > day))
    found = session.execute(
        select(Unit, House.name)
        .outerjoin(House, house)
        .where(alive)
        .order_by(House.name, Unit.name)
    )
    crops = _crops(standing)
    stations, flags = _stations(session, day), _flags(session)
    targets = _targets(session, day)
    return [
        {
            "id": str(unit.id),
            "name": unit.name,
            "kind": unit.kind,
            "house": name,
            "level": unit.level,
            "plantings": crops.get(unit.id, []),
            "stations": stations.get(unit.id, []),
            "flags": flags.get(unit.id, []),
            "targets": _of_unit(targets, unit.id, crops.get(unit.id, [])),
        }
        for unit, name in found
    ]


def _crops(standing: list[Standing]) -> ByUnit:
    held: dict[uuid.UUID, list[dict[str, Any]]] = defaultdict(list)
    for p in standing:
        held[p.unit_id].append({"id": str(p.id), "crop": p.crop, "phase": p.phase})
    return held


def _stations(session: Session, day: dt.date) -> ByUnit:
    """Stations by unit, each with the cards that hang there."""
    hangs = and_(
        Card.operation_id == Station.operation_id,
        Card.station_id == Station.id,
        Card.taken_at.is_(None),
    )
    alive = (Station.opened_on <= day) & (Station.closed_on.is_(None) | (Station.closed_on > day))
    rows = select(Station, Card).outerjoin(Card, hangs).where(alive).order_by(Station.code)
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
        .where(later.operation_id == Flag.operation_id, later.flag_id == Flag.id)
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


def _targets(session: Session, day: dt.date) -> list[Target]:
    now = (Target.from_on <= day) & (Target.until_on.is_(None) | (Target.until_on > day))
    return list(session.scalars(select(Target).where(now).order_by(Target.id)))


def _of_unit(
    targets: list[Target], unit: uuid.UUID, standing: list[dict[str, Any]]
) -> list[dict[str, Any]]:
    """The unit's own targets, and those of what stands in it in its phase."""
    there = {(p["crop"], p["phase"]) for p in standing}
    held = {
        (t.taxon, t.stage, t.method): t
        for t in targets
        if t.unit_id == unit
        or any(t.crop == crop and t.phase in (None, phase) for crop, phase in there)
    }
    names = ("taxon", "stage", "method", "plants_min", "every_days")
    return [{name: getattr(t, name) for name in names} for t in held.values()]


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
