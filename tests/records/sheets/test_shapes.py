"""Shapes of sheets: what stands where, and that nothing of them is lost without a word."""

import pytest

from benchwalk.records.sheets.reading import read_rows
from benchwalk.records.sheets.table import table_of


def read(*rows, file="sheet.csv", **said):
    return read_rows(table_of("\n".join((*rows, "")).encode(), file), **said)


def counts(reading):
    """Each count by what its heading was, its pest, method and number."""
    return [(c.at.col, c.taxon, c.method, c.value) for c in reading.records]


@pytest.mark.parametrize(
    ("heading", "taxon", "method"),
    [
        ("Leaf miner", "leafminer", "plant_count"),
        ("Western flower thrips", "western_flower_thrips", "plant_count"),
        ("Western flower thrips adults", "western_flower_thrips", "plant_count"),
        ("Western flower thrips yellow card", "western_flower_thrips", "yellow_card"),
        ("Thrips flowers", "thrips", "flower_count"),
        ("Leaf: thrips", "thrips", "leaf_count"),
    ],
)
def test_a_word_of_a_pests_name_is_no_method(heading, taxon, method):
    reading = read(f"Date,Bench,{heading}", "2024-05-13,B1,2")
    assert counts(reading) == [(heading, taxon, method, 2)]
    assert reading.ignored_columns == ()


@pytest.mark.parametrize("heading", ["TSSM /10 pl", "Thrips (10 plants)", "aphids (n=10 plants)"])
def test_a_number_of_plants_in_a_heading_is_that_of_each_of_its_counts(heading):
    assert [c.plants for c in read(f"Date,Bench,{heading}", "2024-05-13,B1,2").records] == [10]


@pytest.mark.parametrize("heading", ["Aphid hot spots", "Thrips threshold", "Leafminer mines"])
def test_numbers_under_a_pest_and_words_nobody_knows_are_asked_about_and_not_passed_over(heading):
    reading = read(f"Date,Bench,Whitefly,{heading}", "2024-05-13,B1,2,7")
    assert [c.value for c in reading.records] == [2]
    assert [(r.at.col, r.reason) for r in reading.rejects] == [(heading, "unknown_pest")]
    assert [q.id for q in reading.asked] == [f"name:{heading}"]


def test_an_answer_says_what_the_numbers_under_such_a_heading_count():
    rows = ("Date,Bench,Whitefly,Aphid hot spots", "2024-05-13,B1,2,7")
    reading = read(*rows, answers={"name:aphid hot spots": "aphid"})
    assert [(c.taxon, c.value) for c in reading.records] == [("whitefly", 2), ("aphid", 7)]
