"""Pages from templates, in the language the reader asked for."""

from __future__ import annotations

import datetime as dt
import re
from functools import partial
from pathlib import Path
from zoneinfo import ZoneInfo

from babel import negotiate_locale
from jinja2 import Environment, FileSystemLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from markupsafe import Markup, escape
from starlette.requests import Request
from starlette.responses import HTMLResponse

from benchwalk.catalogue import LOCALES, say
from benchwalk.report.figures import capital
from benchwalk.report.figures import day as in_words
from benchwalk.report.figures import moment as moment_in_words
from benchwalk.report.line_words import Drawn
from benchwalk.report.strip import axis, strip
from benchwalk.report.targets import ROWS, fades
from benchwalk.web.guard import HEADERS
from benchwalk.web.straight import straight

TEMPLATES = Environment(
    loader=FileSystemLoader(Path(__file__).parent / "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
TEMPLATES.filters["capital"] = capital
LANGUAGE = "benchwalk-lang"  # a cookie: no secret, and gone when the browser is closed
WHOLE = re.compile(r"--[a-z][a-z-]*|\d{4}-\d\d-\d\d")
NOT_LOOKED = Drawn(None, None, None, "not_looked", None)


def page(template: str, locale: str, *, status: int = 200, **shown: object) -> HTMLResponse:
    """A page of a template; what it shows is escaped, and the strips escape their own."""
    text = TEMPLATES.get_template(template).render(
        locale=locale,
        t=partial(_said, locale),
        strip=partial(strip_of, locale),
        axis=Markup(axis(locale)),
        not_looked=NOT_LOOKED,
        number=number,
        **({"person": None, "navigation": (), "onward": (), "here": ""} | shown),
    )
    headers = HEADERS | {
        "Content-Language": locale,
        "Vary": "Accept-Language",
        "Cache-Control": "no-store",
    }
    return HTMLResponse(straight(text), status_code=status, headers=headers)


def locale_of(request: Request, default: str) -> str:
    """The language asked for in the address, else before, else by the browser, else the default."""
    for asked in (request.query_params.get("lang"), request.cookies.get(LANGUAGE)):
        if asked in LOCALES:
            return asked
    accepted = _by_preference(request.headers.get("accept-language", ""))
    return negotiate_locale(accepted, LOCALES, sep="-") or default


def _by_preference(header: str) -> list[str]:
    """Languages of an Accept-Language header, the most wanted first (RFC 9110, 12.5.4)."""
    wanted = []
    for place, part in enumerate(header.split(",")):
        tag, _, weight = part.partition(";")
        wanted.append((-_weight(weight.strip().lower().removeprefix("q=")), place, tag.strip()))
    return [tag for weight, _, tag in sorted(wanted) if weight < 0]


def _weight(text: str) -> float:
    """The weight of a language; 1 where none is given, and for what is not a number."""
    digits = text.strip()
    return float(digits) if digits.replace(".", "", 1).isdecimal() else 1.0


def _said(locale: str, key: str, **values: object) -> str:
    return say(key, locale, **values)


def number(key: str, text: object, href: str = "") -> Markup:
    """A number by its key, the same as in ``--json``; with ``href``, a way to what it rests on."""
    if href:
        return Markup('<a class="n" data-key="{}" href="{}">{}</a>').format(key, href, text)
    return Markup('<span class="n" data-key="{}">{}</span>').format(key, text)


@pass_context
def on(shown: Context, day: dt.date) -> str:
    """A day with its year, as the reader says it: "Thu 7 May 2026"."""
    return in_words(day, shown["locale"], year=True)


@pass_context
def moment(shown: Context, at: dt.datetime, zone: ZoneInfo) -> str:
    """An instant on the operation's clock: "Thu 7 May 2026 06:10"."""
    return moment_in_words(at, zone, shown["locale"])


def whole(text: str) -> Markup:
    """A sentence whose options and days do not break at their hyphens."""
    return Markup(WHOLE.sub(r'<span class="whole">\g<0></span>', str(escape(text))))


TEMPLATES.filters |= {"on": on, "moment": moment, "whole": whole}
TEMPLATES.globals["fades"] = Markup(fades())


def strip_of(locale: str, drawn: Drawn) -> Markup:
    """The strip of a row, whose ground the stylesheet draws."""
    return Markup(
        strip(
            drawn.times,
            drawn.low,
            drawn.high,
            drawn.state,
            before=drawn.before,
            ahead=drawn.ahead,
            locale=locale,
            target=ROWS,
        )
    )
