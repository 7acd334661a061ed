"""The week's summary: what was seen in every unit, on one scale, and what was not looked at."""

from benchwalk.summarise.changes import Change
from benchwalk.summarise.reported import FlagStanding, Over, Reported, Voided, reported
from benchwalk.summarise.series import Key, Series, card_weeks
from benchwalk.summarise.thresholds import InForce, Unlike, in_force
from benchwalk.summarise.trend import Marked, Point, Trend, trend
from benchwalk.summarise.week import (
    Apart,
    Line,
    NotLooked,
    Share,
    Summary,
    UnitSummary,
    summarise,
)

__all__ = [
    "Apart",
    "Change",
    "FlagStanding",
    "InForce",
    "Key",
    "Line",
    "Marked",
    "NotLooked",
    "Over",
    "Point",
    "Reported",
    "Series",
    "Share",
    "Summary",
    "Trend",
    "UnitSummary",
    "Unlike",
    "Voided",
    "card_weeks",
    "in_force",
    "reported",
    "summarise",
    "trend",
]
