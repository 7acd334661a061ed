"""Numbers and cells of a workbook, against ECMA-376 part 1 and days counted by hand."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchwalk.records.sheets.cells import COLUMNS_APART, ROWS_APART, Cells, spot_of, unescaped
from benchwalk.records.sheets.numbers import date_styles, day_text, moment, number_text, shows_a_day
from benchwalk.records.sheets.page import cell_name
from tests.in_turn import each_of

# ECMA-376 part 1, 18.8.30: the formats of days and times, in all languages and in some
DAYS = [*range(14, 23), *range(27, 37), 45, 46, 47, *range(50, 59)]


def test_a_style_is_of_days_where_its_format_is_one_of_those_of_the_standard():
    assert date_styles(range(70), {}) == frozenset(DAYS)


def test_a_style_is_of_days_where_the_code_of_its_format_shows_one():
    assert date_styles([0, 164, 165], {164: "d-mmm-yy", 165: "0.00"}) == frozenset({1})


@each_of(
    ("code", "shows"),
    [
        ("d-mmm", True),
        ("yyyy", True),
        ("h:mm AM/PM", True),
        ("[h]:mm", True),
        ("[mm]:ss", True),
        ("[ss]", True),
        ("[$-409]d/m/yy;@", True),
        ("dd.mm.yyyy;@", True),
        ("SS", True),
        ("0.0", False),
        ("General", False),
        ("Standard", False),
        ("@", False),
        ("#,##0", False),
        ('0 "days"', False),
        (r"0\d", False),
        ("0_d", False),
        ("0*d", False),
        ("[Red]0", False),
        ('"Day" 0;d', False),
        ("", False),
    ],
)
def test_a_code_shows_a_day_where_a_letter_of_one_is_not_quoted(code, shows):
    assert shows_a_day(code) is shows


@each_of(
    ("value", "text"),
    [
        ("12", "12"),
        ("012", "012"),
        ("3.0", "3"),
        ("-0", "0"),
        ("-3", "-3"),
        ("2.5", "2.5"),
        ("1E2", "100"),
        ("0.1000000000000000055", "0.1"),
        ("123456789012345", "123456789012345"),
        ("1.23456789012345", "1.23456789012345"),
        ("1.234567890123456", "1.23456789012346"),
        ("n/a", "n/a"),
        ("", ""),
    ],
)
def test_a_number_is_shown_with_fifteen_digits_and_no_noughts_behind(value, text):
    assert number_text(value) == text


@each_of(
    ("value", "text"),
    [
        ("45418", "2024-05-06"),  # by hand: 2024-01-01 is 45292, and 126 days on
        ("45418.5", "2024-05-06 12:00:00"),
        ("45418.0000001", "2024-05-06"),
        ("61", "1900-03-01"),
        ("60", "1900-02-28"),  # the 29 February 1900 that a workbook counts and there was not
        ("59", "1900-02-28"),
        ("1", "1900-01-01"),
        ("0.5", "12:00:00"),
        ("0", "00:00:00"),
        ("2958464", "9999-12-30"),
        ("2958465", "2958465"),
        ("-1", "-1"),
        ("May", "May"),
    ],
)
def test_a_number_shown_as_a_day_is_that_day(value, text):
    assert day_text(value, False) == text


def test_days_counted_from_1904_are_four_years_and_a_day_less():
    """Published: ECMA-376 part 1, 18.17.4.1: day 0 of that way is 1904-01-01."""
    assert day_text("43956", True) == "2024-05-06"
    assert moment(0, True) == dt.datetime(1904, 1, 1)
    assert moment(59.5, True) == dt.datetime(1904, 2, 29, 12)


@given(st.dates(dt.date(1900, 3, 1), dt.date(9999, 12, 30)))
def test_every_day_of_a_workbook_is_read_as_it_is_counted(on):
    assert day_text(str((on - dt.date(1899, 12, 30)).days), False) == on.isoformat()


@given(st.integers(1, 9_999_999), st.integers(0, 26 + 26**2 + 26**3 - 1))
def test_a_cell_is_found_by_the_name_it_has(row, index):
    assert spot_of(cell_name(row, index)) == (row, index)


@each_of(
    ("name", "spot"),
    [
        ("A1", (1, 0)),
        ("Z1", (1, 25)),
        ("AA10", (10, 26)),
        ("XFD1048576", (1_048_576, 16_383)),
        ("b6", None),
        ("ABCD1", None),
        ("A12345678", None),
        ("6", None),
        ("", None),
    ],
)
def test_a_name_that_is_no_cell_is_none(name, spot):
    assert spot_of(name) == spot


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a_x000D_b", "a\rb"),
        ("_x0041__x0042_", "AB"),
        ("_x00g1_", "_x00g1_"),
        ("x_y", "x_y"),
        ("_x041_", "_x041_"),
    ],
)
def test_signs_that_a_part_can_only_name_are_those_signs(text, said):
    assert unescaped(text) == said


def cells(*spots):
    held = Cells()
    for n, spot in enumerate(spots):
        held.put(spot, str(n))
    return held


def test_cells_are_rows_from_the_first_to_the_last():
    rows, far = cells((2, 1), (4, 0)).near()
    assert rows == ((), ("", "0"), (), ("1",))
    assert far == ()


@pytest.mark.parametrize("first", [1, 500])
def test_a_cell_behind_too_wide_a_gap_of_rows_stands_far_from_all_others(first):
    near, beyond = (first + ROWS_APART, 0), (first + 2 * ROWS_APART + 1, 0)
    rows, far = cells((first, 0), near, beyond).near()
    assert len(rows) == near[0]
    assert far == ((beyond, "2"),)


@pytest.mark.parametrize("first", [0, 60])
def test_a_cell_behind_too_wide_a_gap_of_columns_stands_far_from_all_others(first):
    near, beyond = (1, first + COLUMNS_APART), (1, first + 2 * COLUMNS_APART + 1)
    rows, far = cells((1, first), near, beyond, (2, first)).near()
    assert [len(row) for row in rows] == [near[1] + 1, first + 1]
    assert far == ((beyond, "2"),)


def test_far_cells_come_in_the_order_of_the_page_and_no_cell_is_lost():
    rows, far = cells((1, 0), (3_000, 5), (2_999, 0), (3_000, 1), (1, 900)).near()
    assert rows == (("0",),)
    assert far == (((1, 900), "4"), ((2_999, 0), "2"), ((3_000, 1), "3"), ((3_000, 5), "1"))


def test_no_cells_are_no_rows():
    assert cells().near() == ((), ())
