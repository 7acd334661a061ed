"""Which treatments met which series, and in what class each acts."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from sqlalchemy import and_, select
from sqlalchemy.orm import Session

from benchwalk import reference
from benchwalk.records import Application, Load, Treated
from benchwalk.records.queries import Put
from benchwalk.science.forecast import CLASSES
from benchwalk.summarise.gathered import Gathered
from benchwalk.summarise.series import Key

#: kinds that are put out against pests; the others are hand labour and have their own counts
ACTING = ("spray", "drench", "fog", "wash")
RELEASE = "release"
#: of the day, where only the day is known: scouts go first and treatments follow them.
#: Common practice, no source
LATE = 0.75


@dataclass(frozen=True)
class Treatment:
    """One treatment of one unit.

    Attributes
    ----------
    at : days from the day of the forecast, fractions are hours; negative before it. [d]
    kind : of the application; "release" acts on growth, never as a kill.
    acts_as : class of the forecast's parameters.
    assumed : whether nobody said and no table knows how it acts.
    """

    at: float
    on: dt.date
    unit_id: uuid.UUID
    kind: str
    what: str
    active: str | None
    against: str | None
    acts_as: str
    assumed: bool
    share: float

    def meets(self, key: Key, taxa: Sequence[str]) -> bool:
        """Whether it was meant for, or is known to act on, a pest at a stage.

        ``taxa`` is the pest and what it belongs to. A treatment of which nobody said against what,
        with an active that no table knows, is taken to act on every pest.
        """
        targets, stages = _acts_on(self.active) if self.active else ((), ())
        meant = self.against in taxa or bool(set(targets) & set(taxa))
        if not meant and (self.against is not None or targets):
            return False
        return key.stage != "egg" or not stages or "egg" in stages


@dataclass(frozen=True)
class Loaded:
    """One load on one unit, and to what its start is known: an instant or a day."""

    put: Put
    precision: str


def loads_of(session: Session, known: Gathered) -> list[Loaded]:
    """Every load of every kind up to the day of what was gathered, by unit and time."""
    held = (Loaded(Put(*row[:-1]), row[-1]) for row in session.execute(_loads()))
    return [one for one in held if one.put.at.astimezone(known.clock).date() <= known.day]


def _loads() -> Any:
    return (
        select(
            Application.id,
            Load.started_at,
            Treated.unit_id,
            Application.kind,
            Application.what,
            Application.active,
            Application.moa_group,
            Application.effect,
            Application.taxon,
            Treated.share_percent,
            Load.precision,
        )
        .select_from(Application)
        .join(
            Load,
            and_(
                Load.operation_id == Application.operation_id,
                Load.application_id == Application.id,
            ),
        )
        .join(
            Treated,
            and_(
                Treated.operation_id == Load.operation_id,
                Treated.application_id == Load.application_id,
                Treated.n == Load.n,
            ),
        )
        .order_by(Load.started_at, Treated.unit_id)
    )


def treatments_of(known: Gathered, loads: Iterable[Loaded]) -> list[Treatment]:
    """What the loads put out against pests: hand labour is left out, it has its own counts."""
    acting = (*ACTING, RELEASE)
    return [_treatment(known, one) for one in loads if one.put.kind in acting]


def _treatment(known: Gathered, loaded: Loaded) -> Treatment:
    put, local = loaded.put, loaded.put.at.astimezone(known.clock)
    acts_as = put.effect if put.effect in CLASSES else _class_of(put.active)
    return Treatment(
        at=(local.date() - known.day).days + _hour(local, loaded.precision),
        on=local.date(),
        unit_id=put.unit_id,
        kind=put.kind,
        what=put.what,
        active=put.active,
        against=put.against,
        acts_as=acts_as or "contact",
        assumed=acts_as is None,
        share=put.share_percent / 100,
    )


def _hour(local: dt.datetime, precision: str) -> float:
    return LATE if precision == "day" else (local.hour + local.minute / 60) / 24


@cache
def _class_of(active: str | None) -> str | None:
    """The class of an active by the shipped table; None where it says nothing."""
    row = _row(active)
    if row is None:
        return None
    if row.igr != "no":
        return "growth_regulator"
    if row.uptake is None:
        return None
    return "systemic" if "systemic" in row.uptake else "contact"


@cache
def _acts_on(active: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Pests and stages an active is known to act on."""
    row = _row(active)
    return ((), ()) if row is None else (row.target_keys, row.stage_classes)


@cache
def _row(active: str | None) -> reference.Active | None:
    return next((a for a in reference.actives() if active in (a.active_key, a.name)), None)
