"""From the week's series to the flat arrays of a forecast."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from benchwalk.science import forecast
from benchwalk.science.arguments import FloatArray
from benchwalk.science.forecast.data import IntArray
from benchwalk.summarise.dispersion import Dispersion
from benchwalk.summarise.forecasts.growth import GrowthOf, growth_of
from benchwalk.summarise.forecasts.treatments import RELEASE, Treatment
from benchwalk.summarise.gathered import Gathered
from benchwalk.summarise.series import WEEK, History, Key, Series

NAN = float("nan")
KIND, LEAP = forecast.Kind, int(forecast.Flag.LEVEL_JUMP)
NOT_HUNG = 0.0  # days of what is no card, as the filter takes it
NOON = 0.5  # of the day, where nobody says when the walk was
#: density a first walk is expected around, wide: own choices, "assumed"; never from a threshold
REFERENCE = {"plant": 0.2, "leaf": 0.05, "card": 0.2, "disc": 0.5, "trap": 0.5}
#: density at which crowding has stopped growth: own choices, "assumed", high on purpose
ROOM = {"plant": 100.0, "leaf": 30.0, "card": 500.0, "disc": 200.0, "trap": 500.0}
#: round error that more plants or cards do not average away, start values of the engine
ROUND_ERROR = {"plant": 0.10}
ROUND_ERROR_OF_CARDS = 0.3


@dataclass(frozen=True)
class Population:
    """One pest, stage and method in a unit and in those it succeeded: one series of a forecast.

    Attributes
    ----------
    days : series of the days it was counted on, oldest first; of each day what was sampled.
    threshold : in the unit of the forecast's density; NaN without one. [1/plant ... 1/card-day]
    per : what densities are per, for people ("per_card_per_week").
    scale : people's unit over that of the forecast: 7 for catches a week.
    """

    key: Key
    days: tuple[Series, ...]
    treatments: tuple[Treatment, ...]
    growth: GrowthOf
    air_space: uuid.UUID | None
    dispersion: Dispersion
    threshold: float
    per: str
    scale: float

    @property
    def walks(self) -> int:
        """Days on which it was counted."""
        return len({s.on for s in self.days})


def of_key(
    known: Gathered,
    key: Key,
    history: History,
    treatments: Sequence[Treatment],
    dispersion: Dispersion,
    threshold: float | None,
) -> Population:
    """The population of a key, with what was counted in units that its unit succeeded.

    Only days in the quantity of the newest are in it, as in a trend.
    """
    keys = [replace(key, unit_id=unit) for unit in known.unit_line(key.unit_id)]
    days = history.of(key)
    if len(keys) > 1:
        days = sorted((s for k in keys for s in history.of(k)), key=lambda s: s.on)
    per = days[-1].per
    taxa = known.taxon_line(key.taxon)
    units = {k.unit_id for k in keys}
    place = known.place[key.unit_id]
    crops = {name for p in known.plantings_of[key.unit_id] for name in known.crop_line(p.crop)}
    scale = WEEK if per == "per_card_per_week" else 1.0
    return Population(
        key=key,
        days=tuple(s for s in days if s.per == per),
        treatments=tuple(t for t in treatments if t.unit_id in units and t.meets(key, taxa)),
        growth=growth_of(tuple(taxa), frozenset(crops)),
        air_space=place.air_space_id,
        dispersion=dispersion,
        threshold=float("nan") if threshold is None else threshold / scale,
        per=per,
        scale=scale,
    )


def arrays(
    known: Gathered,
    populations: Sequence[Population],
    exposures: Mapping[tuple[Key, dt.date], float],
    temperature: Mapping[uuid.UUID, Mapping[dt.date, float]],
    jumped: Sequence[frozenset[dt.date]],
) -> forecast.Series:
    """The flat arrays of all populations, days counted from the day of what was gathered.

    ``jumped`` are the days of each before which its level may have jumped.
    """
    counts = _counts(known.day, populations, exposures, jumped)
    air, house = _air(known, populations, temperature)
    kinds = [known.methods[p.key.method].kind for p in populations]
    each = np.arange(len(populations))
    return forecast.Series(
        **counts,
        reference=np.array([_reference(known, p) for p in populations]),
        threshold=np.array([p.threshold for p in populations]),
        room=np.array([_room(known, p) for p in populations]),
        pests=forecast.Pests(
            r30=np.array([p.growth.r30 for p in populations]),
            t_low=np.array([p.growth.t_low for p in populations]),
            general=np.array([p.growth.general for p in populations]),
        ),
        pest=each,
        methods=forecast.Methods(
            k=np.array([p.dispersion.k for p in populations]),
            so2=np.array([ROUND_ERROR.get(kind, ROUND_ERROR_OF_CARDS) for kind in kinds]),
        ),
        method=each,
        house=house,
        temperature=air,
        treatments=_treatments(populations),
        programmes=_programmes(populations),
    )


def _reference(known: Gathered, p: Population) -> float:
    method = known.methods[p.key.method]
    value = REFERENCE.get(method.item, REFERENCE.get(method.kind, REFERENCE["plant"]))
    return value / p.scale if method.kind == "card" else value


def _room(known: Gathered, p: Population) -> float:
    method = known.methods[p.key.method]
    value = ROOM.get(method.item, ROOM.get(method.kind, ROOM["plant"]))
    return value / p.scale if method.kind == "card" else value


def _counts(
    today: dt.date,
    populations: Sequence[Population],
    exposures: Mapping[tuple[Key, dt.date], float],
    jumped: Sequence[frozenset[dt.date]],
) -> dict[str, Any]:
    """Every day's count; NaN where nothing was counted, an effort of NaN where nobody says it."""
    columns = zip(*(s for p in populations for s in p.days), strict=True)
    days: dict[str, Sequence[Any]] = dict(zip(Series._fields, columns, strict=True))
    number = np.repeat(np.arange(len(populations)), [len(p.days) for p in populations])
    scale = np.array([p.scale for p in populations])[number]
    total, plants, effort, infested, mean_only = (
        np.array(said, float)  # of None it makes NaN
        for said in map(days.get, ("total", "units_sampled", "effort", "infested", "mean_only"))
    )
    unsaid = np.isnan(plants) | (np.array(days["lacks"]) != "")
    shares = np.isnan(total) & ~np.isnan(infested) & np.isnan(mean_only)
    exposure = np.where(np.isnan(total), NOT_HUNG, _exposed(populations, exposures))
    told = (shares, np.isnan(total), np.array(days["at_least"], bool), exposure > 0)
    return dict(
        series=number,
        day=np.array([on.toordinal() for on in days["on"]]) - today.toordinal() + NOON,
        count=np.where(shares, infested, total),
        effort=np.where(shares, plants, np.where(unsaid, NAN, effort * scale)),
        plants=plants,
        kind=np.select(told, (KIND.INFESTED, KIND.COUNT, KIND.AT_LEAST, KIND.CARD), KIND.COUNT),
        exposure=exposure,
        flags=_leaps(populations, jumped),
    )


def _exposed(
    populations: Sequence[Population], exposures: Mapping[tuple[Key, dt.date], float]
) -> FloatArray:
    """Days that the cards of each day hung; of what is no card, and where nobody says, 0."""
    held: list[float] = []
    for p in populations:
        cards = p.days if p.scale > 1 else ()
        said = [exposures.get((s.key, s.on), NOT_HUNG) for s in cards]
        held += said or [NOT_HUNG] * len(p.days)
    return np.array(held, float)


def _leaps(populations: Sequence[Population], jumped: Sequence[frozenset[dt.date]]) -> IntArray:
    held: list[int] = []
    for p, days in zip(populations, jumped, strict=True):
        held += [LEAP * (s.on in days) for s in p.days] if days else [0] * len(p.days)
    return np.array(held, np.int64)


def _air(
    known: Gathered,
    populations: Sequence[Population],
    temperature: Mapping[uuid.UUID, Mapping[dt.date, float]],
) -> tuple[forecast.Temperature | None, np.ndarray | None]:
    spaces = sorted(temperature)
    if not spaces:
        return None, None
    first = min(on for days in temperature.values() for on in days)
    days = (known.day - first).days + 1
    table = np.full((len(spaces) + 1, days), np.nan)  # the last row is where nobody measures
    for row, space in enumerate(spaces):
        for on, mean in temperature[space].items():
            if on <= known.day:
                table[row, (on - first).days] = mean
    house = np.array(
        [spaces.index(p.air_space) if p.air_space in spaces else len(spaces) for p in populations]
    )
    return forecast.Temperature((first - known.day).days, table), house


def _treatments(populations: Sequence[Population]) -> forecast.Treatments:
    held = [(n, t) for n, p in enumerate(populations) for t in p.treatments if t.kind != RELEASE]
    return forecast.Treatments(
        np.array([n for n, _ in held], dtype=np.int64),
        np.array([t.at for _, t in held], dtype=float),
        tuple(t.acts_as for _, t in held),
        np.array([t.share for _, t in held], dtype=float),
    )


def _programmes(populations: Sequence[Population]) -> forecast.Programmes:
    """Releases of one series are one programme, from the first to the last of them."""
    held = [
        (n, [t.at for t in p.treatments if t.kind == RELEASE]) for n, p in enumerate(populations)
    ]
    with_any = [(n, times) for n, times in held if times]
    return forecast.Programmes(
        np.array([n for n, _ in with_any], dtype=np.int64),
        np.array([min(times) for _, times in with_any], dtype=float),
        np.array([max(times) for _, times in with_any], dtype=float),
    )
