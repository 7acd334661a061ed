"""The records that commands read and write, and the folders beside them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from benchwalk.catalogue import Refusal

if TYPE_CHECKING:
    from sqlalchemy import Engine

    from benchwalk.records.ledger import Ledgered


def beside(data: Path | None, name: str) -> Path:
    """A folder beside the records, for what leaves them."""
    from benchwalk.records.database import data_directory

    return (data or data_directory()) / name


@contextmanager
def database(data: Path | None) -> Iterator[Engine]:
    """The database as it stands: of whatever schema, sound or not."""
    from benchwalk.records.database import address, open_database

    engine = open_database(address(data))
    try:
        yield engine
    finally:
        engine.dispose()


@contextmanager
def opened(data: Path | None) -> Iterator[tuple[Engine, int]]:
    """The database and the one operation in it."""
    from benchwalk.records.database import ready
    from benchwalk.records.setup import only_operation

    with database(data) as engine:
        ready(engine)
        yield engine, only_operation(engine)
        _afterwards(engine)


@contextmanager
def reading(data: Path | None) -> Iterator[Ledgered]:
    """The records of the one operation, to be read."""
    from benchwalk.records.database import session

    with opened(data) as (engine, operation), session(engine, operation) as s:
        yield s


@contextmanager
def recording(data: Path | None) -> Iterator[Ledgered]:
    """The records of the one operation, to be written, and committed at the end."""
    from benchwalk.records.database import writing

    with opened(data) as (engine, operation), writing(engine, operation) as s:
        yield s


def _afterwards(engine: Engine) -> None:
    """After a command that wrote: the copy of the day, and how the tables are filled now.

    What the command wrote stands, copy or not.
    """
    from benchwalk.records.backup import copy_if_due
    from benchwalk.records.database import measure, wrote_to

    try:
        if wrote_to(engine):
            measure(engine)
        copy_if_due(engine)
    except (Refusal, OSError) as failure:
        typer.echo(str(failure), err=True)
