"""What the forecast learned from the operation's own records, kept and taken up again."""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any

import numpy as np
from sqlalchemy import and_, select
from sqlalchemy.orm import Session

from benchwalk.records import Refit, Visit, Walk
from benchwalk.science import forecast
from benchwalk.science.forecast.fit import fit, k_of_rounds
from benchwalk.summarise.forecasts.seen import Population
from benchwalk.summarise.gathered import Gathered
from benchwalk.summarise.series import Key

Scouts = Mapping[tuple[uuid.UUID, dt.date], str]
NOBODY = -1


@dataclass(frozen=True)
class Learned:
    """A stored refit, ready to be used: by name of group and method, scouts by their id."""

    on: dt.date
    until_seq: int
    params: forecast.Params
    groups: Mapping[str, int] = field(default_factory=dict)
    k: Mapping[str, float] = field(default_factory=dict)
    so2: Mapping[str, float] = field(default_factory=dict)
    scouts: Mapping[str, forecast.ScoutOffset] = field(default_factory=dict)


def group_name(key: Key) -> str:
    """The group of a series: pest, stage and method."""
    return f"{key.taxon}|{key.stage}|{key.method}"


def stored(refits: Sequence[tuple[dt.date, int, str, Mapping[str, Any]]]) -> Learned | None:
    """The newest of these refits; None of none: start values are in use."""
    if not refits:
        return None
    on, until_seq, _, said = max(refits, key=lambda held: held[:3])
    start = forecast.DEFAULTS
    classes = {
        name: replace(start.classes[name], log_kill=kill, source="fitted")
        for name, kill in said["classes"].items()
    }
    params = replace(
        start,
        common=forecast.Group(**said["common"]),
        groups=tuple(forecast.Group(**group) for group in said["groups"].values()),
        classes=start.classes | classes,
        programme_growth=said["programme_growth"],
        version=on.isoformat(),
        source=f"fitted {on.isoformat()}",
    )
    return Learned(
        on=on,
        until_seq=until_seq,
        params=params,
        groups={name: n for n, name in enumerate(said["groups"])},
        k=said["k"],
        so2=said["so2"],
        scouts={name: forecast.ScoutOffset(**o) for name, o in said["scouts"].items()},
    )


def taken_up(
    learned: Learned, given: forecast.Series, populations: Sequence[Population], scouts: Scouts,
    day: dt.date,
) -> tuple[forecast.Series, forecast.Params]:  # fmt: skip
    """The arrays and numbers of a forecast by what was learned.

    The k of a group is used where a series has too few rounds to teach its own. A scout's offset
    is used from the day on which it was learned: what was forecast before stays as it was.
    """
    names = [group_name(p.key) for p in populations]
    k, so2 = (np.array(a, float) for a in (given.methods.k, given.methods.so2))
    for n, (p, name) in enumerate(zip(populations, names, strict=True)):
        so2[n] = learned.so2.get(p.key.method, so2[n])
        k[n] = learned.k.get(name, k[n]) if p.dispersion.assumed else k[n]
    number = {scout: n for n, scout in enumerate(sorted(learned.scouts))}
    since = float((learned.on - day).days)
    offsets = {n: replace(learned.scouts[s], known_from=since) for s, n in number.items()}
    return (
        replace(
            given,
            group=np.array([learned.groups.get(name, -1) for name in names], np.int64),
            methods=forecast.Methods(k, so2),
            scout=_scout_of(given, populations, scouts, number, day),
        ),
        replace(learned.params, scouts=offsets),
    )


def scouts_of(session: Session, since: dt.date, day: dt.date) -> Scouts:
    """Who walked each unit on each day, where one scout did and the records say who."""
    found = (
        select(Visit.unit_id, Walk.walk_on, Walk.scout_id)
        .join(Walk, and_(Walk.operation_id == Visit.operation_id, Walk.id == Visit.walk_id))
        .where(Walk.walk_on.between(since, day))
        .distinct()
    )
    held: dict[tuple[uuid.UUID, dt.date], list[str | None]] = defaultdict(list)
    for unit, on, scout in session.execute(found):
        held[unit, on].append(None if scout is None else str(scout))
    return {at: who[0] for at, who in held.items() if len(who) == 1 and who[0] is not None}


def _scout_of(
    given: forecast.Series, populations: Sequence[Population], scouts: Scouts,
    number: Mapping[str, int], day: dt.date,
) -> np.ndarray:  # fmt: skip
    """Number of the scout of each count, by the unit it was made in."""
    unit = {
        (n, (s.on - day).days): s.key.unit_id for n, p in enumerate(populations) for s in p.days
    }
    who = []
    for n, at in zip(given.series.tolist(), np.floor(given.day).astype(int).tolist(), strict=True):
        scout = scouts.get((unit[n, at], day + dt.timedelta(days=at)))
        who.append(NOBODY if scout is None else number.get(scout, NOBODY))
    return np.array(who, np.int64)


def refit(
    given: forecast.Series, populations: Sequence[Population], known: Gathered, scouts: Scouts
) -> Refit:
    """New numbers from all that was counted; the caller writes them.

    A group is a pest, stage and method; below 50 series it keeps the common numbers. The round
    error is shared by all series of a method.
    """
    names = [group_name(p.key) for p in populations]
    methods = [p.key.method for p in populations]
    people = sorted(set(scouts.values()))
    number = {scout: n for n, scout in enumerate(people)}
    seen = replace(given, scout=_scout_of(given, populations, scouts, number, known.day))
    found = fit(
        seen,
        _numbered(names),
        version=known.day.isoformat(),
        alike=_numbered(methods),
    )
    start = forecast.DEFAULTS.classes
    return Refit(
        fitted_on=known.day,
        until_seq=known.newest_seq,
        series=found.series,
        counts=found.counts,
        numbers={
            "common": asdict(found.params.common),
            "groups": {
                name: asdict(found.params.groups[n])
                for name, n in sorted(zip(names, found.group.tolist(), strict=True))
                if n >= 0
            },
            "k": _k_by_group(populations),
            "so2": dict(zip(methods, np.asarray(found.methods.so2).tolist(), strict=True)),
            "classes": {
                n: c.log_kill for n, c in found.params.classes.items() if c != start.get(n)
            },
            "programme_growth": found.params.programme_growth,
            "scouts": {people[n]: _said(o) for n, o in found.params.scouts.items()},
        },
    )


def _said(offset: forecast.ScoutOffset) -> dict[str, Any]:
    return {"mean": offset.mean, "sd": offset.sd, "looks": offset.looks}


def _numbered(names: Sequence[str]) -> list[int]:
    order = {name: n for n, name in enumerate(sorted(set(names)))}
    return [order[name] for name in names]


def _k_by_group(populations: Sequence[Population]) -> dict[str, float]:
    """The k of each group, from the variance within its rounds of plants counted one by one."""
    rounds: dict[str, list[tuple[float, float, int]]] = defaultdict(list)
    for p in populations:
        for s in p.days:
            if s.singles >= 2:
                mean = s.singles_total / s.singles
                variance = (s.singles_squares - s.singles * mean**2) / (s.singles - 1)
                rounds[group_name(p.key)].append((mean, variance, s.singles))
    held = {name: k_of_rounds(*zip(*of, strict=True)) for name, of in rounds.items()}
    return {name: float(k) for name, k in held.items() if np.isfinite(k) and k > 0}
