"""Blank cells below a day or place: filled where it is written once, asked where that is open.

What growers mean by them is common practice, no source.
"""

from tests.records.sheets.small_sheet import reading_of

WIDE = "Date,House,Bench,Thrips"


def days(*lines, answers=None, headings=WIDE):
    found = reading_of(*lines, answers=answers, headings=headings)
    return [(c.on.isoformat(), c.unit, c.value) for c in found.records], found


def test_a_day_and_a_house_written_once_hold_down_to_the_next():
    taken, found = days(
        "2024-05-06,A,1,3", ",,2,0", ",B,1,1", "2024-05-13,A,1,2", ",,2,4", ",B,1,5"
    )
    assert [day for day, _, _ in taken] == ["2024-05-06"] * 3 + ["2024-05-13"] * 3
    assert [unit for _, unit, _ in taken] == ["A / 1", "A / 2", "B / 1"] * 2
    assert "blank cells" in {a.what for a in found.assumed}


def test_a_house_does_not_hold_below_a_new_day():
    taken, found = days("2024-05-06,A,1,3", ",,2,0", "2024-05-13,,1,2", ",,2,4")
    assert [unit for _, unit, _ in taken] == ["A / 1", "A / 2"]
    assert {r.reason for r in found.rejects} == {"missing_unit"}


def test_a_day_does_not_hold_below_an_empty_row():
    taken, found = days("2024-05-06,A,1,3", ",,2,0", "", ",A,1,2", ",,2,4")
    assert len(taken) == 2
    assert {r.reason for r in found.rejects} == {"missing_date"}


def test_a_row_of_totals_holds_for_nothing():
    taken, _ = days("2024-05-06,A,1,3", ",,2,1", "Total,,,4", ",,1,2", "2024-05-13,A,1,7", ",,2,1")
    assert ("2024-05-06", "A / 1", 2) not in taken
    assert all(value != 4 for _, _, value in taken)


def test_who_writes_a_day_twice_running_forgot_it_where_it_is_blank():
    taken, found = days("2024-05-06,A,1,3", "2024-05-06,A,2,0", ",A,3,1", ",A,4,1", ",A,5,1")
    assert len(taken) == 2
    assert [r.reason for r in found.rejects] == ["missing_date"] * 3
    assert not found.asked


def test_an_empty_count_below_a_day_is_no_zero():
    _, found = days("2024-05-06,A,1,", ",,2,0", ",,3,2")
    assert [n.unit for n in found.not_looked] == ["A / 1"]
    assert [c.value for c in found.records] == [0, 2]
