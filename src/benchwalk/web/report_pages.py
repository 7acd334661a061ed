"""The week's report as files, for whoever reads on paper."""

from __future__ import annotations

from collections.abc import Callable

from fastapi import APIRouter
from starlette.responses import Response

from benchwalk.report.html import week_html
from benchwalk.report.pdf import Size, week_pdf
from benchwalk.report.report_words import report_words
from benchwalk.report.workbook import week_xlsx
from benchwalk.summarise import Reported, reported
from benchwalk.web.base import Day, InScope, Missing, page

router = APIRouter()
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
Make = Callable[[Reported, str], bytes]
FILES: dict[str, tuple[str, Make]] = {
    "week-a4.pdf": ("application/pdf", lambda r, lang: week_pdf(report_words(r, lang), Size.A4)),
    "week-letter.pdf": (
        "application/pdf",
        lambda r, lang: week_pdf(report_words(r, lang), Size.LETTER),
    ),
    "week.html": ("text/html; charset=utf-8", lambda r, lang: _html(r, lang)),
    "week.xlsx": (XLSX, week_xlsx),
}


def _html(week: Reported, locale: str) -> bytes:
    return week_html(report_words(week, locale)).encode("utf-8")


@router.get("/report")
def report(scope: InScope, day: Day | None = None) -> Response:
    """The kinds of file there are of a week."""
    return page(scope, "report.html", day=day)


@router.get("/report/{name}")
def file(scope: InScope, name: str, day: Day | None = None) -> Response:
    """One file of the week's report, to be kept: a page of its own is no page of this server."""
    if name not in FILES:
        raise Missing
    week = reported(scope.session, day)
    if week is None:
        raise Missing
    kind, make = FILES[name]
    stem, _, end = name.partition(".")
    called = f"{stem}-{week.summary.day.isoformat()}-{scope.locale}.{end}"
    headers = {
        "Content-Disposition": f'attachment; filename="{called}"',
        "Cache-Control": "no-store",
    }
    return Response(make(week, scope.locale), media_type=kind, headers=headers)
