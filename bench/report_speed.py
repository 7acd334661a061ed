"""How long the weekly report of the demo operation takes: asking, words, and each file a page.

The demo is built anew in a folder that goes away. A figure of the machine it was run on; it fails
no test.
"""

from __future__ import annotations

import io
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

import pypdf

from benchwalk import demo
from benchwalk.demo import scenario
from benchwalk.records.database import session
from benchwalk.report.html import week_html
from benchwalk.report.pdf import Size, week_pdf
from benchwalk.report.report_words import report_words
from benchwalk.report.workbook import week_xlsx
from benchwalk.summarise import reported
from kept import ROOT, head, keep, run_with_page, with_tables

TIMES = 9
PAGE = ROOT / "docs" / "report.md"
ROWS = {
    "asking the records: summary, trends, flags, voids": "asking_ms",
    "all of it in words": "words_ms",
    "the first PDF of a process, A4": "pdf_first_ms",
    "PDF, A4": "pdf_a4_ms",
    "PDF, A4, a page": "pdf_a4_ms_a_page",
    "PDF, letter": "pdf_letter_ms",
    "PDF, letter, a page": "pdf_letter_ms_a_page",
    "HTML": "html_ms",
    "workbook": "xlsx_ms",
}


def took(what: Callable[[], object]) -> float:
    """Milliseconds, the middle one of a few runs after one that is not counted."""
    what()
    runs = []
    for _ in range(TIMES):
        begun = time.perf_counter()
        what()
        runs.append(1000 * (time.perf_counter() - begun))
    return round(median(runs), 1)


def measured(folder: Path) -> dict[str, float]:
    with demo.ready(folder) as (engine, operation), session(engine, operation) as s:
        week = reported(s)
        asking = took(lambda: reported(s))
    assert week is not None  # the demo has walks
    words = report_words(week)
    begun = time.perf_counter()
    week_pdf(words)
    first = round(1000 * (time.perf_counter() - begun), 1)
    pages = {size: len(pypdf.PdfReader(io.BytesIO(week_pdf(words, size))).pages) for size in Size}
    pdf = {size: took(lambda size=size: week_pdf(words, size)) for size in Size}
    return {
        "asking_ms": asking,
        "words_ms": took(lambda: report_words(week)),
        "pdf_first_ms": first,
        **{f"pages_{size}": pages[size] for size in Size},
        **{f"pdf_{size}_ms": pdf[size] for size in Size},
        **{f"pdf_{size}_ms_a_page": round(pdf[size] / pages[size], 1) for size in Size},
        "html_ms": took(lambda: week_html(words)),
        "xlsx_ms": took(lambda: week_xlsx(week)),
    }


def written(page: str, held: dict[str, Any]) -> str:
    """The text of the page with its table as it is in the results."""
    first = f"| {held['pages_a4']} pages A4, {held['pages_letter']} letter | ms |"
    rows = (f"| {what} | {held[key]:g} |" for what, key in ROWS.items())
    return with_tables(page, {"speed": [first, "|---|---|", *rows]})


def main() -> None:
    run_with_page(__doc__, measure, PAGE, written, "report_speed")


def measure(*, write: bool) -> None:
    with tempfile.TemporaryDirectory() as folder:
        figures = measured(Path(folder))
    keep("report_speed", {**head(scenario.SEED), "runs": TIMES, **figures}, write=write)


if __name__ == "__main__":
    main()
