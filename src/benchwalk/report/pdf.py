"""The week's report as a PDF: landscape, A4 or letter, set by typst from a template of its own.

The same records give the same bytes: no date is written into the file, and no typeface of the
machine is looked for.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from importlib.resources import as_file, files
from typing import Any

import typst

from benchwalk.catalogue import say
from benchwalk.report.figures import capital
from benchwalk.report.line_words import NOT_LOOKED, Drawn, LineWords
from benchwalk.report.marks import marks
from benchwalk.report.report_words import ReportWords, TrendWords
from benchwalk.report.strip import axis, strip, strip_sentence
from benchwalk.report.targets import GUTTER, Paper
from benchwalk.report.timeline import timeline
from benchwalk.report.unit_words import Missing, UnitWords
from benchwalk.report.words import Group, WeekWords

POINTS_A_MM, POINTS_A_PIXEL = 72 / 25.4, 0.75
MARGIN = 12.0  # [mm]
SHARES = (0.22, 0.27, 0.11, 0.23, 0.17)  # of the width: pest, strip, times, found, change
STRIP = 1  # the column of strips
TALL = 600.0  # higher than any row, which cuts off what is over it [px]
AXIS = 43.0  # height of the axis [px]

NO_BREAK = "\N{NO-BREAK SPACE}"
Json = dict[str, Any]


class Size(StrEnum):
    """Sheets that a printer has: ISO 216 A4, and letter (8.5 by 11 inches)."""

    A4 = "a4"
    LETTER = "letter"


WIDTHS = {Size.A4: 297.0, Size.LETTER: 279.4}  # of a sheet on its side [mm]


@dataclass(frozen=True)
class Sheet:
    """A sheet on its side: its columns [pt] and the strip that fits them."""

    size: Size

    @property
    def columns(self) -> list[float]:
        inside = (WIDTHS[self.size] - 2 * MARGIN) * POINTS_A_MM
        return [round(share * inside, 2) for share in SHARES]

    def paper(self, height: float) -> Paper:
        """The paper of a strip that fills its column."""
        return Paper(self.columns[STRIP] / POINTS_A_PIXEL - 2 * GUTTER, height)


def week_pdf(words: ReportWords, size: Size = Size.A4) -> bytes:
    """The report as the bytes of a PDF.

    Parameters
    ----------
    words : of one week in one language.
    size : of the sheets.
    """
    with as_file(files("benchwalk.report")) as folder:
        made = typst.compile(
            (folder / "templates" / "week.typ").read_bytes(),
            font_paths=typst.Fonts(False, True, [folder / "fonts"]),
            sys_inputs={"week": json.dumps(_week(words, Sheet(size)), ensure_ascii=False)},
        )
    if not isinstance(made, bytes):
        raise TypeError(f"got {type(made).__name__}, expected the bytes of one PDF")
    return made


def _week(words: ReportWords, sheet: Sheet) -> Json:
    week = words.week
    return {
        "title": words.title,
        "lang": week.locale,
        "paper": "us-letter" if sheet.size is Size.LETTER else "a4",
        "operation": week.operation,
        "dates": week.dates,
        "head": list(_head(week)),
        "taken": week.taken,
        "boxes": list(_boxes(words)),
        "marks": [{"picture": mark.picture, "text": mark.text} for mark in marks(week.locale)],
        "columns": sheet.columns,
        "heads": [say(f"week.col_{name}", week.locale) for name in COLUMNS],
        "axis": axis(week.locale, sheet.paper(AXIS)),
        "groups": [_group(group, sheet, week.locale) for group in week.groups],
        "trends": [_trend(trend, week.locale) for trend in words.trends],
        "rules": list(_rules(words)),
        "reading": week.reading,
        "cautions": week.cautions,
        "says": {key: say(f"report.{key}", week.locale) for key in HEADINGS}
        | {key: say(f"week.{key}", week.locale) for key in FOOT},
    }


COLUMNS = ("pest", "strip", "times", "found", "change")
HEADINGS = ("trends", "trends_gloss", "no_trends", "not_treated")
FOOT = ("rules", "reading", "cautions", "no_count")


def _head(week: WeekWords) -> Iterator[Json]:
    for n, part in enumerate(week.head):
        yield {"text": part.text if n else capital(part.text), "over": part.state == "over"}


def _boxes(words: ReportWords) -> Iterator[Json]:
    """What stands beside the headline: what is in, finds, flags, what is void."""
    locale = words.week.locale
    held = [_item(held.text, capital(held.word)) for held in words.held]
    yield {"head": say("report.held", locale), "items": held}
    for key, items in (("finds", words.finds), ("flags", words.flags)):
        said = items or (say(f"report.no_{key}", locale),)
        yield {"head": say(f"report.{key}", locale), "items": [_item(text) for text in said]}
    if words.voided:
        struck = [_item(void.reason, void.what, struck=True) for void in words.voided]
        yield {"head": say("report.void", locale), "items": struck}


def _item(text: str, word: str = "", *, struck: bool = False) -> Json:
    return {"word": word, "text": text, "struck": struck}


def _rules(words: ReportWords) -> Iterator[Json]:
    for n, rule in enumerate(words.week.rules, start=1):
        yield {"number": say("week.rule_number", words.week.locale, n=n), "text": rule}


def _group(group: Group, sheet: Sheet, locale: str) -> Json:
    return {
        "head": capital(group.part.text),
        "over": group.part.state == "over",
        "gloss": group.gloss,
        "missing": [_missing(miss, sheet, locale) for miss in group.missing],
        "units": [_unit(unit, sheet, locale) for unit in group.units],
    }


def _unit(unit: UnitWords, sheet: Sheet, locale: str) -> Json:
    about = "; ".join(part for part in (unit.crops, unit.walked, unit.plants) if part)
    return {
        "name": unit.name,
        "about": about,
        "worst": unit.worst,
        "lines": [_line(line, sheet, locale) for line in unit.all_lines],
        "missing": [_missing(miss, sheet, locale) for miss in unit.missing],
        "notes": unit.notes,
    }


def _line(line: LineWords, sheet: Sheet, locale: str) -> Json:
    return {
        "over": line.state == "over",
        "pest": line.pest,
        "method": line.method,
        "rule": _rule(line, locale),
        "strip": _strip(line.drawn, sheet, locale),
        "no_strip": line.no_strip,
        "times": line.times if line.drawn else "",
        "times_span": line.times_span,
        "state": line.state_word,
        "density": line.density,
        "density_span": ", ".join(part for part in (line.density_span, line.k_mark) if part),
        "counted": [part for part in (line.counted, line.infested) if part],
        "change": line.change,
        "notes": line.notes,
    }


def _rule(line: LineWords, locale: str) -> str:
    if line.rule_number is None:
        return line.rule
    number = say("week.rule_number", locale, n=line.rule_number)
    return f"{line.rule} ({number.replace(' ', NO_BREAK)})"


def _missing(miss: Missing, sheet: Sheet, locale: str) -> Json:
    return {
        "name": miss.name,
        "method": miss.method,
        "strip": _strip(NOT_LOOKED, sheet, locale),
        "reason": miss.reason,
        "last": miss.last,
    }


def _strip(drawn: Drawn | None, sheet: Sheet, locale: str) -> Json | None:
    """The picture with its sentence, which is all that a reader who sees nothing gets of it."""
    if drawn is None:
        return None
    shown = (drawn.times, drawn.low, drawn.high, drawn.state)
    before, ahead = drawn.before, drawn.ahead
    paper = sheet.paper(TALL)
    return {
        "picture": strip(*shown, before=before, ahead=ahead, locale=locale, target=paper),
        "sentence": strip_sentence(*shown, before=before, ahead=ahead, locale=locale),
    }


def _trend(trend: TrendWords, locale: str) -> Json:
    course, line = trend.course, trend.line
    paper = Paper(0, 0)  # a timeline has a size of its own
    return {
        "unit": trend.unit,
        "pest": line.pest,
        "method": line.method,
        "now": trend.now,
        "rule": line.rule,
        "picture": timeline(course, trend.sentence, locale, paper) if course else "",
        "sentence": trend.sentence,
        "counts": trend.counts,
        "treatments": trend.treatments,
    }
