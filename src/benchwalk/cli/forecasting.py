"""Where each pest is heading, and what treatments did."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Annotated

import typer

from benchwalk.catalogue import say
from benchwalk.cli.app import AsJson, Data, Day, Lang, Language, app, opened, stop, told

if TYPE_CHECKING:
    from benchwalk.report.forecast_words import ForecastWords


@app.command(
    epilog="Example: benchwalk forecast --day 2026-04-20  Example: benchwalk forecast --calibration"
)
@told
def forecast(
    day: Day = None,
    calibration: Annotated[
        bool, typer.Option("--calibration", help="How right past forecasts were.")
    ] = False,
    as_json: AsJson = False,
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """Where each pest is heading, how likely it is over by the next walk, what treatments did."""
    from benchwalk.records import queries
    from benchwalk.records.database import session
    from benchwalk.report.forecast_words import calibration_words, forecast_json, forecast_words
    from benchwalk.summarise.forecasts import calibrated, forecasts
    from benchwalk.summarise.gathered import gather

    with opened(data) as (engine, operation), session(engine, operation) as s:
        on = day.date() if day else queries.last_walk_on(s)
        known = None if on is None else gather(s, on, 7)
        found = None if known is None else forecasts(s, known)
    if known is None or found is None:
        raise stop(say("forecast.nothing", lang))
    if calibration:
        typer.echo(say("forecast.calibration", lang))
        scores = calibrated(found)
        for line in calibration_words(scores, lang):
            typer.echo(f"  {line}")
        return
    if as_json:
        typer.echo(json.dumps(forecast_json(known, found), ensure_ascii=False, indent=1))
        return
    _show(forecast_words(known, found, lang), lang)


def _show(words: ForecastWords, lang: str) -> None:
    typer.echo(words.title)
    for key, held in (("with_threshold", words.with_threshold), ("without", words.without)):
        if held:
            typer.echo(f"\n{say(f'forecast.{key}', lang)}")
        for ahead in held:
            chance = f"{ahead.chance}  " if ahead.chance else ""
            typer.echo(f"  {chance}{ahead.unit}: {ahead.series}")
            typer.echo(f"      {' '.join(ahead.sentences)}")
    parts = (
        ("surprising", words.surprising),
        ("treatments", words.treatments),
        ("pooled", words.pooled),
    )
    for key, sentences in parts:
        if sentences:
            typer.echo(f"\n{say(f'forecast.{key}', lang)}")
        for sentence in sentences:
            typer.echo(f"  - {sentence}")
    typer.echo("")
    for note in words.notes:
        typer.echo(note)
