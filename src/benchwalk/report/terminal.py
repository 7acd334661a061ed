"""The week's summary for a terminal: 80 columns and wider, nothing cut off, no colour needed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich import box
from rich.console import Console, RenderableType
from rich.console import Group as Renderables
from rich.padding import Padding
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from benchwalk.catalogue import say
from benchwalk.report.figures import capital
from benchwalk.report.line_words import LineWords
from benchwalk.report.unit_words import Missing, UnitWords
from benchwalk.report.words import Group, WeekWords, week_words
from benchwalk.summarise import Summary

INDENT = (0, 0, 0, 2)
_OVER = "bold red"


def week_table(summary: Summary, locale: str = "en") -> Renderables:
    """The summary as renderables, units by need, each with a table of its lines."""
    words = week_words(summary, locale)
    return Renderables(*_head(words), *_groups(words), *_foot(words))


def print_week(summary: Summary, locale: str = "en") -> None:
    """Print the summary on the terminal that the program runs in."""
    Console().print(week_table(summary, locale))


def _head(words: WeekWords) -> Iterator[RenderableType]:
    yield Text(f"{words.operation}. {words.dates}")
    yield Text(words.head_sentence, style="bold")
    for sentence in words.standing:
        yield Text(sentence)


def _groups(words: WeekWords) -> Iterator[RenderableType]:
    for group in words.groups:
        yield Text()
        yield Rule(_heading(group), align="left", characters="=", style="none")
        yield Text(group.gloss)
        for miss in group.missing:
            yield _bullet(_missing(miss))
        for unit in group.units:
            yield from _unit(unit, words.locale)


def _heading(group: Group) -> Text:
    return Text(capital(group.part.text), style=_OVER if group.part.state == "over" else "bold")


def _missing(miss: Missing) -> str:
    named = f"{miss.name}, {miss.method}" if miss.method else miss.name
    return f"{named}: {miss.reason}; {miss.last}"


def _bullet(text: str) -> RenderableType:
    grid = Table.grid(padding=(0, 1))
    grid.add_column(no_wrap=True)
    grid.add_column(overflow="fold")
    grid.add_row(Text("-"), Text(text))
    return Padding(grid, INDENT)


def _unit(unit: UnitWords, locale: str) -> Iterator[RenderableType]:
    yield Text()
    yield Text(unit.name, style="bold")
    standing = [unit.crops, unit.walked, unit.plants]
    yield Padding(Text("; ".join(part for part in standing if part)), INDENT)
    if unit.worst:
        yield Padding(Text(unit.worst, style=_OVER), INDENT)
    yield from _table(unit.all_lines, locale)
    for note in unit.notes:
        yield _bullet(note)
    for miss in unit.missing:
        yield _bullet(_missing(miss))


def _table(lines: Sequence[LineWords], locale: str) -> Iterator[RenderableType]:
    if not lines:
        return
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, expand=True)
    for column, ratio in (("pest", 5), ("times", 4), ("found", 5), ("change", 4)):
        table.add_column(say(f"week.col_{column}", locale), ratio=ratio, overflow="fold")
    for line in lines:
        table.add_row(*(Text(cell) for cell in _cells(line, locale)))
    yield Padding(table, INDENT)
    for line in lines:
        said = " ".join(part for part in (line.no_strip, *line.notes) if part)
        if said:
            yield _bullet(f"{line.pest}, {line.method}. {said}")


def _cells(line: LineWords, locale: str) -> tuple[str, str, str, str]:
    rule = line.rule
    if line.rule_number is not None:
        rule = f"{line.rule} [{say('week.rule_number', locale, n=line.rule_number)}]"
    word = "" if line.state_word == line.times else line.state_word
    return (
        f"{line.pest}, {line.method}",
        _stacked(_with_span(line.times, line.times_span), word, rule),
        _stacked(
            _with_span(line.density, line.density_span, line.k_mark), line.counted, line.infested
        ),
        line.change,
    )


def _with_span(figure: str, *spans: str) -> str:
    said = ", ".join(span for span in spans if span)
    return f"{figure} ({said})" if said else figure


def _stacked(*parts: str) -> str:
    return "\n".join(part for part in parts if part)


def _foot(words: WeekWords) -> Iterator[RenderableType]:
    rules = [
        f"{say('week.rule_number', words.locale, n=n)}: {rule}"
        for n, rule in enumerate(words.rules, start=1)
    ]
    for key, sentences in (
        ("week.rules", rules),
        ("week.reading", words.reading),
        ("week.cautions", words.cautions),
    ):
        if sentences:
            yield Text()
            yield Text(say(key, words.locale), style="bold")
            yield from (_bullet(sentence) for sentence in sentences)
