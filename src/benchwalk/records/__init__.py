"""The records: what was said (the ledger) and what holds now (every other table)."""

from benchwalk.records.accounts.tables import (
    AccountEvent,
    Canary,
    Credential,
    DeviceToken,
    KnownBrowser,
    Link,
    Shift,
    SignIn,
)
from benchwalk.records.base import Base, Line, Record, Scoped, uuid7
from benchwalk.records.compared import Climate, ClimateLog, Target, Threshold
from benchwalk.records.fitted import Refit
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
    "AccountEvent",
    "AirSpace",
    "Application",
    "Aside",
    "Base",
    "Canary",
    "Card",
    "Climate",
    "ClimateLog",
    "Credential",
    "Crop",
    "Device",
    "DeviceToken",
    "Examined",
    "Fixture",
    "Flag",
    "House",
    "Identification",
    "KnownBrowser",
    "Ledger",
    "Line",
    "Link",
    "Load",
    "Method",
    "Movement",
    "Observation",
    "Operation",
    "Person",
    "Phase",
    "Planting",
    "Record",
    "Refit",
    "Route",
    "Scoped",
    "Shift",
    "Sighting",
    "SignIn",
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
