"""One cell that names several units; common practice, no source."""

import pytest

from benchwalk.records.sheets.lists.several import LONGEST_RANGE, RANGE, in_range, parts_of


@pytest.mark.parametrize(
    ("cell", "names"),
    [
        ("Bay 1, Bay 3", ["Bay 1", "Bay 3"]),
        ("Bench 2 and 5", ["Bench 2", "Bench 5"]),
        ("Mesa 1, 2 y 4", ["Mesa 1", "Mesa 2", "Mesa 4"]),
        ("Tisch A und B", ["Tisch A", "Tisch B"]),
        ("Bench 1-3, 7", ["Bench 1-3", "Bench 7"]),
        ("Bench 1, 3-5", ["Bench 1", "Bench 3-5"]),
        ("North", ["North"]),
        ("North; South 2", ["North", "South 2"]),
    ],
)
def test_a_number_or_letter_alone_goes_on_with_the_word_before_it(cell, names):
    assert parts_of(cell) == names


@pytest.mark.parametrize(
    ("cell", "names"),
    [
        ("Bench 1-3", ["Bench 1", "Bench 2", "Bench 3"]),
        ("B9 to 11", ["B9", "B10", "B11"]),
        ("Bench 3-1", []),
        ("Bench 2-2", []),
        (f"Bench 1-{LONGEST_RANGE + 2}", []),
    ],
)
def test_a_range_names_each_of_its_units_and_none_where_it_runs_backwards_or_too_far(cell, names):
    assert in_range(RANGE.fullmatch(cell)) == names


def test_the_longest_range_is_still_one():
    assert len(in_range(RANGE.fullmatch(f"Bench 1-{LONGEST_RANGE + 1}"))) == LONGEST_RANGE + 1
