"""What every command shares: the application, options, refusals as sentences, the records opened.

Exit codes: 0 done; 1 refused, with a sentence saying why and what to do; 2 the command itself was
not understood; 3 a person has to answer first, and nothing was recorded.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from enum import IntEnum, StrEnum
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, ParamSpec, TypeVar

import typer

from benchwalk.catalogue import Refusal

if TYPE_CHECKING:
    from sqlalchemy import Engine

P = ParamSpec("P")
T = TypeVar("T")

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Greenhouse pest scouting: sheets and walks in, the week's summary out.",
    epilog="Records live in the platform's data directory, or where --data says;"
    " BENCHWALK_DATABASE=postgresql://... keeps them in PostgreSQL instead.",
)


class Exit(IntEnum):
    DONE = 0
    REFUSED = 1
    ANSWER_FIRST = 3


class Language(StrEnum):
    EN = "en"
    ES = "es"


Data = Annotated[Path | None, typer.Option("--data", help="Directory the records live in.")]
Lang = Annotated[Language, typer.Option("--lang", help="Language of what is shown.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON, for programs.")]
Newest = typer.Option(formats=["%Y-%m-%d"], help="Last day; the newest walk's by default.")
Day = Annotated[dt.datetime | None, Newest]


def stop(message: str) -> typer.Exit:
    tell(message, err=True)
    return typer.Exit(Exit.REFUSED)


def _from_outside() -> tuple[type[Exception], ...]:
    """What the file system and the database say for themselves."""
    from sqlalchemy.exc import OperationalError

    from benchwalk.records.sheets.layout import MappingError

    return MappingError, OperationalError, OSError


def told(command: Callable[P, T]) -> Callable[P, T]:
    """The one place that turns a refusal of the library into a sentence and an exit code."""

    @wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> T:
        try:
            return command(*args, **kwargs)
        except Refusal as refusal:
            raise stop(refusal.said(str(kwargs.get("lang", Language.EN)))) from refusal
        except _from_outside() as failure:
            raise stop(str(failure)) from failure

    return run


def tell(text: str, *, err: bool = False) -> None:
    """Say something to whoever reads; no text of the records moves the cursor or turns it."""
    from benchwalk.report.figures import shown

    typer.echo("\n".join(shown(line) for line in text.split("\n")), err=err)


@contextmanager
def opened(data: Path | None) -> Iterator[tuple[Engine, int]]:
    """The database and the one operation in it."""
    from benchwalk.records.database import address, open_database, ready
    from benchwalk.records.setup import only_operation

    engine = open_database(address(data))
    try:
        ready(engine)
        yield engine, only_operation(engine)
        _afterwards(engine)
    finally:
        engine.dispose()


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
