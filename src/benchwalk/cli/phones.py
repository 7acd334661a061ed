"""What a phone could not send comes in as a file."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Annotated

import typer

from benchwalk.catalogue import say
from benchwalk.cli.app import Data, Lang, Language, app, told
from benchwalk.cli.records import opened

PhoneFile = Annotated[
    Path, typer.Argument(help="The file a phone saved.", exists=True, dir_okay=False)
]


@app.command(epilog="Example: benchwalk import-phone phone-3.json")
@told
def import_phone(path: PhoneFile, lang: Lang = Language.EN, data: Data = None) -> None:
    """Take the counts of a phone that cannot send them. What is brought twice counts once."""
    from benchwalk.records.sync import bring_file

    with opened(data) as (engine, operation):
        answers = bring_file(engine, operation, path)
    for answer, n in Counter(a.answer for a in answers).items():
        typer.echo(say(f"sync.brought_{answer}", lang, n=n))
    if not answers:
        typer.echo(say("sync.nothing_in_file", lang))
