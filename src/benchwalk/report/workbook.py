"""The week's report as a workbook: figures as numbers, absences as words, text that cannot run.

A cell without a figure holds the word for it, so that no sum or sort takes it for 0. What a
spreadsheet would take for a formula is written as text and marked so that editing keeps it text.
"""

from __future__ import annotations

import datetime as dt
import io
import math
from collections.abc import Iterable, Iterator, Sequence

import xlsxwriter  # type: ignore[import-untyped]  # the library ships no types
from xlsxwriter.worksheet import Worksheet  # type: ignore[import-untyped]  # as above

from benchwalk.catalogue import say
from benchwalk.records.sheets.values import hostile
from benchwalk.report.figures import capital
from benchwalk.report.line_words import LineWords
from benchwalk.report.names import Names
from benchwalk.report.report_words import ReportWords, report_words
from benchwalk.report.unit_words import Missing, UnitWords
from benchwalk.report.words import said_of
from benchwalk.summarise import Line, Reported, UnitSummary

Cell = str | int | float | dt.date
PAGES = ("week", "units", "not_looked", "trends", "treatments", "rules")
FIGURES = ("times", "times_low", "times_high", "density", "low", "high")
UNIT = ("unit", "state", "crops", "walked_on", "looked", "there")
LINE = ("pest", "method", "line_state", "counted", "sampled", "effort", "per")
COLUMNS = {
    "units": (*UNIT, *LINE, *FIGURES, "rule", "change", "notes"),
    "not_looked": ("unit", "pest_method", "reason", "last"),
    "trends": ("unit", "pest", "method", "day", "density", "low", "high", "per"),
    "treatments": ("unit", "pest", "day", "kind", "what", "share"),
    "rules": ("number", "rule"),
}
WIDE, NARROW = 32, 13  # of columns [characters]


def week_xlsx(reported: Reported, locale: str = "en") -> bytes:
    """The report as the bytes of an xlsx file; the same records give the same bytes."""
    words, names = report_words(reported, locale), Names(reported.summary.known, locale)
    held = io.BytesIO()
    book = xlsxwriter.Workbook(held, {"in_memory": True})
    # the file's own clock stands still: at the day that is reported
    made = dt.datetime.combine(reported.summary.day, dt.time())
    book.set_properties({"title": words.title, "created": made})
    page = _Pages(book, locale)
    page.sentences("week", _sentences(words))
    page.table("units", _units(reported, words, names))
    page.table("not_looked", _not_looked(words))
    page.table("trends", _trends(reported, names))
    page.table("treatments", _treatments(reported, names))
    page.table("rules", _rules(words))
    book.close()
    return held.getvalue()


class _Pages:
    """The pages of one workbook, their headings in one language."""

    def __init__(self, book: xlsxwriter.Workbook, locale: str) -> None:
        self.book, self.locale = book, locale
        top = {"valign": "top", "text_wrap": True}
        self.plain = book.add_format(top)
        self.bold = book.add_format(top | {"bold": True})
        self.day = book.add_format(top | {"num_format": "yyyy-mm-dd", "align": "left"})
        self.guarded = book.add_format(top | {"quote_prefix": True})

    def sentences(self, page: str, said: Iterable[tuple[str, str]]) -> None:
        """A heading, or a sentence, a row."""
        sheet = self._add(page)
        sheet.set_column(0, 0, 110)
        for row, (kind, text) in enumerate(said):
            self._write(sheet, row, 0, text, heading=kind == "head")

    def table(self, page: str, rows: Iterable[Sequence[Cell]]) -> None:
        """Headings that stay on screen, then the rows."""
        sheet, columns = self._add(page), COLUMNS[page]
        for at, column in enumerate(columns):
            self._write(sheet, 0, at, say(f"report.col.{column}", self.locale), heading=True)
            sheet.set_column(at, at, WIDE if column in _LONG else NARROW)
        for row, cells in enumerate(rows, start=1):
            for at, cell in enumerate(cells):
                self._write(sheet, row, at, cell)
        sheet.freeze_panes(1, 1)

    def _add(self, page: str) -> Worksheet:
        sheet = self.book.add_worksheet(say(f"report.sheet.{page}", self.locale))
        sheet.set_landscape()
        sheet.fit_to_pages(1, 0)
        return sheet

    def _write(
        self, sheet: Worksheet, row: int, at: int, cell: Cell, *, heading: bool = False
    ) -> None:
        if isinstance(cell, dt.date):
            sheet.write_datetime(row, at, dt.datetime.combine(cell, dt.time()), self.day)
        elif isinstance(cell, str):
            look = self.guarded if hostile(cell) else self.bold if heading else self.plain
            sheet.write_string(row, at, cell, look)
        else:
            sheet.write_number(row, at, cell, self.plain)


_LONG = ("unit", "crops", "pest", "method", "pest_method", "reason", "rule", "change", "notes")


def _sentences(words: ReportWords) -> Iterator[tuple[str, str]]:
    week, locale = words.week, words.week.locale
    yield "head", words.title
    yield "head", week.head_sentence
    yield from (("", sentence) for sentence in week.taken)
    yield "head", say("report.held", locale)
    yield from (("", f"{capital(held.word)}. {held.text}") for held in words.held)
    for key, items in (("finds", words.finds), ("flags", words.flags)):
        yield "head", say(f"report.{key}", locale)
        yield from (("", item) for item in items or (say(f"report.no_{key}", locale),))
    if words.voided:
        yield "head", say("report.void", locale)
        yield from (("", f"{void.what}. {void.reason}") for void in words.voided)
    for key, said in (("reading", week.reading), ("cautions", week.cautions)):
        yield "head", say(f"week.{key}", locale)
        yield from (("", sentence) for sentence in said)


def _units(reported: Reported, words: ReportWords, names: Names) -> Iterator[list[Cell]]:
    said = said_of(reported.summary, words.week)
    for unit in reported.summary.units:
        for line in unit.lines:
            unit_said, line_said = said[line.series.key]
            yield [
                *_unit(unit, unit_said, names.locale),
                *_counted(line, line_said, names),
                *_figures(line, names.locale),
                line_said.rule,
                line_said.change,
                " ".join((line_said.no_strip, *line_said.notes)).strip(),
            ]


def _unit(unit: UnitSummary, said: UnitWords, locale: str) -> list[Cell]:
    unsaid = say("report.not_said", locale)
    return [
        said.name,
        said.state_word,
        said.crops,
        unit.on,
        unsaid if unit.plants_looked is None else unit.plants_looked,
        unsaid if unit.plants_there is None else unit.plants_there,
    ]


def _counted(line: Line, said: LineWords, names: Names) -> list[Cell]:
    s, unsaid = line.series, say("report.not_said", names.locale)
    return [
        said.pest,
        said.method,
        said.state_word,
        _total(line, names.locale),
        unsaid if s.units_sampled is None else s.units_sampled,
        unsaid if s.effort is None else s.effort,
        names.per(s.per),
    ]


def _total(line: Line, locale: str) -> Cell:
    """The count; a word where nothing was counted, and "at least" with a count to a limit."""
    s = line.series
    if s.total is None:
        return say("state.present" if s.mean_only is None else "report.mean_only", locale)
    return say("week.at_least", locale, m=s.total) if s.at_least else s.total


def _figures(line: Line, locale: str) -> list[Cell]:
    """Times the threshold, then density, each with its interval; a word where there is none."""
    no_times = say("report.not_compared", locale)
    times = [no_times] * 3 if line.times is None else [_or_word(x, locale) for x in line.times]
    density = (line.density.mean, line.density.low, line.density.high)
    return [*times, *(_or_word(x, locale) for x in density)]


def _or_word(value: float, locale: str) -> Cell:
    if math.isnan(value):
        return say("report.not_known", locale)
    return say("report.no_upper_end", locale) if math.isinf(value) else value


def _not_looked(words: ReportWords) -> Iterator[list[Cell]]:
    for group in words.week.groups:
        for miss in group.missing:
            yield [miss.name, say("report.whole_unit", words.week.locale), miss.reason, miss.last]
        for unit in group.units:
            yield from (_series_missed(unit, miss) for miss in unit.missing)


def _series_missed(unit: UnitWords, miss: Missing) -> list[Cell]:
    return [unit.name, f"{miss.name}, {miss.method}", miss.reason, miss.last]


def _trends(reported: Reported, names: Names) -> Iterator[list[Cell]]:
    """Days that were counted; a day on which nobody looked has no row."""
    for over in reported.over:
        place, key = names.place(over.unit.unit), over.line.series.key
        for point in over.trend.points:
            density = (point.density.mean, point.density.low, point.density.high)
            figures = [_or_word(x, names.locale) for x in density]
            what: list[Cell] = [names.series(key), names.method(key.method), point.on]
            yield [place, *what, *figures, names.per(over.trend.per)]


def _treatments(reported: Reported, names: Names) -> Iterator[list[Cell]]:
    for over in reported.over:
        place, pest = names.place(over.unit.unit), names.series(over.line.series.key)
        for mark in over.trend.treatments:
            kind = say(f"report.kind.{mark.kind}", names.locale)
            yield [place, pest, mark.on, kind, mark.what, mark.share_percent]


def _rules(words: ReportWords) -> Iterator[list[Cell]]:
    for n, rule in enumerate(words.week.rules, start=1):
        yield [n, rule]
