"""The invented nursery that `make demo` shows: one sheet, a few thresholds, nothing real."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import as_file, files
from pathlib import Path

from sqlalchemy import Engine, select

from benchwalk.records import Operation
from benchwalk.records.database import (
    address,
    data_directory,
    migrate,
    open_database,
    session,
    writing,
)
from benchwalk.records.setup import EVER, own_threshold, set_threshold, set_up
from benchwalk.records.sheets.bring import Brought, bring
from benchwalk.records.sheets.mappings import Kept
from benchwalk.summarise import Summary, summarise

NAME = "Demo nursery (invented)"
ZONE = "America/New_York"
SOURCE = "invented for the demo"


def folder(data: Path | None) -> Path:
    """Where the demo lives: its own corner of the data directory."""
    return (data or data_directory()) / "demo"


@contextmanager
def ready(data: Path | None) -> Iterator[tuple[Engine, int]]:
    """The demo operation, set up the first time somebody asks for it."""
    engine = open_database(address(folder(data)))
    try:
        migrate(engine)
        yield engine, _operation(engine)
    finally:
        engine.dispose()


def _operation(engine: Engine) -> int:
    with engine.connect() as connection:
        found = connection.execute(select(Operation.id).where(Operation.name == NAME)).scalar()
    if found is not None:
        return int(found)
    operation = set_up(engine, NAME, ZONE, practice=True).operation
    with writing(engine, operation) as s:
        for row in _thresholds():
            set_threshold(
                s,
                own_threshold(
                    **{k: row[k] for k in ("taxon", "stage", "method", "crop", "per")},
                    value=float(row["value"]),
                    phase="any",
                    high=None,
                    kind="action",
                    source=SOURCE,
                    since=EVER,
                ),
            )
    return operation


def _thresholds() -> list[dict[str, str]]:
    text = (files(__package__) / "thresholds.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


def bring_sheet(engine: Engine, operation: int, data: Path | None) -> Brought:
    """The demo's sheet, agreed to as proposed; a second time adds nothing."""
    with as_file(files(__package__) / "sheet.csv") as sheet:
        return bring(
            engine,
            operation,
            sheet,
            answers={},
            kept=Kept(folder(data)),
            agree=lambda *_: True,
            rejects=folder(data) / "sheet.not-taken.csv",
        )


def week(engine: Engine, operation: int) -> Summary:
    """The demo's newest week."""
    with session(engine, operation) as s:
        found = summarise(s)
    assert found is not None  # the demo's sheet has walks
    return found
