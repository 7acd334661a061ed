"""What is odd about a series of readings: gaps, jumps, values no house has, a stuck sensor.

Nothing is corrected: a row keeps its values and is marked.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from benchwalk.records.sheets.lists.found import ClimateRow, Finding
from benchwalk.records.sheets.lists.stamps import usual_step

# own choices, no source: what a greenhouse in use, and its logger, can show
COLDEST_C, HOTTEST_C = -30.0, 60.0
JUMP_C, JUMP_WITHIN = 15.0, dt.timedelta(minutes=15)
GAP_STEPS = 3
STUCK_FOR = dt.timedelta(hours=24)


def implausible(temperatures: Sequence[float | None], rh: float | None) -> bool:
    """Whether a value is one that no house has; absent values are not."""
    cold_or_hot = any(t is not None and not COLDEST_C <= t <= HOTTEST_C for t in temperatures)
    return cold_or_hot or (rh is not None and not 0 <= rh <= 100)


def with_jumps(rows: Sequence[ClimateRow]) -> tuple[list[ClimateRow], list[Finding]]:
    """A series in order of time, rows marked that jump from the last plausible one near them."""
    marked: list[ClimateRow] = []
    found: list[Finding] = []
    last: ClimateRow | None = None
    for row in rows:
        if row.temp_c is None or row.implausible:
            marked.append(row)
        elif last is not None and _jumps(last, row):
            marked.append(replace(row, implausible=True))
            raw = f"{last.temp_c:g} > {row.temp_c:g} °C"
            found.append(Finding("jump", row.at, row.sensor, last.instant, row.instant, raw))
        else:
            marked.append(row)
            last = row
    return marked, found


def _jumps(before: ClimateRow, after: ClimateRow) -> bool:
    if before.temp_c is None or after.temp_c is None:
        return False
    near = after.instant - before.instant <= JUMP_WITHIN
    return near and abs(after.temp_c - before.temp_c) > JUMP_C


def gaps(rows: Sequence[ClimateRow]) -> Iterator[Finding]:
    """Silences longer than three usual steps: between which readings, and how long."""
    step = usual_step([r.instant for r in rows])
    for before, after in pairwise(rows):
        silent = after.instant - before.instant
        if step is not None and silent > GAP_STEPS * step:
            yield Finding(
                "gap", after.at, after.sensor, before.instant, after.instant, length(silent)
            )


def stuck(rows: Sequence[ClimateRow]) -> Iterator[Finding]:
    """A temperature, or a humidity, that is the same for a day."""
    for name, sign in (("temp_c", "°C"), ("rh_percent", "%")):
        start: ClimateRow | None = None
        last: ClimateRow | None = None
        for row in (*rows, None):
            value = None if row is None else getattr(row, name)
            if start is not None and last is not None and value != getattr(start, name):
                if last.instant - start.instant >= STUCK_FOR:
                    raw = f"{getattr(start, name):g} {sign}"
                    yield Finding("stuck", start.at, start.sensor, start.instant, last.instant, raw)
                start = None
            if value is not None:
                start, last = start or row, row


def length(silent: dt.timedelta) -> str:
    """A length of time in figures: "2 d 03:15"."""
    minutes = int(silent.total_seconds()) // 60
    days, rest = divmod(minutes, 24 * 60)
    clock = f"{rest // 60:02d}:{rest % 60:02d} h"
    return f"{days} d {clock}" if days else clock


def by_sensor(rows: Sequence[ClimateRow]) -> Iterable[list[ClimateRow]]:
    """The readings of each sensor as they stand."""
    held: dict[str, list[ClimateRow]] = {}
    for row in rows:
        held.setdefault(row.sensor, []).append(row)
    return held.values()


def of_sensors(rows: Sequence[ClimateRow]) -> Iterator[list[ClimateRow]]:
    """The readings of each sensor in order of time."""
    return (sorted(series, key=lambda r: r.instant) for series in by_sensor(rows))
