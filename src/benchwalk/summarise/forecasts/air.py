"""Temperatures of each air space, a mean for each day."""

from __future__ import annotations

import datetime as dt
import uuid

from sqlalchemy import Date, Select, and_, func, select

from benchwalk.records import Climate, House, Station, Unit


def daily_means(since: dt.date, until: dt.date) -> Select[tuple[dt.date, uuid.UUID, float]]:
    """The question for mean temperatures [degC] by day and air space.

    A day without a plausible reading is absent.

    A reading without a mean stands for the middle of its lowest and highest. Days are those of
    the clock in which readings are kept (UTC).
    """
    middle = (Climate.temp_min_c + Climate.temp_max_c) / 2
    day = func.date(Climate.at, type_=Date)
    return (
        select(day, House.air_space_id, func.avg(func.coalesce(Climate.temp_c, middle)))
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
