"""The app: routers, who may use them, and what stands around every request."""

from __future__ import annotations

from pathlib import Path

from fastapi import Depends, FastAPI
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Receive, Scope, Send

from benchwalk.web import (
    account_pages,
    calendar_pages,
    calibration_pages,
    capture_pages,
    compressed,
    conflict_pages,
    counted,
    errors,
    export_pages,
    health,
    ledger_pages,
    looks_pages,
    paper_pages,
    people_pages,
    phones_api,
    phones_pages,
    photos,
    report_pages,
    sync,
    unit_pages,
    week_pages,
)
from benchwalk.web.base import Served, admitted
from benchwalk.web.guard import Guard

LOOPBACK = ("localhost", "127.0.0.1", "[::1]")
STATIC = Path(__file__).parent / "static"
ROUTERS = (
    week_pages.router,
    unit_pages.router,
    looks_pages.router,
    ledger_pages.router,
    report_pages.router,
    calendar_pages.router,
    calibration_pages.router,
    export_pages.router,
    account_pages.router,
    people_pages.router,
    paper_pages.router,
    phones_pages.router,
    conflict_pages.router,
    phones_api.router,
    capture_pages.router,
    health.router,
    sync.router,
    photos.router,
)


def create_app(served: Served) -> FastAPI:
    """The app of one operation.

    Parameters
    ----------
    served : the operation of a database, and how the server was started.
    """
    app = FastAPI(
        title="benchwalk",
        openapi_url=None,
        docs_url=None,
        redoc_url=None,
        redirect_slashes=False,
        dependencies=[Depends(admitted)],
    )
    app.add_middleware(compressed.Compressed)
    app.state.served = served
    app.state.ready = health.Ready(served)
    counted.count(served.engine)
    for router in ROUTERS:
        app.include_router(router)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    # under another name a page elsewhere could read this one
    app.add_middleware(TrustedHostMiddleware, allowed_hosts=list(LOOPBACK), www_redirect=False)
    app.add_middleware(Guard)
    app.add_middleware(counted.Counted)
    app.add_middleware(Headed)
    errors.add(app)
    return app


class Headed:
    """What can be read can be asked for without its body too (RFC 9110, 9.1 and 9.3.2).

    It is answered as GET is; the server that listens leaves out the body.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] == "http" and scope["method"] == "HEAD":
            scope = {**scope, "method": "GET"}
        await self.app(scope, receive, send)
