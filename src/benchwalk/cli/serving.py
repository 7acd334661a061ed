"""Serving the pages, on this machine."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated

import typer

from benchwalk.catalogue import say
from benchwalk.cli.app import Data, Lang, Language, app, stop, told
from benchwalk.cli.records import opened

if TYPE_CHECKING:
    from socket import socket as Socket  # noqa: N812 - a type, beside the value of that name

    from sqlalchemy import Engine

    from benchwalk.web import Served

Port = Annotated[int, typer.Option("--port", help="Port on this machine.")]
GUIDE = "guide"  # who the demo is entered as: invented like the rest of it
ENDS_WITHIN_S = (
    5  # for what is under way when it is told to end; a phone out of reach holds nothing
)


@app.command(epilog="Example: benchwalk serve --port 8753")
@told
def serve(
    port: Port = 8753,
    of_demo: Annotated[bool, typer.Option("--demo", help="Serve the invented nursery.")] = False,
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """Show the pages in a browser, on this machine only (loopback). Ctrl-C ends it.

    The first time, a link is printed that makes the first account; for the demo, one that enters.
    """
    import uvicorn

    from benchwalk import demo as nursery
    from benchwalk.records.backup import daily
    from benchwalk.records.database import measure
    from benchwalk.web import Served, create_app

    with _loopback(port, lang) as socket:
        records = nursery.ready(data) if of_demo else opened(data)
        with records as (engine, operation), daily(engine):
            measure(engine)
            where = f"http://127.0.0.1:{socket.getsockname()[1]}/"
            typer.echo(where)
            _say_the_way_in(engine, operation, where, lang, of_demo=of_demo)
            shown = Served(engine, operation, locale=lang, data=data, last_proven=_proven(engine))
            settings = uvicorn.Config(
                create_app(shown),
                log_level="warning",
                server_header=False,
                timeout_graceful_shutdown=ENDS_WITHIN_S,
            )
            with _reading_once(shown):
                uvicorn.Server(settings).run(sockets=[socket])


@contextmanager
def _reading_once(shown: Served) -> Iterator[None]:
    """The week is worked out beside the block, so that its first reader need not wait."""
    from threading import Thread

    from benchwalk.web.week_pages import read_once

    reading = Thread(target=read_once, args=(shown,), name="week")
    reading.start()
    try:
        yield
    finally:
        reading.join()


def _proven(engine: Engine) -> Callable[[], dt.datetime | None]:
    """When a copy of these records was last proved by restoring it."""
    from benchwalk.records.backup import last_proven
    from benchwalk.records.database import folder_of

    def proven() -> dt.datetime | None:
        newest = last_proven(folder_of(engine))
        return None if newest is None else newest.at

    return proven


def _say_the_way_in(
    engine: Engine, operation: int, where: str, lang: str, *, of_demo: bool
) -> None:
    """Print the link that is needed to come in, where one is: it works once and for a day."""
    from benchwalk.records.accounts import links, people
    from benchwalk.records.database import writing

    with writing(engine, operation) as s:
        if of_demo:
            link, key = links.offer_entrance(s, people.guide(s, GUIDE)), "web.enter_link"
        elif not people.anybody_signs_in(s):
            link, key = links.make(s, "set_up"), "web.set_up_link"
        else:
            return
    typer.echo(f"{say(key, lang)}\n{where}link/{link}")


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
            raise stop(say("refused.port", lang, port=port, other=port + 1)) from taken
        held.listen()
        yield held
