"""A count that stands twice is taken once; two that contradict each other are not taken."""

from hypothesis import given
from hypothesis import strategies as st

from tests.records.sheets.small_sheet import read_lines

WIDE = "Date,Unit,Plants,Thrips,WF adults,Scout,Notes"
CARDS = "Date out,Date in,Unit,Card,Colour,Pest,Stage,Count"


def places(items):
    return [(i["at"]["row"], i["of"]["row"]) for i in items]


def test_a_row_pasted_twice_is_taken_once_and_points_at_the_first():
    mine = read_lines(*["2025-05-05,Bay 1,1,thrips,adult,2,"] * 3)
    assert len(mine["records"]) == 1
    assert places(mine["duplicates"]) == [(3, 2), (4, 2)]


def test_a_repeat_is_seen_through_other_words_for_the_same_thing():
    mine = read_lines(
        "2025-05-05,Bay 1,1,white fly,ad,0,", "5 May 2025,BAY 1,1,whitefly,adults,nil,"
    )
    assert len(mine["records"]) == 1
    assert places(mine["duplicates"]) == [(3, 2)]


def test_two_numbers_for_one_count_are_both_refused_and_name_each_other():
    mine = read_lines("2025-05-05,Bay 1,1,thrips,adult,6,", "2025-05-05,Bay 1,1,thrips,adult,9,")
    assert mine["records"] == []
    told = [(r["reason"], r["at"]["row"], r["conflicts_with"]["row"]) for r in mine["reject"]]
    assert told == [("conflicting_duplicate", 2, 3), ("conflicting_duplicate", 3, 2)]


def test_a_count_and_a_bound_contradict_each_other():
    mine = read_lines("2025-05-05,Bay 1,1,thrips,adult,60,", "2025-05-05,Bay 1,1,thrips,adult,50+,")
    assert mine["records"] == []


def test_a_cell_not_looked_at_contradicts_nothing():
    mine = read_lines("2025-05-05,Bay 1,1,thrips,adult,6,", "2025-05-05,Bay 1,1,thrips,adult,,")
    assert [r["value"] for r in mine["records"]] == [6]
    assert len(mine["not_looked"]) == 1


def test_in_a_wide_sheet_the_cell_that_differs_is_refused_and_the_others_taken_once():
    mine = read_lines("2025-05-05,Bay 1,10,2,5,,", "2025-05-05,bay 1,10,2,8,,", headings=WIDE)
    assert [(r["pest"], r["value"]) for r in mine["records"]] == [("thrips", 2)]
    assert [r["raw"] for r in mine["reject"]] == ["5", "8"]
    assert places(mine["duplicates"]) == [(3, 2)]


def test_two_scouts_on_one_bay_are_two_looks():
    mine = read_lines("2025-05-05,Bay 1,10,2,5,AM,", "2025-05-05,Bay 1,10,4,5,RD,", headings=WIDE)
    assert len(mine["records"]) == 4
    assert mine["duplicates"] == []


def test_cards_at_two_stations_or_of_two_colours_are_two_readings():
    mine = read_lines(
        "2025-05-01,2025-05-08,Bay 1,1,yellow,thrips,adult,4",
        "2025-05-01,2025-05-08,Bay 1,2,yellow,thrips,adult,4",
        "2025-05-01,2025-05-08,Bay 1,1,blue,thrips,adult,4",
        headings=CARDS,
    )
    assert len(mine["records"]) == 3


def test_a_look_that_found_nothing_stands_once():
    mine = read_lines(*["2025-05-05,Bay 1,1,none,,0,"] * 2)
    assert len(mine["nothing_seen"]) == 1
    assert places(mine["duplicates"]) == [(3, 2)]


@given(st.lists(st.sampled_from([0, 1, 5]), min_size=1, max_size=6))
def test_whatever_is_repeated_nothing_is_counted_twice_or_lost(counts):
    mine = read_lines(*(f"2025-05-05,Bay 1,1,thrips,adult,{c}," for c in counts))
    agree = len(set(counts)) == 1
    assert len(mine["records"]) == (1 if agree else 0)
    assert len(mine["duplicates"]) == (len(counts) - 1 if agree else 0)
    assert len(mine["reject"]) == (0 if agree else len(counts))


def test_the_same_number_on_more_plants_is_another_count_and_contradicts():
    lines = ("2025-05-05,Bay 1,10,thrips,adult,3", "2025-05-05,Bay 1,20,thrips,adult,3")
    mine = read_lines(*lines, headings="Date,Unit,Plants inspected,Pest,Stage,Count")
    assert mine["records"] == []
    assert [r["reason"] for r in mine["reject"]] == ["conflicting_duplicate"] * 2


def test_none_on_a_plant_that_has_some_contradicts_and_neither_is_taken():
    mine = read_lines("2025-05-05,Bay 1,1,none,,0,", "2025-05-05,Bay 1,1,thrips,adult,3,")
    assert (mine["records"], mine["nothing_seen"]) == ([], [])
    told = [(r["at"]["row"], r["conflicts_with"]["row"]) for r in mine["reject"]]
    assert sorted(told) == [(2, 3), (3, 2)]


def test_none_on_a_plant_agrees_with_a_zero_and_with_another_plant():
    mine = read_lines(
        "2025-05-05,Bay 1,1,none,,0,",
        "2025-05-05,Bay 1,1,thrips,adult,0,",
        "2025-05-05,Bay 1,2,thrips,adult,3,",
    )
    assert (len(mine["records"]), len(mine["nothing_seen"]), mine["reject"]) == (2, 1, [])
