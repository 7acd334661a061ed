"""A power cut, simulated: what a program wrote is recorded, and rebuilt as a disk may hold it.

`strace` records the system calls of a program that posts and acknowledges. A cut is any place in
that record. What a file held at its last sync is there; of what was written since, any subset is
(a disk writes in its own order), each write whole or up to some sector; a file whose folder was
not synced since may be gone. Shared memory of the journal is made anew, as after any restart.
"""

from __future__ import annotations

import random
import re
import shutil
import subprocess
import sys
from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path

SECTOR = 512
CALLS = "openat,write,pwrite64,fsync,fdatasync,ftruncate"
ON_FILE = re.compile(r"^(\w+)\((\d+)<([^>]*)>(.*)\)\s+= (-?\d+)")
OPENED = re.compile(r"^openat\(.*O_CREAT.*\)\s+= \d+<([^>]*)>")
TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"')

# what posts: one transaction a post, acknowledged on standard output after (or, broken, before) it
PROGRAM = """
import os, sys
from benchwalk.records import database
from benchwalk.records import AirSpace
file, posts, settings, early = sys.argv[1], int(sys.argv[2]), sys.argv[3], sys.argv[4] == "early"
database.CHECKPOINT_BYTES = 100_000
database.SETTINGS = tuple(
    settings if s.startswith("synchronous") else s for s in database.SETTINGS
)
engine = database.open_database(f"sqlite:///{file}")
for n in range(posts):
    with database.writing(engine, 1) as s:
        rows = [AirSpace(name=f"air {n} {k}") for k in range(4)]
        s.add_all(rows)
        s.flush()
        said = "".join(f"ack {row.id.hex}\\n" for row in rows).encode()
        if early:
            os.write(1, said)
    if not early:
        os.write(1, said)
os._exit(0)
"""

# the same by the way a phone's items are taken: answered for when `take` has returned. Broken: what
# it took is committed as the next items come.
PHONE = """
import os, sys
from contextlib import contextmanager
from sqlalchemy import select
from benchwalk.records import Device, Person, database, uuid7
from benchwalk.records.sync import taking
file, posts, early = sys.argv[1], int(sys.argv[2]), sys.argv[4] == "early"
database.CHECKPOINT_BYTES = 100_000
engine = database.open_database(f"sqlite:///{file}")
with engine.connect() as c:
    device, person = (c.execute(select(t.id)).scalars().first() for t in (Device, Person))
waiting = []

@contextmanager
def committed_later(engine, operation):
    for s in waiting:
        s.commit()
        s.close()
    waiting[:] = [database.session(engine.execution_options(benchwalk_writes=True), operation)]
    yield waiting[0]

if early:
    taking.writing = committed_later
said = {"kind": "walk", "rev": 1, "base": 0, "by": str(person), "offset_s": None, "void": None}
said |= {"seen_at": "2026-03-10T09:00:00+00:00", "body": {"walk_on": "2026-03-10"}}
for n in range(posts):
    answers = taking.take(engine, 1, device, [said | {"id": str(uuid7())} for k in range(4)])
    assert all(a.answer == "applied" for a in answers), answers
    os.write(1, "".join(f"ack {a.id.replace('-', '')}\\n" for a in answers).encode())
os._exit(0)
"""


@dataclass
class Step:
    """One recorded call: a write, a sync, a cut to length, a new file, or an acknowledgement."""

    what: str
    file: str = ""
    at: int = 0
    data: bytes = b""
    ids: tuple[bytes, ...] = ()


@dataclass
class Disk:
    """What is on the disk for sure, and what may be."""

    sure: dict[str, bytearray]
    unsure: dict[str, list[Step]] = field(default_factory=lambda: defaultdict(list))
    unnamed: set[str] = field(default_factory=set)

    def take(self, step: Step) -> None:
        match step.what:
            case "sync":
                for held in self.unsure.pop(step.file, []):
                    apply(self.sure.setdefault(step.file, bytearray()), held)
            case "folder":
                self.unnamed = {f for f in self.unnamed if str(Path(f).parent) != step.file}
            case "new":
                if step.file not in self.sure:
                    self.unnamed.add(step.file)
                    self.sure[step.file] = bytearray()
            case "write" | "length":
                self.unsure[step.file].append(step)

    def after_a_cut(self, rng: random.Random) -> dict[str, bytes]:
        """The files as the disk may hold them."""
        found = {}
        for file in sorted(self.sure.keys() | self.unsure.keys()):
            if file in self.unnamed and rng.random() < 0.5:
                continue
            held = bytearray(self.sure.get(file, b""))
            share = rng.choice([0.0, 0.2, 0.5, 0.8, 1.0])
            for step in self.unsure.get(file, []):
                if rng.random() < share:
                    apply(held, torn(step, rng))
            found[file] = bytes(held)
        return found


def torn(step: Step, rng: random.Random) -> Step:
    """One write in four reached the disk only up to some sector."""
    if step.what != "write" or rng.random() > 0.25:
        return step
    whole = rng.randint(0, len(step.data) // SECTOR) * SECTOR
    return Step("write", step.file, step.at, step.data[:whole])


def apply(held: bytearray, step: Step) -> None:
    if step.what == "length":
        del held[step.at :]
        held.extend(bytes(step.at - len(held)))
        return
    if step.data:
        held.extend(bytes(max(0, step.at - len(held))))
        held[step.at : step.at + len(step.data)] = step.data


def record(
    file: Path,
    posts: int,
    *,
    synchronous: str = "synchronous=FULL",
    early: bool = False,
    program: str = PROGRAM,
) -> list[Step]:
    """Run the program on a file that holds operation 1; its calls, in order."""
    log = file.with_name("calls.txt")
    ran = [sys.executable, "-c", program, str(file), str(posts), synchronous]
    traced = ["strace", "-o", str(log), "-e", f"trace={CALLS}", "-y", "-xx", "-s", "1000000"]
    command = [*traced, *ran, "early" if early else "late"]
    subprocess.run(command, check=True, capture_output=True, timeout=600)
    with log.open(encoding="ascii") as lines:
        steps = [s for line in lines if (s := _step(line, file.name)) is not None]
    log.unlink()
    return steps


def _step(line: str, name: str) -> Step | None:
    line = _plain(line)
    if (opened := OPENED.match(line)) and _ours(opened[1], name):
        return Step("new", opened[1])
    if (call := ON_FILE.match(line)) is None or int(call[5]) < 0:
        return None
    what, fd, path, rest, done = call.groups()
    if what in ("fsync", "fdatasync"):
        return Step("sync" if _ours(path, name) else "folder", path)
    if what == "write" and fd == "1":
        said = _bytes(rest).decode().split()
        return Step("ack", ids=tuple(bytes.fromhex(i) for i in said[1::2]))
    if not _ours(path, name):
        return None
    if what == "ftruncate":
        return Step("length", path, int(rest.strip(", ")))
    assert what == "pwrite64", f"a call this does not know: {line[:80]}"
    return Step("write", path, int(rest.rsplit(",", 1)[1]), _bytes(rest)[: int(done)])


def _plain(line: str) -> str:
    r"""`-xx` writes paths as \x2f too; those between < and >, and of openat, are made readable."""
    return re.sub(
        r"<((?:\\x[0-9a-f]{2})*)>",
        lambda m: f"<{bytes.fromhex(m[1].replace(chr(92) + 'x', '')).decode()}>",
        line,
    )


def _bytes(text: str) -> bytes:
    found = TEXT.search(text)
    return b"" if found is None else bytes.fromhex(found[1].replace("\\x", ""))


def _ours(path: str, name: str) -> bool:
    return Path(path).name in (name, f"{name}-wal")


def cut(before: bytes, file: Path, steps: list[Step], rng: random.Random, into: Path) -> set[bytes]:
    """Cut the power at a place; the files are in ``into``, the ids acknowledged are returned."""
    disk = Disk({str(file): bytearray(before)})
    acknowledged: set[bytes] = set()
    for step in steps[: rng.randint(1, len(steps))]:
        acknowledged.update(step.ids)
        disk.take(step)
    shutil.rmtree(into, ignore_errors=True)
    into.mkdir(parents=True)
    for path, held in disk.after_a_cut(rng).items():
        (into / Path(path).name).write_bytes(held)
    return acknowledged
