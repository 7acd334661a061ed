"""Shapes of sheets: what stands where, and that nothing of them is lost without a word."""

import datetime as dt

import pytest

from benchwalk.records.sheets.found import SheetRefused
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


def placed(reading):
    """Each count by its row and heading, its place, and its number."""
    return [(c.at.row, c.at.col, c.unit, c.plant or c.station, c.value) for c in reading.records]


def test_plants_in_columns_are_a_count_for_each_plant_and_the_total_is_passed_over():
    reading = read(
        "Date,Bench,Pest,Stage,Plant 1,Plant 2,Plant 3,Total,Remarks",
        "2024-05-13,B1,thrips,larvae,3,0,2,5,hot",
        "2024-05-13,B1,aphids,,0,,1,1,",
        "Total,,,,3,0,3,6,",
    )
    assert sorted(placed(reading)) == [
        (2, "Plant 1", "B1", "1", 3),
        (2, "Plant 2", "B1", "2", 0),
        (2, "Plant 3", "B1", "3", 2),
        (3, "Plant 1", "B1", "1", 0),
        (3, "Plant 3", "B1", "3", 1),
    ]
    assert [(n.at.row, n.at.col) for n in reading.not_looked] == [(3, "Plant 2")]
    assert [n.text for n in reading.notes] == ["hot"]
    assert [(s.at.row, s.why) for s in reading.skips] == [(4, "totals")]
    assert {c.plants for c in reading.records} == {1}


def test_what_is_wrong_with_a_row_is_said_of_each_of_its_counts_once():
    reading = read(
        "Date,Bench,Pest,P1,P2",
        "someday,B1,thrips,3,1",
        "2024-05-13,B1,xyzzy,3,1",
        "2024-05-13,B1,none,4,",
    )
    said = [(r.at.row, r.at.col, r.reason, r.because and r.because.col) for r in reading.rejects]
    assert sorted(said) == [
        (2, "P1", "impossible_date", "Date"),
        (2, "P2", "impossible_date", "Date"),
        (3, "P1", "unknown_pest", "Pest"),
        (3, "P2", "unknown_pest", "Pest"),
        (4, "P1", "unknown_pest", "Pest"),
    ]
    places = [at for at, _ in reading.ends]
    assert len(places) == len(set(places))


def test_cards_in_columns_are_a_count_for_each_card():
    rows = ("Date,House,Pest,Card 1,Card 2,Avg", "2024-05-13,H1,thrips,12,4,8")
    reading = read(*rows)
    assert placed(reading) == [(2, "Card 1", "H1", "1", 12), (2, "Card 2", "H1", "2", 4)]
    assert {(c.method, c.stage) for c in reading.records} == {("yellow_card", "adult")}


def test_houses_in_columns_below_a_title_that_names_the_pest_and_the_card():
    rows = ("Thrips on blue cards,,,", "Date,GH1,GH2,GH3", "2024-05-13,12,4,7", "2024-05-20,1,,0")
    reading = read(*rows)
    assert sorted(placed(reading)) == [
        (3, "GH1", "GH1", None, 12),
        (3, "GH2", "GH2", None, 4),
        (3, "GH3", "GH3", None, 7),
        (4, "GH1", "GH1", None, 1),
        (4, "GH3", "GH3", None, 0),
    ]
    assert {(c.taxon, c.method, c.stage) for c in reading.records} == {
        ("thrips", "blue_card", "adult")
    }


def test_a_title_that_names_two_pests_names_none():
    with pytest.raises(SheetRefused, match="no row names a date and counts"):
        read("Thrips and aphids,,", "Thrips,Aphids,", "Date,GH1,GH2", "2024-05-13,12,4")


def test_columns_spread_over_two_things_are_not_taken_for_one():
    with pytest.raises(SheetRefused, match="no row names a date and counts"):
        read("Date,Pest,Card 1,Card 2,Plant 1,Plant 2", "2024-05-13,thrips,1,2,3,4")


WEEKS = ("Bay 3,,,", "Pest,5/13/24,5/20/24,5/27/24", "Plants inspected,10,10,10")


def test_plants_infested_under_weeks_are_no_new_row_of_days():
    reading = read(*WEEKS, "Thrips,1,2,3", "Mystery bugs,1/10,2/10,3/10", "Aphids,4,5,6")
    assert [(c.taxon, c.value) for c in reading.records if c.on == dt.date(2024, 5, 20)] == [
        ("thrips", 2),
        ("aphid", 5),
    ]
    assert {(r.at.row, r.reason, r.question) for r in reading.rejects} == {
        (5, "unknown_pest", "name:Mystery bugs")
    }
    assert len(reading.rejects) == 3


CARDS = ("Date,House,Cards,Thrips", "2024-05-13,H1,4,23", "2024-05-20,H1,1,3", "2024-05-27,H1,4,0")


def test_a_number_of_several_cards_is_never_taken_for_that_of_one():
    reading = read(*CARDS)
    assert [(c.at.row, c.how, c.value, c.of) for c in reading.records] == [
        (3, "counted", 3, None),
        (4, "density", 0.0, 4),
    ]
    assert [(r.at.row, r.reason, r.question) for r in reading.rejects] == [
        (2, "several_cards", "cards")
    ]
    assert [(q.id, q.choices, q.proposed) for q in reading.asked] == [
        ("cards", ("sum", "mean"), None)
    ]


@pytest.mark.parametrize(("answer", "value"), [("sum", 5.75), ("mean", 23.0)])
def test_an_answer_says_whether_it_is_their_sum_or_their_mean(answer, value):
    """By hand: 23 / 4 = 5.75 thrips per card."""
    first = read(*CARDS, answers={"cards": answer}).records[0]
    assert (first.how, first.value, first.of, first.method) == ("density", value, 4, "yellow_card")


@pytest.mark.parametrize("cell", ["50+", ">20"])
def test_what_is_no_number_of_several_cards_is_refused_whatever_is_answered(cell):
    reading = read(CARDS[0], f"2024-05-13,H1,4,{cell}", answers={"cards": "sum"})
    assert [(r.raw, r.reason) for r in reading.rejects] == [(cell, "several_cards")]
    assert reading.asked == ()


def test_a_number_of_several_cards_in_a_long_sheet_is_asked_about_too():
    rows = ("Date,House,No. of cards,Method,Pest,Count", "2024-05-13,H1,4,blue card,thrips,23")
    assert [r.reason for r in read(*rows).rejects] == ["several_cards"]
    mean = read(*rows, answers={"cards": "mean"}).records[0]
    assert (mean.method, mean.how, mean.value, mean.of) == ("blue_card", "density", 23.0, 4)


@pytest.mark.parametrize(
    ("yes", "no"), [("yes", "no"), ("Y", "N"), ("sí", "no"), ("ja", "nein"), ("present", "absent")]
)
def test_in_a_column_of_yes_and_no_they_are_present_and_none(yes, no):
    rows = ("Date,Bench,Thrips?,Aphids", f"2024-05-13,B1,{yes},3", f"2024-05-20,B1,{no},4")
    reading = read(*rows, "2024-05-27,B1,,5")
    said = [(c.at.row, c.how, c.value) for c in reading.records if c.taxon == "thrips"]
    assert said == [(2, "present", None), (3, "counted", 0)]
    assert [(n.at.row, n.at.col) for n in reading.not_looked] == [(4, "Thrips?")]
    assert [a.value for a in reading.assumed if a.what == "yes and no"] == ["present, none"]


def test_no_among_counts_is_refused():
    reading = read("Date,Bench,Thrips", "2024-05-13,B1,no", "2024-05-20,B1,4")
    assert [(r.at.row, r.reason) for r in reading.rejects] == [(2, "unreadable_text")]


def test_yes_and_no_as_the_counts_of_a_long_sheet():
    rows = ("Date,Bench,Pest,Found", "2024-05-13,B1,thrips,yes", "2024-05-13,B1,aphids,no")
    assert [(c.how, c.value) for c in read(*rows).records] == [("present", None), ("counted", 0)]


def days(reading):
    return [(c.at.row, c.on.isoformat()) for c in reading.records]


@pytest.mark.parametrize(
    ("headings", "row"),
    [
        ("Year,Month,Day", "2024,5,13"),
        ("Year,Month,Day", "2024,05,13"),
        ("Day,Month,Year", "13,May,2024"),
        ("Año,Mes,Día", "2024,mayo,13"),
        ("Jahr,Monat,Tag", "2024,Mai,13"),
        ("Year,Week,Bed", "2024,20,1"),
        ("Jahr,KW,Beet", "2024,KW 20,1"),
        ("Año,Semana,Cama", "2024,sem. 20,1"),
    ],
)
def test_a_date_in_several_columns_is_one_date(headings, row):
    """Published: ISO 8601: the Monday of week 20 of 2024 is 13 May."""
    reading = read(f"{headings},Bench,Thrips", f"{row},B1,2", f"{row},B2,0")
    assert days(reading) == [(2, "2024-05-13"), (3, "2024-05-13")]


@pytest.mark.parametrize("title", ["May 2024", "mayo de 2024", "Mai 2024", "MAY, 2024"])
def test_a_day_below_a_title_of_a_month_is_a_day_of_that_month(title):
    reading = read(f'"{title}",,', "Day,Bench,Thrips", "13,B1,2", "7,B1,0")
    assert days(reading) == [(3, "2024-05-13"), (4, "2024-05-07")]


@pytest.mark.parametrize(
    "rows",
    [
        ("Year,Month,Day,Bench,Thrips", "2024,2,30,B1,2"),
        ("Year,Month,Day,Bench,Thrips", ",2,3,B1,2"),
        ("Year,Month,Day,Bench,Thrips", "2024,,3,B1,2"),
        ("Year,Month,Day,Bench,Thrips", "2024,13,3,B1,2"),
        ("Year,Week,Bench,Thrips", ",20,B1,2"),
        ("Year,Week,Bench,Thrips", "2024,54,B1,2"),
        ("Day,Bench,Thrips", "13,B1,2"),
    ],
)
def test_a_date_of_which_a_part_is_missing_or_impossible_is_no_date(rows):
    reading = read(*rows)
    assert reading.records == ()
    assert [r.reason for r in reading.rejects] == ["impossible_date"]


DITTO = "Date,Bench,Pest,Stage,Count"


@pytest.mark.parametrize("mark", ['"', '""""', "ditto", "do.", "〃", "idem", "''", "″"])
def test_a_mark_for_the_same_stands_for_what_is_above_it_but_never_for_a_count(mark):
    rows = ("2024-05-13,B1,thrips,adult,2", f"{mark},B2,{mark},{mark},3", f"{mark},B3,aphid,any,0")
    reading = read(DITTO, *rows)
    said = [(c.at.row, c.on.isoformat(), c.taxon, c.stage, c.value) for c in reading.records]
    assert said == [
        (2, "2024-05-13", "thrips", "adult", 2),
        (3, "2024-05-13", "thrips", "adult", 3),
        (4, "2024-05-13", "aphid", "any", 0),
    ]
    told = [(a.what, a.because.row) for a in reading.assumed]
    assert told == [("ditto marks", 3)]
    count = read(DITTO, rows[0], f"2024-05-13,B2,thrips,adult,{mark}")
    assert [(r.at.row, r.at.col, r.reason) for r in count.rejects] == [
        (3, "Count", "unreadable_text")
    ]


def test_a_mark_with_nothing_above_it_is_no_date():
    assert [r.reason for r in read(DITTO, "〃,B1,thrips,adult,2").rejects] == ["impossible_date"]


def test_a_quoted_cell_that_begins_with_the_delimiter_is_no_mark():
    reading = read(
        f"{DITTO},Notes", '2024-05-13,B1,thrips,adult,2,","', '2024-05-13,B2,thrips,adult,3,",a"'
    )
    assert [c.value for c in reading.records] == [2, 3]
    assert [n.text for n in reading.notes] == [",", ",a"]


def test_shares_and_means_in_the_rows_of_plants_are_no_plants():
    names = ("1", "2", "Avg", "% infested", "Total", "Percent", "std dev", "Mean per plant")
    rows = [f"2024-05-13,B1,{name},{n}" for n, name in enumerate(names)]
    reading = read("Date,Bench,Plant,Thrips", *rows)
    assert [(c.plant, c.value) for c in reading.records] == [("1", 0), ("2", 1)]
    assert {s.why for s in reading.skips} == {"totals"}
    assert len(reading.skips) == 6


def test_a_place_and_its_count_alone_in_a_row_are_no_key_of_signs():
    reading = read("Date,Bench,Thrips,Aphids", "2024-05-13,A,3,0", ",B,,4", "2024-05-20,B,B,1")
    assert [(r.at.row, r.at.col, r.reason) for r in reading.rejects] == [
        (3, "Aphids", "missing_date"),
        (4, "Thrips", "unreadable_text"),
    ]


@pytest.mark.parametrize(
    ("written", "taxon", "stage"),
    [
        ("thrips (larvae)", "thrips", "larva"),
        ("WFT adults", "western_flower_thrips", "adult"),
        ("whitefly nymphs", "whitefly", "nymph"),
        ("Thripse Larven", "thrips", "larva"),
        ("trips larvas", "thrips", "larva"),
    ],
)
def test_a_pest_and_its_stage_in_one_cell_are_both_taken(written, taxon, stage):
    first, second = "2024-05-13,B1", "2024-05-13,B2"
    for headings, end in (("Date,Bench,Pest,Count", "2"), ("Date,Bench,Pest,Stage,Count", ",2")):
        reading = read(headings, f"{first},{written},{end}", f"{second},{written},{end}")
        assert {(c.taxon, c.stage, c.value) for c in reading.records} == {(taxon, stage, 2)}


def test_a_stage_that_an_animal_does_not_have_is_refused_in_the_cell_of_its_name():
    rows = ("Date,Bench,Pest,Count", "2024-05-13,B1,spider mite pupae,2")
    assert [(r.at.col, r.reason) for r in read(*rows).rejects] == [("Pest", "stage_not_possible")]


def test_walks_below_each_other_with_units_across_have_each_their_own_day():
    walk = ("Pest,Bench 1,Bench 2", "Thrips larvae,3,0", "Aphids,,2")
    reading = read("Date:,5/13/2024,", *walk, ",,", "Date:,5/20/2024,", *walk)
    assert sorted((c.on.day, c.unit, c.taxon, c.value) for c in reading.records) == [
        (13, "Bench 1", "thrips", 3),
        (13, "Bench 2", "aphid", 2),
        (13, "Bench 2", "thrips", 0),
        (20, "Bench 1", "thrips", 3),
        (20, "Bench 2", "aphid", 2),
        (20, "Bench 2", "thrips", 0),
    ]


def test_a_row_that_adds_up_weeks_across_is_passed_over_and_said():
    reading = read("Bench,Pest,5/13/24,5/20/24", "B1,Thrips,3,0", "Total,,3,0")
    assert [(s.at.row, s.why) for s in reading.skips] == [(3, "totals")]
    assert len(reading.records) == 2


@pytest.mark.parametrize("row", ["Thrips larvae,3,0,1", "Aphids,0,,2"])
def test_a_row_of_counts_is_never_a_row_of_headings(row):
    with pytest.raises(SheetRefused, match="no row names a date and counts"):
        read("Walk of,2024-05-13,,", row, row.replace("3", "4"))


def test_a_bench_without_its_house_is_no_bench_outside_of_houses():
    rows = ("2024-05-13,House 1,A,3", "2024-05-13,,B,2", "2024-05-13,House 2,B,1")
    reading = read("Date,House,Bench,Thrips", *rows)
    assert [(c.at.row, c.unit) for c in reading.records] == [(2, "House 1 / A"), (4, "House 2 / B")]
    assert [(r.at.row, r.reason, r.because.col) for r in reading.rejects] == [
        (3, "missing_unit", "House")
    ]
