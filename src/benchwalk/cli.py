"""The command line: one command a step, thin. Heavy imports stay inside commands.

Exit codes: 0 done; 1 refused, with a sentence saying why and what to do; 2 the command itself was
not understood; 3 a person has to answer first, and nothing was recorded.
"""

from __future__ import annotations

import datetime as dt
import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from enum import IntEnum, StrEnum
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, ParamSpec, TypeVar

import typer

from benchwalk.catalogue import Refusal, say

if TYPE_CHECKING:
    from socket import socket as Socket  # noqa: N812 - a type, beside the value of that name

    from sqlalchemy import Engine

    from benchwalk.records.sheets.bring import Brought
    from benchwalk.records.sheets.lists.bring import BroughtList, ListFile
    from benchwalk.records.sheets.mappings import Kept
    from benchwalk.records.sheets.reading import Progress, Question, Reading
    from benchwalk.summarise import Reported, Summary

KINDS = "pdf,html,xlsx"  # of a report's files
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


class Paper(StrEnum):
    A4 = "a4"
    LETTER = "letter"


class FileKind(StrEnum):
    COUNTS = "counts"
    PLANTINGS = "plantings"
    STATIONS = "stations"
    TREATMENTS = "treatments"
    CLIMATE = "climate"


Data = Annotated[Path | None, typer.Option("--data", help="Directory the records live in.")]
Lang = Annotated[Language, typer.Option("--lang", help="Language of what is shown.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON, for programs.")]
Newest = typer.Option(formats=["%Y-%m-%d"], help="Last day; the newest walk's by default.")
Day = Annotated[dt.datetime | None, Newest]
Port = Annotated[int, typer.Option("--port", help="Port on this machine.")]


def _stop(message: str, code: Exit = Exit.REFUSED) -> typer.Exit:
    typer.echo(message, err=True)
    return typer.Exit(code)


def _from_outside() -> tuple[type[Exception], ...]:
    """What the file system and the database say for themselves."""
    from sqlalchemy.exc import OperationalError

    from benchwalk.records.sheets.layout import MappingError

    return MappingError, OperationalError, OSError


def _told(command: Callable[P, T]) -> Callable[P, T]:
    """The one place that turns a refusal of the library into a sentence and an exit code."""

    @wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> T:
        try:
            return command(*args, **kwargs)
        except Refusal as refusal:
            raise _stop(refusal.said(str(kwargs.get("lang", Language.EN)))) from refusal
        except _from_outside() as failure:
            raise _stop(str(failure)) from failure

    return run


@contextmanager
def _operation(data: Path | None) -> Iterator[tuple[Engine, int]]:
    """The database and the one operation in it."""
    from benchwalk.records.database import address, open_database, ready
    from benchwalk.records.setup import only_operation

    engine = open_database(address(data))
    try:
        ready(engine)
        yield engine, only_operation(engine)
    finally:
        engine.dispose()


@app.command(epilog='Example: benchwalk init "North Nursery" --zone America/New_York')
@_told
def init(
    name: Annotated[str, typer.Argument(help="Name of the operation.")],
    zone: Annotated[str, typer.Option(help="Time zone of the operation (IANA).")] = "UTC",
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """Set up an operation: records, vocabulary, and the shipped thresholds with their sources."""
    from benchwalk.records.database import address, migrate, open_database
    from benchwalk.records.setup import set_up

    engine = open_database(address(data))
    migrate(engine)
    made = set_up(engine, name, zone)
    where = engine.url.render_as_string()
    engine.dispose()
    typer.echo(say("cli.init", lang, name=name, n=made.thresholds, where=where))


@app.command(
    "import",
    epilog="Example: benchwalk import sheet.csv --dry-run"
    "  Example: benchwalk import logger.csv --as climate",
)
@_told
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
    with _operation(data) as (engine, operation), _progress(lang) as progress:
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
        with _operation(data) as (engine, operation):
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
        with _operation(data) as (engine, operation):
            return words_of(engine, operation)
    except (DatabaseNotReadyError, SetupRefusedError):
        return {}


def _agree(reading: Reading, open_: tuple[Question, ...], lang: str) -> bool:
    """Show what is proposed and ask once; without anybody there to ask, the answer is no."""
    from benchwalk.report.sheets import proposal

    typer.echo(proposal(reading, open_, lang), err=True)
    return sys.stdin.isatty() and typer.confirm(say("sheet.agree", lang), err=True)


@app.command(epilog="Example: benchwalk summary --day 2026-04-20 --lang es")
@_told
def summary(
    day: Day = None,
    days: Annotated[int, typer.Option(min=1, help="How many days it covers.")] = 7,
    as_json: AsJson = False,
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """What was seen in every unit in the week, compared with its own threshold."""
    from benchwalk.records.database import session
    from benchwalk.report.as_json import week_json
    from benchwalk.report.terminal import print_week
    from benchwalk.summarise import summarise

    with _operation(data) as (engine, operation), session(engine, operation) as s:
        week = summarise(s, day.date() if day else None, days)
    if week is None:
        raise _stop(say("cli.summary.empty", lang))
    if as_json:
        typer.echo(json.dumps(week_json(week), ensure_ascii=False, indent=1))
        return
    print_week(week, lang)


@app.command(epilog="Example: benchwalk report --paper letter --only pdf --out ./for-friday")
@_told
def report(
    day: Day = None,
    paper: Annotated[Paper, typer.Option(help="Sheets of the PDF.")] = Paper.A4,
    out: Annotated[Path | None, typer.Option(help="Folder; else one beside the records.")] = None,
    only: Annotated[str, typer.Option(help="Kinds of file, with commas.")] = KINDS,
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """Write the week's report: a PDF to print, a page of its own, a workbook."""
    from benchwalk.records.database import data_directory, session
    from benchwalk.summarise import reported

    with _operation(data) as (engine, operation), session(engine, operation) as s:
        week = reported(s, day.date() if day else None)
    if week is None:
        raise _stop(say("cli.summary.empty", lang))
    _report_to(out or (data or data_directory()) / "reports", week, lang, paper, only)


def _report_to(out: Path, week: Reported, lang: str, paper: str = "a4", only: str = KINDS) -> None:
    from benchwalk.report.files import write_report

    for path in write_report(week, out, locale=lang, size=paper, only=only):
        typer.echo(say("cli.report", lang, path=path))


@app.command(
    epilog="Example: benchwalk threshold --pest greenhouse_whitefly --stage nymph"
    ' --method plant_count --crop poinsettia --value 0.5 --per per_plant --source "our own, 2025"'
)
@_told
def threshold(
    pest: Annotated[str, typer.Option(help="Pest, by its key.")],
    stage: Annotated[str, typer.Option(help="Counted stage, by its key.")],
    method: Annotated[str, typer.Option(help="Method of counting, by its key.")],
    value: Annotated[float, typer.Option(help="Where acting begins.")],
    per: Annotated[str, typer.Option(help="What the value is per, by its key.")],
    source: Annotated[str, typer.Option(help="Where the value comes from, in words.")],
    crop: Annotated[str, typer.Option(help="Crop or group of crops.")] = "any_crop",
    phase: Annotated[str, typer.Option(help="Phase of the crop.")] = "any",
    high: Annotated[float | None, typer.Option(help="Other end of a range.")] = None,
    kind: Annotated[str, typer.Option(help="action or economic.")] = "action",
    since: Annotated[
        dt.datetime | None,
        typer.Option(formats=["%Y-%m-%d"], help="First day in force; for ever by default."),
    ] = None,
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """Set a threshold of your own. It changes comparisons only, never a density."""
    from benchwalk.records.database import writing
    from benchwalk.records.setup import EVER, own_threshold, set_threshold

    wanted = own_threshold(
        taxon=pest,
        stage=stage,
        method=method,
        crop=crop,
        phase=phase,
        value=value,
        high=high,
        per=per,
        kind=kind,
        source=source,
        since=since.date() if since else EVER,
    )
    with _operation(data) as (engine, operation), writing(engine, operation) as s:
        set_threshold(s, wanted)
    typer.echo(say("cli.threshold", lang, pest=pest, value=f"{value:g}", per=per, crop=crop))


@app.command(epilog="Example: benchwalk demo --data ./nursery")
@_told
def demo(lang: Lang = Language.EN, data: Data = None) -> None:
    """Build the invented nursery's half year, the first time; show and report its last week."""
    from benchwalk import demo as nursery
    from benchwalk.report.terminal import print_week

    with nursery.opened(data) as engine:
        built = nursery.build_once(engine)
        typer.echo(say("sheet.landed", lang, n=built.counts))
        week = nursery.week(engine, built.operation)
    print_week(week.summary, lang)
    _report_to(nursery.folder(data) / "reports", week, lang)


@app.command(epilog="Example: benchwalk serve --port 8753")
@_told
def serve(
    port: Port = 8753,
    of_demo: Annotated[bool, typer.Option("--demo", help="Serve the invented nursery.")] = False,
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """Show the week's summary as a page, on this machine only (loopback). Ctrl-C ends it."""
    import uvicorn

    from benchwalk import demo as nursery
    from benchwalk.records.database import session
    from benchwalk.summarise import summarise
    from benchwalk.web import create_app

    with _loopback(port, lang) as socket:
        opened = nursery.ready(data) if of_demo else _operation(data)
        with opened as (engine, operation):

            def load() -> Summary | None:
                with session(engine, operation) as s:
                    return summarise(s)

            typer.echo(f"http://127.0.0.1:{socket.getsockname()[1]}/")
            settings = uvicorn.Config(create_app(load, locale=lang), log_level="warning")
            uvicorn.Server(settings).run(sockets=[socket])


@contextmanager
def _loopback(port: int, lang: str) -> Iterator[Socket]:
    """A listening socket on this machine only; 0 takes any free port."""
    from socket import SO_REUSEADDR, SOL_SOCKET
    from socket import socket as new_socket

    with new_socket() as held:
        held.setsockopt(SOL_SOCKET, SO_REUSEADDR, 1)
        try:
            held.bind(("127.0.0.1", port))
        except OSError as taken:
            raise _stop(say("refused.port", lang, port=port, other=port + 1)) from taken
        held.listen()
        yield held


def _show_brought(brought: Brought, *, as_json: bool, lang: str) -> None:
    from benchwalk.report.sheets import brought_json, brought_text

    if as_json:
        typer.echo(json.dumps(brought_json(brought), ensure_ascii=False, indent=1))
    else:
        typer.echo(brought_text(brought, lang))


def main() -> None:
    """Entry of the console script."""
    app()
