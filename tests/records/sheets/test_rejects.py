"""What was not taken, in a file that a spreadsheet opens beside the original."""

import csv

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchwalk.catalogue import say
from benchwalk.records.sheets.rejects import guarded, rejects_csv
from tests.in_turn import each_of
from tests.records.sheets.small_sheet import reading_of

OWN = ["row", "column", "written", "why it was not taken", "what to do"]
SHEET = ["Date", "Unit", "Plant", "Pest", "Stage", "Count", "Notes"]


def written(reading, tmp_path, locale="en"):
    path = tmp_path / "not there yet" / "rejects.csv"
    rejects_csv(reading, path, locale)
    assert path.read_bytes().startswith(b"\xef\xbb\xbf")
    with path.open(encoding="utf-8-sig", newline="") as handle:
        return list(csv.reader(handle))


def test_each_place_has_its_reason_what_to_do_and_its_row_as_it_stood(tmp_path):
    reading = reading_of("2024-05-07,Bay 1,1,thrips,adult, 2-3 ,seen early", "2024-05-07,Bay 1,2")
    assert written(reading, tmp_path)[:2] == [
        OWN + SHEET,
        [
            "2",
            "Count",
            " 2-3 ",
            "two numbers",
            "Write one number, or for example 50+.",
            "2024-05-07",
            "Bay 1",
            "1",
            "thrips",
            "adult",
            " 2-3 ",
            "seen early",
        ],
    ]


def test_rows_that_were_taken_are_not_in_it(tmp_path):
    reading = reading_of("2024-05-07,Bay 1,1,thrips,adult,2,", "2024-05-07,Bay 1,2,thrips,adult,,")
    assert written(reading, tmp_path) == [OWN + SHEET]


def test_it_speaks_spanish(tmp_path):
    reading = reading_of("2024-05-07,Bay 1,1,thrips,adult,-3,")
    heading, row = written(reading, tmp_path, "es")
    assert heading[:5] == ["fila", "columna", "escrito", "por qué no se anotó", "qué hacer"]
    assert heading[5:] == SHEET
    assert row[3:5] == ["menos que cero", "Escriba el conteo."]


@pytest.mark.parametrize(("locale", "row"), [("en", "row"), ("es", "fila")])
def test_counts_that_contradict_each_other_name_the_other_row(tmp_path, locale, row):
    one, other = (f"2024-05-07,Bay 1,1,thrips,adult,{n}," for n in (2, 3))
    _, first, second = written(reading_of(one, other), tmp_path, locale)
    why = say("sheet.reason.conflicting_duplicate", locale)
    assert first[3] == f"{why} ({row} 3)"
    assert second[3] == f"{why} ({row} 2)"


@pytest.mark.parametrize(
    ("locale", "expected"),
    [
        ("en", "Answer the question name:speckles in a file with --answers."),
        ("es", "Responda la pregunta name:speckles en un archivo con --answers."),
    ],
)
def test_a_place_that_waits_for_an_answer_names_the_question(tmp_path, locale, expected):
    reading = reading_of("2024-05-07,Bay 1,1,speckles,,2,")
    assert written(reading, tmp_path, locale)[1][4] == expected


def test_a_ragged_row_is_kept_whole_and_has_no_column(tmp_path):
    line = "2024-05-07,Bay 1,1,thrips,adult,2,note,more,=and"
    row = written(reading_of(line), tmp_path)[1]
    assert row[:4] == ["2", "", line, "more fields than headings"]
    assert row[5:] == [*line.split(",")[:-1], "'=and"]


def test_cells_that_a_spreadsheet_would_run_are_guarded_wherever_they_stand(tmp_path):
    headings = "Date,Unit,Plant,Pest,Stage,Count,=Notes"
    line = "2024-05-07,@Bay,1,thrips,adult,=2+3,-1"
    heading, row = written(reading_of(line, headings=headings), tmp_path)
    assert heading[-1] == "'=Notes"
    assert row[2] == row[-2] == "'=2+3"
    assert row[6] == "'@Bay"
    assert row[-1] == "'-1"


@each_of("start", ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"])
def test_every_sign_that_a_spreadsheet_runs_is_guarded_and_no_other(start):
    # OWASP ASVS 5.0, 1.2.10: = + - @ and the tab; the others from memory
    assert guarded(start + "1") == "'" + start + "1"
    assert guarded("1" + start) == "1" + start


def test_ordinary_and_empty_cells_stay_as_they_are():
    for cell in ("", " ", "12", "50+", "Bay 1", "'quoted'", "2024-05-07"):
        assert guarded(cell) == cell


@given(st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=10))
def test_no_guarded_cell_starts_with_a_sign_that_a_spreadsheet_runs(cell):
    assert not guarded(cell).strip().startswith(("=", "+", "-", "@", "＝", "＋", "－", "＠"))
    assert guarded(cell) in (cell, "'" + cell)


def test_a_row_copied_back_as_it_stands_is_refused_for_the_same_reasons(tmp_path):
    lines = [f"2024-05-07,Bay {n},1,thrips,adult,{c}," for n, c in enumerate(["=1+1", "-", "-3"])]
    reading = reading_of(*lines)
    again = reading_of(*(",".join(row[5:]) for row in written(reading, tmp_path)[1:]))
    assert [r.reason for r in again.rejects] == [r.reason for r in reading.rejects]
    assert len(again.rejects) == 3
