"""A CSV table becomes frozen rows, by the types of the row's class."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchwalk.reference import NoSuchKey, TableError, one, rows, taxon
from benchwalk.reference.reading import Row, To, Within, columns, examine, read
from benchwalk.reference.rows.animals import Taxon


@dataclass(frozen=True, kw_only=True)
class Trap(Row):
    table = "traps"
    key = ("trap_key",)
    trap_key: str
    colour: Literal["yellow", "blue"] | None
    squares: int | None
    days: Annotated[float, Within(0, 28)] | None
    sticky: bool
    hung_on: date | None
    taxon_keys: tuple[Annotated[str, To("taxa")], ...]


HEADING = "trap_key,colour,squares,days,sticky,hung_on,taxon_keys"


def write(folder, *lines, heading=HEADING):
    text = "\n".join([heading, *lines, ""])
    (folder / "traps.csv").write_text(text, encoding="utf-8", newline="\n")
    return folder


def test_each_cell_gets_the_type_of_its_column(tmp_path):
    write(tmp_path, "k1,yellow,24,6.5,yes,2026-03-02,thrips;whitefly")
    assert read(Trap, tmp_path) == (
        Trap(
            trap_key="k1",
            colour="yellow",
            squares=24,
            days=6.5,
            sticky=True,
            hung_on=date(2026, 3, 2),
            taxon_keys=("thrips", "whitefly"),
        ),
    )


def test_a_blank_is_not_known_and_an_empty_list_is_empty(tmp_path):
    [trap] = read(Trap, write(tmp_path, "k1,,,,no,,"))
    assert (trap.colour, trap.squares, trap.days, trap.hung_on) == (None, None, None, None)
    assert trap.taxon_keys == ()
    assert trap.sticky is False


def test_zero_is_zero_and_not_blank(tmp_path):
    [trap] = read(Trap, write(tmp_path, "k1,,0,0,no,,"))
    assert (trap.squares, trap.days) == (0, 0.0)
    assert isinstance(trap.squares, int)
    assert isinstance(trap.days, float)


def test_the_order_of_the_columns_does_not_matter(tmp_path):
    turned = ",".join(reversed(HEADING.split(",")))
    write(tmp_path, "aphid,,no,7,,blue,k1", heading=turned)
    [trap] = read(Trap, tmp_path)
    assert (trap.trap_key, trap.colour, trap.days, trap.taxon_keys) == (
        "k1",
        "blue",
        7.0,
        ("aphid",),
    )


def test_a_cell_with_a_comma_is_quoted(tmp_path):
    [trap] = read(Trap, write(tmp_path, '"k1, door",,,,no,,'))
    assert trap.trap_key == "k1, door"


def test_the_ends_of_a_range_belong_to_it(tmp_path):
    traps = read(Trap, write(tmp_path, "k1,,,0,no,,", "k2,,,28,no,,"))
    assert [trap.days for trap in traps] == [0, 28]


def test_every_fault_of_a_table_is_told_at_once(tmp_path):
    write(tmp_path, "k1,green,x,29,perhaps,2 March,", "k2,,,,no,,", ",,,,no,,")
    with pytest.raises(TableError, match="line 2, column colour") as told:
        read(Trap, tmp_path)
    assert str(told.value).splitlines() == [
        "traps.csv, line 2, column colour: 'green' is not one of yellow, blue",
        "traps.csv, line 2, column squares: 'x' is not a number",
        "traps.csv, line 2, column days: 29 lies outside 0 to 28",
        "traps.csv, line 2, column sticky: 'perhaps' is neither yes nor no",
        "traps.csv, line 2, column hung_on: '2 March' is not a date like 2026-01-31",
        "traps.csv, line 4, column trap_key: blank, and this column may not be",
    ]


def test_the_sound_rows_of_a_faulty_table_are_still_there_by_line(tmp_path):
    found, faults = examine(Trap, write(tmp_path, "k1,green,,,no,,", "k2,,,,no,,"))
    assert [(line, trap.trap_key) for line, trap in found.items()] == [(3, "k2")]
    assert len(faults) == 1


def test_a_list_with_an_empty_part_is_refused(tmp_path):
    with pytest.raises(TableError, match=r"line 2, column taxon_keys: an empty part"):
        read(Trap, write(tmp_path, "k1,,,,no,,thrips;;aphid"))


def test_a_list_that_repeats_a_key_is_refused(tmp_path):
    with pytest.raises(TableError, match=r"line 2, column taxon_keys: 'thrips' stands twice"):
        read(Trap, write(tmp_path, "k1,,,,no,,thrips;aphid;thrips"))


def test_a_row_with_too_many_cells_is_refused(tmp_path):
    with pytest.raises(TableError, match=r"line 2, 8 cells, and the heading has 7"):
        read(Trap, write(tmp_path, "k1,,,,no,,,more"))


def test_a_heading_twice_is_refused(tmp_path):
    write(tmp_path, heading=HEADING + ",days")
    with pytest.raises(TableError, match=r"traps.csv: the heading does not fit .* stands twice"):
        read(Trap, tmp_path)


def test_a_row_cannot_be_changed(tmp_path):
    [trap] = read(Trap, write(tmp_path, "k1,,,,no,,"))
    with pytest.raises(dataclasses.FrozenInstanceError, match="days"):
        trap.days = 3.0


def test_a_column_knows_the_table_its_keys_stand_in():
    assert {column.name: column.to for column in columns(Trap) if column.to} == {
        "taxon_keys": "taxa"
    }


@given(st.floats(min_value=0, max_value=28))
def test_a_number_comes_back_as_it_was_written(number):
    [days] = [column for column in columns(Trap) if column.name == "days"]
    assert days.value(repr(number)) == number


@given(st.integers(min_value=-(10**9), max_value=10**9))
def test_a_whole_number_comes_back_however_it_is_written(number):
    [squares] = [column for column in columns(Trap) if column.name == "squares"]
    assert squares.value(str(number)) == squares.value(f"{number}.0") == number


@given(st.text(max_size=8))
def test_any_text_in_a_number_column_is_a_number_in_its_range_or_refused(text):
    [days] = [column for column in columns(Trap) if column.name == "days"]
    try:
        value = days.value(text)
    except ValueError:
        return
    assert value is None or (math.isfinite(value) and 0 <= value <= 28)


def test_a_shipped_table_is_read_once():
    assert rows(Taxon) is rows(Taxon)


def test_an_unknown_key_is_refused_with_the_nearest_ones():
    with pytest.raises(NoSuchKey, match=r"taxa.csv has no taxon_key 'whitefli'; near it: whitefly"):
        taxon("whitefli")


def test_a_key_like_nothing_is_refused_too():
    with pytest.raises(NoSuchKey, match=r"taxa.csv has no taxon_key 'qqq'; near it: nothing"):
        one(Taxon, "qqq")
