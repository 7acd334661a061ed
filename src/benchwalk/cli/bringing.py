"""Bringing a sheet of counts, or a list, into the records."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from benchwalk.catalogue import say
from benchwalk.cli.app import AsJson, Data, Exit, Lang, Language, agreed, app, tell_json, told
from benchwalk.cli.records import opened

if TYPE_CHECKING:
    from benchwalk.records.sheets.bring import Brought
    from benchwalk.records.sheets.lists.bring import BroughtList, ListFile
    from benchwalk.records.sheets.page import Table
    from benchwalk.records.sheets.reading import Progress, Question, Reading


class FileKind(StrEnum):
    COUNTS = "counts"
    PLANTINGS = "plantings"
    STATIONS = "stations"
    TREATMENTS = "treatments"
    CLIMATE = "climate"


@app.command(
    "import",
    epilog="Example: benchwalk import sheet.csv --dry-run"
    "  Example: benchwalk import logger.csv --as climate",
)
@told
def import_(
    file: Annotated[Path, typer.Argument(help="The sheet or list: CSV or xlsx, as it is.")],
    as_: Annotated[
        FileKind | None, typer.Option("--as", help="What it is; else its headings tell.")
    ] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Record nothing.")] = False,
    answers: Annotated[
        Path | None, typer.Option(help="JSON file of answers: {question: choice}.")
    ] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Agree to all that is proposed.")] = False,
    rejects: Annotated[
        Path | None, typer.Option(help="Where rows that were not taken are written.")
    ] = None,
    explain: Annotated[
        str | None,
        typer.Option(
            help="Record nothing; say what became of a cell (B6 or Sheet!B6), of a row and heading"
            " (12:Count), or of a row (12)."
        ),
    ] = None,
    as_json: AsJson = False,
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """Read a scouting sheet, or a list, into the records: all of it, or nothing."""
    from benchwalk.records.sheets import bring
    from benchwalk.records.sheets.lists.bring import list_file
    from benchwalk.records.sheets.mappings import Kept
    from benchwalk.report.lists import list_told

    given, kept = bring.answers_from(answers), Kept(data)
    table = _table(file, as_, as_json=as_json)
    own = _own_words(data)
    if explain is not None:
        typer.echo(_explained(bring.read_only(table, given, kept, own), explain, lang))
        return
    left = rejects or file.with_name(f"{file.stem}.not-taken.csv")
    with _refusal_told(file, list_=True, as_json=as_json):
        held = list_file(table, as_, answers=given, kept=kept, own_names=own)
        if held is not None:
            seen = _bring_list(held, data, left, dry_run=dry_run, yes=yes, lang=lang)
    if held is not None:
        typer.echo(list_told(seen, lang, dry_run=dry_run, as_json=as_json))
        raise typer.Exit(Exit.DONE if seen.recorded or dry_run else Exit.ANSWER_FIRST)
    with _refusal_told(file, list_=False, as_json=as_json):
        if dry_run:
            reading = bring.read_only(table, given, kept, own)
            _show(reading, as_json=as_json, lang=lang)
            return
        with opened(data) as (engine, operation), _progress(lang) as progress:
            brought = bring.bring(
                engine,
                operation,
                table,
                answers=given,
                kept=kept,
                agree=lambda reading, open_: yes or _agree(reading, open_, lang),
                rejects=left,
                locale=lang,
                progress=progress,
            )
    _show_brought(brought, as_json=as_json, lang=lang)
    raise typer.Exit(Exit.DONE if brought.landed else Exit.ANSWER_FIRST)


def _table(file: Path, said: FileKind | None, *, as_json: bool) -> Table:
    """The file taken apart, once for every reader of it."""
    from benchwalk.records.sheets.table import read_table

    a_list = said not in (None, FileKind.COUNTS)
    with _refusal_told(file, list_=a_list, as_json=as_json):
        return read_table(file)


@contextmanager
def _progress(lang: str) -> Iterator[Progress | None]:
    """A bar of the rows read, where somebody looks on."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress as Bar

    with Bar(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(say("cli.progress", lang), total=None)

        def told(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)

        yield told


def _bring_list(
    held: ListFile, data: Path | None, left: Path, *, dry_run: bool, yes: bool, lang: str
) -> BroughtList:
    """Record a list, once somebody agrees to what is shown; or only show it."""
    from benchwalk.records.database import DatabaseNotReadyError
    from benchwalk.records.setup import SetupRefusedError
    from benchwalk.report.lists import list_proposal

    def agree(seen: BroughtList) -> bool:
        if not yes:
            typer.echo(list_proposal(seen, lang), err=True)
        return yes or agreed(say("sheet.agree", lang))

    try:
        with opened(data) as (engine, operation):
            if dry_run:
                return held.look(engine, operation)
            return held.bring(engine, operation, agree=agree, rejects=left, locale=lang)
    except (DatabaseNotReadyError, SetupRefusedError):
        if not dry_run:
            raise
        return held.without_records()


@contextmanager
def _refusal_told(file: Path, *, list_: bool, as_json: bool) -> Iterator[None]:
    """For programs a file of which nothing is taken is an answer too."""
    from benchwalk.records.sheets.as_json import refusal_json
    from benchwalk.records.sheets.found import SheetRefused
    from benchwalk.records.sheets.lists.as_json import list_refusal_json
    from benchwalk.records.sheets.lists.found import ListRefused

    try:
        yield
    except (SheetRefused, ListRefused) as refused:
        if as_json:
            if isinstance(refused, SheetRefused) and not list_:
                said = refusal_json(refused, file.name)
            else:
                said = list_refusal_json(refused, file.name)
            tell_json(said)
        raise


def _show(reading: Reading, *, as_json: bool, lang: str) -> None:
    """What a sheet says, while nothing is recorded."""
    from benchwalk.records.sheets.as_json import as_format_json
    from benchwalk.report.sheets import read_text

    if as_json:
        tell_json(as_format_json(reading))
    else:
        typer.echo(read_text(reading, lang))


def _explained(reading: Reading, place: str, lang: str) -> str:
    """What became of one place of a sheet, and why."""
    from benchwalk.records.sheets.explain import explain
    from benchwalk.report.explained import explained_text

    return explained_text(explain(reading, place), lang)


def _own_words(data: Path | None) -> dict[str, str]:
    """The operation's own words for pests; none while there is no operation."""
    from benchwalk.records.database import DatabaseNotReadyError
    from benchwalk.records.setup import SetupRefusedError
    from benchwalk.records.sheets.bring import words_of

    try:
        with opened(data) as (engine, operation):
            return words_of(engine, operation)
    except (DatabaseNotReadyError, SetupRefusedError):
        return {}


def _agree(reading: Reading, open_: tuple[Question, ...], lang: str) -> bool:
    """Show what is proposed and ask once."""
    from benchwalk.report.sheets import proposal

    typer.echo(proposal(reading, open_, lang), err=True)
    return agreed(say("sheet.agree", lang))


def _show_brought(brought: Brought, *, as_json: bool, lang: str) -> None:
    from benchwalk.report.sheets import brought_json, brought_text

    if as_json:
        tell_json(brought_json(brought))
    else:
        typer.echo(brought_text(brought, lang))
