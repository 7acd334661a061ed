"""The records: what was said (the ledger) and what holds now (every other table)."""

from benchwalk.records.base import Base, Line, Record, Scoped, uuid7
from benchwalk.records.compared import Climate, ClimateLog, Target, Threshold
from benchwalk.records.operations import Aside, Device, Ledger, Operation, Person
from benchwalk.records.places import AirSpace, Fixture, House, Station, Unit
from benchwalk.records.plants import Movement, Phase, Planting
from benchwalk.records.seen import (
    Card,
    Examined,
    Flag,
    Identification,
    Observation,
    Route,
    Sighting,
    Tally,
    Visit,
    Walk,
)
from benchwalk.records.treated import Application, Load, Treated
from benchwalk.records.vocabulary import Crop, Method, Stage, Taxon

__all__ = [
    "AirSpace",
    "Application",
    "Aside",
    "Base",
    "Card",
    "Climate",
    "ClimateLog",
    "Crop",
    "Device",
    "Examined",
    "Fixture",
    "Flag",
    "House",
    "Identification",
    "Ledger",
    "Line",
    "Load",
    "Method",
    "Movement",
    "Observation",
    "Operation",
    "Person",
    "Phase",
    "Planting",
    "Record",
    "Route",
    "Scoped",
    "Sighting",
    "Stage",
    "Station",
    "Tally",
    "Target",
    "Taxon",
    "Threshold",
    "Treated",
    "Unit",
    "Visit",
    "Walk",
    "uuid7",
]
