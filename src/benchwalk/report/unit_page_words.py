"""One unit in words: how it stands, how it came there, what is next. What the unit's page shows."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from benchwalk.catalogue import say
from benchwalk.report import rule_words
from benchwalk.report.course_words import CourseWords, course_words, numbers_of
from benchwalk.report.effect_words import TreatmentsDid, treatments_did
from benchwalk.report.figures import capital, day, figure, percent, shown
from benchwalk.report.keys import looks_address, number_key
from benchwalk.report.line_words import NOT_LOOKED, Drawn, LineWords
from benchwalk.report.names import Names
from benchwalk.report.row_words import Figure, moment
from benchwalk.report.unit_words import Missing, UnitWords, unit_not_looked, unit_words
from benchwalk.summarise import InForce, Line, Share
from benchwalk.summarise.checks import Check
from benchwalk.summarise.forecasts import Forecasts
from benchwalk.summarise.unit import FlagOf, UnitCourse


@dataclass(frozen=True)
class LineShown:
    """A line in words, with what its figures stand for."""

    words: LineWords
    times: Figure | None
    density: Figure | None
    counted: Figure


@dataclass(frozen=True)
class Structure:
    """How many of a pest were at each stage: name, number, share in words, share [%]."""

    title: str
    stages: tuple[tuple[str, int, str, float], ...]


@dataclass(frozen=True)
class Entry:
    """A dated line of a list: when, what, and what else is known."""

    when: str
    what: str
    more: str = ""


@dataclass(frozen=True)
class UnitPageWords:
    """A unit's page, said. `lead` is its first sentence and stands before all figures.

    `did` is None where what is ahead was not worked out yet.
    """

    id: str
    operation: str
    house: str
    name: str
    state: str
    stands: str
    lead_word: str
    lead: str
    drawn: Drawn | None
    lines: tuple[LineShown, ...]
    missing: tuple[Missing, ...]
    notes: tuple[str, ...]
    rules: tuple[str, ...]
    courses: tuple[CourseWords, ...]
    structures: tuple[Structure, ...]
    treatments: tuple[Entry, ...]
    did: TreatmentsDid | None
    next: tuple[Entry, ...]
    plantings: tuple[Entry, ...]
    walks: tuple[Entry, ...]
    flags: tuple[Entry, ...]
    sightings: tuple[Entry, ...]


def unit_page_words(
    course: UnitCourse, locale: str = "en", found: Forecasts | None = None
) -> UnitPageWords:
    """The unit in words; with ``found`` also where it is heading and what treatments did."""
    names = Names(course.known, locale)
    rules: dict[int, InForce] = {}
    said = None if course.now is None else unit_words(names, course.now, _Numbering(rules))
    word, lead = _lead(names, course, said)
    first = said.lines[0] if said is not None and said.lines else None
    return UnitPageWords(
        id=str(course.unit.id),
        operation=shown(course.known.operation),
        house="" if course.unit.house is None else shown(course.unit.house),
        name=shown(course.unit.name),
        state="not_looked" if said is None else said.state,
        stands=_stands(names, course, said),
        lead_word=word,
        lead=lead,
        drawn=NOT_LOOKED if first is None else first.drawn,
        lines=() if said is None else tuple(_lines(course, said)),
        missing=() if said is None else said.missing,
        notes=() if said is None else said.notes,
        rules=tuple(rule_words.full(names, rule) for rule in rules.values()),
        courses=tuple(course_words(names, course, pest, found) for pest in course.courses),
        structures=tuple(_structures(names, course)),
        treatments=tuple(_treatments(names, course)),
        did=None if found is None else treatments_did(names, course, found, numbers_of(course)),
        next=tuple(_next(names, course)),
        plantings=tuple(_plantings(names, course)),
        walks=tuple(_walks(names, course)),
        flags=tuple(_flag(names, flag) for flag in course.flags),
        sightings=tuple(_sightings(names, course)),
    )


class _Numbering:
    """Numbers the rules that lines are compared with, each once, as they come."""

    def __init__(self, rules: dict[int, InForce]) -> None:
        self.rules = rules

    def __call__(self, line: Line) -> int | None:
        if line.rule is None:
            return None
        self.rules.setdefault(id(line.rule.threshold), line.rule)
        return 1 + list(self.rules).index(id(line.rule.threshold))


def _lines(course: UnitCourse, said: UnitWords) -> Iterator[LineShown]:
    assert course.now is not None  # said was made of it
    ordered = sorted(course.now.lines, key=lambda line: line.state == "enemy")
    for line, words in zip(ordered, said.all_lines, strict=True):
        key, href = line.series.key, looks_address(line.series)
        yield LineShown(
            words=words,
            times=Figure(number_key(key, "times"), words.times, href) if words.drawn else None,
            density=Figure(number_key(key, "density"), words.density, href)
            if words.density
            else None,
            counted=Figure(number_key(key, "counted"), words.counted, href),
        )


def _stands(names: Names, course: UnitCourse, said: UnitWords | None) -> str:
    parts = [
        ", ".join(part for part in (names.crop(p.crop), _phase(names, p.phase)) if part)
        for p in course.known.plantings
    ]
    plants = "" if said is None else said.plants
    crops = "; ".join(parts) or say("week.no_crop", names.locale)
    return f"{capital(crops)}; {plants}" if plants else capital(crops)


def _phase(names: Names, code: str) -> str:
    return "" if code == "not_said" else names.phase(code)


def _lead(names: Names, course: UnitCourse, said: UnitWords | None) -> tuple[str, str]:
    """The word of the unit's state, and the sentence that says it."""
    if said is None:
        assert course.missing is not None  # a unit is one or the other
        miss = unit_not_looked(names, course.missing)
        return "", capital(f"{miss.reason}. {miss.last}.")
    if said.worst:
        return "", said.worst
    first = said.lines[0] if said.lines else None
    walked = capital(said.walked)
    if first is None:
        return capital(said.state_word), f"{walked}."
    pest = capital(first.pest)
    if first.drawn is None or not first.times_span:
        return capital(said.state_word), f"{pest}. {walked}."
    times = f"{first.times} ({first.times_span}) {say('week.axis', names.locale)}"
    return capital(said.state_word), f"{pest}: {times}. {walked}."


def _structures(names: Names, course: UnitCourse) -> Iterator[Structure]:
    shares: tuple[Share, ...] = () if course.now is None else course.now.shares
    for share in shares:
        title = say(
            "page.structure_of",
            names.locale,
            pest=capital(names.taxon(share.taxon)),
            method=names.method(share.method),
            n=share.total,
        )
        stages = tuple(
            (names.stage(stage), n, percent(100 * n / share.total), 100 * n / share.total)
            for stage, n in share.stages
        )
        yield Structure(title, stages)


def _treatments(names: Names, course: UnitCourse) -> Iterator[Entry]:
    """Each treatment with the number that the pictures give its day, the newest first."""
    numbers = numbers_of(course)
    for put in reversed(course.put):
        on = course.on(put.at)
        said = [say(f"report.kind.{put.kind}", names.locale), shown(put.what)]
        more = [put.moa_group or ""]
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
    """Reads "Look again: spinosad, western flower thrips"."""
    if check.put.against is None:
        return say("page.next_check_any", names.locale, what=shown(check.put.what))
    pest = names.taxon(check.put.against)
    return say("page.next_check", names.locale, what=shown(check.put.what), pest=pest)


def _next(names: Names, course: UnitCourse) -> Iterator[Entry]:
    """The next walk, and the checks of treatments that nobody has looked at since."""
    for check in course.checks:
        yield Entry(day(check.due_on, names.locale), check_words(names, check))
    last = course.now.on if course.now is not None else None
    every = [p.every_days for p in course.known.plantings if p.every_days is not None]
    if last is not None and every:
        on = last + dt.timedelta(days=min(every))
        yield Entry(day(on, names.locale), say("page.next_walk", names.locale, n=min(every)))


def _plantings(names: Names, course: UnitCourse) -> Iterator[Entry]:
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


def _walks(names: Names, course: UnitCourse) -> Iterator[Entry]:
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


def _flag(names: Names, flag: FlagOf) -> Entry:
    if flag.mark is None or flag.on is None:
        mark = say("report.mark.not_said", names.locale)
    elif flag.mark == "cleared":
        mark = say("page.mark_cleared", names.locale, date=day(flag.on, names.locale))
    else:
        mark = say(f"report.mark.{flag.mark}", names.locale, date=day(flag.on, names.locale))
    more = [mark, *([shown(flag.by)] if flag.by else [])]
    what = [shown(flag.reason), *([shown(flag.position)] if flag.position else [])]
    return Entry(shown(flag.colour), ", ".join(what), ", ".join(more))


def _sightings(names: Names, course: UnitCourse) -> Iterator[Entry]:
    for seen in reversed(course.sightings):
        what = [say(f"page.cause_{seen.cause}", names.locale)]
        if seen.taxon is not None:
            what.append(names.taxon(seen.taxon))
        more = [part for part in (seen.words, seen.pattern, seen.position) if part]
        yield Entry(
            moment(seen.at, names), ": ".join(what), "; ".join(shown(part) for part in more)
        )
