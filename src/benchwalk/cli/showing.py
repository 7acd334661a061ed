"""Showing the week: on the terminal, as files, and the invented nursery's."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from benchwalk.catalogue import Refusal, say
from benchwalk.cli.app import AsJson, Data, Day, Lang, Language, app, stop, tell_json, told
from benchwalk.cli.records import beside, reading

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from benchwalk.records.queries import Place
    from benchwalk.summarise import Reported
    from benchwalk.summarise.forecasts import Forecasts
    from benchwalk.summarise.unit import UnitCourse

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
    from benchwalk.report.as_json import week_json
    from benchwalk.report.terminal import print_week
    from benchwalk.summarise import summarise
    from benchwalk.summarise.foreseen import foreseen

    with reading(data) as s:
        week = summarise(s, day.date() if day else None, days)
        week = None if week is None else foreseen(s, week)
    if week is None:
        raise stop(say("cli.summary.empty", lang))
    if as_json:
        tell_json(week_json(week))
        return
    print_week(week, lang)


@app.command(epilog='Example: benchwalk unit "Glass House / Bench 4" --json')
@told
def unit(
    name: Annotated[str, typer.Argument(help="Its name, with its house where two have it.")],
    day: Day = None,
    as_json: AsJson = False,
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """One unit: how it stands, its half year, what is expected, treatments, flags, walks."""
    from benchwalk.report.terminal_unit import unit_lines
    from benchwalk.report.unit_as_json import course_json
    from benchwalk.report.unit_page_words import unit_page_words
    from benchwalk.summarise.unit import unit_course

    with reading(data) as s:
        course = unit_course(s, _unit_called(s, name), day.date() if day else None)
        if course is None:
            raise stop(say("cli.unit.not_there", lang, name=name))
        course, found = _foreseen(s, course)
    if as_json:
        tell_json(course_json(course, found))
        return
    for line in unit_lines(unit_page_words(course, lang, found), lang):
        typer.echo(line)


def _foreseen(s: Session, course: UnitCourse) -> tuple[UnitCourse, Forecasts | None]:
    """The unit as it stands with what is ahead of it, as its page has it."""
    from benchwalk.summarise import summarise
    from benchwalk.summarise.foreseen import foreseen, unit_with_ahead

    week = summarise(s, course.day)
    found = None if week is None else foreseen(s, week).forecasts
    if found is None or course.now is None:
        return course, found
    return replace(course, now=unit_with_ahead(course.now, found)), found


@app.command(
    epilog='Example: benchwalk looks "Glass House / Bench 4" greenhouse_whitefly nymph plant_count'
    " --on 2026-06-30"
)
@told
def looks(
    name: Annotated[str, typer.Argument(help="Name of the unit.")],
    pest: Annotated[str, typer.Argument(help="Code of the pest, as --json has it.")],
    stage: Annotated[str, typer.Argument(help="Code of the stage.")],
    method: Annotated[str, typer.Argument(help="Code of the way of counting.")],
    on: Annotated[dt.datetime, typer.Option(formats=["%Y-%m-%d"], help="Day of the walk.")],
    why: Annotated[str, typer.Option(help="Why the plants were chosen.")] = "sample",
    as_json: AsJson = False,
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """The looks behind one number: who, when, which plant, what was counted and corrected."""
    from benchwalk.report.looks_words import behind_words
    from benchwalk.report.terminal_unit import looks_lines
    from benchwalk.report.unit_as_json import looks_json
    from benchwalk.summarise import Key
    from benchwalk.summarise.looks import behind

    with reading(data) as s:
        held = behind(s, Key(_unit_called(s, name), pest, stage, method), on.date(), why)
    if held is None:
        raise stop(say("cli.looks.none", lang, pest=pest, on=on.date().isoformat()))
    if as_json:
        tell_json(looks_json(held))
        return
    for line in looks_lines(behind_words(held, lang)):
        typer.echo(line)


def _unit_called(s: Session, name: str) -> uuid.UUID:
    """The one unit of a name or id; of several, the one that is not closed."""
    from benchwalk.records import queries

    units = queries.ground(s).units
    held = [u for u in units if name.casefold() in _names(u)]
    alive = [u for u in held if u.closed_on is None]
    found = alive if len(held) > 1 else held
    if len(found) != 1:
        among = "; ".join(u.full_name for u in found or units)
        raise Refusal("cli.unit.which" if found else "cli.unit.unknown", given=name, units=among)
    return found[0].id


def _names(place: Place) -> tuple[str, ...]:
    return tuple(text.casefold() for text in (place.full_name, place.name, str(place.id)))


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
    from benchwalk.summarise import reported

    with reading(data) as s:
        week = reported(s, day.date() if day else None)
    if week is None:
        raise stop(say("cli.summary.empty", lang))
    _report_to(out or beside(data, "reports"), week, lang, paper, only)


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
