"""What a program is told of a sheet: the keys that are always there, and those that may lack."""

import json

import pytest

from benchwalk.records.sheets.as_json import as_format_json, refusal_json
from benchwalk.records.sheets.found import SheetRefused
from benchwalk.records.sheets.table import table_of
from tests.records.sheets.small_sheet import read_lines, reading_of

LISTS = ["records", "nothing_seen", "not_looked", "reject", "duplicates", "treatments", "skip"]
ALWAYS = ["file", "opens", "counts", *LISTS, "notes", "renames", "asked"]
CARDS = "Date,Date out,Unit,Card,Squares counted,Squares on card,Pest,Stage,Count"
LOOK = "2024-05-07,Bay 1,1,thrips,adult,2,"


def only(items):
    (item,) = items
    return item


def test_a_reading_is_one_json_object_with_the_number_of_each_of_its_lists():
    sheet = read_lines(LOOK, "2024-05-07,Bay 1,2,thrips,adult,-3,", ",,,,,,")
    assert json.loads(json.dumps(sheet)) == sheet
    assert set(ALWAYS) <= set(sheet)
    assert sheet["opens"] is True
    assert sheet["counts"] == {name: len(sheet[name]) for name in LISTS}
    assert sheet["accounts"] == {"recorded": 1, "rejected": 1, "skipped": 1}
    assert sheet["read"] == 3
    assert sheet["skip"] == [{"at": {"row": 4}, "why": "blank"}]
    assert (sheet["file"], sheet["encoding"], sheet["delimiter"]) == ("sheet.csv", "utf-8, LF", ",")
    assert len(sheet["sha256"]) == 64
    assert sheet["mapping"]["Count"] == {"means": "count"}


def test_a_count_on_a_plant_has_these_keys_and_no_others():
    assert only(read_lines(LOOK)["records"]) == {
        "at": {"row": 2, "col": "Count"},
        "date": "2024-05-07",
        "unit": "Bay 1",
        "unit_raw": "Bay 1",
        "sampling_unit": "plant",
        "method": "plant_count",
        "pest": "thrips",
        "pest_raw": "thrips",
        "stage": "adult",
        "kind": "counted",
        "value": 2,
        "raw": "2",
        "plant": "1",
        "plants": 1,
    }


def test_a_count_on_a_card_has_its_days_and_squares():
    line = "2024-05-14,2024-05-07,Bay 1,K1,12,24,thrips,adult,0"
    found = only(read_lines(line, headings=CARDS)["records"])
    assert found["date"] == "2024-05-14"
    assert found["date_out"] == "2024-05-07"
    assert found["exposure_days"] == 7
    assert found["station"] == "K1"
    assert (found["squares_counted"], found["squares_printed"]) == (12, 24)
    assert (found["sampling_unit"], found["method"], found["value"]) == ("card", "yellow_card", 0)
    assert not {"plant", "plants", "of", "lacks", "resolved"} & set(found)


def test_plants_infested_have_the_number_they_are_of():
    found = only(read_lines("2024-05-07,Bay 1,,thrips,adult,4/25,")["records"])
    assert (found["kind"], found["value"], found["of"], found["plants"]) == ("infested", 4, 25, 25)
    assert found["method"] == "plant_infested"


def test_a_count_without_a_number_has_no_value_and_no_zero():
    found = only(read_lines("2024-05-07,Bay 1,1,thrips,,tntc,")["records"])
    assert (found["kind"], found["value"]) == ("present", None)
    assert found["lacks"] == ["stage"]


def test_a_look_that_found_nothing_has_its_day_and_place():
    sheet = read_lines("2024-05-07,Bay 1,1,none,,0,clean")
    assert only(sheet["nothing_seen"]) == {
        "at": {"row": 2, "col": "Count"},
        "date": "2024-05-07",
        "unit": "Bay 1",
        "method": "plant_count",
        "plant": "1",
        "plants": 1,
    }
    assert sheet["records"] == []


def test_crop_and_scout_are_told_where_the_sheet_has_them():
    headings = "Date,Unit,Plant,Crop,Scout,Pest,Stage,Count"
    lines = [
        "2024-05-07,Bay 1,1,tomatoes,IQ,thrips,adult,2",
        "2024-05-07,Bay 1,2,tomatoes,IQ,none,,0",
    ]
    sheet = read_lines(*lines, headings=headings)
    for found in (only(sheet["records"]), only(sheet["nothing_seen"])):
        assert (found["crop"], found["scout"]) == ("tomato", "IQ")


def test_a_count_that_was_not_made_has_all_its_keys_and_no_number():
    assert only(read_lines("2024-05-07,Bay 1,1,thrips,adult,n/a,")["not_looked"]) == {
        "at": {"row": 2, "col": "Count"},
        "raw": "n/a",
        "date": "2024-05-07",
        "unit": "Bay 1",
        "pest": "thrips",
        "stage": "adult",
    }


def test_a_reject_has_its_place_reason_and_text():
    assert only(read_lines("2024-05-07,Bay 1,1,thrips,adult,=2+3,")["reject"]) == {
        "at": {"row": 2, "col": "Count"},
        "reason": "formula_text",
        "raw": "=2+3",
    }


def test_a_reject_in_a_wide_sheet_names_the_cell_that_is_at_fault():
    wide = "Date,Unit,Plants,Thrips adults,Aphids"
    sheet = read_lines("2024-05-07,Bay 1,,2,3", headings=wide)
    assert [(r["at"], r["because"], r["reason"]) for r in sheet["reject"]] == [
        ({"row": 2, "col": c}, {"row": 2, "col": "Plants"}, "missing_effort")
        for c in ("Thrips adults", "Aphids")
    ]


def test_counts_that_contradict_each_other_are_told_by_row():
    sheet = read_lines(LOOK, LOOK.replace(",2,", ",3,"))
    assert [r["conflicts_with"] for r in sheet["reject"]] == [{"row": 3}, {"row": 2}]


def test_rows_that_stand_twice_are_told_by_row():
    sheet = read_lines(LOOK, LOOK)
    assert sheet["duplicates"] == [{"at": {"row": 3}, "of": {"row": 2}}]
    assert len(sheet["records"]) == 1


def test_a_note_says_whether_a_spreadsheet_would_run_it():
    sheet = read_lines(LOOK + "looked late", LOOK.replace("1,thrips", "2,thrips") + "=1+1")
    assert sheet["notes"] == [
        {"at": {"row": 2, "col": "Notes"}, "text": "looked late", "hostile": False},
        {"at": {"row": 3, "col": "Notes"}, "text": "=1+1", "hostile": True},
    ]


def test_a_treatment_has_its_day_place_and_material_as_far_as_written():
    sheet = read_lines(LOOK + '"sprayed 2024-05-06, soap"')
    found = only(sheet["treatments"])
    assert (found["date"], found["unit"], found["kind"]) == ("2024-05-06", "Bay 1", "spray")
    assert found["at"] == {"row": 2, "col": "Notes"}
    assert found["raw"] == "sprayed 2024-05-06, soap"
    assert {"what", "active"} <= set(found)
    assert not {"inferred", "lacks", "units"} & set(found)


def test_a_question_has_its_place_choices_and_proposal():
    found = only(read_lines("2024-05-07,Bay 1,1,thrips,adult,-,")["asked"])
    assert set(found) == {"id", "at", "reason", "question", "choices", "proposed"}
    assert (found["id"], found["reason"]) == ("dash", "dash_without_key")
    assert found["choices"] == ["none_found", "not_looked"]
    assert found["proposed"] is None


@pytest.mark.parametrize(
    ("answer", "end"), [("none_found", "recorded"), ("not_looked", "not_looked")]
)
def test_a_dash_is_what_the_answer_says_throughout(answer, end):
    lines = [f"2024-05-07,Bay 1,{n},thrips,adult,-," for n in (1, 2)]
    sheet = read_lines(*lines, answers={"dash": answer})
    assert sheet["accounts"] == {end: 2}
    assert [r["value"] for r in sheet["records"]] == [0, 0] * (end == "recorded")
    assert sheet["asked"] == []


def test_what_was_assumed_is_told_with_the_place_that_settled_it():
    headings = "Date,Unit,Card,Pest,Stage,Count"
    sheet = read_lines("2024-05-14,Bay 1,K1,thrips,adult,3", headings=headings)
    assert sheet["assumed"] == [
        {"what": "cards without a colour", "value": "yellow_card", "because": {"row": 2}}
    ]


def test_a_column_that_is_not_read_is_told_with_the_reason():
    sheet = read_lines(LOOK + ",12", headings="Date,Unit,Plant,Pest,Stage,Count,Notes,Watered")
    assert sheet["ignored_columns"] == [{"col": "Watered", "why": "no known heading"}]


def test_a_refused_file_has_the_same_lists_and_nothing_in_them():
    with pytest.raises(SheetRefused, match="is empty") as refused:
        table_of(b"", "sheet.csv")
    found = refusal_json(refused.value, "sheet.csv")
    assert (found["opens"], found["file_reject"]) == (False, "file_truncated")
    assert found["said"] == str(refused.value)
    assert set(ALWAYS) <= set(found)
    assert [found[name] for name in [*LISTS, "notes", "renames", "asked"]] == [[]] * 10
    assert found["counts"] == dict.fromkeys(LISTS, 0)
    assert set(as_format_json(reading_of(LOOK))["counts"]) == set(found["counts"])
