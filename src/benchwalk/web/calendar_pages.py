"""A calendar of walks and checks that are due, at an address that only its person knows."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from fastapi import APIRouter
from starlette.responses import Response

from benchwalk.catalogue import say
from benchwalk.records.accounts import links
from benchwalk.report.figures import shown
from benchwalk.report.icalendar import Event, calendar
from benchwalk.summarise import Summary, summarise
from benchwalk.summarise.checks import Check, every_check
from benchwalk.summarise.rows import due_walks
from benchwalk.web.base import AVisitor, InScope, Missing, Visitor, page

router = APIRouter()


@router.get("/calendar")
def about(scope: InScope) -> Response:
    """What the calendar is, and the way to a new address."""
    return page(scope, "calendar.html", address="")


@router.post("/calendar")
def new_address(scope: InScope) -> Response:
    """A new secret address, shown once; the one before works no more."""
    with scope.writing() as s:
        token = links.make(s, "calendar", scope.person.person)
    address = f"{scope.request.base_url}calendar/{token}.ics?lang={scope.locale}"
    return page(scope, "calendar.html", address=address)


@router.get("/calendar/{token}.ics")
def feed(visitor: AVisitor, token: str) -> Response:
    """The calendar itself (RFC 5545); whoever has the address may read it."""
    if links.find(visitor.session, token, "calendar") is None:
        raise Missing
    summary = summarise(visitor.session)
    events = [] if summary is None else list(_events(visitor, summary))
    name = "benchwalk" if summary is None else shown(summary.known.operation)
    text = calendar(name, events, stamp=dt.datetime.now(dt.UTC))
    headers = {"Cache-Control": "no-store"}
    return Response(text, media_type="text/calendar; charset=utf-8", headers=headers)


def _events(visitor: Visitor, summary: Summary) -> Iterator[Event]:
    """What is late lasts until today, so that today's page of a calendar shows it."""
    locale, today = visitor.locale, dt.datetime.now(summary.known.clock).date()
    pages = f"{visitor.request.base_url}units"
    for one in due_walks(summary):
        words = say("page.calendar_walk", locale, unit=shown(one.place.full_name))
        url = f"{pages}/{one.place.id}"
        yield Event(f"walk-{one.place.id}", one.on, max(one.on, today), words, url)
    for check in every_check(visitor.session, summary.known):
        url = f"{pages}/{check.place.id}"
        yield Event(_uid(check), check.due_on, max(check.due_on, today), _check(check, locale), url)


def _uid(check: Check) -> str:
    """By unit and treatment, so that a calendar moves it and never doubles it."""
    return f"check-{check.put.application_id}-{check.place.id}"


def _check(check: Check, locale: str) -> str:
    unit, what = shown(check.place.full_name), shown(check.put.what)
    return say("page.calendar_check", locale, unit=unit, what=what)
