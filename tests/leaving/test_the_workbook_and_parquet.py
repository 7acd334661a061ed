"""The same counts in a workbook and in columns, each read by a library of somebody else."""

import datetime as dt
from collections import Counter

import openpyxl
import polars as pl
import pytest
from openpyxl.utils.escape import unescape

import benchwalk.records as r
from benchwalk.records.exports.columns import write_columns
from benchwalk.records.exports.counts import counts
from benchwalk.records.exports.moment import moment
from benchwalk.records.exports.workbook import write_workbook
from tests.leaving.eventful import WORDS


@pytest.fixture
def book(now, tmp_path):
    assert write_workbook(now, tmp_path / "a.xlsx") == []
    return openpyxl.load_workbook(tmp_path / "a.xlsx")


def rows(sheet):
    heading, *held = sheet.iter_rows(values_only=True)
    return [dict(zip(heading, row, strict=True)) for row in held]


def test_the_workbook_has_a_page_for_the_counts_and_one_for_each_table(book):
    records = {t.name for t in r.Base.metadata.sorted_tables if t.info.get("kind")}
    assert set(book.sheetnames) == records | {"counts", "person"}
    assert book.sheetnames[0] == "counts"


def test_figures_are_numbers_and_absences_words_that_no_sum_takes_for_zero(book):
    held = rows(book["counts"])
    numbers = [row["number"] for row in held if isinstance(row["number"], int | float)]
    assert sorted(numbers) == [0, 0, 0, 2, 3, 4, 8, 50]
    words = Counter(row["number"] for row in held if isinstance(row["number"], str))
    assert words == {
        "void": 2,
        "not looked": 3,
        "no word": 1,
        "not sent yet": 1,
        "mean only": 2,
        "present": 1,
    }
    assert {row["walk_on"] for row in held} == {
        dt.datetime(2026, 3, 10),
        dt.datetime(2026, 3, 11),
    }


def test_no_page_of_the_workbook_holds_a_formula(book):
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert "f" not in {cell.data_type for cell in cells}
    (words,) = [row["words"] for row in rows(book["sighting"])]
    assert unescape(words) == WORDS


@pytest.fixture
def columns(now, tmp_path):
    folder = tmp_path / "columns"
    write_columns(now, folder)
    return folder


def scanned(folder):
    return pl.scan_parquet(folder / "**" / "*.parquet", hive_partitioning=True).collect()


def test_polars_finds_unit_and_day_in_the_folders(columns):
    assert {p.name for p in columns.iterdir()} == {"unit=H %2F U1", "unit=H %2F U2"}
    frame = scanned(columns)
    assert set(frame["unit"].unique()) == {"H / U1", "H / U2"}
    assert frame["walk_on"].dtype == pl.Date
    one = pl.scan_parquet(columns / "**" / "*.parquet", hive_partitioning=True)
    day = one.filter(pl.col("walk_on") == dt.date(2026, 3, 11)).collect()
    assert day["looked"].to_list() == ["not looked"]


def test_a_number_nobody_said_is_null_in_columns_and_never_zero(columns):
    frame = scanned(columns)
    absent = frame.filter(~pl.col("looked").is_in(["found", "looked, none"]))
    assert absent["number"].null_count() == len(absent) == 7
    assert frame.filter(pl.col("number") == 0)["looked"].unique().to_list() == ["looked, none"]
    assert frame["number"].sum() == 2 + 3 + 4 + 8 + 50


def test_a_unit_of_any_name_stays_inside_the_folder(e, engine, tmp_path):
    for name in ("../../out", "a/b\\c:d", "..", "unit=x", "%2F", "é ☂\n"):
        walk, _ = e.walk(unit=e.new_unit(name))
        e.look(walk, unit=e.s.get(r.Unit, (e.n, walk.route[0].unit_id)))
    folder = tmp_path / "here" / "columns"
    with moment(engine, e.n) as s:
        write_columns(s, folder)
    assert [p.name for p in (tmp_path / "here").iterdir()] == ["columns"]
    assert {"H / ../../out", "H / ..", "H / é ☂\n", "H / %2F"} <= set(scanned(folder)["unit"])


def test_the_columns_of_the_demo_hold_every_count_once(nursery, tmp_path):
    with moment(*nursery) as s:
        held = Counter(count.looked for count in counts(s))
        files = write_columns(s, tmp_path / "columns")
    frame = scanned(tmp_path / "columns")
    assert Counter(frame["looked"].to_list()) == held
    assert frame.group_by("unit_id", "walk_on").len().height == files
