"""A calendar of walks and checks that are due, at an address that only its person knows."""

from __future__ import annotations

import datetime as dt

from fastapi import APIRouter
from starlette.responses import Response

from benchwalk.catalogue import say
from benchwalk.records.accounts import links
from benchwalk.report.figures import shown
from benchwalk.report.icalendar import calendar
from benchwalk.summarise import summarise
from benchwalk.summarise.checks import Check, every_check
from benchwalk.summarise.rows import Due, due_walks
from benchwalk.web.base import AVisitor, InScope, Missing, page

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
    address = f"{scope.request.base_url}calendar/{token}.ics"
    return page(scope, "calendar.html", address=address)


@router.get("/calendar/{token}.ics")
def feed(visitor: AVisitor, token: str) -> Response:
    """The calendar itself (RFC 5545); whoever has the address may read it."""
    if links.find(visitor.session, token, "calendar") is None:
        raise Missing
    summary = summarise(visitor.session)
    due = [] if summary is None else due_walks(summary)
    checks = [] if summary is None else every_check(visitor.session, summary.known)
    name = "benchwalk" if summary is None else shown(summary.known.operation)
    events = [_event(one, visitor.locale) for one in due]
    events += [_check(one, visitor.locale) for one in checks]
    text = calendar(name, events, stamp=dt.datetime.now(dt.UTC))
    headers = {"Cache-Control": "no-store"}
    return Response(text, media_type="text/calendar; charset=utf-8", headers=headers)


def _event(due: Due, locale: str) -> tuple[str, dt.date, str]:
    said = say("page.calendar_walk", locale, unit=shown(due.place.full_name))
    return f"walk-{due.place.id}", due.on, said


def _check(due: Check, locale: str) -> tuple[str, dt.date, str]:
    """Its own UID by unit and treatment, so that a calendar moves it and never doubles it."""
    unit, what = shown(due.place.full_name), shown(due.put.what)
    said = say("page.calendar_check", locale, unit=unit, what=what)
    return f"check-{due.put.application_id}-{due.place.id}", due.due_on, said
