"""Pages and files that are sent compressed, by a list.

Who can read the length of an answer, and put words of their own into it, can guess a secret that
was compressed together with them (BREACH; Gluck, Harris and Prado 2013). So nothing is compressed
but what is listed: pages that show records, repeat no free text of the request (a day is a day or
refused, a filter is one of what there is) and hold no token, code or link that lets anybody in;
and the files every visitor gets. The page that refuses a day repeats what was given, and holds
nothing else: no record, and not who asked.
"""

from __future__ import annotations

from starlette.datastructures import Headers
from starlette.middleware.gzip import GZipMiddleware
from starlette.types import ASGIApp, Receive, Scope, Send

PAGES = ("/",)
BELOW = ("/static/", "/units/")
LEAST, LEVEL = 1400, 5  # [byte] what one packet holds anyhow; own choices


class Compressed:
    """Compresses the answers of the list for whoever accepts that."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app
        self.compressing = GZipMiddleware(app, minimum_size=LEAST, compresslevel=LEVEL)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        to = self.compressing if may_be(scope) else self.app
        await to(scope, receive, send)


def may_be(scope: Scope) -> bool:
    """Whether an answer may be compressed; a part of a file is sent as it is."""
    if scope["type"] != "http" or "range" in Headers(scope=scope):
        return False
    path: str = scope["path"]
    return path in PAGES or path.startswith(BELOW)
