"""A unit's page and the looks behind a number for a terminal: the same words, line by line."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from benchwalk.catalogue import say
from benchwalk.report.course_words import Cell, CourseWords
from benchwalk.report.figures import capital
from benchwalk.report.looks_words import BehindWords, LookWords
from benchwalk.report.unit_lists import Entry
from benchwalk.report.unit_page_words import LineShown, UnitPageWords

NEWEST = 8  # walks and days of a table that are shown; own choice


def unit_lines(words: UnitPageWords, locale: str = "en") -> Iterator[str]:
    """The unit, its sentence first."""
    yield f"{words.house} / {words.name}" if words.house else words.name
    yield from (line for line in (words.stands, words.closed) if line)
    yield f"{words.lead_word}. {words.lead}" if words.lead_word else words.lead
    for line in words.lines:
        yield from _line(line)
    for miss in words.missing:
        yield _joined(capital(miss.name), miss.method, miss.reason, miss.last)
    for course in words.courses:
        yield from _course(course, locale)
    for title, entries, nothing in _lists(words):
        yield ""
        yield say(title, locale)
        yield from _entries(entries, say(nothing, locale))


def _lists(words: UnitPageWords) -> Iterator[tuple[str, Iterable[Entry], str]]:
    yield "page.next", words.next, "page.no_next"
    yield "page.flags", words.flags, "page.no_flags"
    yield "page.sightings", words.sightings, "page.no_sightings"
    yield "page.treatments", words.treatments, "report.not_treated"
    yield "page.plantings", words.plantings, "page.no_plantings"
    yield "page.walks", words.walks[:NEWEST], "page.no_walks"


def _joined(*parts: str) -> str:
    return ", ".join(part for part in parts if part)


def _line(line: LineShown) -> Iterator[str]:
    words = line.words
    times = "" if line.times is None else f"{line.times.text} ({words.times_span})"
    density = "" if line.density is None else f"{line.density.text} ({words.density_span})"
    yield _joined(capital(words.pest), words.method, words.state_word, times, density)
    yield f"  {_joined(line.counted.text, words.infested, words.change)}"
    for note in words.notes:
        yield f"  {note}"


def _course(course: CourseWords, locale: str) -> Iterator[str]:
    yield ""
    yield f"{course.title}, {course.method}, {course.per}"
    yield f"  {say('report.col.day', locale)}: {_joined(*course.stages)}"
    expected = [row for row in course.rows if row.expected]
    counted = [row for row in course.rows if not row.expected]
    for row in (*expected, *counted[:NEWEST]):
        cells = "; ".join(_cell(cell, locale) for cell in row.cells)
        yield f"  {row.day}: {cells}"


def _cell(cell: Cell, locale: str) -> str:
    if cell.figure is None:
        return cell.text
    said = f"{cell.figure.text} ({cell.text})" if cell.text else cell.figure.text
    if cell.chance is None:
        return said
    return f"{said}, {say('page.over_chance', locale)} {cell.chance.text}"


def _entries(entries: Iterable[Entry], nothing: str) -> Iterator[str]:
    held = [f"  {entry.when}  {_joined(entry.what, entry.more)}" for entry in entries]
    yield from held or [f"  {nothing}"]


def looks_lines(words: BehindWords) -> Iterator[str]:
    """The number, and every look that makes it."""
    yield words.title
    yield words.lead
    yield words.number
    yield words.shown
    for row in words.rows:
        yield _look(row)
    for void in words.voided:
        yield f"  {void.what}: {void.reason}"


def _look(row: LookWords) -> str:
    who = _joined(row.when, row.received, row.who, row.typed_by)
    where = _joined(row.where, row.crop, row.effort)
    return f"  {who}; {where}; {_joined(row.count, row.note, row.corrected)}"
