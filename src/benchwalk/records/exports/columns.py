"""The counts as Parquet files, by unit and day: ``unit=.../walk_on=.../counts.parquet``.

The folders are named in the way that readers of partitioned files know (unit and day come back as
columns); a number that nobody said is null, never 0, and ``looked`` says why.
"""

from __future__ import annotations

import re
from itertools import groupby
from pathlib import Path
from typing import Any
from urllib.parse import quote

import polars as pl
from sqlalchemy.orm import Session

from benchwalk.records.exports.count import Count
from benchwalk.records.exports.counts import counts
from benchwalk.records.exports.package import count_fields

IN_PATH = ("walk_on",)
NO_UNIT = "none"
LONGEST = 240  # most file systems take 255 bytes a name, "unit=" among them
TYPES = {
    "integer": pl.Int64(),
    "number": pl.Float64(),
    "boolean": pl.Boolean(),
    "date": pl.Date(),
    "datetime": pl.Datetime("us", "UTC"),
    "string": pl.String(),
}
SCHEMA = {field.name: TYPES[field.type] for field in count_fields() if field.name not in IN_PATH}
RENAMED = {"unit": "unit_name"}  # the folder's own column is called unit: house and unit in one


def write_columns(session: Session, folder: Path) -> int:
    """Write a file for each unit and day; how many."""
    written = 0
    for (unit, place, on), held in groupby(counts(session), key=_file):
        to = folder / f"unit={_named(unit, place)}" / f"walk_on={on}"
        to.mkdir(parents=True, exist_ok=True)
        rows = [_row(count) for count in held]
        frame = pl.DataFrame(rows, schema=SCHEMA, orient="row").rename(RENAMED)
        # two units of one name never share a file
        frame.write_parquet(to / f"counts-{unit}.parquet")
        written += 1
    return written


def _file(count: Count) -> tuple[str | None, str, str]:
    return count.unit_id, count.place, count.walk_on.isoformat()


def _named(unit: str | None, place: str) -> str:
    """What a folder is called: the unit; cut, with its id, where no file system takes it whole."""
    name = quote(place, safe=" ") if place else NO_UNIT
    if len(name) <= LONGEST:
        return name
    whole = re.sub(r"%.?$", "", name[: LONGEST - 37])
    return f"{whole}~{unit}"


def _row(count: Count) -> tuple[Any, ...]:
    held = zip(Count._fields, count, strict=True)
    return tuple(value for name, value in held if name not in IN_PATH)
