"""The week's report in words: the week, what is in and what is not, finds, flags, trends.

Nothing is reckoned here. Each of the five absences has its own line, also where it is empty.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from benchwalk.catalogue import say, strings
from benchwalk.report.figures import capital, day, figure, percent, shown
from benchwalk.report.line_words import LineWords
from benchwalk.report.names import Names
from benchwalk.report.record_words import colour_word
from benchwalk.report.timeline import CULTURAL, Course, Spot, Stamp
from benchwalk.report.unit_words import UnitWords
from benchwalk.report.words import WeekWords, reasons_counted, said_of, week_words
from benchwalk.summarise import (
    FlagStanding,
    Key,
    Marked,
    Over,
    Point,
    Reported,
    Summary,
    Trend,
    Voided,
)

Said = Mapping[Key, tuple[UnitWords, LineWords]]


@dataclass(frozen=True)
class Held:
    """One word of what is in and what is not, and how much of it."""

    word: str
    text: str


@dataclass(frozen=True)
class Void:
    """A record taken back: what it was, to be read through the line, and why it is void."""

    what: str
    reason: str


@dataclass(frozen=True)
class TrendWords:
    """One line over its threshold and how it came there.

    `course` is None where the threshold has no value to compare with; `counts` says the last days
    then. `sentence` is for those who do not see the picture.
    """

    unit: str
    line: LineWords
    now: str
    course: Course | None
    counts: str
    treatments: tuple[str, ...]
    sentence: str


@dataclass(frozen=True)
class ReportWords:
    """A report, said."""

    title: str
    week: WeekWords
    held: tuple[Held, ...]
    finds: tuple[str, ...]
    flags: tuple[str, ...]
    voided: tuple[Void, ...]
    trends: tuple[TrendWords, ...]


def report_words(reported: Reported, locale: str = "en") -> ReportWords:
    """The report in words.

    Parameters
    ----------
    reported : of one week; an operation without walks has none and no report.
    locale : "en" or "es".
    """
    summary = reported.summary
    names, week = Names(summary.known, locale), week_words(summary, locale)
    said = said_of(summary, week)
    return ReportWords(
        title=say("report.title", locale, operation=week.operation, dates=week.dates),
        week=week,
        held=tuple(_held(names, reported)),
        finds=tuple(_finds(summary, said, locale)),
        flags=tuple(_flag(names, flag) for flag in reported.flags),
        voided=tuple(_voided(names, record) for record in reported.voided),
        trends=tuple(_trend(names, over, said) for over in reported.over),
    )


def _held(names: Names, reported: Reported) -> Iterator[Held]:
    summary, locale = reported.summary, names.locale
    looked = len(summary.units)
    total = looked + len(summary.not_looked)
    silent = [miss for miss in summary.not_looked if miss.reason == "no_word"]
    yield Held(say("report.held.in", locale), say("week.looked_at", locale, n=looked, total=total))
    yield Held(say("abs.none", locale), _looked_none(summary, locale))
    yield Held(say("abs.not_looked", locale), _not_looked(names, summary))
    yield Held(say("abs.no_word", locale), say("report.held.no_word", locale, n=len(silent)))
    yield Held(say("abs.not_sent", locale), _not_sent(summary, locale))
    yield Held(say("abs.void", locale), say("report.held.void", locale, n=len(reported.voided)))
    if reported.head is not None:
        yield Held(say("keep.report.head", locale), reported.head)


def _not_sent(summary: Summary, locale: str) -> str:
    """What a phone said that it holds; what it holds of other units only it can say."""
    units = sum(miss.reason == "not_sent" for miss in summary.not_looked)
    only = say("report.held.not_sent", locale)
    return f"{say('phones.units_not_sent', locale, n=units)} {only}" if units else only


def _looked_none(summary: Summary, locale: str) -> str:
    lines = sum(line.state == "none" for unit in summary.units for line in unit.lines)
    units = sum(unit.state == "none" for unit in summary.units)
    return say("report.held.none", locale, n=lines, units=units)


def _not_looked(names: Names, summary: Summary) -> str:
    """Units with the scouts' own reasons; phones that are silent have their own word."""
    missed = [m for m in summary.not_looked if m.reason not in ("no_word", "not_sent")]
    series = sum(len(unit.not_counted) for unit in summary.units)
    said = say("report.held.not_looked", names.locale, n=len(missed), series=series)
    return f"{said} {capital(reasons_counted(names, missed))}." if missed else said


def _finds(summary: Summary, said: Said, locale: str) -> Iterator[str]:
    """Pests that were never found before, here or anywhere."""
    for unit in summary.units:
        for line in (line for line in unit.lines if line.first):
            unit_said, words = said[line.series.key]
            yield say(
                f"report.find.{line.first}",
                locale,
                unit=unit_said.name,
                pest=words.pest,
                method=words.method,
                counted=words.counted,
            )


def _flag(names: Names, flag: FlagStanding) -> str:
    where = next(u for u in names.known.units if u.id == flag.unit_id)
    parts = [names.place(where), shown(flag.position) if flag.position else ""]
    return say(
        "report.flag",
        names.locale,
        place=", ".join(part for part in parts if part),
        colour=colour_word(flag.colour, names.locale),
        reason=shown(flag.reason),
        mark=_mark(names, flag.mark, flag.on),
    )


def _mark(names: Names, mark: str | None, on: dt.date | None) -> str:
    if mark is None or on is None:
        return say("report.mark.not_said", names.locale)
    return say(f"report.mark.{mark}", names.locale, date=day(on, names.locale))


def _voided(names: Names, record: Voided) -> Void:
    where = next((u for u in names.known.units if u.id == record.unit_id), None)
    key = f"report.record.{record.kind}"
    kind = say(key, names.locale) if key in strings() else shown(record.kind.replace("_", " "))
    place = "" if where is None else names.place(where)
    what = (kind, place, day(record.on, names.locale))
    why = say("report.voided", names.locale, reason=shown(record.reason))
    return Void(", ".join(part for part in what if part), why)


def _trend(names: Names, over: Over, said: Said) -> TrendWords:
    unit, line = said[over.line.series.key]
    seen = _recent(over, names.known.day)
    rule = over.line.rule
    value = None if rule is None else rule.threshold.value
    course = None if value is None else _course(seen, value, names.known.day)
    return TrendWords(
        unit=unit.name,
        line=line,
        now=_now(line),
        course=course,
        counts="" if course else _counts(names, seen),
        treatments=tuple(_treatments(names, seen)),
        sentence=_sentence(names, seen, line) if course else "",
    )


def _now(line: LineWords) -> str:
    """The figure with its interval; the state where one find is enough, which the rule says."""
    if line.times == line.rule:
        return line.state_word
    return f"{line.times} ({line.times_span})" if line.times_span else line.times


def _recent(over: Over, until: dt.date) -> Trend:
    """The part of the trend that is shown."""
    since = Course(until, (), ()).since
    found = over.trend
    return replace(
        found,
        points=tuple(point for point in found.points if point.on >= since),
        treatments=tuple(mark for mark in found.treatments if mark.on >= since),
    )


def _numbers(seen: Trend) -> dict[dt.date, int]:
    """Days of treatments, numbered from the oldest on."""
    return {on: n for n, on in enumerate(sorted({m.on for m in seen.treatments}), start=1)}


def _course(seen: Trend, value: float, until: dt.date) -> Course:
    stamps = (
        Stamp(n, on, all(mark.kind in CULTURAL for mark in seen.treatments if mark.on == on))
        for on, n in _numbers(seen).items()
    )
    return Course(until, tuple(_spot(point, value) for point in seen.points), tuple(stamps))


def _spot(point: Point, value: float) -> Spot:
    times = (point.density.mean, point.density.low, point.density.high)
    return Spot(point.on, *(None if math.isnan(x) else x / value for x in times))


def _counts(names: Names, seen: Trend) -> str:
    """The days in figures, where nothing can be drawn."""
    return "; ".join(
        f"{day(point.on, names.locale)}: {_density(names, seen, point)}" for point in seen.points
    )


def _density(names: Names, seen: Trend, point: Point) -> str:
    if math.isnan(point.density.mean):
        return say("state.no_density", names.locale)
    per = names.per(seen.per)
    return say("week.density", names.locale, m=figure(point.density.mean), per=per)


def _treatments(names: Names, seen: Trend) -> Iterator[str]:
    """What was done, each thing once, with the numbers and days it has in the picture."""
    numbers, done = _numbers(seen), dict[str, list[Marked]]()
    for mark in seen.treatments:
        done.setdefault(_what(names, mark), []).append(mark)
    for what, marks in done.items():
        days = ", ".join(f"{numbers[m.on]} ({day(m.on, names.locale)})" for m in marks)
        yield say("report.treated", names.locale, what=what, days=days)


def _what(names: Names, mark: Marked) -> str:
    said = [say(f"report.kind.{mark.kind}", names.locale), shown(mark.what)]
    if mark.against is not None and mark.kind != "release":
        pest = names.taxon(mark.against)
        said.append(say("report.against", names.locale, pest=pest))
    if mark.share_percent < 100:
        said.append(say("report.share", names.locale, share=percent(mark.share_percent)))
    return ", ".join(said)


def _sentence(names: Names, seen: Trend, line: LineWords) -> str:
    return say(
        "report.trend",
        names.locale,
        pest=line.pest,
        n=len(seen.points),
        since=day(seen.points[0].on, names.locale),
        times=line.times,
    )
