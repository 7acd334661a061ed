"""Bringing a sheet of counts, or a list, into the records."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from benchwalk.catalogue import say
from benchwalk.cli.app import AsJson, Data, Exit, Lang, Language, app, opened, told

if TYPE_CHECKING:
    from benchwalk.records.sheets.bring import Brought
    from benchwalk.records.sheets.lists.bring import BroughtList, ListFile
    from benchwalk.records.sheets.mappings import Kept
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
    from benchwalk.records.sheets.mappings import Kept
    from benchwalk.report.lists import list_told

    given, kept = bring.answers_from(answers), Kept(data)
    if explain is not None:
        _explain(file, explain, given, kept, data, lang)
        return
    left = rejects or file.with_name(f"{file.stem}.not-taken.csv")
    with _refusal_told(file, as_json=as_json):
        held = _list(file, as_, given, kept, data)
        if held is not None:
            seen = _bring_list(held, data, left, dry_run=dry_run, yes=yes, lang=lang)
    if held is not None:
        typer.echo(list_told(seen, lang, dry_run=dry_run, as_json=as_json))
        raise typer.Exit(Exit.DONE if seen.recorded or dry_run else Exit.ANSWER_FIRST)
    if dry_run:
        _dry_run(file, given, kept, data, as_json=as_json, lang=lang)
        return
    with opened(data) as (engine, operation), _progress(lang) as progress:
        brought = bring.bring(
            engine,
            operation,
            file,
            answers=given,
            kept=kept,
            agree=lambda reading, open_: yes or _agree(reading, open_, lang),
            rejects=left,
            progress=progress,
        )
    _show_brought(brought, as_json=as_json, lang=lang)
    raise typer.Exit(Exit.DONE if brought.landed else Exit.ANSWER_FIRST)


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


def _list(
    file: Path, said: FileKind | None, given: dict[str, str], kept: Kept, data: Path | None
) -> ListFile | None:
    """The file as a list; none where it is a sheet of counts."""
    from benchwalk.records.sheets.lists.bring import list_file

    return list_file(file, said, answers=given, kept=kept, own_names=_own_words(data))


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
        return yes or (sys.stdin.isatty() and typer.confirm(say("sheet.agree", lang), err=True))

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
def _refusal_told(file: Path, *, as_json: bool) -> Iterator[None]:
    """For programs a list of which nothing is taken is an answer too."""
    from benchwalk.records.sheets.found import SheetRefused
    from benchwalk.records.sheets.lists.as_json import list_refusal_json
    from benchwalk.records.sheets.lists.found import ListRefused

    try:
        yield
    except (SheetRefused, ListRefused) as refused:
        if as_json:
            told = list_refusal_json(refused, file.name)
            typer.echo(json.dumps(told, ensure_ascii=False, indent=1))
        raise


def _dry_run(
    file: Path, given: dict[str, str], kept: Kept, data: Path | None, *, as_json: bool, lang: str
) -> None:
    """Show what a sheet says, and record nothing. For programs a refused file is an answer too."""
    from benchwalk.records.sheets.as_json import as_format_json, refusal_json
    from benchwalk.records.sheets.bring import read_only
    from benchwalk.records.sheets.found import SheetRefused
    from benchwalk.report.sheets import read_text

    try:
        reading = read_only(file, given, kept, _own_words(data))
    except SheetRefused as refused:
        if as_json:
            typer.echo(json.dumps(refusal_json(refused, file.name), ensure_ascii=False, indent=1))
        raise
    if as_json:
        typer.echo(json.dumps(as_format_json(reading), ensure_ascii=False, indent=1))
    else:
        typer.echo(read_text(reading, lang))


def _explain(
    file: Path, place: str, given: dict[str, str], kept: Kept, data: Path | None, lang: str
) -> None:
    """Say what became of one place of a sheet, and why."""
    from benchwalk.records.sheets.bring import read_only
    from benchwalk.records.sheets.explain import explain
    from benchwalk.report.explained import explained_text

    reading = read_only(file, given, kept, _own_words(data))
    typer.echo(explained_text(explain(reading, place), lang))


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
    """Show what is proposed and ask once; without anybody there to ask, the answer is no."""
    from benchwalk.report.sheets import proposal

    typer.echo(proposal(reading, open_, lang), err=True)
    return sys.stdin.isatty() and typer.confirm(say("sheet.agree", lang), err=True)


def _show_brought(brought: Brought, *, as_json: bool, lang: str) -> None:
    from benchwalk.report.sheets import brought_json, brought_text

    if as_json:
        typer.echo(json.dumps(brought_json(brought), ensure_ascii=False, indent=1))
    else:
        typer.echo(brought_text(brought, lang))
