"""One person's data: given out, or the name taken away while records and chain stay.

A name stands in one table only, and removing it there leaves a pseudonym. What people typed may
name somebody all the same, and the ledger cannot be changed: those places are listed, so that
somebody can look at them.
"""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from benchwalk.catalogue import Refusal
from benchwalk.records.accounts.people import remove_person
from benchwalk.records.base import Line
from benchwalk.records.exports.full import ledger_rows
from benchwalk.records.exports.moment import streamed
from benchwalk.records.exports.names import Mask, masking, pattern_of, simple
from benchwalk.records.exports.tables import Described, Field, described
from benchwalk.records.ledger import Ledgered, canonical
from benchwalk.records.operations import Aside, Device, Ledger, Person


@dataclass(frozen=True)
class Mention:
    """A text that names somebody.

    Attributes
    ----------
    kind, id : the record, or the plain table, that holds it; `id` None for one without.
    seq : row of the ledger; None for a text outside it.
    field : where in the record.
    current : the record still says so. Else only the ledger holds it.
    """

    kind: str
    id: str | None
    seq: int | None
    field: str
    text: str
    current: bool

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return asdict(self)


def person_of(session: Session, words: str) -> Person:
    """The person of a name or a pseudonym.

    Raises
    ------
    Refusal
        where there is none, or several.
    """
    people = session.scalars(select(Person).order_by(Person.pseudonym)).all()
    asked = simple(words)
    found = [p for p in people if asked in (simple(p.pseudonym), simple(p.name or ""))]
    if len(found) != 1:
        known = ", ".join(p.pseudonym for p in (found or people))
        key = "leave.refused.many" if found else "leave.refused.nobody"
        raise Refusal(key, given=words, known=known)
    return found[0]


def mentions(session: Session, name: str) -> Iterator[Mention]:
    """Every text that names somebody: in the ledger, put aside, on the label of a phone.

    The name may be given in any case, with or without accents; a part of it is found too.
    """
    pattern = pattern_of(name)
    if pattern is None:
        return
    newest = _newest(session)
    for row in ledger_rows(session):
        current = newest.get(uuid.UUID(row["id"])) == row["rev"] and row["void_reason"] is None
        held = [("void_reason", row["void_reason"]), *_texts(json.loads(row["body"]))]
        for field, text in held:
            if text is not None and pattern.search(simple(text)):
                yield Mention(row["kind"], row["id"], row["seq"], field, text, current)
    yield from _outside(session, pattern)


def _newest(session: Session) -> dict[uuid.UUID, int]:
    """The newest rev of records that have more than one, and of all others 1."""
    query = select(Ledger.id, func.max(Ledger.rev)).group_by(Ledger.id)
    return {row[0]: row[1] for row in streamed(session, query)}


def _texts(said: Any, at: str = "") -> Iterator[tuple[str, str]]:
    """Every text in a body, with its place."""
    if isinstance(said, str):
        yield at, said
    elif isinstance(said, Mapping):
        for name, value in said.items():
            yield from _texts(value, f"{at}.{name}" if at else name)
    elif isinstance(said, list):
        for n, value in enumerate(said):
            yield from _texts(value, f"{at}[{n}]")


def _outside(session: Session, pattern: re.Pattern[str]) -> Iterator[Mention]:
    for device, label in session.execute(select(Device.id, Device.label)):
        if pattern.search(simple(label)):
            yield Mention("device", str(device), None, "label", label, True)
    query = select(Aside.n, Aside.reason, Aside.body).order_by(Aside.n)
    for n, reason, text in session.execute(query):
        for field, held in (("reason", reason), ("body", text)):
            if pattern.search(simple(held)):
                yield Mention("aside", str(n), None, field, held, True)


def remove(session: Ledgered, person: Person) -> None:
    """Take a person's name and way in away; the pseudonym, and every record, stay.

    On SQLite the bytes that the name took are overwritten; copies that were made before still
    hold it.
    """
    remove_person(session, person.id)
    session.flush()


def write_person(session: Session, person: Person, folder: Path) -> int:
    """Write what is held of one person: who they are, and the ledger rows that they said, typed,
    walked or are named in by id; how many rows.

    Names of other people are masked wherever somebody typed: this folder is one person's own.
    """
    who = {"id": str(person.id), "pseudonym": person.pseudonym, "role": person.role}
    text = json.dumps(who | {"name": person.name}, ensure_ascii=False, indent=1)
    (folder / "person.json").write_text(text + "\n", encoding="utf-8")
    count, mask = 0, masking(session, but=person)
    with (folder / "said.jsonl").open("w", encoding="utf-8", newline="\n") as file:
        for row in _of_person(session, str(person.id)):
            file.write(canonical(_masked(row, mask)) + "\n")
            count += 1
    return count


def _of_person(session: Session, person: str) -> Iterator[dict[str, Any]]:
    walked = select(Ledger.id).where(Ledger.kind == "walk", Ledger.body.contains(person))
    walks = {str(i) for i in session.scalars(walked)}
    for row in ledger_rows(session):
        mine = person in (row["by_id"], row["typed_by_id"]) or person in row["body"]
        if mine or json.loads(row["body"]).get("walk_id") in walks:
            yield row


def _masked(row: dict[str, Any], mask: Mask) -> dict[str, Any]:
    """A ledger row whose typed texts are masked; codes, ids and days are left alone."""
    said = json.loads(row["body"])
    reason = row["void_reason"]
    void = None if reason is None else mask(reason)
    return row | {"body": canonical(_free(said, mask, row["kind"])), "void_reason": void}


def _free(said: Any, mask: Mask, kind: str, *, typed: bool = False) -> Any:
    if isinstance(said, str):
        return mask(said) if typed else said
    if isinstance(said, list):
        return [_free(part, mask, kind, typed=typed) for part in said]
    if isinstance(said, Mapping):
        return {
            (mask(name) if typed else name): _free(
                value, mask, kind, typed=typed or (kind, name) in typed_fields()
            )
            for name, value in said.items()
        }
    return said


@cache
def typed_fields() -> frozenset[tuple[str, str]]:
    """(record, field) of every text that somebody types and no other row refers to."""
    return frozenset(
        (_record_of(table), field.name)
        for table in described()
        for field in table.fields
        if _is_typed(field, {name for reference in table.references for name in reference.fields})
    )


def _is_typed(field: Field, referring: set[str]) -> bool:
    words = field.type == "object" or (field.type == "string" and not field.is_id)
    return words and not field.among and field.name not in {*referring, "code"}


def _record_of(table: Described) -> str:
    """The record that a table's rows are said in: its own, or that which they are lines of."""
    return table.model.owner[0] if issubclass(table.model, Line) else table.name
