"""Showing the week: on the terminal, as files, and the invented nursery's."""

from __future__ import annotations

import json
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from benchwalk.catalogue import say
from benchwalk.cli.app import AsJson, Data, Day, Lang, Language, app, opened, stop, told

if TYPE_CHECKING:
    from benchwalk.summarise import Reported

KINDS = "pdf,html,xlsx"  # of a report's files


class Paper(StrEnum):
    A4 = "a4"
    LETTER = "letter"


@app.command(epilog="Example: benchwalk summary --day 2026-04-20 --lang es")
@told
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
    from benchwalk.summarise.foreseen import foreseen

    with opened(data) as (engine, operation), session(engine, operation) as s:
        week = summarise(s, day.date() if day else None, days)
        week = None if week is None else foreseen(s, week)
    if week is None:
        raise stop(say("cli.summary.empty", lang))
    if as_json:
        typer.echo(json.dumps(week_json(week), ensure_ascii=False, indent=1))
        return
    print_week(week, lang)


@app.command(epilog="Example: benchwalk report --paper letter --only pdf --out ./for-friday")
@told
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

    with opened(data) as (engine, operation), session(engine, operation) as s:
        week = reported(s, day.date() if day else None)
    if week is None:
        raise stop(say("cli.summary.empty", lang))
    _report_to(out or (data or data_directory()) / "reports", week, lang, paper, only)


def _report_to(out: Path, week: Reported, lang: str, paper: str = "a4", only: str = KINDS) -> None:
    from benchwalk.report.files import write_report

    for path in write_report(week, out, locale=lang, size=paper, only=only):
        typer.echo(say("cli.report", lang, path=path))


@app.command(epilog="Example: benchwalk demo --data ./nursery")
@told
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
