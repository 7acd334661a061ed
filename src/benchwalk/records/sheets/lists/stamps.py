"""When the rows of a logger file were written: stamps, the clock that they are of, their order."""

from __future__ import annotations

import datetime as dt
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from benchwalk.records.sheets.lists.cells import Fault, clock_of, offset_of, parted
from benchwalk.records.sheets.lists.clock import instant, shown, standard_instant, wall
from benchwalk.records.sheets.lists.sheet import Row

CLOCK = "clock"
STANDARD, WALL = "standard_time", "wall_clock"
HOUR = dt.timedelta(hours=1)
Doubt = Literal["time_shown_twice", "time_shown_never"]


@dataclass(frozen=True)
class Stamp:
    """What a row says of its time.

    Parameters
    ----------
    series : which sensor's row it is; rows of several sensors may stand among each other.
    at : the time on the wall, or where ``zone`` is given the time in that zone.
    whole_day : only the day is given.
    instant : the instant meant; None while it is in doubt.
    doubt : why it is.
    second : the clock showed this time twice, and the second time is meant.
    """

    row: int
    series: str
    at: dt.datetime
    zone: dt.tzinfo | None
    whole_day: bool
    instant: dt.datetime | None = None
    doubt: Doubt | None = None
    second: bool = False


def stamp_of(row: Row, series: str, zone: dt.tzinfo | None) -> Stamp:
    """The stamp of a row, from one column or two; raises :class:`Fault` where it has none.

    Parameters
    ----------
    zone : an offset that holds for the whole file; None where its times are local.
    """
    meaning = next((m for m in ("stamp", "date", "time") if row.sheet.layout.column(m)), "stamp")
    text = row.text(meaning)
    if text is None:
        raise Fault("missing_time", meaning)
    day_text, clock, offset = parted(text)
    on = row.day_in(day_text, meaning)
    if clock is None and meaning == "date":
        clock, offset = _beside(row)
    if clock is None:
        return Stamp(row.number, series, wall(on, dt.timedelta()), zone, whole_day=True)
    since_midnight = clock_of(clock)
    if since_midnight is None:
        raise Fault("unreadable_time", meaning)
    own = offset_of(offset) if offset else None
    return Stamp(row.number, series, wall(on, since_midnight), own or zone, whole_day=False)


def _beside(row: Row) -> tuple[str | None, str | None]:
    """The time of day in the column beside the day's."""
    text = row.text("time")
    if text is None:
        if row.sheet.layout.column("time") is not None:
            raise Fault("missing_time", "time")
        return None, None
    if clock_of(text) is not None:
        return text, None
    _, clock, offset = parted(f"1 {text}")
    if clock is None:
        raise Fault("unreadable_time", "time")
    return clock, offset


def newest_first(stamps: Sequence[Stamp]) -> bool:
    """Whether a file is written backwards: more steps back than forward."""
    steps = [b.at - a.at for a, b in pairwise(stamps) if a.series == b.series]
    back = sum(s < dt.timedelta() for s in steps)
    return back > sum(s > dt.timedelta() for s in steps)


def usual_step(times: Sequence[dt.datetime]) -> dt.timedelta | None:
    """The median step of a series [time]; None where it has no two times."""
    steps = [b - a for a, b in pairwise(sorted(set(times)))]
    return statistics.median_low(steps) if steps else None


def settled(
    stamps: Sequence[Stamp], zone: dt.tzinfo, answer: str | None, *, backwards: bool
) -> list[Stamp]:
    """The stamps with their instants, in the order given.

    A time that the clocks showed twice is of the first pass until the series steps back; where it
    never does, which one is meant is in doubt. A time that they never showed is in doubt too. A
    clock that a person says is kept at standard time leaves no doubt.

    Parameters
    ----------
    answer : ``standard_time``, ``wall_clock``, or None where nobody was asked.
    """
    if answer == STANDARD:
        return [
            replace(s, instant=instant(s.at, s.zone) if s.zone else standard_instant(s.at, zone))
            for s in stamps
        ]
    held: dict[int, Stamp] = {}
    for series in dict.fromkeys(s.series for s in stamps):
        mine = [s for s in stamps if s.series == series]
        for s in _of_series(mine[::-1] if backwards else mine, zone):
            held[s.row] = s
    return [held[s.row] for s in stamps]


def _of_series(stamps: Sequence[Stamp], zone: dt.tzinfo) -> list[Stamp]:
    step = usual_step([s.at for s in stamps])
    found: list[Stamp] = []
    stretch: list[Stamp] = []
    for s in stamps:
        often = "once" if s.zone else shown(s.at, zone)
        if often == "twice" and (not stretch or abs(s.at - stretch[-1].at) < HOUR * 2):
            stretch.append(s)
            continue
        found += _passes(stretch, zone, step)
        stretch = [s] if often == "twice" else []
        if often == "never":
            found.append(replace(s, doubt="time_shown_never"))
        elif often == "once":
            found.append(replace(s, instant=instant(s.at, s.zone or zone)))
    return [*found, *_passes(stretch, zone, step)]


def _passes(stretch: Sequence[Stamp], zone: dt.tzinfo, step: dt.timedelta | None) -> list[Stamp]:
    """The times of one night that the clocks showed twice, parted where the series steps back."""
    hourly = step is not None and step >= HOUR
    turn = next(
        (n for n, (a, b) in enumerate(pairwise(stretch), 1) if _steps_back(a, b, hourly)), None
    )
    if turn is None:
        return [replace(s, doubt="time_shown_twice") for s in stretch]
    return [
        replace(s, instant=instant(s.at, zone, second=n >= turn), second=n >= turn)
        for n, s in enumerate(stretch)
    ]


def _steps_back(before: Stamp, after: Stamp, hourly: bool) -> bool:
    return after.at < before.at or (hourly and after.at == before.at)
