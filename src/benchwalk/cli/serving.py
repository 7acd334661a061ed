"""Serving the pages, on this machine."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated

import typer

from benchwalk.catalogue import say
from benchwalk.cli.app import Data, Lang, Language, app, opened, stop, told

if TYPE_CHECKING:
    from socket import socket as Socket  # noqa: N812 - a type, beside the value of that name

    from benchwalk.summarise import Summary

Port = Annotated[int, typer.Option("--port", help="Port on this machine.")]


@app.command(epilog="Example: benchwalk serve --port 8753")
@told
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
        records = nursery.ready(data) if of_demo else opened(data)
        with records as (engine, operation):

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
            raise stop(say("refused.port", lang, port=port, other=port + 1)) from taken
        held.listen()
        yield held
