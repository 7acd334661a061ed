"""What a folder of tables must keep to; each breach is a sentence that names table, row and key."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from importlib.resources.abc import Traversable

from benchwalk.reference.coherence import Tables, incoherences
from benchwalk.reference.reading import TABLES, Row, columns, examine
from benchwalk.reference.shelf import ROW_TYPES

Folder = Mapping[type[Row], Mapping[int, Row]]


def check_tables(folder: Traversable = TABLES) -> list[str]:
    """Every fault of the tables in a folder, one sentence each; empty: they are sound."""
    faults = _files(folder)
    tables: dict[type[Row], Mapping[int, Row]] = {}
    for row_type in ROW_TYPES:
        if (folder / f"{row_type.table}.csv").is_file():
            tables[row_type], wrong = examine(row_type, folder)
            faults += wrong
    for check in (_duplicates, _targets, _ranges):
        faults += check(tables)
    return faults + incoherences(Tables({kind: list(t.values()) for kind, t in tables.items()}))


def _files(folder: Traversable) -> list[str]:
    wanted = {f"{row_type.table}.csv" for row_type in ROW_TYPES}
    there = {entry.name for entry in folder.iterdir() if entry.name.endswith(".csv")}
    return [f"{name} is missing" for name in sorted(wanted - there)] + [
        f"{name} is no table of the reference" for name in sorted(there - wanted)
    ]


def _place(row: Row, line: int) -> str:
    key = " ".join(str(getattr(row, name)) for name in row.key)
    return f"{row.table}.csv, line {line} ({key})"


def _duplicates(tables: Folder) -> list[str]:
    faults = []
    for row_type, lines in tables.items():
        keys = Counter(tuple(getattr(row, name) for name in row_type.key) for row in lines.values())
        faults += [
            f"{row_type.table}.csv: the key {' '.join(map(str, key))} stands {n} times"
            for key, n in keys.items()
            if n > 1
        ]
    return faults


def _targets(tables: Folder) -> list[str]:
    known = {
        row_type.table: {getattr(row, row_type.key[0]) for row in lines.values()}
        for row_type, lines in tables.items()
    }
    return [
        f"{_place(row, line)}: {name} {key!r} is not in {to}.csv; add it there or correct the key"
        for row_type, lines in tables.items()
        for name, to in ((c.name, c.to) for c in columns(row_type) if c.to is not None)
        for line, row in lines.items()
        for key in _keys(getattr(row, name))
        if key not in known.get(to, ())
    ]


def _keys(cell: str | tuple[str, ...] | None) -> tuple[str, ...]:
    return cell if isinstance(cell, tuple) else () if cell is None else (cell,)


def _ranges(tables: Folder) -> list[str]:
    return [
        f"{_place(row, line)}: {low} {getattr(row, low):g} > {high} {getattr(row, high):g}"
        for row_type, lines in tables.items()
        for low, high in _pairs(row_type)
        for line, row in lines.items()
        if _turned(getattr(row, low), getattr(row, high))
    ]


def _pairs(row_type: type[Row]) -> Iterator[tuple[str, str]]:
    names = [column.name for column in columns(row_type)]
    for low in names:
        high = "_".join("high" if part == "low" else part for part in low.split("_"))
        if high != low and high in names:
            yield low, high


def _turned(low: float | None, high: float | None) -> bool:
    return low is not None and high is not None and low > high
