"""Taking up an operation that left in full: the same records, the same end of the chain.

The ledger is read row by row, each digest recomputed, and every record brought to what its rows
say, in the order in which it was once written. All rules of the database hold meanwhile; all of it
is taken up, or nothing.
"""

from __future__ import annotations

import datetime as dt
import json
import uuid
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby, islice
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, insert, select
from sqlalchemy.orm import Session

from benchwalk.catalogue import Refusal
from benchwalk.records.base import Base
from benchwalk.records.database import writing
from benchwalk.records.exports.folder import sha256_of
from benchwalk.records.exports.full import (
    ASIDE,
    DEVICES,
    FORM,
    LEDGER,
    LISTS,
    NAMES,
    OPERATION,
    PEOPLE,
)
from benchwalk.records.exports.replay import replay, value_of
from benchwalk.records.ledger import BATCH, HASHED, digest
from benchwalk.records.operations import Aside, Device, Ledger, Operation, Person

# own choice: what was written together and is shorter is brought to the tables together, whatever
# the order in it; what is longer was written in batches, and is taken up in those
TOGETHER = 40 * BATCH


@dataclass(frozen=True)
class Adopted:
    """What was taken up: the operation's number here, its ledger rows, the end of its chain."""

    operation: int
    rows: int
    head: str


def adopt(engine: Engine, folder: Path, *, alone: bool = False) -> Adopted:
    """Take up an operation from the folder of a full export, into a database without it.

    Parameters
    ----------
    alone : refuse a database that holds any operation.

    Raises
    ------
    Refusal
        where a file is missing, was changed, or is newer than this program; where the operation
        is here already; where a row does not follow from the rows before it. Nothing is kept then.
    """
    about = _about(folder)
    number = _free_number(engine, about, alone=alone)
    with writing(engine, number) as s:
        s.execute(insert(Operation), _operation(number, about))
        _people(s, number, folder)
        _plain(s, number, Device, folder / DEVICES)
        head = Chain(about["epoch"])
        for said in _together(head.followed(folder / LEDGER)):
            s.execute(insert(Ledger), [{**row, "operation_id": number} for row in said])
            replay(s, number, said)
        if (head.seq, head.digest.hex()) != (about["ledger_rows"], about["head"]):
            raise Refusal(
                "leave.refused.head", seq=head.seq, expected=about["ledger_rows"], file=LEDGER
            )
        _plain(s, number, Aside, folder / ASIDE)
    return Adopted(number, head.seq, head.digest.hex())


def _about(folder: Path) -> dict[str, Any]:
    """What the folder says of itself, its smaller files compared with it."""
    path = folder / OPERATION
    if not path.is_file():
        raise Refusal("leave.refused.no_export", folder=folder, file=OPERATION)
    about: dict[str, Any] = json.loads(path.read_text("utf-8"))
    if about["form"] > FORM:
        raise Refusal("leave.refused.newer", given=about["form"], known=FORM)
    needed = [name for name in (LEDGER, *LISTS) if name != NAMES or (folder / NAMES).exists()]
    for name in needed:
        if not (folder / name).is_file():
            raise Refusal("leave.refused.no_export", folder=folder, file=name)
        if name in about["files"] and sha256_of(folder / name) != about["files"][name]:
            raise Refusal("leave.refused.changed", file=name)
    return about


def _free_number(engine: Engine, about: Mapping[str, Any], *, alone: bool) -> int:
    """A number that no operation has here. An operation that is here already is never doubled."""
    with engine.connect() as connection:
        held = connection.execute(select(Operation.uid, Operation.id)).all()
    if uuid.UUID(about["uid"]) in {uid for uid, _ in held}:
        raise Refusal("leave.refused.here", name=about["name"])
    if held and alone:
        raise Refusal("leave.refused.not_empty")
    return 1 + max((n for _, n in held), default=0)


def _operation(number: int, about: Mapping[str, Any]) -> dict[str, Any]:
    kept = ("name", "zone", "epoch", "practice")
    return {"id": number, "uid": uuid.UUID(about["uid"])} | {name: about[name] for name in kept}


def _people(session: Session, number: int, folder: Path) -> None:
    names = {}
    if (folder / NAMES).exists():
        names = {row["id"]: row["name"] for row in _rows(folder / NAMES)}
    people = (row | {"name": names.get(row["id"])} for row in _rows(folder / PEOPLE))
    _written(session, number, Person, people)


def _plain(session: Session, number: int, model: type[Base], path: Path) -> None:
    _written(session, number, model, _rows(path))


def _written(
    session: Session, number: int, model: type[Base], rows: Iterable[Mapping[str, Any]]
) -> None:
    columns = model.__table__.c
    held = [{name: value_of(columns[name], v) for name, v in row.items()} for row in rows]
    if held:
        session.execute(insert(model), [{**row, "operation_id": number} for row in held])


def _rows(path: Path) -> Iterator[dict[str, Any]]:
    with path.open(encoding="utf-8", newline="\n") as file:
        for line in file:
            yield json.loads(line)


class Chain:
    """The chain as it is followed: the last row's number and digest."""

    def __init__(self, epoch: int) -> None:
        self.epoch, self.seq, self.digest = epoch, 0, b""

    def followed(self, path: Path) -> Iterator[dict[str, Any]]:
        """Ledger rows of a file, each proved to follow from the one before.

        Raises
        ------
        Refusal
            naming the first row that does not.
        """
        columns = Ledger.__table__.c
        for line in _rows(path):
            row = {name: value_of(columns[name], line[name]) for name in HASHED}
            head = digest(self.digest, row)
            if row["seq"] != self.seq + 1 or head.hex() != line["digest"]:
                raise Refusal(
                    "leave.refused.chain", seq=line["seq"], after=self.seq, file=path.name
                )
            self.seq, self.digest = row["seq"], head
            yield row | {"digest": head}


def _together(rows: Iterator[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    """Rows that were written at one time, which the server's clock tells."""
    for _, held in groupby(rows, key=_received):
        while found := list(islice(held, TOGETHER)):
            yield from _batches(found) if len(found) == TOGETHER else (found,)


def _received(row: Mapping[str, Any]) -> dt.datetime:
    at: dt.datetime = row["received_at"]
    return at


def _batches(rows: list[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    for start in range(0, len(rows), BATCH):
        yield rows[start : start + BATCH]
