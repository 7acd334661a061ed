"""Setting up an operation, its thresholds, and the invented nursery."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

import typer

from benchwalk.catalogue import say
from benchwalk.cli.app import Data, Lang, Language, app, told
from benchwalk.cli.records import database, recording


@app.command(epilog='Example: benchwalk init "North Nursery" --zone America/New_York')
@told
def init(
    name: Annotated[str, typer.Argument(help="Name of the operation.")],
    zone: Annotated[str, typer.Option(help="Time zone of the operation (IANA).")] = "UTC",
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """Set up an operation: records, vocabulary, and the shipped thresholds with their sources."""
    from benchwalk.records.database import migrate
    from benchwalk.records.setup import set_up

    with database(data) as engine:
        migrate(engine)
        made = set_up(engine, name, zone)
        where = engine.url.render_as_string()
    typer.echo(say("cli.init", lang, name=name, n=made.thresholds, where=where))


@app.command(
    epilog="Example: benchwalk threshold --pest greenhouse_whitefly --stage nymph"
    ' --method plant_count --crop poinsettia --value 0.5 --per per_plant --source "our own, 2025"'
)
@told
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
    with recording(data) as s:
        set_threshold(s, wanted)
    typer.echo(say("cli.threshold", lang, pest=pest, value=f"{value:g}", per=per, crop=crop))
