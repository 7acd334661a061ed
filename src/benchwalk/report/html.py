"""The week's report as one HTML file that needs nothing beside it: styles, typeface, pictures."""

from __future__ import annotations

import base64
from functools import cache, partial
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from benchwalk.catalogue import say
from benchwalk.report.figures import capital
from benchwalk.report.line_words import NOT_LOOKED, Drawn
from benchwalk.report.marks import marks
from benchwalk.report.report_words import ReportWords, TrendWords
from benchwalk.report.strip import axis, strip
from benchwalk.report.targets import fades, stylesheet
from benchwalk.report.timeline import timeline

TYPEFACE = "SofiaSansSemiCondensed.ttf"


@cache
def _templates() -> Environment:
    found = Environment(
        loader=PackageLoader("benchwalk.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    found.filters["capital"] = capital
    return found


def week_html(words: ReportWords) -> str:
    """The report as the text of an HTML document.

    Names and notes are escaped; the document allows itself no script and no address outside.
    """
    locale = words.week.locale
    return (
        _templates()
        .get_template("week.html")
        .render(
            report=words,
            week=words.week,
            locale=locale,
            t=partial(_said, locale),
            axis=Markup(axis(locale)),
            marks=[(Markup(mark.picture), mark.text) for mark in marks(locale)],
            not_looked=NOT_LOOKED,
            strip=partial(_strip, locale),
            timeline=partial(_timeline, locale),
            styles=Markup(_styles()),
            fades=Markup(fades()),
        )
    )


def _said(locale: str, key: str, **values: object) -> str:
    return say(key, locale, **values)


def _strip(locale: str, drawn: Drawn) -> Markup:
    shown = (drawn.times, drawn.low, drawn.high, drawn.state)
    return Markup(strip(*shown, before=drawn.before, ahead=drawn.ahead, locale=locale))


def _timeline(locale: str, trend: TrendWords) -> Markup:
    if trend.course is None:
        return Markup("")
    return Markup(timeline(trend.course, trend.sentence, locale))


@cache
def _styles() -> str:
    """The looks of the document, and those of the pictures, which paper has as attributes."""
    here = files("benchwalk.report")
    typeface = base64.b64encode((here / "fonts" / TYPEFACE).read_bytes()).decode("ascii")
    own = (here / "templates" / "week.css").read_text(encoding="utf-8")
    return own.replace("TYPEFACE", typeface) + stylesheet()
