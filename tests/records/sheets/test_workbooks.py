"""Workbooks: what their cells say, what is refused, and the sheet with a truth beside it."""

import datetime as dt
import io
import json
import zipfile
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchwalk.records.sheets.as_json import as_format_json
from benchwalk.records.sheets.found import SheetRefused
from benchwalk.records.sheets.names import crop_of
from benchwalk.records.sheets.page import cell_name
from benchwalk.records.sheets.reading import read, read_rows
from benchwalk.records.sheets.table import table_of

EXAMPLES = Path(__file__).parent / "examples"
SAME = ("at", "date", "unit", "unit_raw", "plants", "sampling_unit", "method", "pest", "stage")
SAME += ("kind", "value", "of", "raw", "scout")
LONG = ["Date", "Unit", "Plant", "Pest", "Stage", "Count"]


def packed(book):
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def book_of(*sheets):
    """A workbook of (name, rows) written by the reference library."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets:
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    return book


def told(content, **said):
    return as_format_json(read_rows(table_of(content, "book.xlsx"), **said))


def one_count(cell, date=dt.date(2024, 5, 7)):
    rows = [LONG, [date, "Bay 1", 1, "thrips", "adult", cell]]
    return told(packed(book_of(("Counts", rows))))


def truth():
    return json.loads((EXAMPLES / "03_units_by_sheet.truth.json").read_text("utf-8"))


def mine():
    return as_format_json(read(EXAMPLES / "03_units_by_sheet.xlsx"))


def kept(record):
    out = {k: record[k] for k in SAME if k in record}
    return json.dumps(out | {"crop": crop_of(record["crop"])}, sort_keys=True)


def test_every_record_of_the_sheet_per_unit_is_as_its_truth_says():
    assert sorted(map(kept, mine()["records"])) == sorted(map(kept, truth()["records"]))


@pytest.mark.parametrize("outcome", ["not_looked", "reject"])
def test_what_was_not_looked_at_and_what_is_refused_is_as_the_truth_says(outcome):
    def bare(items):
        return sorted(
            json.dumps({k: v for k, v in i.items() if k != "note"}, sort_keys=True) for i in items
        )

    assert bare(mine()[outcome]) == bare(truth()[outcome])


def test_treatments_below_a_week_are_as_the_truth_says_and_one_without_a_day_has_none():
    keys = ("at", "date", "unit", "kind", "active", "week_of", "lacks", "raw")
    mine_, true = (
        [{k: t.get(k) for k in keys} for t in said["treatments"]] for said in (mine(), truth())
    )
    assert mine_ == true
    assert [t["date"] for t in mine_].count(None) == 1


def test_the_key_sheet_and_the_sheet_of_sums_are_passed_over_and_said():
    whole = {s["at"]["sheet"]: s["why"] for s in mine()["skip"] if list(s["at"]) == ["sheet"]}
    assert set(whole) == {"Key", "Season"}


def test_every_cell_of_the_sheet_per_unit_ends_in_one_outcome():
    reading = read(EXAMPLES / "03_units_by_sheet.xlsx")
    places = [at for at, _ in reading.ends]
    assert len(places) == len(set(places)) == reading.read == sum(reading.accounts().values())


def test_a_formula_counts_by_the_value_that_was_kept_and_is_shown_beside_it():
    (record,) = [r for r in mine()["records"] if r["at"] == {"sheet": "Cal A1", "cell": "C6"}]
    assert (record["value"], record["raw"]) == (7, "=3+4 [7]")


def test_a_formula_that_was_never_worked_out_is_refused_and_never_zero_or_empty():
    # the reference library writes formulas without a value
    found = one_count("=3+4")
    assert found["records"] == found["not_looked"] == []
    assert [(r["reason"], r["raw"]) for r in found["reject"]] == [("formula_without_value", "=3+4")]


def test_text_that_looks_like_a_formula_is_no_formula_and_refused_as_text():
    book = book_of(("Counts", [LONG, [dt.date(2024, 5, 7), "Bay 1", 1, "thrips", "adult", "x"]]))
    cell = book["Counts"]["F2"]
    cell.value, cell.data_type = "=2+3", "s"
    assert told(packed(book))["reject"][0]["reason"] == "formula_text"


@pytest.mark.parametrize(
    ("cell", "kind", "value"),
    [
        (5, "counted", 5),
        (5.0, "counted", 5),
        ("5", "counted", 5),
        ("50+", "at_least", 50),
        ("tntc", "present", None),
        ("nil", "counted", 0),
    ],
)
def test_a_cell_of_a_workbook_reads_as_the_same_cell_of_a_text_file(cell, kind, value):
    (record,) = one_count(cell)["records"]
    assert (record["kind"], record["value"]) == (kind, value)


@pytest.mark.parametrize(
    ("cell", "reason"),
    [
        (dt.date(2024, 4, 25), "date_in_count_cell"),
        (dt.datetime(2024, 4, 25, 10, 30), "date_in_count_cell"),
        ("#DIV/0!", "error_value"),
        ("#N/A", "error_value"),
        (2.5, "fractional_count"),
        (-3, "negative_count"),
        (True, "unreadable_text"),
    ],
)
def test_a_cell_that_is_no_count_is_refused_with_its_reason(cell, reason):
    found = one_count(cell)
    assert found["records"] == []
    assert [r["reason"] for r in found["reject"]] == [reason]


@pytest.mark.parametrize(
    "date",
    [
        dt.date(2024, 5, 7),
        dt.datetime(2024, 5, 7, 9, 30),
        "2024-05-07",
        "7 May 2024",
        45419,
        45419.4,
    ],
)
def test_a_day_is_the_same_day_as_a_date_cell_a_text_or_a_number_of_days(date):
    assert [r["date"] for r in one_count(3, date)["records"]] == ["2024-05-07"]


def test_days_counted_from_1904_are_the_days_that_were_meant():
    book = book_of(("Counts", [LONG]))
    book.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    for day in (dt.date(2024, 5, 7), 45419 - 1462):
        book["Counts"].append([day, "Bay 1", book["Counts"].max_row, "thrips", "adult", 2])
    assert [r["date"] for r in told(packed(book))["records"]] == ["2024-05-07"] * 2


def test_a_hidden_sheet_of_counts_is_asked_about_and_read_only_when_somebody_says_so():
    rows = [LONG, [dt.date(2024, 5, 7), "Bay 1", 1, "thrips", "adult", 3]]
    old = [LONG, [dt.date(2023, 5, 7), "Bay 1", 1, "thrips", "adult", 9]]
    book = book_of(("Counts", rows), ("Old", old))
    book["Old"].sheet_state = "hidden"
    found = told(packed(book))
    assert [r["value"] for r in found["records"]] == [3]
    assert [(q["id"], q["proposed"]) for q in found["asked"]] == [("sheet:Old", "leave_out")]
    both = told(packed(book), answers={"sheet:Old": "read"})
    assert [r["value"] for r in both["records"]] == [3, 9]


def test_headings_in_two_rows_with_merged_cells_are_put_together():
    rows = [
        ["Date", "Unit", "Plants", "Thrips", None, "Whitefly", None],
        [None, None, None, "larvae", "adults", "nymphs", "adults"],
        [dt.date(2024, 5, 7), "Bay 1", 10, 1, 2, 3, 4],
    ]
    book = book_of(("Counts", rows))
    for merged in ("D1:E1", "F1:G1", "A1:A2"):
        book["Counts"].merge_cells(merged)
    found = told(packed(book))
    assert [(r["pest"], r["stage"], r["value"]) for r in found["records"]] == [
        ("thrips", "larva", 1),
        ("thrips", "adult", 2),
        ("whitefly", "nymph", 3),
        ("whitefly", "adult", 4),
    ]


def test_a_merged_place_holds_for_every_row_it_spans_and_a_merged_count_for_none_but_its_own():
    rows = [
        LONG,
        [dt.date(2024, 5, 7), "Bay 1", 1, "thrips", "adult", 3],
        [None, None, 2, "thrips", "adult", None],
        [None, None, 3, "thrips", "adult", 1],
    ]
    book = book_of(("Counts", rows))
    for merged in ("A2:A4", "B2:B4", "F2:F3"):
        book["Counts"].merge_cells(merged)
    found = told(packed(book))
    assert [(r["plant"], r["value"]) for r in found["records"]] == [("1", 3), ("3", 1)]
    assert [n["at"]["cell"] for n in found["not_looked"]] == ["F3"]


def test_two_tables_side_by_side_and_one_below_are_all_read():
    day = dt.date(2024, 5, 7)
    rows = [
        ["Date", "Unit", "Plants", "Thrips adults", None, "Date", "Unit", "Plants", "Aphids"],
        [day, "Bay 1", 10, 1, None, day, "Bay 2", 10, 2],
        [],
        ["Cards"],
        ["Date", "Unit", "Card", "Date out", "Pest", "Stage", "Count"],
        [day, "Bay 1", "Y1", dt.date(2024, 4, 30), "whitefly", "adult", 7],
    ]
    found = told(packed(book_of(("Counts", rows))))
    said = {(r["unit"], r["pest"], r["method"], r["value"]) for r in found["records"]}
    assert said == {
        ("Bay 1", "thrips", "plant_count", 1),
        ("Bay 2", "aphid", "plant_count", 2),
        ("Bay 1", "whitefly", "yellow_card", 7),
    }
    assert found["reject"] == []


def test_weeks_across_with_a_unit_in_each_row_are_one_table_a_unit():
    rows = [
        ["Unit", "Pest", "Stage", dt.date(2024, 5, 6), dt.date(2024, 5, 13), "Total"],
        ["Bay 1", "Plants inspected", None, 10, 12, None],
        ["Bay 1", "Thrips", "larvae", 3, "nil", 3],
        [None, None, "adults", 1, None, 1],
        ["Bay 2", "Plants inspected", None, 8, 8, None],
        ["Bay 2", "Thrips", "larvae", 5, 6, 11],
    ]
    found = told(packed(book_of(("2024", rows))))
    said = [
        (r["unit"], r["date"], r["stage"], r["value"], r["plants"], r["at"]["cell"])
        for r in found["records"]
    ]
    assert sorted(said) == [
        ("Bay 1", "2024-05-06", "adult", 1, 10, "D4"),
        ("Bay 1", "2024-05-06", "larva", 3, 10, "D3"),
        ("Bay 1", "2024-05-13", "larva", 0, 12, "E3"),
        ("Bay 2", "2024-05-06", "larva", 5, 8, "D6"),
        ("Bay 2", "2024-05-13", "larva", 6, 8, "E6"),
    ]
    assert [s["at"]["cell"] for s in found["skip"] if s["why"] == "totals"] == ["F3", "F4", "F6"]


def test_a_lone_cell_far_from_the_table_is_kept_as_text_and_costs_no_memory():
    book = book_of(("Counts", [LONG, [dt.date(2024, 5, 7), "Bay 1", 1, "thrips", "adult", 3]]))
    book["Counts"]["XFD1048576"] = "stray"
    found = told(packed(book))
    assert [n["text"] for n in found["notes"]] == ["stray"]
    assert len(found["records"]) == 1
    assert found["read"] == 2


def damaged(part, change):
    """A workbook with one part changed."""
    whole = packed(book_of(("Counts", [LONG])))
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(whole)) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            body = old.read(name)
            if name == part:
                body = change(body)
            if body is not None:
                new.writestr(name, body)
    return out.getvalue()


SHEET = "xl/worksheets/sheet1.xml"
HARMFUL = {
    "cut in the middle": (lambda: packed(book_of(("Counts", [LONG])))[:1500], "file_truncated"),
    "first bytes alone": (lambda: b"PK\x03\x04\x14\x00\x06\x00", "file_truncated"),
    "xml cut": (lambda: damaged(SHEET, lambda b: b[: len(b) // 2]), "file_truncated"),
    "sheet missing": (lambda: damaged(SHEET, lambda b: None), "file_truncated"),
    "document type": (
        lambda: damaged(
            SHEET,
            lambda b: b.replace(b"<worksheet", b'<!DOCTYPE x [<!ENTITY a "aaaa">]><worksheet', 1),
        ),
        "file_is_not_a_table",
    ),
    "no workbook": (
        lambda: damaged("_rels/.rels", lambda b: b"<Relationships/>"),
        "file_is_not_a_table",
    ),
    "empty archive": (lambda: b"PK\x05\x06" + b"\0" * 18, "file_is_not_a_table"),
    "old kind": (lambda: b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "file_is_not_a_table"),
}


@pytest.mark.parametrize("name", HARMFUL)
def test_a_damaged_or_harmful_workbook_is_refused_with_one_reason(name):
    make, reason = HARMFUL[name]
    with pytest.raises(SheetRefused, match=r"book\.xlsx") as refused:
        table_of(make(), "book.xlsx")
    assert refused.value.reason == reason


WHOLE = packed(book_of(("Counts", [LONG, ["2024-05-07", "Bay 1", 1, "thrips", "adult", 3]])))
CHANGES = st.lists(st.tuples(st.integers(0, len(WHOLE) - 1), st.integers(0, 255)), max_size=4)


def pages_or_reason(content):
    try:
        return table_of(content, "book.xlsx").pages
    except SheetRefused as refused:
        return refused.reason


@given(CHANGES)
def test_any_changed_bytes_give_pages_or_one_refusal_and_raise_nothing_else(changes):
    content = bytearray(WHOLE)
    for place, byte in changes:
        content[place] = byte
    assert pages_or_reason(bytes(content))


CELLS = st.one_of(
    st.none(),
    st.integers(-(10**6), 10**6),
    st.floats(-1e6, 1e6).map(lambda x: round(x, 3)),
    st.dates(dt.date(1980, 1, 1), dt.date(2099, 12, 31)),
    st.datetimes(dt.datetime(1980, 1, 1), dt.datetime(2099, 12, 31)).map(
        lambda t: t.replace(microsecond=0)
    ),
    st.booleans(),
    st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=8).filter(
        lambda t: not t.startswith("=") and t not in openpyxl.cell.cell.ERROR_CODES
    ),
)


@given(st.lists(st.lists(CELLS, max_size=5), max_size=6))
def test_every_cell_that_the_reference_library_writes_is_read_as_it_reads_it(rows):
    content = packed(book_of(("Any", rows)))
    page = table_of(content, "book.xlsx").pages[0]
    theirs = openpyxl.load_workbook(io.BytesIO(content))["Any"]
    for row in theirs.iter_rows():
        for cell in row:
            number, index = cell.row, cell.column - 1
            mine_ = page.rows[number - 1] if number <= len(page.rows) else ()
            assert (mine_[index] if index < len(mine_) else "") == as_text(cell.value)


def as_text(value):
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, dt.datetime):
        whole = value.time() == dt.time()
        return value.date().isoformat() if whole else value.isoformat(" ")
    return f"{value:.15g}" if isinstance(value, int | float) else str(value)


def test_cells_are_named_as_spreadsheets_name_them():
    # ECMA-376 part 1, 18.18.62: columns A to XFD
    names = {0: "A1", 25: "Z1", 26: "AA1", 701: "ZZ1", 702: "AAA1", 16383: "XFD1"}
    assert {n: cell_name(1, n) for n in names} == names
    assert [openpyxl.utils.get_column_letter(n + 1) + "1" for n in names] == list(names.values())
