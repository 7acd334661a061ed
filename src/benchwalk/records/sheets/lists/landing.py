"""Putting a list into an operation: what would become of it, and writing all of it or nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from benchwalk.records.ledger import Ledgered, write_new
from benchwalk.records.operations import Person
from benchwalk.records.sheets.lists.found import ListLanded, ListReading
from benchwalk.records.sheets.lists.landing_climate import ClimateLanding
from benchwalk.records.sheets.lists.landing_plantings import PlantingLanding
from benchwalk.records.sheets.lists.landing_stations import StationLanding
from benchwalk.records.sheets.lists.landing_treatments import TreatmentLanding
from benchwalk.records.sheets.lists.places import Places


@dataclass(frozen=True)
class Plan:
    """What becomes of a list, and what is to be written for it; nothing is written yet."""

    landed: ListLanded
    places: Places
    people: tuple[Person, ...] = ()


def plan(session: Ledgered, reading: ListReading, answers: Mapping[str, str]) -> Plan:
    """Meet a reading with what is recorded.

    Records that exist may be changed in the session; nothing is flushed, so that leaving the
    session without a commit leaves everything as it was.
    """
    landed = ListLanded()
    with session.no_autoflush:
        places = Places(session, landed)
        if reading.kind == "treatments":
            treatments = TreatmentLanding(places, landed)
            treatments.land(reading)
            return Plan(landed, places, tuple(treatments.people_made))
        if reading.kind == "plantings":
            PlantingLanding(places, landed).land(reading)
        elif reading.kind == "stations":
            StationLanding(places, landed, answers).land(reading)
        else:
            ClimateLanding(places, landed, answers).land(reading)
    return Plan(landed, places)


def land(session: Ledgered, reading: ListReading, answers: Mapping[str, str]) -> ListLanded:
    """Write a reading into the session's operation; the caller commits, or rolls all of it back."""
    planned = plan(session, reading, answers)
    used = {getattr(r, "applicator_id", None) for r in planned.places.fresh}
    session.add_all(p for p in planned.people if p.id in used)
    session.flush()
    planned.landed.new = write_new(session, planned.places.fresh)
    return planned.landed
