"""The week's report as files: PDF, HTML and workbook, named by the day, language and sheet."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from benchwalk.catalogue import Refusal
from benchwalk.report.figures import shown
from benchwalk.report.html import week_html
from benchwalk.report.pdf import Size, week_pdf
from benchwalk.report.report_words import report_words
from benchwalk.report.workbook import week_xlsx
from benchwalk.summarise import Reported

KINDS = ("pdf", "html", "xlsx")


def kinds_of(text: str) -> tuple[str, ...]:
    """Kinds of file from a list with commas.

    Raises
    ------
    Refusal
        where one of them is none of :data:`KINDS`, or none is named.
    """
    kinds = tuple(dict.fromkeys(kind.strip().lower() for kind in text.split(",")))
    unknown = [kind for kind in kinds if kind not in KINDS]
    if unknown:
        raise Refusal("refused.report_kind", given=shown(unknown[0]), known=", ".join(KINDS))
    return kinds


def write_report(
    reported: Reported,
    folder: Path,
    *,
    locale: str = "en",
    size: str = Size.A4,
    only: str = ",".join(KINDS),
) -> list[Path]:
    """Write the report, and say which files it is; each is replaced where it stood before.

    Parameters
    ----------
    folder : made where there is none.
    locale : "en" or "es".
    size : of the PDF's sheets: "a4" or "letter".
    only : kinds of file, of :data:`KINDS`, with commas between them.

    Raises
    ------
    Refusal
        where ``only`` names a kind that there is none of.
    """
    kinds, sheets = kinds_of(only), Size(size)
    words = report_words(reported, locale)
    make: dict[str, Callable[[], bytes]] = {
        "pdf": lambda: week_pdf(words, sheets),
        "html": lambda: week_html(words).encode("utf-8"),
        "xlsx": lambda: week_xlsx(reported, locale),
    }
    folder.mkdir(parents=True, exist_ok=True)
    stem = f"week-{reported.summary.day.isoformat()}-{locale}"
    names = {"pdf": f"{stem}-{sheets}.pdf", "html": f"{stem}.html", "xlsx": f"{stem}.xlsx"}
    return [_written(folder / names[kind], make[kind]()) for kind in kinds]


def _written(path: Path, content: bytes) -> Path:
    """All of it or nothing: whoever has the old file open never sees half of the new one."""
    half = path.with_name(path.name + ".part")
    half.write_bytes(content)
    half.replace(path)
    return path
