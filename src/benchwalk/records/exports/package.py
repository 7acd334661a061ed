"""The records as CSV files with their description: a data package (datapackage.org, version 2).

First the counts, each with its effort and the absences as words; then every table. The
description holds the fields and their types, keys, references, closed lists, and which words of a
field mean that there is no number.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from benchwalk.records.exports.cells import cell, instant
from benchwalk.records.exports.count import ABSENT, LOOKED, UNCOUNTED, Count
from benchwalk.records.exports.counts import counts
from benchwalk.records.exports.folder import sha256_of
from benchwalk.records.exports.tables import Described, Field, Reference, described, rows
from benchwalk.records.operations import Ledger, Operation

PROFILE = "https://datapackage.org/profiles/2.0/datapackage.json"
KINDS = {"int": "integer", "float": "number", "bool": "boolean", "str": "string"}
NUMBER_WORDS = ("", *ABSENT, *UNCOUNTED.values())
AS_THEY_ARE = frozenset((int, float, type(None)))
GUARDED = (
    "Text that a spreadsheet would run, text that begins with an apostrophe, and empty text have"
    " one apostrophe in front; take it away to have the text as it was. An empty cell: not said."
)


@dataclass(frozen=True)
class Leaving:
    """One table on its way out: its name, fields, keys, and rows."""

    name: str
    fields: tuple[Field, ...]
    key: tuple[str, ...]
    references: tuple[Reference, ...]
    rows: Iterable[tuple[Any, ...]]


def leaving(session: Session) -> Iterator[Leaving]:
    """The counts, then every table; rows are asked for when they are wanted."""
    yield Leaving("counts", count_fields(), (), (), _count_rows(session))
    for table in described():
        yield _table(session, table)


def _table(session: Session, table: Described) -> Leaving:
    return Leaving(table.name, table.fields, table.key, table.references, rows(session, table))


@cache
def count_fields() -> tuple[Field, ...]:
    """The fields of the counts, by the types that they are declared with."""
    lists = {"looked": (*LOOKED, *ABSENT)}
    return tuple(_count_field(name, lists.get(name, ())) for name in Count._fields)


def _count_field(name: str, among: tuple[str, ...]) -> Field:
    declared = str(getattr(Count.__annotations__[name], "__forward_arg__", "")).split(" | ")[0]
    special = {"dt.date": "date", "dt.datetime": "datetime"}
    kind = special.get(declared) or KINDS[declared]
    required = name in ("walk_on", "looked", "walk_id")
    return Field(name, kind, required, among=among, is_id=name.endswith("_id"))


def _count_rows(session: Session) -> Iterator[tuple[Any, ...]]:
    at = Count._fields.index("number")
    for count in counts(session):
        yield (*count[:at], count.number_said, *count[at + 1 :])


def write_package(session: Session, folder: Path) -> None:
    """Write the CSV files and ``datapackage.json`` into a folder."""
    resources = []
    for table in leaving(session):
        path = folder / f"{table.name}.csv"
        write_csv(path, [field.name for field in table.fields], table.rows)
        resources.append(resource(table, path))
    about = description(session) | {"resources": resources}
    text = json.dumps(about, ensure_ascii=False, indent=1)
    (folder / "datapackage.json").write_text(text + "\n", encoding="utf-8")


def write_csv(path: Path, heading: Iterable[str], held: Iterable[tuple[Any, ...]]) -> None:
    """One CSV file (RFC 4180, UTF-8): a row at a time, every text guarded."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(heading)
        # the library writes numbers and nothing at all as they are wanted
        writer.writerows(
            [value if type(value) in AS_THEY_ARE else cell(value) for value in row] for row in held
        )


def description(session: Session) -> dict[str, Any]:
    """Whose records these are, as of when, and how to read them; no clock is read."""
    mine = session.info["operation_id"]
    operation = session.execute(select(Operation).where(Operation.id == mine)).scalar_one()
    last = select(func.max(Ledger.received_at), func.max(Ledger.seq))
    at, seq = session.execute(last.where(Ledger.operation_id == mine)).one()
    said = {
        "$schema": PROFILE,
        "name": "benchwalk-records",
        "id": str(operation.uid),
        "title": operation.name,
        "description": GUARDED,
        "version": str(seq),
        "zone": operation.zone,
    }
    return said if at is None else said | {"created": instant(at)}


def resource(table: Leaving, path: Path) -> dict[str, Any]:
    """One file's description (Data Resource, Table Schema)."""
    said: dict[str, Any] = {
        "name": table.name.replace("_", "-"),
        "type": "table",
        "path": path.name,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": path.stat().st_size,
        "hash": f"sha256:{sha256_of(path)}",
        "description": texts()[table.name, ""],
        "schema": schema(table),
    }
    return said


def schema(table: Leaving) -> dict[str, Any]:
    """Fields, key and references of a table in the words of Table Schema."""
    said: dict[str, Any] = {
        "fields": [_field_said(table.name, field) for field in table.fields],
        "missingValues": [""],
    }
    if table.key:
        said["primaryKey"] = list(table.key)
    if table.references:
        said["foreignKeys"] = [_reference_said(table.name, r) for r in table.references]
    return said


def _field_said(table: str, field: Field) -> dict[str, Any]:
    said: dict[str, Any] = {"name": field.name, "type": field.type}
    if field.is_id:
        said["format"] = "uuid"
    if (table, field.name) in texts():
        said["description"] = texts()[table, field.name]
    if (table, field.name) == ("counts", "number"):
        said["missingValues"] = list(NUMBER_WORDS)
    bounds: dict[str, Any] = {"required": True} if field.required else {}
    if field.among:
        bounds["enum"] = list(field.among)
    return said | ({"constraints": bounds} if bounds else {})


def _reference_said(table: str, reference: Reference) -> dict[str, Any]:
    there = "" if reference.table == table else reference.table.replace("_", "-")
    reached = {"resource": there, "fields": list(reference.there)}
    return {"fields": list(reference.fields), "reference": reached}


@cache
def texts() -> Mapping[tuple[str, str], str]:
    """What a table (field "") or a field is, in words."""
    text = (files(__package__) / "said.csv").read_text(encoding="utf-8")
    return {(r["table"], r["field"]): r["text"] for r in csv.DictReader(text.splitlines())}
