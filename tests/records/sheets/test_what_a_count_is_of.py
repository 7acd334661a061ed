"""What a count was made on, and what the sheet never says of it; common practice, no source."""

import pytest

from tests.records.sheets.small_sheet import reading_of


def only(heading, *cells, headings="Date,Unit"):
    found = reading_of(",".join(["2024-05-06", "B1", *cells]), headings=f"{headings},{heading}")
    return found.records[0]


@pytest.mark.parametrize(
    ("heading", "item"),
    [
        ("Thrips", "plant"),
        ("Thrips per leaf", "leaf"),
        ("Thrips per flower", "flower"),
        ("Thrips YSC", "card"),
        ("Thrips/card/wk", "card"),
        ("Fungus gnat larvae potato disc", "disc"),
        ("Moths pheromone trap", "trap"),
        ("Thrips pheromone trap", "trap"),
    ],
)
def test_what_a_count_is_of_is_said_by_its_heading(heading, item):
    found = reading_of("2024-05-06,B1,3", headings=f"Date,Unit,{heading}")
    assert [c.sampling_unit for c in found.records] == [item]


def test_a_count_without_a_number_of_plants_lacks_it():
    assert only("Thrips", "3").lacks == ("plants_inspected",)


def test_a_count_on_so_many_plants_of_its_heading_lacks_nothing():
    assert only("Thrips (10 plants)", "3").lacks == ()


def test_a_count_on_so_many_leaves_lacks_nothing():
    count = only("Thrips", "30", "3", headings="Date,Unit,Leaves inspected")
    assert (count.sampling_unit, count.items, count.lacks) == ("leaf", 30, ())


def test_leaves_are_not_what_a_card_or_an_infested_plant_is_counted_on():
    found = reading_of(
        "2024-05-06,B1,30,4,3/10",
        headings="Date,Unit,Leaves inspected,Thrips YSC,Aphids",
    )
    assert [(c.sampling_unit, c.items) for c in found.records] == [("card", None), ("plant", None)]
