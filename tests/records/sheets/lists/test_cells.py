"""What cells of lists say: numbers with their marks, clocks, offsets, and what says nothing."""

import datetime as dt

import pytest

from benchwalk.records.sheets.lists.cells import (
    clock_of,
    decimal_of,
    number_of,
    offset_of,
    parted,
    text_of,
)
from tests.in_turn import each_of
from tests.records.sheets.lists.small_list import only, read, reasons


@pytest.mark.parametrize("raw", ["", " ", "-", "—", "n/a", "s/d", "?"])
def test_a_cell_that_says_nothing_is_nothing_and_never_a_zero(raw):
    assert text_of(raw) is None


@each_of(
    ("text", "decimal", "value"),
    [
        ("45", None, 45),
        ("-3.5", ".", -3.5),
        ("21,35", ",", 21.35),
        ("21.35", None, 21.35),
        ("1.234,5", ",", 1234.5),
        ("1,234.5", ".", 1234.5),
        ("1'234.5", ".", 1234.5),
        (".5", ".", 0.5),
        ("+2", None, 2),
    ],
)
def test_numbers_are_read_by_the_decimal_mark_of_the_file(text, decimal, value):
    assert number_of(text, decimal) == (value, "")


@pytest.mark.parametrize(
    ("text", "decimal"), [("1.234", None), ("1,5", "."), ("1,23,4", "."), ("1.2.3", ",")]
)
def test_a_mark_that_may_be_either_is_refused(text, decimal):
    with pytest.raises(ValueError, match="ambiguous_decimal"):
        number_of(text, decimal)


@pytest.mark.parametrize("text", ["l2", "1e2", "a", "1-2", "20 K"])
def test_what_is_no_number_is_refused(text):
    reading = read("climate", "Timestamp,Temp (°C)", f"2026-03-10 06:30,{text}")
    assert reasons(reading) == [(2, "unreadable_number")]


def test_the_decimal_mark_of_a_file_is_the_one_its_measured_cells_use():
    assert decimal_of(["20", "21,5"]) == ","
    assert decimal_of(["21.5", "20"]) == "."
    assert decimal_of(["21.5", "21,5"]) is None
    assert decimal_of(["20"]) is None


def test_thousands_of_plants_are_read_and_said():
    reading = read("plantings", "Unit,Crop,Planted on,Plants", 'Bay 1,pansy,2026-02-16,"1,200"')
    assert only(reading).plants == 1200
    assert [(a.what, a.value) for a in reading.assumed] == [("thousands_mark", ",")]


def test_a_decimal_comma_is_no_mark_of_thousands():
    lines = "Unit;Crop;Planted on;Plants;Share %", "Bay 1;pansy;2026-02-16;1,200;12,5"
    assert reasons(read("plantings", *lines)) == [(2, "not_whole")]


@pytest.mark.parametrize(
    ("text", "hours"),
    [("06:30", 6.5), ("6.30", 6.5), ("6h30", 6.5), ("6:30 PM", 18.5), ("6 pm", 18), ("24:00", 24)],
)
def test_times_of_day(text, hours):
    assert clock_of(text) == dt.timedelta(hours=hours)


@pytest.mark.parametrize("text", ["25:00", "24:01", "6:60", "13:00 PM", "0:30 am", "6", "noon"])
def test_what_is_no_time_of_day(text):
    assert clock_of(text) is None


@pytest.mark.parametrize(
    ("text", "hours"), [("Z", 0), ("UTC", 0), ("+01:00", 1), ("-0500", -5), ("UTC-5", -5)]
)
def test_offsets(text, hours):
    assert offset_of(text).utcoffset(None) == dt.timedelta(hours=hours)


def test_no_text_is_no_offset():
    assert (offset_of(""), offset_of("EST"), offset_of("+25:00")) == (None, None, None)


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("2026-03-10T06:30:00-04:00", ("2026-03-10", "06:30:00", "-04:00")),
        ("3/10/2026 6:30 PM", ("3/10/2026", "6:30 PM", None)),
        ("10.03.2026 06:30", ("10.03.2026", "06:30", None)),
        ("10 mar 2026, 06:30", ("10 mar 2026", "06:30", None)),
        ("2026-03-10", ("2026-03-10", None, None)),
    ],
)
def test_a_stamp_is_a_day_a_clock_and_an_offset(text, parts):
    assert parted(text) == parts
