"""The lists on a unit's page: what comes next, treatments, plantings, walks, flags, sightings."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from benchwalk.catalogue import say
from benchwalk.report.course_words import numbers_of
from benchwalk.report.figures import day, figure, percent, shown
from benchwalk.report.names import Names
from benchwalk.report.record_words import colour_word
from benchwalk.report.row_words import moment
from benchwalk.summarise.checks import Check
from benchwalk.summarise.unit import FlagOf, MarkOf, UnitCourse


@dataclass(frozen=True)
class Entry:
    """A dated line of a list: when, what, and what else is known.

    `record` is the id of what was written down, and `photo` the name of its picture; "" is none.
    """

    when: str
    what: str
    more: str = ""
    record: str = ""
    photo: str = ""


def treatments(names: Names, course: UnitCourse) -> Iterator[Entry]:
    """Each treatment with the number that the pictures give its day, the newest first."""
    numbers = numbers_of(course)
    for put in reversed(course.put):
        on = course.on(put.at)
        said = [say(f"report.kind.{put.kind}", names.locale), shown(put.what)]
        more = [shown(put.moa_group or "")]
        if put.against is not None and put.kind != "release":
            more.append(say("report.against", names.locale, pest=names.taxon(put.against)))
        if put.share_percent < 100:
            more.append(say("report.share", names.locale, share=percent(put.share_percent)))
        yield Entry(
            f"{numbers[on]}. {day(on, names.locale)}",
            ", ".join(said),
            ", ".join(part for part in more if part),
        )


def check_words(names: Names, check: Check) -> str:
    """Reads "Check: spinosad, western flower thrips"."""
    if check.put.against is None:
        return say("page.next_check_any", names.locale, what=shown(check.put.what))
    pest = names.taxon(check.put.against)
    return say("page.next_check", names.locale, what=shown(check.put.what), pest=pest)


def coming(names: Names, course: UnitCourse) -> Iterator[Entry]:
    """The next walk, and the checks of treatments that nobody has looked at since."""
    for check in course.checks:
        yield Entry(day(check.due_on, names.locale), check_words(names, check))
    last = course.now.on if course.now is not None else None
    every = [p.every_days for p in course.known.plantings if p.every_days is not None]
    if last is not None and every:
        on = last + dt.timedelta(days=min(every))
        yield Entry(day(on, names.locale), say("page.next_walk", names.locale, n=min(every)))


def plantings(names: Names, course: UnitCourse) -> Iterator[Entry]:
    for row in reversed(course.phases):
        more = [] if row.cultivar is None else [shown(row.cultivar)]
        standing = next((p for p in course.known.plantings if p.id == row.planting_id), None)
        if standing is not None and standing.phase == row.phase and standing.plants is not None:
            more.append(say("page.plants", names.locale, n=standing.plants))
        if row.provisional:
            more.append(say("page.provisional", names.locale))
        crop = names.crop(row.crop)
        what = (
            say("page.planting_gone", names.locale, crop=crop)
            if row.phase == "gone"
            else f"{crop}, {names.phase(row.phase)}"
        )
        yield Entry(day(row.from_on, names.locale, year=True), what, ", ".join(more))


def walks(names: Names, course: UnitCourse) -> Iterator[Entry]:
    locale = names.locale
    for walk in course.walks:
        if walk.state is None:
            what = say("abs.no_word", locale)
        elif walk.reason is not None:
            key = "page.cut_short" if walk.state == "cut_short" else "abs.not_looked_why"
            what = say(key, locale, reason=names.reason(walk.reason))
        else:
            what = say("page.looked", locale)
        more = [shown(walk.scout)] if walk.scout is not None else []
        if walk.minutes is not None:
            more.append(say("page.minutes", locale, n=figure(walk.minutes)))
        if walk.fast:
            more.append(say("page.fast", locale))
        if walk.note:
            more.append(shown(walk.note))
        yield Entry(day(walk.walk_on, locale), what, ", ".join(more))


def flag_entry(names: Names, flag: FlagOf) -> Entry:
    """A flag with every mark it was given, the newest first."""
    marks = [_mark(names, mark) for mark in reversed(flag.marks)]
    what = [shown(flag.reason), *([shown(flag.position)] if flag.position else [])]
    return Entry(
        colour_word(flag.colour, names.locale),
        ", ".join(what),
        "; ".join(marks) or say("report.mark.not_said", names.locale),
        str(flag.id),
    )


def _mark(names: Names, mark: MarkOf) -> str:
    key = "page.mark_cleared" if mark.what == "cleared" else f"report.mark.{mark.what}"
    said = say(key, names.locale, date=day(mark.on, names.locale))
    return f"{said}, {shown(mark.by)}" if mark.by else said


def sightings(names: Names, course: UnitCourse) -> Iterator[Entry]:
    """What was seen unlooked-for, the newest first, with who wrote it down."""
    for seen in reversed(course.sightings):
        what = [say(f"page.cause_{seen.cause}", names.locale)]
        if seen.taxon is not None:
            what.append(names.taxon(seen.taxon))
        more = [part for part in (seen.words, seen.pattern, seen.position, seen.by) if part]
        yield Entry(
            moment(seen.at, names),
            ": ".join(what),
            "; ".join(shown(part) for part in more),
            str(seen.id),
            "" if seen.photo is None else seen.photo,
        )
