"""Where each pest is heading, and what treatments did."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Annotated

import typer

from benchwalk.catalogue import say
from benchwalk.cli.app import AsJson, Data, Day, Lang, Language, app, stop, tell, tell_json, told
from benchwalk.cli.records import opened

if TYPE_CHECKING:
    from sqlalchemy import Engine

    from benchwalk.report.forecast_words import ForecastWords


@app.command(
    epilog="Example: benchwalk forecast --day 2026-04-20  Example: benchwalk forecast --refit"
)
@told
def forecast(
    day: Day = None,
    calibration: Annotated[
        bool, typer.Option("--calibration", help="How right past forecasts were.")
    ] = False,
    refit: Annotated[
        bool, typer.Option("--refit", help="Learn anew from all counts; it is kept with its date.")
    ] = False,
    defaults: Annotated[
        bool, typer.Option("--defaults", help="With the start values, as if nothing was learned.")
    ] = False,
    as_json: AsJson = False,
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """Where each pest is heading, how likely it is over by the next walk, what treatments did."""
    from benchwalk.records import queries
    from benchwalk.records.database import session
    from benchwalk.report.forecast_words import calibration_words, forecast_json, forecast_words
    from benchwalk.science.forecast import DEFAULTS
    from benchwalk.summarise.forecasts import calibrated, forecasts
    from benchwalk.summarise.gathered import gather

    if refit and defaults:
        raise stop(say("forecast.refit.or_defaults", lang))
    with opened(data) as (engine, operation):
        if refit:
            _learn(engine, operation, None if day is None else day.date(), lang)
            return
        with session(engine, operation) as s:
            on = day.date() if day else queries.last_walk_on(s)
            known = None if on is None else gather(s, on, 7)
            found = None if known is None else forecasts(s, known, DEFAULTS if defaults else None)
    if known is None or found is None:
        raise stop(say("forecast.nothing", lang))
    if calibration:
        typer.echo(say("forecast.calibration", lang))
        scores = calibrated(found)
        for line in calibration_words(scores, lang):
            tell(f"  {line}")
        return
    if as_json:
        tell_json(forecast_json(known, found))
        return
    _show(forecast_words(known, found, lang), lang)
    if found.learned is not None:
        typer.echo(say("forecast.refit.in_use", lang, date=found.learned.on.isoformat()))


def _learn(engine: Engine, operation: int, day: dt.date | None, lang: str) -> None:
    """Learn from everything up to a day, and write what was learned."""
    from benchwalk.records import queries
    from benchwalk.records.database import session, writing
    from benchwalk.summarise.forecasts import refitted
    from benchwalk.summarise.gathered import gather

    with session(engine, operation) as s:
        on = queries.last_walk_on(s) if day is None else day
        made = None if on is None else refitted(s, gather(s, on, 7))
    if made is None:
        raise stop(say("forecast.nothing", lang))
    with writing(engine, operation) as s:
        s.add(made)
        s.flush()
        said = {"date": made.fitted_on.isoformat(), "n": made.series, "counts": made.counts}
        groups = len(made.numbers["groups"])
    typer.echo(say("forecast.refit.done", lang, **said, groups=groups))


def _show(words: ForecastWords, lang: str) -> None:
    tell(words.title)
    for key, held in (("with_threshold", words.with_threshold), ("without", words.without)):
        if held:
            tell(f"\n{say(f'forecast.{key}', lang)}")
        for ahead in held:
            chance = f"{ahead.chance}  " if ahead.chance else ""
            tell(f"  {chance}{ahead.unit}: {ahead.series}")
            tell(f"      {' '.join(ahead.sentences)}")
    parts = (
        ("surprising", words.surprising),
        ("treatments", words.treatments),
        ("pooled", words.pooled),
    )
    for key, sentences in parts:
        if sentences:
            tell(f"\n{say(f'forecast.{key}', lang)}")
        for sentence in sentences:
            tell(f"  - {sentence}")
    tell("")
    for note in words.notes:
        tell(note)
