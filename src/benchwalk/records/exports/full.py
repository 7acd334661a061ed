"""All of an operation, to be taken up elsewhere: the ledger row by row, people in files apart.

==================  ================================================================
operation.json      whose it is, and the end of its chain: number of rows, digest
ledger.jsonl        every ledger row in order, with its digest; ids of people, no name
people.jsonl        id, pseudonym and role of people
names.jsonl         their names. Left out, everything else can still be taken up
devices.jsonl       phones that were paired
aside.jsonl         what was received and could not be taken
==================  ================================================================

Text is kept letter by letter: these files are for a program, so nothing is guarded in them.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from sqlalchemy import Select, func, inspect, select
from sqlalchemy.orm import Session

from benchwalk.catalogue import Refusal
from benchwalk.records.exports.cells import instant
from benchwalk.records.exports.folder import sha256_of
from benchwalk.records.exports.moment import streamed
from benchwalk.records.ledger import HASHED, canonical
from benchwalk.records.operations import Aside, Device, Ledger, Operation, Person

FORM = 1  # of these files; raised when an older program could misread them
OPERATION, LEDGER, PEOPLE, NAMES = "operation.json", "ledger.jsonl", "people.jsonl", "names.jsonl"
DEVICES, ASIDE = "devices.jsonl", "aside.jsonl"
LISTS = (PEOPLE, NAMES, DEVICES, ASIDE)


def write_full(session: Session, folder: Path) -> int:
    """Write every file; the number of ledger rows.

    Raises
    ------
    Refusal
        where the ledger read is not the ledger counted: rows are missing or hidden from here.
    """
    count, head = _ledger(session, folder / LEDGER)
    expected = session.execute(select(func.count()).select_from(Ledger)).scalar_one()
    newest = session.execute(select(func.max(Ledger.seq))).scalar()
    if count != expected or (newest is not None and newest != count):
        raise Refusal("leave.refused.gap", written=count, expected=newest)
    for name, (model, fields) in _PLAIN.items():
        order = model.n if model is Aside else model.id
        query = select(*(getattr(model, field) for field in fields)).order_by(order)
        _lines(folder / name, _said(session, query, fields))
    text = json.dumps(_about(session, folder, count, head), ensure_ascii=False, indent=1)
    (folder / OPERATION).write_text(text + "\n", encoding="utf-8")
    return count


_PLAIN: dict[str, tuple[Any, tuple[str, ...]]] = {
    PEOPLE: (Person, ("id", "pseudonym", "role")),
    NAMES: (Person, ("id", "name")),
    DEVICES: (Device, ("id", "label", "last_heard_at", "unsent", "revoked_at")),
    ASIDE: (Aside, tuple(c.key for c in inspect(Aside).columns if c.key != "operation_id")),
}


def _ledger(session: Session, path: Path) -> tuple[int, str]:
    """Write the ledger; how many rows, and the digest of the last one."""
    count, head = 0, ""
    with path.open("w", encoding="utf-8", newline="\n") as file:
        for row in ledger_rows(session):
            file.write(canonical(row) + "\n")
            count, head = count + 1, row["digest"]
    return count, head


def ledger_rows(session: Session) -> Iterator[dict[str, Any]]:
    """Every row of the ledger in order, as it is written down."""
    query = select(*(getattr(Ledger, name) for name in (*HASHED, "digest"))).order_by(Ledger.seq)
    for row in streamed(session, query):
        yield {name: written(value) for name, value in row._mapping.items()}


def written(value: Any) -> Any:
    """A value of a plain table as JSON holds it."""
    if isinstance(value, bytes):
        return value.hex()
    if value is None or isinstance(value, str | int | float):
        return value
    return instant(value) if hasattr(value, "astimezone") else str(value)


def _said(
    session: Session, query: Select[*tuple[Any, ...]], fields: Iterable[str]
) -> Iterator[dict[str, Any]]:
    for row in streamed(session, query):
        yield {name: written(value) for name, value in zip(fields, row, strict=True)}


def _lines(path: Path, rows: Iterable[dict[str, Any]]) -> None:
    with path.open("w", encoding="utf-8", newline="\n") as file:
        file.writelines(canonical(row) + "\n" for row in rows)


def _about(session: Session, folder: Path, count: int, head: str) -> dict[str, Any]:
    mine = session.info["operation_id"]
    operation = session.execute(select(Operation).where(Operation.id == mine)).scalar_one()
    return {
        "form": FORM,
        "uid": str(operation.uid),
        "name": operation.name,
        "zone": operation.zone,
        "epoch": operation.epoch,
        "practice": operation.practice,
        "ledger_rows": count,
        "head": head,
        "files": {name: sha256_of(folder / name) for name in LISTS},
    }
