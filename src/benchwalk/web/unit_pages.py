"""One unit: how it stands, how it came there, what is next."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import replace
from urllib.parse import urlencode

from fastapi import APIRouter
from markupsafe import Markup
from starlette.responses import FileResponse, Response

from benchwalk.records.database import folder_of
from benchwalk.records.photos import is_named, kept_at
from benchwalk.report.effect_drawing import effect_axis
from benchwalk.report.unit_page_words import unit_page_words
from benchwalk.summarise import summarise
from benchwalk.summarise.foreseen import unit_with_ahead
from benchwalk.summarise.unit import UnitCourse, unit_course
from benchwalk.web.base import PRIVATE, Day, InScope, Missing, Scope, page, see
from benchwalk.web.photos import Digest

router = APIRouter()


@router.get("/units/{unit}")
def unit(scope: InScope, unit: uuid.UUID, day: Day | None = None, asked: bool = False) -> Response:
    """A unit with its half year up to the newest walk's day, or up to ``day``."""
    course = unit_course(scope.session, unit, day)
    if course is None:
        raise Missing
    if course.unit.closed_on is not None or course.unit.opened_on == course.day:
        day = course.day  # of a unit that is no more its last, of a new one its first
    found = scope.served.ahead.held(scope.session, course.known)
    if found is not None and course.now is not None:
        course = replace(course, now=unit_with_ahead(course.now, found))
    return page(
        scope,
        "unit.html",
        unit=unit_page_words(course, scope.locale, found),
        svg=Markup,  # our own drawings, which escape the words in them
        effect_axis=effect_axis(scope.locale),
        ahead="" if found else _address(unit, "/ahead", day),
        asked=asked,
        photos=_photos(scope, course),
    )


def _photos(scope: Scope, course: UnitCourse) -> set[str]:
    """The photos of sightings that have come, by name."""
    folder = folder_of(scope.served.engine)
    named = {seen.photo for seen in course.sightings if seen.photo is not None}
    return {photo for photo in named if kept_at(folder, photo).exists()}


@router.get("/photos/{digest}")
def photo(scope: InScope, digest: Digest) -> Response:
    """A photo of a sighting of this operation, once all of it has come."""
    kept = kept_at(folder_of(scope.served.engine), digest)
    if not is_named(scope.session, digest) or not kept.exists():
        raise Missing
    return FileResponse(kept, media_type="image/jpeg", headers=PRIVATE)


@router.get("/units/{unit}/ahead")
def ahead(scope: InScope, unit: uuid.UUID, day: Day | None = None) -> Response:
    """Work out what is ahead, which a unit's page alone would take too long for; then show it.

    ``asked`` keeps a page from asking twice where others ask for another day meanwhile.
    """
    summary = scope.served.summary(scope.session) if day is None else summarise(scope.session, day)
    if summary is None or not any(u.id == unit for u in summary.known.units):
        raise Missing
    scope.served.ahead.foreseen(scope.session, summary)
    return see(_address(unit, "", day, asked="1"))


def _address(unit: uuid.UUID, part: str, day: dt.date | None, **asked: str) -> str:
    said = asked if day is None else {"day": day.isoformat(), **asked}
    return f"/units/{unit}{part}{'?' if said else ''}{urlencode(said)}"
