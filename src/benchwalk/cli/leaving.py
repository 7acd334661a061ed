"""Everything can leave: exports, a whole operation taken up elsewhere, one person's data."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from benchwalk.catalogue import say
from benchwalk.cli.app import AsJson, Data, Exit, Lang, Language, agreed, app, tell, tell_json, told
from benchwalk.cli.records import beside, database, opened, recording

if TYPE_CHECKING:
    from benchwalk.records.exports.persons import Mention


class Form(StrEnum):
    PACKAGE = "package"
    XLSX = "xlsx"
    PARQUET = "parquet"
    DARWIN = "darwin"
    FULL = "full"


To = Annotated[
    Path | None, typer.Option("--to", help="A new or empty folder; else one beside the records.")
]
Who = Annotated[str, typer.Argument(help="Name or pseudonym of the person.")]


@app.command(epilog="Example: benchwalk export --as package --to ./for-the-advisor")
@told
def export(
    as_: Annotated[
        Form,
        typer.Option(
            "--as",
            help="package: CSV with a description; xlsx: one workbook; parquet: by unit and day;"
            " darwin: Darwin Core; full: everything, to be adopted elsewhere.",
        ),
    ] = Form.PACKAGE,
    to: To = None,
    older_words: Annotated[
        bool,
        typer.Option(
            "--older-words", help="Darwin Core: present and absent, for readers of older lists."
        ),
    ] = False,
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """Write the records for other programs. What nobody looked at is never a 0 in them."""
    from benchwalk.records.exports import Kind
    from benchwalk.records.exports import export as write

    with opened(data) as (engine, operation):
        done = write(
            engine,
            operation,
            Kind(as_.value),
            lambda name: to or beside(data, "exports") / name,
            older_words=older_words,
        )
    typer.echo(say("leave.written", lang, folder=done.folder))
    if done.cut:
        places = ", ".join(done.cut)
        typer.echo(say("leave.cut", lang, n=len(done.cut), places=places), err=True)
    if as_ is Form.FULL:
        typer.echo(say("leave.names", lang), err=True)


@app.command(epilog="Example: benchwalk adopt ./exports/full-9207 --data ./new-place")
@told
def adopt(
    folder: Annotated[Path, typer.Argument(help="Folder of a full export.")],
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """Take up an operation that left in full, where there is none yet: the same records."""
    from benchwalk.records.database import migrate
    from benchwalk.records.exports.adopt import adopt as take_up

    with database(data) as engine:
        migrate(engine)
        done = take_up(engine, folder, alone=True)
    typer.echo(say("leave.adopted", lang, n=done.rows, head=done.head))


person = typer.Typer(
    no_args_is_help=True,
    help="One person's data: what names them, a copy for them, their name taken away.",
    epilog='Example: benchwalk person export "scout 1" --to ./for-them',
)
app.add_typer(person, name="person")


@person.command("find", epilog='Example: benchwalk person find "A. Name"')
@told
def find(
    name: Annotated[str, typer.Argument(help="A name, also of somebody removed.")],
    as_json: AsJson = False,
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """List every text that names somebody, and whether it can still be corrected."""
    from benchwalk.records.exports.moment import moment
    from benchwalk.records.exports.persons import mentions

    with opened(data) as (engine, operation), moment(engine, operation) as s:
        _show(list(mentions(s, name)), as_json=as_json, lang=lang)


@person.command("export", epilog='Example: benchwalk person export "scout 1" --to ./for-them')
@told
def export_person(who: Who, to: To = None, lang: Lang = Language.EN, data: Data = None) -> None:
    """Write what is held of one person. Names of others are masked in it."""
    from benchwalk.records.exports.folder import new_folder
    from benchwalk.records.exports.moment import moment
    from benchwalk.records.exports.persons import person_of, write_person

    with opened(data) as (engine, operation), moment(engine, operation) as s:
        whose = person_of(s, who)
        folder = to or beside(data, "exports") / f"person-{whose.id}"
        with new_folder(folder) as part:
            count = write_person(s, whose, part)
    typer.echo(say("leave.person.written", lang, n=count, folder=folder))


@person.command("remove", epilog='Example: benchwalk person remove "A. Name"')
@told
def remove_person(
    who: Who,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
    as_json: AsJson = False,
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """Take a person's name away for good. Records stay under the pseudonym; texts are listed."""
    from benchwalk.records.exports.persons import mentions, person_of, remove

    with recording(data) as s:
        whose = person_of(s, who)
        if whose.name is not None:
            _show(list(mentions(s, whose.name)), as_json=as_json, lang=lang)
        asked = say("leave.person.agree", lang, pseudonym=whose.pseudonym)
        if not yes and not agreed(asked):
            raise typer.Exit(Exit.ANSWER_FIRST)
        remove(s, whose)
    typer.echo(say("leave.person.removed", lang, pseudonym=whose.pseudonym), err=as_json)


def _show(found: list[Mention], *, as_json: bool, lang: str) -> None:
    if as_json:
        tell_json([m.as_dict() for m in found])
        return
    typer.echo(say("leave.mentions" if found else "leave.no_mentions", lang, n=len(found)))
    for m in found:
        place = say("leave.ledger", lang, seq=m.seq) if m.seq else say("leave.outside", lang)
        state = say("leave.current" if m.current else "leave.past", lang)
        tell(f"  {place} {m.kind} {m.id}, {m.field} ({state}): {m.text}")
    if any(m.seq for m in found):
        typer.echo(say("leave.ledger_kept", lang))
