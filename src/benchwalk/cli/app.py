"""What every command shares: the application, its options, refusals as sentences, questions.

Exit codes: 0 done; 1 refused, with a sentence saying why and what to do; 2 the command itself was
not understood; 3 a person has to answer first, and nothing was recorded.
"""

from __future__ import annotations

import datetime as dt
import json
import sys
from collections.abc import Callable
from enum import IntEnum, StrEnum
from functools import wraps
from pathlib import Path
from typing import Annotated, Any, ParamSpec, TypeVar

import typer

from benchwalk.catalogue import Refusal, say

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


def _reckoned(day: dt.datetime | None) -> dt.datetime | None:
    """A day that a week can be reckoned for."""
    from benchwalk.summarise.gathered import EARLIEST, LATEST

    if day is not None and not EARLIEST <= day.date() <= LATEST:
        raise typer.BadParameter(say("web.expected_day_of", first=EARLIEST, last=LATEST))
    return day


Newest = typer.Option(
    formats=["%Y-%m-%d"], help="Last day; the newest walk's by default.", callback=_reckoned
)
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


def tell_json(value: object, default: Callable[[Any], object] | None = None) -> None:
    """Say something to a program; ``default`` turns what JSON has no form for."""
    typer.echo(json.dumps(value, default=default, ensure_ascii=False, indent=1))


def agreed(question: str) -> bool:
    """Ask once; without anybody there to ask, the answer is no."""
    return sys.stdin.isatty() and typer.confirm(question, err=True)
