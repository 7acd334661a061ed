"""The shipped tables, as a whole: keys resolve, blanks stay blank, nothing stands twice."""

import csv
import re
from importlib.resources import files
from typing import get_args

import pytest

from benchwalk.reference import ROW_TYPES, check_tables, rows, sources
from benchwalk.reference.reading import Cited, Status, columns

TABLES = files("benchwalk.reference") / "tables"


def cells(row_type):
    with (TABLES / f"{row_type.table}.csv").open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


LOOSE = {
    "compatibility": ["agent_key"],  # an active or a taxon, as agent_kind says: checked by itself
    "ventilation_rules": ["option_key"],  # numbers the options of one pack, and names nothing else
}

by_table = pytest.mark.parametrize("row_type", ROW_TYPES, ids=lambda row_type: row_type.table)


def test_the_shipped_tables_have_no_fault():
    assert check_tables() == []


def test_a_folder_holds_the_47_tables_and_nothing_else():
    names = {entry.name for entry in TABLES.iterdir()}
    assert names == {f"{row_type.table}.csv" for row_type in ROW_TYPES}
    assert len(names) == 47


@by_table
def test_every_column_that_names_a_key_says_which_table_it_stands_in(row_type):
    loose = [
        column.name
        for column in columns(row_type)
        if re.search(r"_keys?$", column.name)
        and column.to is None
        and column.name not in row_type.key[:1]
    ]
    assert loose == LOOSE.get(row_type.table, [])


@by_table
def test_a_blank_cell_is_read_as_not_known_and_never_as_zero(row_type):
    for written, row in zip(cells(row_type), rows(row_type), strict=True):
        for column in columns(row_type):
            value = getattr(row, column.name)
            if written[column.name] == "":
                assert value is None or value == (), (row_type.table, column.name, written)
            else:
                assert value is not None, (row_type.table, column.name, written)


@by_table
def test_a_number_is_read_as_it_is_written(row_type):
    for written, row in zip(cells(row_type), rows(row_type), strict=True):
        for column in columns(row_type):
            if column.kind in (float, int) and written[column.name]:
                assert getattr(row, column.name) == float(written[column.name])


@by_table
def test_a_status_is_one_of_the_closed_list(row_type):
    if issubclass(row_type, Cited):
        assert {row.status for row in rows(row_type)} <= set(get_args(Status))
    else:
        assert row_type.table == "sources"


def test_the_closed_list_of_statuses_is_the_documented_one():
    assert set(get_args(Status)) == {"seen", "memory", "computed", "weak", "own"}


@by_table
def test_keys_are_lower_case_words_and_source_keys_author_and_year(row_type):
    for column in columns(row_type):
        if not re.search(r"_keys?$", column.name):
            continue
        of_a_source = column.name.endswith("source_key") or column.name == "record_key"
        fits = re.compile(r"[A-Za-z][A-Za-z0-9_]*" if of_a_source else r"[a-z0-9][a-z0-9_]*")
        for row in rows(row_type):
            value = getattr(row, column.name)
            for key in value if isinstance(value, tuple) else (value,):
                assert key is None or fits.fullmatch(key), (row_type.table, column.name, key)


def test_one_set_of_keys_names_pests_everywhere():
    """Neither the older endings nor the second names of a stage or pest are left in any cell."""
    left = re.compile(r"_unresolved|sweetpotato_whitefly|adult_wing|parasitised_host")
    for row_type in ROW_TYPES:
        assert not left.search((TABLES / f"{row_type.table}.csv").read_text(encoding="utf-8"))


def test_producers_sheets_stay_without_names():
    [sheet] = [source for source in sources() if source.source_key == "trade_sheet"]
    assert sheet.authors == "producers and suppliers (names withheld)"
    assert sheet.doi is None
