"""What every answer carries, and what every request that changes something has to show.

No page carries a script of its own text: scripts are files of this server, and no other host is
asked for anything. A request that changes something comes from a page of this server, or from a
program that shows a phone's token; a browser that was lured says itself where it comes from.
"""

from __future__ import annotations

from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from benchwalk.catalogue import say

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "font-src 'self'",
        "img-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "worker-src 'self'",
        "base-uri 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=(), payment=(), usb=()",
    "Cache-Control": "no-cache",
}
SECURE = {"Strict-Transport-Security": "max-age=31536000"}
READS = frozenset({"GET", "HEAD", "OPTIONS"})


class Guard:
    """Puts the headers on every answer that does not set its own; refuses lured requests."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        wanted = HEADERS | (SECURE if scope["scheme"] == "https" else {})

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in wanted.items():
                    headers.setdefault(name, value)
            await send(message)

        if scope["method"] in READS or comes_from_here(Headers(scope=scope)):
            await self.app(scope, receive, send_guarded)
        else:
            # before anybody is known to speak a language: in both
            told = "\n".join(say("web.another_site", locale) for locale in ("en", "es"))
            refused = PlainTextResponse(f"{told}\n", status_code=403)
            await refused(scope, receive, send_guarded)


def comes_from_here(headers: Headers) -> bool:
    """Whether a request that changes something was sent by a page of this server.

    By Sec-Fetch-Site where the browser sends it, else by Origin against Host. A request with
    neither comes from no browser: it is taken when it shows a token in its Authorization header,
    which no browser adds by itself, and no cookie.
    """
    site, origin = headers.get("sec-fetch-site"), headers.get("origin")
    if site is not None:
        return site == "same-origin"
    if origin is not None:
        return origin != "null" and urlsplit(origin).netloc == headers.get("host", "")
    return "authorization" in headers and "cookie" not in headers
