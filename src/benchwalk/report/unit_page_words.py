"""One unit in words: how it stands, how it came there, what is next. What the unit's page shows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from benchwalk.catalogue import say
from benchwalk.report import rule_words
from benchwalk.report.course_words import CourseWords, course_words, numbers_of
from benchwalk.report.effect_words import TreatmentsDid, treatments_did
from benchwalk.report.figures import capital, day, percent, shown
from benchwalk.report.keys import looks_address, number_key
from benchwalk.report.line_words import NOT_LOOKED, Drawn, LineWords
from benchwalk.report.names import Names
from benchwalk.report.row_words import Figure
from benchwalk.report.unit_lists import (
    Entry,
    coming,
    flag_entry,
    plantings,
    sightings,
    treatments,
    walks,
)
from benchwalk.report.unit_words import Missing, UnitWords, unit_not_looked, unit_words
from benchwalk.summarise import InForce, Key, Line, Series
from benchwalk.summarise.forecasts import Forecasts
from benchwalk.summarise.unit import UnitCourse


@dataclass(frozen=True)
class LineShown:
    """A line in words, with what its figures stand for."""

    words: LineWords
    times: Figure | None
    density: Figure | None
    counted: Figure
    infested: Figure | None


@dataclass(frozen=True)
class StageShare:
    """How many of a pest were at one stage; `share` in words, `per_cent` as a number [%]."""

    name: str
    number: Figure
    share: str
    per_cent: float


@dataclass(frozen=True)
class Structure:
    """How many of a pest were at each stage."""

    title: str
    stages: tuple[StageShare, ...]


@dataclass(frozen=True)
class Successor:
    """A unit that came after one that was closed."""

    id: str
    name: str


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
    closed: str
    successors: tuple[Successor, ...]
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
        closed=_closed(names, course),
        successors=tuple(Successor(str(u.id), names.place(u)) for u in course.successors),
        lead_word=word,
        lead=lead,
        drawn=NOT_LOOKED if first is None else first.drawn,
        lines=() if said is None else tuple(_lines(course, said)),
        missing=() if said is None else said.missing,
        notes=() if said is None else said.notes,
        rules=tuple(rule_words.full(names, rule) for rule in rules.values()),
        courses=tuple(course_words(names, course, pest, found) for pest in course.courses),
        structures=tuple(_structures(names, course)),
        treatments=tuple(treatments(names, course)),
        did=None if found is None else treatments_did(names, course, found, numbers_of(course)),
        next=tuple(coming(names, course)),
        plantings=tuple(plantings(names, course)),
        walks=tuple(walks(names, course)),
        flags=tuple(flag_entry(names, flag) for flag in course.flags),
        sightings=tuple(sightings(names, course)),
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
            infested=Figure(number_key(key, "infested"), words.infested, f"{href}&found=true")
            if words.infested
            else None,
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
        return "", f"{capital(miss.reason)}. {capital(miss.last)}."
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


def _closed(names: Names, course: UnitCourse) -> str:
    """Says that the unit is no more, and since when; "" of one that lives."""
    on = course.unit.closed_on
    if on is None:
        return ""
    return say("page.unit_closed", names.locale, date=day(on, names.locale, year=True))


def _structures(names: Names, course: UnitCourse) -> Iterator[Structure]:
    if course.now is None:
        return
    counted = {_of(line.series.key): line.series for line in course.now.lines}
    for share in course.now.shares:
        title = say(
            "page.structure_of",
            names.locale,
            pest=capital(names.taxon(share.taxon)),
            method=names.method(share.method),
            n=share.total,
        )
        stages = ((counted[share.taxon, stage, share.method], n) for stage, n in share.stages)
        yield Structure(title, tuple(_stage(names, s, n, share.total) for s, n in stages))


def _of(key: Key) -> tuple[str, str, str]:
    return key.taxon, key.stage, key.method


def _stage(names: Names, s: Series, n: int, total: int) -> StageShare:
    number = Figure(number_key(s.key, "counted"), str(n), looks_address(s))
    per_cent = 100 * n / total
    return StageShare(names.stage(s.key.stage), number, percent(per_cent), per_cent)
