"""Keeping the records: copies, bringing them back, looking whether they are well, upgrading."""

from __future__ import annotations

import os
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from benchwalk.catalogue import say
from benchwalk.cli.app import AsJson, Data, Exit, Lang, Language, app, tell, tell_json, told
from benchwalk.cli.records import database

if TYPE_CHECKING:
    from benchwalk.records.chain import Head


@app.callback()
def everywhere(
    any_file_system: Annotated[
        bool,
        typer.Option(
            "--any-file-system", help="Open records on a network or FUSE file system too."
        ),
    ] = False,
) -> None:
    """Options that stand before the command."""
    if any_file_system:
        from benchwalk.records.disk import ANY_FILE_SYSTEM

        os.environ[ANY_FILE_SYSTEM] = "1"


@app.command(epilog="Example: benchwalk backup --to /media/stick/benchwalk")
@told
def backup(
    to: Annotated[
        Path | None, typer.Option(help="A second place for copies; remembered from now on.")
    ] = None,
    as_json: AsJson = False,
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """Copy the records while others write; prove the copy by restoring it into a scratch file."""
    from benchwalk.records.backup import make
    from benchwalk.records.database import ready

    with database(data) as engine:
        ready(engine)
        made = make(engine, to)
    if as_json:
        tell_json(asdict(made), default=str)
    else:
        typer.echo(say("keep.made", lang, folder=made.folder, n=sum(made.proof.counts.values())))
        for head in made.proof.heads:
            typer.echo(say("keep.head", lang, head=head))
        where = "keep.second" if made.second else "keep.no_second"
        typer.echo(say(where, lang, folder=made.second or ""))
    if not made.proof.whole:
        typer.echo(say("keep.faulty", lang, n=len(made.proof.faults)), err=True)
        raise typer.Exit(Exit.REFUSED)


@app.command(epilog="Example: benchwalk restore backups/benchwalk-20260310T090000.000000Z")
@told
def restore(
    folder: Annotated[Path, typer.Argument(help="The copy: a folder that `backup` made.")],
    replace: Annotated[
        bool, typer.Option("--replace", help="Put records that are there aside.")
    ] = False,
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """Bring a copy back: all of it, or nothing. What stood there is put aside, never deleted."""
    from benchwalk.records.restore import restore as bring_back

    with database(data) as engine:
        done = bring_back(folder, engine, replace=replace)
    made = f"{done.proof.made_at:%Y-%m-%d %H:%M} UTC"
    typer.echo(say("keep.restored", lang, made=made, rows=done.proof.counts["ledger"]))
    typer.echo(say("keep.epoch", lang, epoch=done.epoch))
    if done.aside:
        typer.echo(say("keep.aside", lang, folder=done.aside))


@app.command(epilog="Example: benchwalk doctor --against head.txt --replay")
@told
def doctor(
    against: Annotated[
        str | None,
        typer.Option(help="A head of the chain that was kept outside, or a file with some."),
    ] = None,
    replay: Annotated[
        bool, typer.Option("--replay", help="Rebuild the tables from the ledger, and compare.")
    ] = False,
    as_json: AsJson = False,
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """Look whether the records are well; exit code 1 where something is damaged or lost."""
    from benchwalk.records.doctor import examine

    with database(data) as engine:
        found = examine(engine, _heads(against), rebuild=replay)
    bad = any(f.level == "bad" for f in found)
    if as_json:
        rows = [
            {"key": f.key, "level": f.level, "said": f.said(lang), "values": f.values}
            for f in found
        ]
        tell_json(rows, default=str)
    else:
        tell("\n".join(f"{say(f'keep.level.{f.level}', lang)}  {f.said(lang)}" for f in found))
    raise typer.Exit(Exit.REFUSED if bad else Exit.DONE)


def _heads(given: str | None) -> list[Head]:
    from benchwalk.records.chain import read_heads

    if given is None:
        return []
    file = Path(given)
    return read_heads(file.read_text("utf-8") if file.is_file() else given)


@app.command(epilog="Example: benchwalk upgrade --check")
@told
def upgrade(
    check: Annotated[
        bool, typer.Option("--check", help="Change nothing; say what would change.")
    ] = False,
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """Bring the records to this version's schema, after a proved copy; every row is kept."""
    from benchwalk.records import upgrade as upgrading

    with database(data) as engine:
        seen = upgrading.check(engine) if check else upgrading.upgrade(engine)
    if not seen.changes:
        typer.echo(say("keep.up_to_date", lang, at=seen.at))
        return
    for change in seen.changes:
        typer.echo(say("keep.change", lang, revision=change.revision, what=change.what))
    if seen.new_tables:
        typer.echo(say("keep.new_tables", lang, tables=", ".join(seen.new_tables)))
    typer.echo(say("keep.would_upgrade" if check else "keep.upgraded", lang, rows=seen.rows))
