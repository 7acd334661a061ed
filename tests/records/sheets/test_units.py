"""One unit under two names: told by the sheet, suspected, or two units after all.

What a scout means by these lines is common practice, no source.
"""

import pytest

from tests.records.sheets.small_sheet import read_lines

HOUSES = "Date,House,Bench,Crop,Plants,Thrips,Notes"
NO_HOUSE = "Date,Bench,Crop,Plants,Thrips,Notes"


def units(mine):
    return sorted({r["unit"] for r in mine["records"]})


def questions(mine):
    return [q["id"] for q in mine["asked"]]


def walked(*rows, headings=NO_HOUSE, **said):
    return read_lines(*rows, headings=headings, **said)


def test_case_and_doubled_spaces_are_no_other_unit_and_the_commonest_spelling_is_shown():
    mine = walked(
        "2025-05-05,Bench 1,basil,10,1,",
        "2025-05-12,BENCH  1,basil,10,2,",
        "2025-05-19,Bench 1 ,basil,10,3,",
    )
    assert units(mine) == ["Bench 1"]
    assert [r["unit_raw"] for r in mine["records"]] == ["Bench 1", "BENCH  1", "Bench 1 "]


def test_a_unit_stands_behind_its_house():
    mine = walked(
        "2025-05-05,East,Bench 1,basil,10,1,",
        "2025-05-05,West,Bench 1,basil,10,2,",
        headings=HOUSES,
    )
    assert units(mine) == ["East / Bench 1", "West / Bench 1"]


@pytest.mark.parametrize(
    ("old", "new"), [("North 3", "N3"), ("N3", "North 3"), ("Bench 12", "B-12"), ("Bay1", "Bay 1")]
)
def test_a_unit_that_stops_where_one_of_a_like_name_begins_is_asked_and_not_merged(old, new):
    rows = [f"2025-05-05,{old},basil,10,1,", f"2025-05-12,{new},basil,10,2,"]
    mine = walked(*rows)
    assert questions(mine) == [f"rename:{old}"]
    assert units(mine) == sorted([old, new])
    assert [(r["old"], r["new"], r["stated"]) for r in mine["renames"]] == [(old, new, False)]


def test_an_agreed_rename_is_one_unit_and_is_asked_no_more():
    rows = ["2025-05-05,North 3,basil,10,1,", "2025-05-12,N3,basil,10,2,"]
    mine = walked(*rows, answers={"rename:North 3": "N3"})
    assert (questions(mine), units(mine)) == ([], ["N3"])


def test_a_refused_rename_leaves_two_units_and_is_asked_no_more():
    rows = ["2025-05-05,North 3,basil,10,1,", "2025-05-12,N3,basil,10,2,"]
    mine = walked(*rows, answers={"rename:North 3": "no"})
    assert (questions(mine), units(mine), mine["renames"]) == ([], ["N3", "North 3"], [])


@pytest.mark.parametrize(
    "rows",
    [
        # both stand in one walk
        ["2025-05-05,North 3,basil,10,1,", "2025-05-05,N3,basil,10,2,"],
        # another number
        ["2025-05-05,North 3,basil,10,1,", "2025-05-12,N4,basil,10,2,"],
        # another crop
        ["2025-05-05,North 3,basil,10,1,", "2025-05-12,N3,mint,10,2,"],
        # another word
        ["2025-05-05,North 3,basil,10,1,", "2025-05-12,South 3,basil,10,2,"],
    ],
)
def test_units_that_only_look_somewhat_alike_are_two(rows):
    assert questions(walked(*rows)) == []


@pytest.mark.parametrize(
    "remark",
    ["formerly North 3", "this was North 3", "N3 is the old North 3", "North 3 is now N3"],
)
def test_a_rename_told_beside_the_counts_is_taken_and_the_remark_kept(remark):
    mine = walked("2025-05-05,North 3,basil,10,1,", f"2025-05-12,N3,basil,10,2,{remark}")
    assert units(mine) == ["N3"]
    assert [(r["old"], r["new"], r["stated"]) for r in mine["renames"]] == [("North 3", "N3", True)]
    assert [n["text"] for n in mine["notes"]] == [remark]


def test_a_name_of_a_unit_that_the_file_has_not_is_no_rename():
    mine = walked("2025-05-05,N3,basil,10,1,formerly North 3")
    assert mine["renames"] == []


def test_a_rename_in_one_house_leaves_the_same_name_in_another_house_alone():
    mine = walked(
        "2025-05-05,East,Bench 12,basil,10,1,",
        "2025-05-05,West,Bench 12,basil,10,2,",
        "2025-05-12,East,B12 (was Bench 12),basil,10,3,",
        "2025-05-12,West,Bench 12,basil,10,4,",
        headings=HOUSES,
    )
    assert units(mine) == ["East / B12", "West / Bench 12"]


def test_a_unit_that_goes_on_in_another_house_can_still_be_renamed_in_its_own():
    mine = walked(
        "2025-05-05,East,Bench 12,basil,10,1,",
        "2025-05-05,West,Bench 12,basil,10,2,",
        "2025-05-12,East,B12,basil,10,3,",
        "2025-05-12,West,Bench 12,basil,10,4,",
        headings=HOUSES,
    )
    assert questions(mine) == ["rename:Bench 12"]


def test_a_row_for_all_units_with_a_treatment_alone_is_no_unit():
    mine = walked(
        "2025-05-05,Bench 1,basil,10,1,",
        "2025-05-05,Bench 2,basil,10,1,",
        "2025-05-06,all,,,,sprayed soap",
    )
    (treatment,) = mine["treatments"]
    assert (treatment["date"], treatment["units"]) == ("2025-05-06", ["Bench 1", "Bench 2"])


def test_all_in_one_house_is_not_the_other_house():
    mine = walked(
        "2025-05-05,East,Bench 1,basil,10,1,",
        "2025-05-05,East,Bench 2,basil,10,1,",
        "2025-05-05,West,Bench 1,basil,10,1,",
        "2025-05-06,East,all,,,,sprayed soap",
        headings=HOUSES,
    )
    assert mine["treatments"][0]["units"] == ["East / Bench 1", "East / Bench 2"]


def test_a_treatment_of_all_units_names_each_unit_of_the_house_once():
    mine = walked(
        "2025-05-05,East,North 3,basil,10,1,",
        "2025-05-05,East,Bench 1,basil,10,1,",
        "2025-05-05,West,Bench 9,basil,10,1,",
        "2025-05-12,East,N3 (old North 3),basil,10,2,all units sprayed soap 5/13",
        headings=HOUSES,
    )
    (treatment,) = mine["treatments"]
    assert treatment["units"] == ["East / N3", "East / Bench 1"]


def slipped(name="Nroth 3", **said):
    days = ["05-05", "05-12", "05-19", "05-26"]
    rows = [f"2025-{d},North 3,basil,10,{n}," for n, d in enumerate(days, start=1)]
    return walked(*rows, f"2025-05-14,{name},basil,10,9,", **said)


def test_a_unit_with_a_slip_of_the_pen_is_proposed_and_its_counts_are_marked():
    mine = slipped()
    assert [(q["id"], q["proposed"]) for q in mine["asked"]] == [("unit:Nroth 3", "North 3")]
    assert [(r["unit"], r["unit_raw"], r.get("resolved")) for r in mine["records"]][-1] == (
        "North 3",
        "Nroth 3",
        "proposed",
    )


@pytest.mark.parametrize(
    ("answer", "unit"), [("North 3", "North 3"), ("yes", "North 3"), ("no", "Nroth 3")]
)
def test_an_answer_about_a_misspelt_unit_is_kept_to(answer, unit):
    mine = slipped(answers={"unit:Nroth 3": answer})
    assert questions(mine) == []
    assert mine["records"][-1]["unit"] == unit
    assert "resolved" not in mine["records"][-1]


@pytest.mark.parametrize("name", ["North 4", "North 33", "South 3", "N3"])
def test_another_number_or_another_word_is_another_unit(name):
    mine = slipped(name)
    assert units(mine) == sorted(["North 3", name])
    assert [q for q in questions(mine) if q.startswith("unit:")] == []


def test_a_name_that_is_near_two_units_is_left_as_it_is_written():
    rows = [f"2025-05-{d},Bay {b},basil,10,1," for d in ("05", "12", "19", "26") for b in "ae"]
    rows = [r.replace("Bay a", "Bay east").replace("Bay e,", "Bay eazt,") for r in rows]
    mine = walked(*rows, "2025-05-14,Bay eaxt,basil,10,9,")
    assert units(mine) == ["Bay east", "Bay eaxt", "Bay eazt"]


def a_walk_a_week(*units):
    """A sheet with a walk a week, each through one of these units."""
    weeks = enumerate(units)
    return read_lines(*(f"2024-05-{6 + 7 * n:02},{unit},1,thrips,adult,2," for n, unit in weeks))


@pytest.mark.parametrize("slip", ["Nroth 1", "Norht 1", "Noorth 1", "Narth 1", "nroth 1"])
def test_one_slip_in_a_long_word_is_asked_about_in_a_short_sheet_too(slip):
    held = a_walk_a_week("North 1", "North 1", slip)
    asked = [(q["id"], q["proposed"]) for q in held["asked"]]
    assert asked == [(f"unit:{slip}", "North 1")]
    assert [r["unit"] for r in held["records"]] == ["North 1"] * 3
    assert held["records"][2]["resolved"] == "proposed"


@pytest.mark.parametrize(
    ("usual", "other"),
    [
        ("North 1", "South 1"),
        ("North 1", "North 2"),
        ("North 1", "North 1A"),
        ("Bench A", "Bench B"),
        ("Bay 1", "Bey 1"),  # a short word can be another
        ("Row AB", "Row BA"),
        ("North 1", "North East 1"),
        ("North 1", "Nrht 1"),
    ],
)
def test_names_that_can_be_two_units_stay_two_units(usual, other):
    held = a_walk_a_week(usual, usual, other)
    assert [r["unit"] for r in held["records"]] == [usual, usual, other]
    assert not [q for q in held["asked"] if q["id"].startswith("unit:")]
