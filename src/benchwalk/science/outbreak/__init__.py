"""Spread of a pest on plants: stochastic, driven by temperature, stage by stage, on real benches.

Question, model and formulas: docs/science/outbreak.md.
"""

from benchwalk.science.outbreak.disease import ContactDisease, infected_on
from benchwalk.science.outbreak.layout import Bench, Layout, planted
from benchwalk.science.outbreak.life_cycle import (
    LifeCycle,
    Stage,
    extinction_probability,
    generation,
    growth_rate,
    life_cycle_growing_at,
    net_reproduction,
)
from benchwalk.science.outbreak.population import Flight, Population
from benchwalk.science.outbreak.pressure import Enemies, Enemy, Treatment
from benchwalk.science.outbreak.spread import Applied, Arrival, Release, Season, days

__all__ = [
    "Applied",
    "Arrival",
    "Bench",
    "ContactDisease",
    "Enemies",
    "Enemy",
    "Flight",
    "Layout",
    "LifeCycle",
    "Population",
    "Release",
    "Season",
    "Stage",
    "Treatment",
    "days",
    "extinction_probability",
    "generation",
    "growth_rate",
    "infected_on",
    "life_cycle_growing_at",
    "net_reproduction",
    "planted",
]
