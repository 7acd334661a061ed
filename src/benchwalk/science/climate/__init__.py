"""Humidity, wetness and what they mean for disease.

Reason codes (empty where there is an answer without a remark)

``no_reading``
    A reading is absent: no number.
``outside_range``
    Outside what the formula or model was made for: no number, never the nearest one in its place.
``over_100``
    A humidity sensor above 100 % is taken as 100.
``dry``
    Not wet: probability 0.
``no_infection``
    Too cold or too warm to infect, however long it is wet.
``cut``
    A wet period that begins or ends where nothing is known was at least so long.
``gap``
    A day not covered in full, and each day after it for what carries over: no number.
"""

from benchwalk.science.climate.humidity import (
    Humidity,
    dew_point,
    humidity,
    leaf_deficit,
    saturation_pressure,
)
from benchwalk.science.climate.infection import (
    OUTSIDE,
    HoursNeeded,
    InfectionRisk,
    UnverifiedModelError,
    WetPeriodModel,
    botrytis_grape,
    botrytis_strawberry_flowers,
    hours_needed,
    risk_class,
    temperature_response,
)
from benchwalk.science.climate.mildew import (
    MildewIndex,
    WarmSpells,
    mildew_class,
    mildew_index,
    warm_spells,
)
from benchwalk.science.climate.scales import (
    difference_to_celsius,
    difference_to_fahrenheit,
    reading_to_celsius,
    reading_to_fahrenheit,
)
from benchwalk.science.climate.wetness import (
    DEW_WITHIN,
    HUMID_FROM,
    LONGEST_GAP,
    WetPeriods,
    wet_by_humidity,
    wet_by_leaf,
    wet_periods,
)

__all__ = [
    "DEW_WITHIN",
    "HUMID_FROM",
    "LONGEST_GAP",
    "OUTSIDE",
    "HoursNeeded",
    "Humidity",
    "InfectionRisk",
    "MildewIndex",
    "UnverifiedModelError",
    "WarmSpells",
    "WetPeriodModel",
    "WetPeriods",
    "botrytis_grape",
    "botrytis_strawberry_flowers",
    "dew_point",
    "difference_to_celsius",
    "difference_to_fahrenheit",
    "hours_needed",
    "humidity",
    "leaf_deficit",
    "mildew_class",
    "mildew_index",
    "reading_to_celsius",
    "reading_to_fahrenheit",
    "risk_class",
    "saturation_pressure",
    "temperature_response",
    "warm_spells",
    "wet_by_humidity",
    "wet_by_leaf",
    "wet_periods",
]
