"""Whether the records are well: each thing looked at, what was found, and what to do about it.

It reads only. A finding is *ok*, *info*, *warning* (look at it soon) or *bad* (records are damaged,
lost, or not as they were said); anything bad makes the command end with exit code 1.
"""

from __future__ import annotations

import datetime as dt
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from benchwalk.catalogue import say
from benchwalk.records import walls
from benchwalk.records.backup import due, last_proven
from benchwalk.records.backup.proof import ProofFailedError, checked_chains, refuse_damaged
from benchwalk.records.backup.snapshot import snapshot
from benchwalk.records.chain import Checked, Head, HeadRefusedError
from benchwalk.records.database import DatabaseNotReadyError, file_of, folder_of, schema_of
from benchwalk.records.disk import file_system, room_bytes
from benchwalk.records.doctor.replay import replay
from benchwalk.records.operations import Aside, Ledger
from benchwalk.records.rules import statements
from benchwalk.records.seen import Sighting

LEAST_ROOM_BYTES = 1 << 30  # own choice: a season of records and their copies
AHEAD_S = 300  # own choice: two clocks that differ by less are called the same
NAMED_ROWS = 20  # more of one kind are counted only, in words; --json names all


@dataclass(frozen=True)
class Finding:
    """One thing that was looked at.

    Parameters
    ----------
    key : of the catalogue, its values put in by :meth:`said`.
    level : ok, info, warning or bad.
    """

    key: str
    level: str
    values: dict[str, Any]

    def said(self, locale: str) -> str:
        return say(f"keep.doctor.{self.key}", locale, **self.values)


def _found(key: str, level: str, **values: Any) -> Finding:
    return Finding(key, level, values)


def examine(
    engine: sa.Engine,
    against: Sequence[Head] = (),
    *,
    rebuild: bool = False,
    now: dt.datetime | None = None,
) -> list[Finding]:
    """Look at everything; findings in the order they were looked at.

    Parameters
    ----------
    against : heads of the chain that were kept outside.
    rebuild : also rebuild the tables from the ledger, and name every row that differs.

    Raises
    ------
    DatabaseNotReadyError
        if there are no records.
    HeadRefusedError
        if an outside head is of no operation here.
    """
    file = file_of(engine)
    if file is not None and not file.exists():
        raise DatabaseNotReadyError("refused.no_records", where=engine.url.render_as_string())
    found = [*_ground(engine, file)]
    if file is not None:
        found.append(_integrity(file))
    if found[-1].level == "bad":
        return found
    with engine.connect() as connection:
        found += _schema(engine, connection)
        if found[-1].key == "schema_other":
            return found
        found += _chains(connection, against)
        found += _clocks(connection, now or dt.datetime.now(dt.UTC))
        found += _orphans(connection, folder_of(engine))
    if rebuild:
        found += _rebuilt(engine)
    return [*found, *_copies(folder_of(engine), now)]


def _ground(engine: sa.Engine, file: Path | None) -> Iterator[Finding]:
    """What the records stand on."""
    if file is not None:
        yield _found("sqlite", "info", version=sqlite3.sqlite_version)
        held = file_system(file)
        level = "warning" if held.local is False else "ok" if held.local else "info"
        key = {True: "file_system", False: "file_system_far", None: "file_system_unknown"}
        yield _found(key[held.local], level, kind=held.name or "?")
    free = room_bytes(folder_of(engine))
    level = "ok" if free >= LEAST_ROOM_BYTES else "warning"
    yield _found("room" if level == "ok" else "little_room", level, mb=free >> 20)


def _integrity(file: Path) -> Finding:
    try:
        refuse_damaged(file)
    except ProofFailedError as damage:
        return _found("damaged", "bad", fault=damage.values["fault"])
    return _found("integrity", "ok")


def _schema(engine: sa.Engine, connection: sa.Connection) -> Iterator[Finding]:
    at, newest = schema_of(engine)
    yield from _rules(connection)
    if at != newest:
        yield _found("schema_other", "warning", at=at or "-", newest=newest)
    else:
        yield _found("schema", "ok", at=at)


def _rules(connection: sa.Connection) -> Iterator[Finding]:
    """Rules of the database that are not there (any more)."""
    names = {"sqlite": SQLITE_RULES, "postgresql": POSTGRESQL_RULES}[connection.dialect.name]
    there = set(connection.exec_driver_sql(names).scalars())
    wanted = {_rule_name(s) for s in statements(connection.dialect.name)} - {None}
    lacking = sorted(str(n) for n in wanted if n not in there)
    if lacking:
        yield _found("rules_lacking", "bad", n=len(lacking), rules=", ".join(lacking[:5]))
    else:
        yield _found("rules", "ok", n=len(wanted))
    if connection.dialect.name == "postgresql" and (open_ := walls.unforced(connection)):
        yield _found("wall_open", "bad", tables=", ".join(open_))


SQLITE_RULES = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
POSTGRESQL_RULES = "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"


def _rule_name(statement: str) -> str | None:
    words = statement.split()
    return words[2].strip('"') if words[:2] == ["CREATE", "TRIGGER"] else None


def _chains(connection: sa.Connection, against: Sequence[Head]) -> Iterator[Finding]:
    """Each operation's chain; without an outside head only up to the last row held."""
    checked = checked_chains(connection, against)
    strangers = {h.operation for h in against} - {c.head.operation for c in checked.values()}
    if strangers:
        here = ", ".join(str(c.head.operation) for c in checked.values())
        raise HeadRefusedError("keep.other_head", given=strangers.pop(), here=here)
    for chain in checked.values():
        yield from (
            _found(f"chain_{f.how}", "bad", first=f.first, last=f.last) for f in chain.faults
        )
        if not chain.faults:
            yield _whole(chain)
        yield _found("head", "info", head=str(chain.head))


def _whole(chain: Checked) -> Finding:
    if chain.outside is None:
        return _found("chain_up_to_last", "ok", n=chain.head.count)
    return _found("chain_against", "ok", n=chain.outside.count, past=chain.past)


def _clocks(connection: sa.Connection, now: dt.datetime) -> Iterator[Finding]:
    """Clocks that cannot be right: received before the row before it, seen after received."""
    rows = sa.select(Ledger.seq, Ledger.seen_at, Ledger.received_at)
    order = rows.order_by(Ledger.operation_id, Ledger.seq).execution_options(yield_per=2000)
    back, ahead, future, before = [], [], [], None
    late = dt.timedelta(seconds=AHEAD_S)
    for seq, seen, received in connection.execute(order):
        if before is not None and seq > 1 and received < before - late:
            back.append(seq)
        if seen > received + late:
            ahead.append(seq)
        if received > now + late:
            future.append(seq)
        before = received
    for key, seqs in (("clock_back", back), ("clock_ahead", ahead), ("clock_future", future)):
        if seqs:
            yield _found(key, "warning", n=len(seqs), rows=_some(seqs))
    if not (back or ahead or future):
        yield _found("clocks", "ok")


def _some(seqs: Sequence[int]) -> str:
    named = ", ".join(map(str, seqs[:NAMED_ROWS]))
    return named if len(seqs) <= NAMED_ROWS else f"{named}, ..."


def _orphans(connection: sa.Connection, data: Path) -> Iterator[Finding]:
    """Photos that are spoken of and not there, what is still put aside, what was left half done."""
    spoken = connection.execute(sa.select(Sighting.photo_sha256)).scalars()
    named = {p for p in spoken if p is not None}
    held = {p.stem for p in (data / "photos").rglob("*") if p.is_file()}
    if lost := sorted(named - held):
        yield _found("photos_lost", "bad", n=len(lost), photos=", ".join(lost[:3]))
    unsettled = sa.select(sa.func.count()).select_from(Aside).where(Aside.settled_at.is_(None))
    if waiting := connection.execute(unsettled).scalar_one():
        yield _found("aside", "warning", n=waiting)
    halves = [*data.glob(".restoring-*"), *data.glob("backups/.making-*")]
    if halves:
        yield _found("half_done", "warning", n=len(halves), folders=", ".join(map(str, halves[:3])))
    if not (lost or waiting or halves):
        yield _found("orphans", "ok")


def _rebuilt(engine: sa.Engine) -> list[Finding]:
    """Rows that differ from what the ledger gives; records are read through a snapshot."""
    with tempfile.TemporaryDirectory(prefix="benchwalk-replay-") as folder:
        copied, scratch = Path(folder) / "records.sqlite", Path(folder) / "scratch.sqlite"
        held = snapshot(engine, copied)
        differ = replay(copied, scratch)
        shutil.rmtree(folder, ignore_errors=True)
    if not differ:
        return [_found("replay", "ok", n=held.counts["ledger"])]
    return [
        _found(
            f"replay_{d.how}",
            "bad",
            table=d.table,
            row=" ".join(d.key),
            columns=", ".join(d.columns) or "-",
        )
        for d in differ
    ]


def _copies(data: Path, now: dt.datetime | None) -> Iterator[Finding]:
    last = last_proven(data)
    if last is None:
        yield _found("copy_none", "warning")
        return
    level = "warning" if due(data, now) else "ok"
    at = f"{last.at:%Y-%m-%d %H:%M} UTC"
    yield _found("copy" if level == "ok" else "copy_old", level, at=at, folder=last.folder)
    second = {
        None: ("second_none", "warning"),
        True: ("second", "ok"),
        False: ("second_lacks", "bad"),
    }
    key, level = second[last.in_second]
    yield _found(key, "warning" if level == "bad" else level)
