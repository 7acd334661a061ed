"""Cells: nothing in them runs, and every text comes back as it was."""

import csv
import io

import openpyxl
import polars as pl
import pytest
import xlsxwriter
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.utils.escape import unescape

from benchwalk.records.exports import workbook
from benchwalk.records.exports.cells import cell, guarded, unguarded
from benchwalk.records.exports.package import write_csv
from benchwalk.records.exports.tables import Field
from tests.in_turn import each_of

# OWASP, "CSV Injection": = + - @ tab (0x09) carriage return (0x0D), line feed; and the full-width
# forms of the first four, which some programs take for them
STARTS = "=+-@\t\r\n＝＋－＠"
TEXTS = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=30)
HOSTILE = st.builds(
    lambda *parts: "".join(parts),
    st.sampled_from(["", " ", "\u00a0", "'", '"']),
    st.sampled_from(STARTS),
    TEXTS,
)


def runs(text):
    """Written apart from the program: the first sign that is no blank decides."""
    return text[:1] in tuple(STARTS) or text.strip()[:1] in tuple("=+-@＝＋－＠")


@given(HOSTILE | TEXTS)
def test_no_text_leaves_as_a_cell_that_a_spreadsheet_runs(text):
    assert not runs(guarded(text)) or not text.strip()
    assert guarded(text)[:1] not in tuple(STARTS)


@given(HOSTILE | TEXTS)
def test_every_text_comes_back_from_its_cell(text):
    assert unguarded(guarded(text)) == text


def test_nothing_said_and_an_empty_text_are_two_things():
    assert (cell(None), cell("")) == ("", "'")
    assert (unguarded(""), unguarded("'")) == (None, "")


@given(st.lists(st.lists(HOSTILE | TEXTS | st.none(), min_size=2, max_size=4), max_size=5))
def test_a_csv_file_gives_every_text_back_with_its_lines_and_quotes(tmp_path_factory, rows):
    path = tmp_path_factory.mktemp("csv") / "a.csv"
    write_csv(path, ["a", "b"], [tuple(row) for row in rows])
    with path.open(encoding="utf-8", newline="") as file:
        back = list(csv.reader(file))[1:]
    assert [[unguarded(c) for c in row] for row in back] == rows


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\tx", "\rx", " =x", "'=x", ""])
def test_polars_reads_the_guarded_text_of_another_library_too(tmp_path, text):
    write_csv(tmp_path / "a.csv", ["n", "a"], [(1, text)])
    back = pl.read_csv(tmp_path / "a.csv", infer_schema=False)["a"][0]
    assert unguarded(back) == text


def page(rows, names=("a",)):
    """The bytes of a workbook of one page, and the places of what was cut in it."""
    held = io.BytesIO()
    book = xlsxwriter.Workbook(held, {"constant_memory": True})
    pages = workbook._Pages(book)
    fields = tuple(Field(name, "string") for name in names)
    pages.add(workbook.Leaving("page", fields, (), (), rows))
    book.close()
    return io.BytesIO(held.getvalue()), pages.cut


def rows_of(file):
    return openpyxl.load_workbook(file)["page"].iter_rows(min_row=2)


@given(st.lists((HOSTILE | TEXTS).filter(bool), min_size=1, max_size=5))
def test_openpyxl_reads_every_text_of_a_workbook_back_as_text(texts):
    file, cut = page([(text,) for text in texts])
    cells = [row[0] for row in rows_of(file)]
    # signs that XML has no place for are written _xHHHH_ (ECMA-376 part 1, 22.9.2.19)
    assert [unescape(c.value) for c in cells] == texts
    assert {c.data_type for c in cells} <= {"s", "inlineStr"}
    assert cut == []


@each_of("start", STARTS)
def test_a_text_that_would_run_is_marked_to_stay_text_when_it_is_edited(start):
    file, _ = page([(f"{start}1+1",), ("harmless",)])
    hostile, harmless = (
        row[0] for row in openpyxl.load_workbook(file)["page"].iter_rows(min_row=2)
    )
    assert hostile.quotePrefix
    assert not harmless.quotePrefix
    assert hostile.data_type != "f"


def test_a_text_longer_than_a_cell_is_cut_and_named_never_dropped():
    """Microsoft, Excel specifications and limits: 32,767 characters in a cell."""
    file, cut = page([("x" * 32_767,), ("y" * 32_768,)])
    whole, half = (
        row[0].value for row in openpyxl.load_workbook(file)["page"].iter_rows(min_row=2)
    )
    assert whole == "x" * 32_767
    assert half == "y" * 32_761 + " [...]"
    assert cut == ["page 3:1"]


def test_rows_beyond_what_a_page_holds_go_on_the_next_page(monkeypatch):
    """The limit itself is Microsoft's 1,048,576 rows; here it is 4."""
    assert workbook.PAGE_HOLDS == 1_048_576
    monkeypatch.setattr(workbook, "PAGE_HOLDS", 4)
    file, _ = page([(str(n),) for n in range(7)])
    book = openpyxl.load_workbook(file)
    held = [[row[0].value for row in sheet.iter_rows(min_row=2)] for sheet in book]
    assert held == [["0", "1", "2"], ["3", "4", "5"], ["6"]]
    assert book.sheetnames == ["page", "page 2", "page 3"]
