"""The week's summary in the words and figures of a language: one place for screen and paper.

Nothing is reckoned here. Every string is the catalogue's, every name the operation's or the
reference's, and each of the absences has its own word.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from benchwalk.catalogue import say
from benchwalk.records import Threshold
from benchwalk.records.plants import NOT_SAID
from benchwalk.report import rule_words
from benchwalk.report.figures import capital, day, percent, shown
from benchwalk.report.line_words import LineWords
from benchwalk.report.names import Names
from benchwalk.report.unit_words import Missing, UnitWords, unit_not_looked, unit_words
from benchwalk.summarise import InForce, Key, Line, NotLooked, Summary
from benchwalk.summarise.week import LEVEL

#: groups of units, those that need somebody first; not looked stands before all that can wait
NEED = (
    "over",
    "near",
    "at_least",
    "present",
    "no_density",
    "not_looked",
    "no_threshold",
    "under",
    "none",
)
CAUTIONS = ("caut.law", "caut.licence", "caut.local", "caut.starting_points", "caut.rule")


@dataclass(frozen=True)
class Part:
    """A part of the headline: how many units are in a state."""

    state: str
    n: int
    text: str


@dataclass(frozen=True)
class Group:
    """The units of one state. `missing` holds those of the group "not looked"."""

    part: Part
    gloss: str
    units: tuple[UnitWords, ...]
    missing: tuple[Missing, ...]


@dataclass(frozen=True)
class WeekWords:
    """A week, said. The parts of `head` add up to the units there are.

    `standing` says what is in, what is not and what was `taken` as true of all of it.
    """

    locale: str
    operation: str
    dates: str
    head: tuple[Part, ...]
    head_sentence: str
    standing: tuple[str, ...]
    taken: tuple[str, ...]
    groups: tuple[Group, ...]
    rules: tuple[str, ...]
    reading: tuple[str, ...]
    cautions: tuple[str, ...]


def week_words(summary: Summary, locale: str = "en") -> WeekWords:
    """The summary in words.

    Parameters
    ----------
    summary : of one week; an empty operation has none and no words.
    locale : "en" or "es".
    """
    names = Names(summary.known, locale)
    rules = _rules(summary)
    head = tuple(_head(summary, locale))
    groups = tuple(_group(names, summary, part, rules) for part in head)
    return WeekWords(
        locale=locale,
        operation=shown(summary.known.operation),
        dates=say(
            "week.dates",
            locale,
            since=day(summary.since, locale),
            until=day(summary.day, locale, year=True),
        ),
        head=head,
        head_sentence=capital(", ".join(part.text for part in head)),
        standing=(*_practice(names, summary), *_in(names, summary), *_assumed(names, summary)),
        taken=taken(names, summary),
        groups=groups,
        rules=tuple(rule_words.full(names, rule) for rule in rules.values()),
        reading=tuple(
            say(key, locale, level=percent(100 * LEVEL)) for key in _reading(summary, groups)
        ),
        cautions=tuple(say(key, locale) for key in CAUTIONS),
    )


def said_of(summary: Summary, week: WeekWords) -> dict[Key, tuple[UnitWords, LineWords]]:
    """The words of every line by its key, with those of its unit."""
    units = sorted(summary.units, key=lambda unit: NEED.index(unit.state))
    words = [unit for group in week.groups for unit in group.units]
    return {
        line.series.key: (unit_said, line_said)
        for unit, unit_said in zip(units, words, strict=True)
        for line, line_said in zip(_pests_first(unit.lines), unit_said.all_lines, strict=True)
    }


def _pests_first(lines: Iterable[Line]) -> list[Line]:
    return sorted(lines, key=lambda line: line.state == "enemy")


def _head(summary: Summary, locale: str) -> list[Part]:
    return [
        Part(state, n, say(f"week.head.{state}", locale, n=n))
        for state in NEED
        if (n := summary.counts.get(state))
    ]


def _practice(names: Names, summary: Summary) -> list[str]:
    return [say("week.practice", names.locale)] if summary.known.practice else []


def taken(names: Names, summary: Summary) -> tuple[str, ...]:
    """What was taken as true of all of the week."""
    return (*_practice(names, summary), *_assumed(names, summary))


def _in(names: Names, summary: Summary) -> list[str]:
    """What is in and what is not."""
    locale, looked, missed = names.locale, len(summary.units), summary.not_looked
    said = [say("week.looked_at", locale, n=looked, total=looked + len(missed))]
    if missed:
        said.append(say("week.not_in", locale, reasons=reasons_counted(names, missed)))
    return said


def _assumed(names: Names, summary: Summary) -> list[str]:
    said, lines = [], [line for unit in summary.units for line in unit.lines]
    if any(line.series.why_assumed for line in lines):
        said.append(say("week.assumed", names.locale))
    if any(summary.known.methods[line.method].part == NOT_SAID for line in lines):
        said.append(say("week.part_not_said", names.locale))
    return said


def reasons_counted(names: Names, missed: Iterable[NotLooked]) -> str:
    """Why nobody looked, each reason once with its number, the most frequent first."""
    counts = Counter(miss.reason for miss in missed)
    return "; ".join(
        say("week.reason_n", names.locale, reason=names.reason(code), n=n)
        for code, n in counts.most_common()
    )


Rules = dict[int, InForce]


def _rules(summary: Summary) -> Rules:
    """The thresholds that something is compared with, each once, in order of first use."""
    held: Rules = {}
    for unit in summary.units:
        for line in unit.lines:
            if line.rule is not None:
                held.setdefault(_identity(line.rule.threshold), line.rule)
    return held


def _identity(threshold: Threshold) -> int:
    return id(threshold)


def _number(rules: Rules, line: Line) -> int | None:
    if line.rule is None:
        return None
    return 1 + list(rules).index(_identity(line.rule.threshold))


def _group(names: Names, summary: Summary, part: Part, rules: Rules) -> Group:
    if part.state == "not_looked":
        missing = tuple(unit_not_looked(names, miss) for miss in summary.not_looked)
        return Group(part, say("abs.not_looked_long", names.locale), (), missing)
    units = tuple(
        unit_words(names, unit, lambda line: _number(rules, line))
        for unit in summary.units
        if unit.state == part.state
    )
    return Group(part, say(f"week.group.{part.state}", names.locale), units, ())


def _reading(summary: Summary, groups: Iterable[Group]) -> list[str]:
    """Explanations of what this very report shows, and of nothing else."""
    lines = [line for group in groups for unit in group.units for line in unit.all_lines]
    wanted = {
        "week.read_times": any(line.drawn for line in lines),
        "week.read_interval": any(line.density_span for line in lines),
        "week.read_k": any(line.k_mark for line in lines),
        "week.read_clean": any(unit.clean for unit in summary.units),
        "week.read_few": any(unit.few for unit in summary.units),
    }
    return [key for key, is_shown in wanted.items() if is_shown]
