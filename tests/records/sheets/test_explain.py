"""Every cell of a sheet can be asked what became of it, and why."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchwalk.records.sheets.explain import PlaceNotThereError, explain
from benchwalk.records.sheets.found import Count, Reject, Skip
from benchwalk.records.sheets.page import cell_name
from benchwalk.records.sheets.reading import read
from benchwalk.report.explained import explained_text
from tests.in_turn import each_of
from tests.records.sheets.small_sheet import reading_of

EXAMPLES = Path(__file__).parent / "examples"
FILES = sorted(p.name for p in EXAMPLES.iterdir() if p.suffix in (".csv", ".xlsx"))


def sheet():
    return reading_of(
        "2024-05-07,Bay 1,1,thrips,adult,50+,",
        "2024-05-07,Bay 1,2,thrips,adult,2-3,",
        "total,,,,,52,",
    )


def said(place, lang="en"):
    return explained_text(explain(sheet(), place), lang)


def test_a_recorded_count_is_told_with_what_its_column_holds():
    told = explain(sheet(), "F2")
    assert [type(e) for e in told.ended] == [Count]
    assert told.column.meaning == "count"
    assert "at least 50" in said("F2")
    assert "50 o más" in said("F2", "es")


def test_a_row_and_a_heading_name_the_same_cell_as_its_letters():
    assert explain(sheet(), "2:Count") == explain(sheet(), "F2") == explain(sheet(), "f2")


def test_a_refused_count_is_told_with_its_reason_and_what_to_do():
    assert [e.reason for e in explain(sheet(), "F3").ended if isinstance(e, Reject)] == [
        "range_not_count"
    ]
    assert "two numbers" in said("F3")


def test_a_cell_that_is_no_record_by_itself_names_the_counts_that_lean_on_it():
    told = explain(sheet(), "A2")
    assert told.ended == ()
    assert [e.at.row for e in told.leans] == [2]


def test_a_row_of_sums_is_told_as_passed_over_and_a_heading_as_a_heading():
    assert [type(e) for e in explain(sheet(), "F4").ended] == [Skip]
    assert [type(e) for e in explain(sheet(), "4").ended] == [Skip]
    assert explain(sheet(), "F1").heading


@pytest.mark.parametrize("place", ["F99", "99", "2:Colour", "x", "", "0"])
def test_a_place_that_is_not_there_is_refused_with_how_to_name_one(place):
    with pytest.raises(PlaceNotThereError, match="is not in the file"):
        explain(sheet(), place)


def test_a_sheet_that_is_not_there_is_refused_with_those_that_are():
    reading = read(EXAMPLES / "03_units_by_sheet.xlsx")
    with pytest.raises(PlaceNotThereError, match=r"names no sheet of the file; it has .*Cal A1"):
        explain(reading, "Cal A2!B6")


@each_of("file", FILES)
def test_every_filled_cell_of_every_example_can_be_explained_in_both_languages(file):
    reading = read(EXAMPLES / file)
    for page in reading.pages:
        for number, row in enumerate(page.rows[:25], start=1):
            for index, text in enumerate(row):
                place = f"{page.name}!" * bool(page.name) + cell_name(number, index)
                told = explain(reading, place)
                assert told.text == text
                assert all(explained_text(told, lang) for lang in ("en", "es"))


def words_about(place):
    try:
        return said(place)
    except PlaceNotThereError as refused:
        return refused.said("en")


@given(st.text(max_size=8))
def test_any_text_as_a_place_is_a_place_or_refused_in_a_sentence(text):
    assert words_about(text)
