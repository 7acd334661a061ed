"""The app: one page of the week, its looks, and whether it is ready. It writes nothing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from fastapi import FastAPI
from starlette.exceptions import HTTPException
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.staticfiles import StaticFiles

from benchwalk.report.words import week_words
from benchwalk.summarise import Summary
from benchwalk.web.guard import Guard
from benchwalk.web.pages import locale_of, page

LOOPBACK = ("localhost", "127.0.0.1", "[::1]")

Load = Callable[[], Summary | None]


def create_app(load: Load, *, hosts: Sequence[str] = LOOPBACK, locale: str = "en") -> FastAPI:
    """The app of one operation.

    Parameters
    ----------
    load : gives the summary to show, None when nobody has walked yet; called for each request, in
        a worker thread.
    hosts : names the app answers to; another name in the request's Host is refused, so that a
        page elsewhere cannot read this one through a name of its own.
    locale : language when neither the address (``?lang=es``) nor the browser asks for one.
    """
    app = FastAPI(title="benchwalk", openapi_url=None, docs_url=None, redoc_url=None)
    app.mount("/static", StaticFiles(directory=Path(__file__).parent / "static"), name="static")
    app.add_middleware(TrustedHostMiddleware, allowed_hosts=list(hosts), www_redirect=False)
    app.add_middleware(Guard)
    _add_pages(app, load, locale)
    _add_errors(app, locale)
    return app


def _add_pages(app: FastAPI, load: Load, default: str) -> None:
    @app.api_route("/", methods=["GET", "HEAD"])
    def week(request: Request) -> Response:
        locale = locale_of(request, default)
        summary = load()
        if summary is None:
            return page("empty.html", locale)
        return page("week.html", locale, week=week_words(summary, locale))

    @app.get("/health/ready")
    def ready() -> Response:
        summary = load()
        day = None if summary is None else summary.day.isoformat()
        return JSONResponse({"ready": True, "newest_walk_on": day})


def _add_errors(app: FastAPI, default: str) -> None:
    @app.exception_handler(HTTPException)
    def refused(request: Request, error: HTTPException) -> Response:
        what = "not_found" if error.status_code == 404 else "refused"
        return _error(request, default, what, error.status_code)

    @app.exception_handler(Exception)
    def failed(request: Request, _: Exception) -> Response:
        return _error(request, default, "failed", 500)


def _error(request: Request, default: str, what: str, status: int) -> Response:
    return page("error.html", locale_of(request, default), status=status, what=what)
