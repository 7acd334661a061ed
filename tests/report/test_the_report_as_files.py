"""The report as PDF, HTML and workbook: what a reader of each file finds in it.

Read back with other people's readers: pypdf, openpyxl, the HTML parser of the standard library.
Sizes of paper: ISO 216 A4 is 210 by 297 mm; letter is 8.5 by 11 in (ANSI/ASME Y14.1).
"""

from __future__ import annotations

import datetime as dt
import io
import re
from dataclasses import replace
from html.parser import HTMLParser

import openpyxl
import pypdf
import pytest

from benchwalk.catalogue import LOCALES, Refusal, say
from benchwalk.report.files import write_report
from benchwalk.report.html import week_html
from benchwalk.report.pdf import Size, week_pdf
from benchwalk.report.report_words import ReportWords, report_words
from benchwalk.report.targets import stylesheet
from benchwalk.report.workbook import COLUMNS, week_xlsx
from tests.report.a_report import a_report
from tests.report.a_summary import HOSTILE_HOUSE, HOSTILE_UNIT, LONG_UNIT, NOT_LOOKED, a_summary
from tests.report.by_hand import DAY

POINT = 72 / 25.4  # in a millimetre
SHEETS = {Size.A4: (297 * POINT, 210 * POINT), Size.LETTER: (11 * 72, 8.5 * 72)}


def spaced(text: str) -> str:
    """Text with its breaks and gaps as single spaces."""
    return re.sub(r"\s+", " ", text.replace("\N{NO-BREAK SPACE}", " "))


@pytest.fixture(scope="module", params=LOCALES)
def words(request) -> ReportWords:
    return report_words(a_report(), request.param)


def sentences(words: ReportWords) -> list[str]:
    """What must stand in the printed report and in the page, whatever its layout."""
    week = words.week
    missing = [m for g in week.groups for m in g.missing]
    units = [u for g in week.groups for u in g.units]
    lines = [line for u in units for line in u.all_lines]
    trends = words.trends
    return [
        week.operation,
        week.dates,
        *(held.text for held in words.held),
        *words.finds,
        *words.flags,
        *(text for void in words.voided for text in (void.what, void.reason)),
        *(g.gloss for g in week.groups),
        *(u.name for u in units),
        *(text for line in lines for text in (line.pest, line.method, line.rule, line.change)),
        *(text for line in lines for text in (line.density, line.counted, line.infested)),
        *(note for x in (*units, *lines) for note in x.notes),
        *(text for m in missing for text in (m.name, m.reason, m.last)),
        *(text for t in trends for text in (t.counts, *t.treatments)),
        *week.rules,
        *week.reading,
        *week.cautions,
    ]


# PDF ------------------------------------------------------------------------------------------


@pytest.fixture(scope="module", params=list(Size))
def printed(words, request):
    return request.param, pypdf.PdfReader(io.BytesIO(week_pdf(words, request.param)))


def text_of(pdf: pypdf.PdfReader) -> str:
    return spaced(" ".join(page.extract_text() for page in pdf.pages))


def letters(text: str) -> str:
    """Without gaps: where a line breaks, a reader of PDF may see one gap more or fewer."""
    return re.sub(r"\s", "", text)


def test_sheets_of_the_pdf_lie_on_their_side_in_the_size_asked_for(printed):
    size, pdf = printed
    for page in pdf.pages:
        found = (float(page.mediabox.width), float(page.mediabox.height))
        assert found == pytest.approx(SHEETS[size], abs=0.5)


def test_everything_the_report_says_stands_in_the_pdf(printed, words):
    found = letters(text_of(printed[1]))
    assert [text for text in sentences(words) if letters(text) not in found] == []


def test_the_first_caution_stands_at_the_foot_of_every_sheet(printed, words):
    caution = letters(words.week.cautions[0])
    assert all(caution in letters(page.extract_text()) for page in printed[1].pages)


def test_the_pdf_has_its_title_and_no_day_on_which_it_was_made(printed, words):
    meta = printed[1].metadata
    assert meta.title == words.title
    assert (meta.creation_date, meta.modification_date) == (None, None)


def test_the_pdf_names_its_language_and_is_tagged(printed, words):
    root = printed[1].trailer["/Root"]
    assert root["/Lang"] == words.week.locale
    assert root["/MarkInfo"]["/Marked"]


def alternatives(pdf: pypdf.PdfReader) -> list[str]:
    """Texts that stand in for pictures."""
    found, todo = [], [pdf.trailer["/Root"]["/StructTreeRoot"]]
    while todo:
        node = todo.pop().get_object()
        if isinstance(node, list):
            todo += node
        elif isinstance(node, dict):
            if "/Alt" in node:
                found.append(str(node["/Alt"]))
            todo += [node["/K"]] if "/K" in node else []
    return found


def test_every_strip_of_the_pdf_has_its_sentence(printed, words):
    said = alternatives(printed[1])
    assert "2.4" in " ".join(said)
    assert said.count(say("week.no_count", words.week.locale)) == len(NOT_LOOKED) + 1


# HTML -----------------------------------------------------------------------------------------


class Read(HTMLParser):
    """Text, tags and addresses of a document."""

    def __init__(self) -> None:
        super().__init__()
        self.text, self.tags, self.addresses = "", [], []
        self.hidden = 0

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.hidden += tag == "style"
        self.addresses += [v for k, v in attrs if k in ("href", "src", "xlink:href", "action")]

    def handle_endtag(self, tag):
        self.hidden -= tag == "style"
        self.text += " "

    def handle_data(self, data):
        self.text += "" if self.hidden else data


@pytest.fixture(scope="module")
def page(words) -> Read:
    read = Read()
    read.feed(week_html(words))
    return read


def test_everything_the_report_says_stands_in_the_page(page, words):
    found = letters(page.text)
    wanted = [*sentences(words), *(void.reason for void in words.voided)]
    assert [text for text in wanted if letters(text) not in found] == []


def test_the_page_needs_nothing_beside_it_and_runs_nothing(page, words):
    assert all(address.startswith("#") for address in page.addresses)
    tags = {tag for tag, _ in page.tags}
    assert not tags & {"script", "link", "img", "iframe", "object", "form"}
    assert not any(name.startswith("on") or name == "style" for _, a in page.tags for name in a)
    urls = re.findall(r"url\(([^)]{0,40})", week_html(words))
    assert all(url.startswith(('"data:font/ttf;base64,', "#")) for url in urls)


def test_the_page_forbids_itself_scripts_and_addresses_outside(page):
    policy = next(a["content"] for _, a in page.tags if "http-equiv" in a)
    assert policy == "default-src 'none'; style-src 'unsafe-inline'; font-src data:"


def test_a_name_with_markup_is_shown_and_not_run(page):
    assert HOSTILE_HOUSE in page.text
    assert "<b>typed twice</b>" in page.text
    assert "script" not in {tag for tag, _ in page.tags}


def test_links_of_the_page_lead_to_places_in_it(page):
    there = {a["id"] for _, a in page.tags if "id" in a}
    assert {address.removeprefix("#") for address in page.addresses} <= there


def test_pictures_of_the_page_have_their_looks_from_the_one_table(words):
    assert stylesheet() in week_html(words)


def test_strips_of_the_page_say_their_sentences(page):
    said = [a.get("aria-label", "") for tag, a in page.tags if tag == "svg"]
    assert any("2.4" in text for text in said)


# workbook -------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def book(words):
    held = week_xlsx(a_report(), words.week.locale)
    return openpyxl.load_workbook(io.BytesIO(held))


def table(book: openpyxl.Workbook, page: str, locale: str) -> list[dict[str, object]]:
    rows = list(book[say(f"report.sheet.{page}", locale)].values)
    headings = [say(f"report.col.{column}", locale) for column in COLUMNS[page]]
    assert list(rows[0]) == headings
    return [dict(zip(COLUMNS[page], row, strict=True)) for row in rows[1:]]


def test_figures_are_numbers_and_days_are_days(book, words):
    rows = table(book, "units", words.week.locale)
    thrips = next(r for r in rows if r["times"] == 2.4)
    assert (thrips["counted"], thrips["density"], thrips["low"], thrips["high"]) == (
        65,
        43.2,
        27.0,
        66.6,
    )
    assert thrips["walked_on"] == dt.datetime(2026, 5, 7)


def test_a_cell_without_a_figure_holds_a_word_and_no_cell_is_empty(book, words):
    locale = words.week.locale
    rows = table(book, "units", locale)
    for row in rows:
        empty = [k for k, cell in row.items() if cell is None and k not in ("rule", "notes")]
        assert empty == []
    seen = next(r for r in rows if r["counted"] == say("state.present", locale))
    assert {seen[k] for k in ("density", "low", "high")} == {say("report.not_known", locale)}
    capped = next(r for r in rows if r["high"] == say("report.no_upper_end", locale))
    assert capped["counted"] == say("week.at_least", locale, m=8)


def test_a_zero_in_the_workbook_was_looked_at(book, words):
    """Every 0 of a count or density stands in a line of "looked, none", and nowhere else."""
    locale = words.week.locale
    for row in table(book, "units", locale):
        zeros = [k for k in ("counted", "density", "times") if row[k] == 0]
        assert bool(zeros) == (row["line_state"] == say("abs.none", locale)), row


def test_what_was_not_looked_at_stands_on_its_own_page_with_its_reason(book, words):
    rows = table(book, "not_looked", words.week.locale)
    assert len(rows) == len(NOT_LOOKED) + 1
    assert "the key to the gate was lost" in " ".join(str(r["reason"]) for r in rows)
    names = {r["unit"] for r in table(book, "units", words.week.locale)}
    whole = [r for r in rows if r["pest_method"] == say("report.whole_unit", words.week.locale)]
    assert not names & {r["unit"] for r in whole}


def test_days_nobody_looked_have_no_row_among_the_trends(book, words):
    rows = table(book, "trends", words.week.locale)
    assert len({r["day"] for r in rows}) == 9
    unmeasured = [r for r in rows if r["density"] == say("report.not_known", words.week.locale)]
    assert len(unmeasured) == 3


def test_text_that_would_run_is_text_and_stays_text(book, words):
    cells = [
        cell
        for sheet in book
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, str) and cell.value.lstrip()[:1] in tuple("=+-@")
    ]
    assert any("swirskii" in cell.value for cell in cells)
    assert all(cell.data_type == "s" and cell.quotePrefix for cell in cells)
    assert all(cell.data_type != "f" for sheet in book for row in sheet for cell in row)


def test_everything_but_the_table_stands_on_the_first_page(book, words):
    first = [str(row[0]) for row in book.worksheets[0].values]
    void = (f"{void.what}. {void.reason}" for void in words.voided)
    wanted = (*words.finds, *words.flags, *void, *words.week.cautions)
    assert set(wanted) <= set(first)
    assert words.week.head_sentence in first


def test_the_workbook_is_dated_with_the_day_it_reports(book):
    assert book.properties.created == dt.datetime(2026, 5, 7)


# all of them ----------------------------------------------------------------------------------


def figures_beside(text: str, name: str, upto: str) -> str:
    """What stands between a name and the last thing its row says."""
    start = text.index(name)
    return text[start + len(name) : text.index(upto, start)]


def test_no_figure_stands_where_nobody_looked(words):
    """Broken on purpose: a report that shows a 0 for what was not looked at fails here."""
    locale = words.week.locale
    read = Read()
    read.feed(week_html(words))
    pdf = pypdf.PdfReader(io.BytesIO(week_pdf(words)))
    missing = next(g for g in words.week.groups if g.part.state == "not_looked").missing
    for text in (spaced(read.text), text_of(pdf)):
        group = text[text.index(say("abs.not_looked_long", locale)) :]
        for miss in missing:
            row = figures_beside(group, spaced(miss.name), spaced(miss.last))
            assert say("week.no_count", locale) in row
            assert not re.search(r"\d", row.replace(spaced(miss.reason), ""))


def test_a_week_without_anything_over_or_threshold_can_be_reported():
    summary = a_summary()
    none = tuple(u for u in summary.units if u.state == "none")
    quiet = replace(summary, units=none, not_looked=(), counts={"none": len(none)})
    week = replace(a_report(summary), summary=quiet, over=())
    words = report_words(week)
    text = text_of(pypdf.PdfReader(io.BytesIO(week_pdf(words))))
    assert "Nothing that was looked at is over its threshold." in text
    assert "Nothing that was looked at is over its threshold." in week_html(words)
    assert week_xlsx(week)


def test_a_week_in_which_nobody_looked_says_so_and_reassures_nobody():
    summary = a_summary()
    empty = replace(summary, units=(), counts={"not_looked": len(NOT_LOOKED)})
    words = report_words(replace(a_report(summary), summary=empty, over=(), flags=()))
    text = text_of(pypdf.PdfReader(io.BytesIO(week_pdf(words))))
    for found in (text, spaced(week_html(words))):
        assert "Units looked at: 0 of 4." in found
        assert "Nothing that was looked at is over" in found
        assert "How to read this" not in found  # there is no figure to read


def test_files_are_named_by_day_language_and_sheet(tmp_path):
    made = write_report(a_report(), tmp_path / "new", locale="es", size="letter")
    stem = f"week-{DAY}-es"
    assert [p.name for p in made] == [f"{stem}-letter.pdf", f"{stem}.html", f"{stem}.xlsx"]
    assert sorted(tmp_path.joinpath("new").iterdir()) == sorted(made)


def test_only_the_kinds_asked_for_are_written_and_replaced(tmp_path):
    (old,) = write_report(a_report(), tmp_path, only="html")
    old.write_text("old")
    (new,) = write_report(a_report(), tmp_path, only=" HTML , html")
    assert new == old
    assert new.read_text("utf-8").startswith("<!doctype html>")


@pytest.mark.parametrize("only", ["doc", "", "pdf,,xlsx"])
def test_a_kind_there_is_none_of_is_refused(tmp_path, only):
    with pytest.raises(Refusal, match="is no kind of report; give some of: pdf, html, xlsx"):
        write_report(a_report(), tmp_path, only=only)
    assert list(tmp_path.iterdir()) == []


def test_the_longest_names_are_not_cut(words):
    text = text_of(pypdf.PdfReader(io.BytesIO(week_pdf(words))))
    assert letters(LONG_UNIT) in letters(text)
    assert letters(HOSTILE_UNIT) in letters(text)
