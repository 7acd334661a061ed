"""Words for the ids that a record holds: a house's name, a walk's day, the station of a card."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import String, cast, literal, select, union_all
from sqlalchemy.orm import Session

from benchwalk.records.joins import of
from benchwalk.records.operations import Device
from benchwalk.records.places import AirSpace, House, Station
from benchwalk.records.plants import Planting
from benchwalk.records.seen import Card, Flag, Walk
from benchwalk.records.treated import Application

ID = re.compile(r"\b[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}\b")


@dataclass(frozen=True)
class Named:
    """What an id is of, and what tells it from others of its kind: of a walk its day (ISO 8601)."""

    id: uuid.UUID
    kind: str
    text: str


def ids_in(bodies: Iterable[str]) -> set[uuid.UUID]:
    """Every id that stands in some bodies of the ledger."""
    return {uuid.UUID(found) for body in bodies for found in ID.findall(body)}


def named(session: Session, ids: Iterable[uuid.UUID]) -> list[Named]:
    """What is known of some ids, in one question; those of no such kind are left out."""
    wanted = list(ids)
    if not wanted:
        return []
    parts = [_part(kind, model, text).where(model.id.in_(wanted)) for kind, model, text in PLAIN]
    hung = of(Station, Card, "station_id")
    parts.append(_part("card", Card, Station.code).join(Station, hung).where(Card.id.in_(wanted)))
    return [Named(*row) for row in session.execute(union_all(*parts))]


PLAIN: tuple[tuple[str, Any, Any], ...] = (
    ("house", House, House.name),
    ("air_space", AirSpace, AirSpace.name),
    ("station", Station, Station.code),
    ("device", Device, Device.label),
    ("flag", Flag, Flag.colour),
    ("planting", Planting, Planting.crop),
    ("application", Application, Application.what),
    ("walk", Walk, Walk.walk_on),
)


def _part(kind: str, model: Any, text: Any) -> Any:
    return select(model.id, literal(kind), cast(text, String)).select_from(model)
