"""Errors as pages that say what was given, what was expected and what to do; JSON under /api/."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import Any
from urllib.parse import quote

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from benchwalk.catalogue import Refusal, say
from benchwalk.report.figures import shown
from benchwalk.summarise.gathered import EARLIEST, LATEST
from benchwalk.web.base import Missing, NotAllowed, NotSignedIn, served_by
from benchwalk.web.pages import locale_of, page

API = "/api/"
GIVEN_MOST = 40  # letters of what was given that are repeated; own choice
WORD = re.compile(r"'(\w+)'")
LIMITS = ("max_length", "min_length", "ge", "le")
EXPECTED = {
    "date_from_datetime_parsing": "web.expected_day",
    "date_parsing": "web.expected_day",
    "uuid_parsing": "web.expected_id",
    "int_parsing": "web.expected_whole",
    "bool_parsing": "web.expected_yes_no",
    "string_too_long": "web.expected_shorter",
    "string_pattern_mismatch": "web.expected_plain",
    "greater_than_equal": "web.expected_least",
    "less_than_equal": "web.expected_most",
}
NOT_FOUND, NO_METHOD = 404, 405


def add(app: FastAPI) -> None:
    """Register what becomes of every exception that a handler lets out."""
    app.add_exception_handler(HTTPException, _of_http)
    app.add_exception_handler(Missing, _missing)
    app.add_exception_handler(NotSignedIn, _not_signed_in)
    app.add_exception_handler(NotAllowed, _not_allowed)
    app.add_exception_handler(Refusal, _refused)
    app.add_exception_handler(RequestValidationError, _not_understood)
    app.add_exception_handler(Exception, _failed)


def _of_http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    what = "not_found" if error.status_code == NOT_FOUND else "refused"
    return _error(request, what, error.status_code)


def _missing(request: Request, _: Exception) -> Response:
    return _error(request, "not_found", NOT_FOUND)


def _not_signed_in(request: Request, _: Exception) -> Response:
    if request.method not in ("GET", "HEAD") or request.url.path.startswith(API):
        return _error(request, "not_signed_in", 401)
    back = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    headers = {"Cache-Control": "no-store"}
    return RedirectResponse(f"/sign-in?next={quote(back)}", status_code=303, headers=headers)


def _not_allowed(request: Request, _: Exception) -> Response:
    return _error(request, "not_allowed", 403)


def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, Refusal)
    return _error(request, "refused", 400, error)


def _not_understood(request: Request, error: Exception) -> Response:
    """A path or a form that is not of the shape the route takes: an id that is none is a 404."""
    assert isinstance(error, RequestValidationError)
    faults = error.errors()
    if any(fault["loc"][0] == "path" for fault in faults):
        return _error(request, "not_found", NOT_FOUND)
    fields = "; ".join(_parts(faults, locale_of(request, served_by(request).locale)))
    return _error(request, "refused", 422, Refusal("web.fields", fields=fields))


def _parts(faults: Sequence[Mapping[str, Any]], locale: str) -> Iterator[str]:
    """Each part once: its name, what was given in the address, what was expected.

    What was typed into a form is not repeated: it may be a passphrase.
    """
    by_name: dict[str, list[Mapping[str, Any]]] = defaultdict(list)
    for fault in faults:
        by_name[str(fault["loc"][min(1, len(fault["loc"]) - 1)])].append(fault)
    for name, held in sorted(by_name.items()):
        first = held[0]
        if first["type"] == "missing":
            yield say("web.part_missing", locale, name=shown(name))
            continue
        wanted = dict.fromkeys(text for fault in held if (text := _expected(fault, locale)))
        given = shown(str(first["input"])[:GIVEN_MOST]) if first["loc"][0] == "query" else ""
        key = "web.part_given" if given else "web.part_expected"
        expected = say("web.or", locale).join(wanted)
        yield say(key, locale, name=shown(name), given=given, expected=expected)


def _expected(fault: Mapping[str, Any], locale: str) -> str:
    """What a part has to be; "" of the choice to leave it empty."""
    context = fault.get("ctx", {})
    if fault["type"] == "literal_error":
        words = ", ".join(WORD.findall(str(context["expected"])))
        return say("web.expected_one_of", locale, words=words) if words else ""
    if any(str(context.get(limit)) in (str(EARLIEST), str(LATEST)) for limit in LIMITS):
        return say("web.expected_day_of", locale, first=EARLIEST, last=LATEST)
    key = EXPECTED.get(fault["type"], "web.expected_other")
    return say(key, locale, **{name: value for name, value in context.items() if name in LIMITS})


def _failed(request: Request, _: Exception) -> Response:
    return _error(request, "failed", 500)


def _error(request: Request, what: str, status: int, why: Refusal | None = None) -> Response:
    locale = locale_of(request, served_by(request).locale)
    said = why.said(locale) if why else ""
    if request.url.path.startswith(API):
        key = why.key if why else what
        title = said or say(f"page.{what}_title", locale)
        return JSONResponse({"error": key, "message": title}, status_code=status)
    return page("error.html", locale, status=status, what=what, why=said, person=None)
