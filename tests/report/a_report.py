"""A week to be reported: the week by hand, with trends, flags and records voided beside it."""

from __future__ import annotations

import datetime as dt
import math

from benchwalk.summarise import (
    FlagStanding,
    Marked,
    Over,
    Point,
    Reported,
    Summary,
    Trend,
    UnitSummary,
    Voided,
)
from benchwalk.summarise.week import Density, Line
from tests.report.a_summary import HOSTILE_UNIT, a_summary
from tests.report.by_hand import DAY

NAN = math.nan
WEEK = dt.timedelta(days=7)
# weeks before the day, in units of the threshold: (mean, low, high); what is left out was not
# looked at, and NaN was seen without being measured
COURSE = {
    20: (0.0, 0.0, 0.3),
    19: (0.2, 0.1, 0.5),
    18: (0.01, 0.0, 0.4),
    15: (0.9, 0.5, 2.0),
    14: (NAN, NAN, NAN),
    13: (30.0, 12.0, 80.0),
    1: (1.0, 0.6, 1.9),
    0: (2.4, 1.5, 3.7),
}
LONG_AGO = 30  # weeks: before the half year that is shown


def point(line: Line, weeks: int, times: tuple[float, float, float], value: float) -> Point:
    reason = "not_counted" if math.isnan(times[0]) else ""
    mean, low, high = (x * value for x in times)
    on = DAY - weeks * WEEK
    return Point(on, line.series.key.unit_id, Density(mean, low, high, reason), False)


def treated(unit: UnitSummary, on: dt.date, kind: str, what: str, **said: object) -> Marked:
    row: dict[str, object] = {"active": None, "against": None, "share_percent": 100}
    return Marked(on=on, unit_id=unit.unit.id, kind=kind, what=what, **(row | said))


def treatments(unit: UnitSummary) -> tuple[Marked, ...]:
    thrips = "western_flower_thrips"
    return (
        treated(unit, DAY - LONG_AGO * WEEK, "drench", "long ago"),
        treated(unit, DAY - 12 * WEEK, "spray", "spinosad", against=thrips, share_percent=50),
        treated(unit, DAY - 12 * WEEK + dt.timedelta(days=1), "wash", "plain water"),
        treated(unit, DAY - 5 * WEEK, "spray", "spinosad", against=thrips, share_percent=50),
        treated(unit, DAY - 5 * WEEK, "release", "=swirskii", against=thrips),
    )


def trend_of(unit: UnitSummary, line: Line) -> Trend:
    rule = line.rule
    value = (rule and rule.threshold.value) or 1.0
    points = (point(line, weeks, times, value) for weeks, times in COURSE.items())
    old = point(line, LONG_AGO, (5.0, 4.0, 6.0), value)
    return Trend(line.series.key, line.series.per, (old, *points), treatments(unit))


def over_of(summary: Summary) -> tuple[Over, ...]:
    return tuple(
        Over(unit, line, trend_of(unit, line))
        for unit in summary.units
        for line in unit.lines
        if line.state == "over"
    )


def flags_of(summary: Summary) -> tuple[FlagStanding, ...]:
    here = {unit.unit.name: unit.unit.id for unit in summary.units}
    return (
        FlagStanding(here["Bench row 2"], "red", "virus suspected", "row 3", "confirmed", DAY),
        FlagStanding(here[HOSTILE_UNIT], "blue", "=cmd()", None, None, None),
    )


def voided_of(summary: Summary) -> tuple[Voided, ...]:
    unit = summary.units[0].unit.id
    return (
        Voided("observation", "counted on the wrong bench", DAY, unit),
        Voided("some_kind_of_later", "<b>typed twice</b>", DAY, None),
    )


def a_report(summary: Summary | None = None) -> Reported:
    week = a_summary() if summary is None else summary
    return Reported(week, over_of(week), flags_of(week), voided_of(week))
