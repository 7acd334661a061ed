"""Whatever a file holds, it is refused as a whole or every cell of it ends in one outcome."""

from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchwalk.records.sheets.found import SheetRefused
from benchwalk.records.sheets.reading import read_rows
from benchwalk.records.sheets.table import table_of
from tests.records.sheets.small_sheet import reading_of

pytestmark = pytest.mark.slow
LONG = "Date,Unit,Plant,Pest,Stage,Count,Notes"
WIDE = "Date,Unit,Plants,Thrips adults,Aphids,Card WF,Remarks"
CARDS = "Date,Date out,House,Unit,Card,Squares counted,Squares on card,Pest,Stage,Count,Mean"
# cells that mean something somewhere, so that rows get past the first refusal
TELLING = st.sampled_from(
    [
        "",
        "0",
        "2",
        "-",
        "4/25",
        "50+",
        "tntc",
        "n/a",
        "=2+3",
        "12 adults",
        "2-3",
        "none",
        "thrips",
        "thirps",
        "mite",
        "aphids",
        "adult",
        "L",
        "2024-05-07",
        "5/7/24",
        "13/5/24",
        "7.5.2024",
        "Bay 1",
        "bay 1 ",
        "Bay 2",
        "sprayed 5/6, soap",
        "clean",
        "Bay 1 is now Bay 9",
        "total",
        "*",
        "2,5",
        "2.5",
        "- = none",
        "\xa0",
        "1.204",
        "12/24",
        "'-3",
        "@x",
        "?",
        "²",
    ]
)
# a file with control signs is refused as a whole
TEXT = st.text(st.characters(codec="utf-8", exclude_categories=["Cc"]), max_size=6)
CELL = st.one_of(TELLING, TELLING, TEXT)


def line_of(cells):
    return ",".join('"' + c.replace('"', '""') + '"' for c in cells)


@st.composite
def sheets(draw):
    headings = draw(st.sampled_from([LONG, WIDE, CARDS]))
    width = headings.count(",") + 1
    row = st.lists(CELL, min_size=0, max_size=width + 1)
    usual = st.builds(
        lambda day, rest: [day, *rest],
        st.sampled_from(["2024-05-07", "5/7/24", "5/13/24"]),
        st.lists(TELLING, min_size=width - 1, max_size=width - 1),
    )
    return headings, draw(st.lists(st.one_of(usual, row), max_size=6))


def ends(text):
    """Every outcome with its place, or the reason why the whole file was refused."""
    try:
        return read_rows(table_of(text.encode("utf-8", "replace"), "sheet.csv"))
    except SheetRefused as refused:
        return refused.reason


@given(st.binary(max_size=300))
def test_any_bytes_under_headings_are_read_or_refused_and_raise_nothing_else(content):
    try:
        found = read_rows(table_of(LONG.encode() + b"\n" + content, "sheet.csv"))
    except SheetRefused as refused:
        found = refused
    reason = getattr(found, "reason", None)
    assert reason in ("file_truncated", "file_is_not_a_table") or accounted(found)


def accounted(found):
    places = Counter(at for at, _ in found.ends)
    assert sum(found.accounts().values()) == found.read
    assert [at for at, n in places.items() if n > 1] == []
    return True


@given(sheets())
def test_every_cell_and_row_of_any_sheet_ends_in_one_outcome(sheet):
    headings, rows = sheet
    found = reading_of(*map(line_of, rows), headings=headings)
    accounted(found)
    assert {at.row for at, _ in found.ends} <= set(range(1, len(found.pages[0].rows) + 1))


@given(st.lists(st.lists(CELL, max_size=5), min_size=1, max_size=6))
def test_any_table_of_text_is_read_or_refused(rows):
    found = ends("\n".join(map(line_of, rows)) + "\n")
    assert found in ("file_truncated", "file_is_not_a_table") or accounted(found)


@given(CELL)
def test_any_text_in_a_count_column_ends_in_exactly_one_outcome(cell):
    line = line_of(["2024-05-07", "Bay 1", "1", "thrips", "adult", cell, ""])
    found = reading_of(line)
    assert found.read == 1
    (end,) = found.ends
    assert end[0].row == 2
    assert end[1] in ("recorded", "not_looked", "rejected", "asked")


@given(CELL)
def test_any_text_in_a_tally_column_ends_in_exactly_one_outcome(cell):
    line = line_of(["2024-05-07", "Bay 1", "10", cell, "1", "1", ""])
    found = reading_of(line, headings=WIDE)
    assert found.read == 3
    assert [outcome for at, outcome in found.ends if at.col != "Thrips adults"] == ["recorded"] * 2
    accounted(found)


# own choice: of each of the seven columns twenty formulas
@settings(max_examples=20)
@given(st.integers(0, 99), st.integers(0, 99), st.sampled_from("+-*/"), st.sampled_from("=@+-＝"))
def test_no_formula_is_ever_evaluated_in_any_column(one, other, sign, start):
    formula = f"{start}{one}{sign}{other}"
    for place in range(7):
        cells = ["2024-05-07", "Bay 1", "1", "thrips", "adult", "3", ""]
        cells[place] = formula
        found = reading_of(line_of(cells))
        assert all(c.value == 3 and c.how == "counted" for c in found.records)
        assert not (place == 5 and found.records)


@given(sheets())
def test_no_count_is_made_of_a_cell_without_a_figure_or_a_word_for_none(sheet):
    headings, rows = sheet
    for count in reading_of(*map(line_of, rows), headings=headings).records:
        assert count.raw.strip()
        assert (count.value is None) == (count.how == "present")
