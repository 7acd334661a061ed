"""Temperatures of each air space, a mean for each day."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Mapping

from sqlalchemy import Date, and_, func, select
from sqlalchemy.orm import Session

from benchwalk.records import Climate, House, Station, Unit


def daily_means(
    session: Session, since: dt.date, until: dt.date
) -> Mapping[uuid.UUID, Mapping[dt.date, float]]:
    """Mean temperature [degC] by air space and day; a day without a plausible reading is absent.

    A reading without a mean stands for the middle of its lowest and highest. Days are those of
    the clock in which readings are kept (UTC).
    """
    middle = (Climate.temp_min_c + Climate.temp_max_c) / 2
    day = func.date(Climate.at, type_=Date)
    found = (
        select(House.air_space_id, day, func.avg(func.coalesce(Climate.temp_c, middle)))
        .select_from(Climate)
        .join(
            Station,
            and_(Station.operation_id == Climate.operation_id, Station.id == Climate.station_id),
        )
        .join(Unit, and_(Unit.operation_id == Station.operation_id, Unit.id == Station.unit_id))
        .join(House, and_(House.operation_id == Unit.operation_id, House.id == Unit.house_id))
        .where(
            day.between(since, until),
            Climate.implausible.is_(False),
            Station.role != "outside",
        )
        .group_by(House.air_space_id, day)
    )
    held: dict[uuid.UUID, dict[dt.date, float]] = {}
    for air_space, on, mean in session.execute(found):
        if mean is not None:
            held.setdefault(air_space, {})[on] = float(mean)
    return held
