"""Which row holds the headings and what each column holds.

The headings are those that growers write; common practice, no source.
"""

import pytest

from benchwalk.records.sheets.found import SheetRefused
from benchwalk.records.sheets.layout import MappingError
from benchwalk.records.sheets.reading import read_rows
from benchwalk.records.sheets.table import table_of
from tests.in_turn import each_of
from tests.records.sheets.small_sheet import read_lines

WIDE = "Date,Unit,Plants,{},Notes"


def columns(*lines):
    table = table_of("\n".join([*lines, ""]).encode(), "sheet.csv")
    return {heading: said["means"] for heading, said in read_rows(table).mapping.items()}


def one_count(heading, cell="3"):
    """The one count of a wide sheet with a column of this heading."""
    (count,) = read_lines(f"2025-05-05,Bay 1,10,{cell},", headings=WIDE.format(heading))["records"]
    return count["pest"], count["stage"], count["method"]


@each_of(
    ("heading", "pest", "stage", "method"),
    [
        ("Thrips larvae", "thrips", "larva", "plant_count"),
        ("Larvae thrips", "thrips", "larva", "plant_count"),
        ("Thr L", "thrips", "larva", "plant_count"),
        ("WF nym.", "whitefly", "nymph", "plant_count"),
        ("TSSM_mot", "two_spotted_spider_mite", "motile", "plant_count"),
        ("Trips larvas", "thrips", "larva", "plant_count"),
        ("Mosca blanca ninfas", "whitefly", "nymph", "plant_count"),
        ("Weiße Fliege Adulte", "whitefly", "adult", "plant_count"),
        ("Aphids", "aphid", "any", "plant_count"),
        ("Aphids (pl. inf.)", "aphid", "any", "plant_infested"),
        ("Thrips yellow card", "thrips", "adult", "yellow_card"),
        ("Thrips BSC", "thrips", "adult", "blue_card"),
        ("Tarjeta azul trips", "thrips", "adult", "blue_card"),
        ("FG card", "fungus_gnat", "adult", "yellow_card"),
    ],
)
def test_a_heading_names_a_pest_a_stage_and_a_method(heading, pest, stage, method):
    assert one_count(heading) == (pest, stage, method)


def test_a_card_whose_colour_no_heading_says_is_taken_for_yellow_and_that_is_said():
    mine = read_lines("2025-05-05,Bay 1,10,3,", headings=WIDE.format("FG card"))
    assert [a["value"] for a in mine["assumed"]] == ["yellow_card"]


def test_a_heading_whose_pest_has_no_such_stage_is_refused_cell_by_cell():
    mine = read_lines("2025-05-05,Bay 1,10,3,", headings=WIDE.format("Aphid pupae"))
    assert [(r["reason"], r["raw"]) for r in mine["reject"]] == [("stage_not_possible", "3")]


@pytest.mark.parametrize("heading", ["Thrips/plant", "thrips per plant", "trips por planta"])
def test_a_mean_per_plant_is_a_density_and_no_count_even_where_it_is_whole(heading):
    mine = read_lines(
        "2025-05-05,Bay 1,10,3,", "2025-05-05,Bay 2,10,0.5,", headings=WIDE.format(heading)
    )
    assert [(r["kind"], r["value"], r["plants"], r["lacks"]) for r in mine["records"]] == [
        ("density", 3.0, 10, ["count"]),
        ("density", 0.5, 10, ["count"]),
    ]
    assert mine["asked"] == mine["reject"] == []


@each_of(
    ("heading", "item", "days"),
    [
        ("Thrips/card/wk", "card", 7),
        ("Thrips / card / week", "card", 7),
        ("Thrips (no./card)", "card", None),
        ("Thrips per card per week", "card", 7),
        ("WFT/YSC/week", "card", 7),
        ("Avg thrips per card", "card", None),
        ("Mean thrips/card/day", "card", 1),
        ("Trips/tarjeta/semana", "card", 7),
        ("Thripse je Tafel", "card", None),
        ("Thripse/Tafel/Woche", "card", 7),
        ("thrips per leaf", "leaf", None),
        ("Thrips/flower", "flower", None),
        ("Thripse pro Blatt", "leaf", None),
        ("avg thrips", "plant", None),
    ],
)
def test_a_heading_says_what_its_means_are_per_and_over_which_time(heading, item, days):
    headings = f"Date,Unit,{heading}"
    mine = read_lines("2025-05-05,Bay 1,3", "2025-05-05,Bay 2,2.5", headings=headings)
    assert [(r["kind"], r["value"]) for r in mine["records"]] == [("density", 3), ("density", 2.5)]
    assert {r["sampling_unit"] for r in mine["records"]} == {item}
    assert {r.get("exposure_days") for r in mine["records"]} == {days}
    assert [q["id"] for q in mine["asked"]] == []


def test_a_mean_over_cards_says_over_how_many_and_a_blank_number_of_cards_is_refused():
    mine = read_lines(
        "2025-05-05,Bay 1,4,2.5", "2025-05-05,Bay 2,,3", headings="Date,Unit,Cards,Thrips/card/wk"
    )
    assert [(r["value"], r["of"]) for r in mine["records"]] == [(2.5, 4)]
    assert [(r["reason"], r["because"]["col"]) for r in mine["reject"]] == [
        ("missing_effort", "Cards")
    ]


@pytest.mark.parametrize("cell", ["50+", "present", "2-3", "-1", "4/25"])
def test_what_is_no_number_is_no_mean(cell):
    mine = read_lines(f"2025-05-05,Bay 1,{cell}", headings="Date,Unit,Thrips/card/wk")
    assert mine["records"] == []
    assert len(mine["reject"]) == 1


def test_a_share_of_plants_is_neither_a_count_nor_a_mean_and_is_refused():
    mine = read_lines("2025-05-05,Bay 1,10,30", headings="Date,Unit,Plants,% plants with aphids")
    assert mine["records"] == mine["asked"] == []
    assert [r["reason"] for r in mine["reject"]] == ["unreadable_text"]


def test_where_each_row_is_one_plant_a_count_per_plant_is_a_count():
    mine = read_lines("2025-05-05,Bay 1,7,3", headings="Date,Unit,Plant,Thrips/plant")
    assert [(r["plant"], r["value"]) for r in mine["records"]] == [("7", 3)]


@pytest.mark.parametrize("several", ["1-5", "3, 4", "1 to 5", "2+3"])
def test_a_row_for_several_plants_is_not_taken_for_one(several):
    mine = read_lines(f'2025-05-05,Bay 1,"{several}",thrips,adult,6,')
    (count,) = mine["records"]
    assert "plants" not in count
    assert count["lacks"] == ["plants_inspected"]


def test_headings_below_titles_are_found_and_the_titles_skipped():
    lines = ["Walks in May,,", ",,", "Date,Unit,Thrips", "2025-05-05,Bay 1,2"]
    assert columns(*lines) == {"Date": "date", "Unit": "unit", "Thrips": "tally"}
    table = table_of("\n".join([*lines, ""]).encode(), "sheet.csv")
    assert [s.why for s in read_rows(table).skips] == ["title", "blank"]


def test_of_two_places_the_first_is_the_house():
    assert columns("Date,Range,Bay,Thrips", "2025-05-05,A,1,2")["Range"] == "house"
    assert columns("Date,Zone,Bench,Thrips", "2025-05-05,A,1,2")["Zone"] == "house"
    assert columns("Date,Greenhouse,Thrips", "2025-05-05,A,2")["Greenhouse"] == "unit"


def test_a_total_of_other_columns_of_the_same_pest_is_derived_and_a_lone_one_is_a_count():
    both = columns("Date,Unit,Thrips L,Thrips A,Thrips total", "2025-05-05,A,1,2,3")
    assert both["Thrips total"] == "total"
    alone = columns("Date,Unit,Thrips total", "2025-05-05,A,3")
    assert alone["Thrips total"] == "tally"


def test_an_unknown_heading_over_days_is_the_date_where_no_other_is():
    lines = ["Seen,Unit,Thrips", "2025-05-05,A,2", "2025-05-12,A,3"]
    assert columns(*lines)["Seen"] == "date"


def test_two_unknown_headings_over_days_are_not_chosen_between():
    with pytest.raises(SheetRefused, match="no row names a date and counts"):
        columns("Seen,Typed,Unit,Thrips", "2025-05-05,2025-05-06,A,2")


def test_an_unknown_heading_over_counts_is_the_count_of_a_long_sheet():
    lines = ["Date,Unit,Pest,Stage,Insects today", "2025-05-05,A,thrips,adult,2"]
    assert columns(*lines)["Insects today"] == "count"


def test_a_file_that_names_no_counts_is_refused_with_what_was_found():
    with pytest.raises(SheetRefused, match=r"found: Date, Invoice.*expected headings such as"):
        columns("Date,Invoice", "2025-05-05,300")


def test_a_mapping_with_a_meaning_that_there_is_not_is_refused_by_name():
    table = table_of(b"Date,Unit,Thrips\n2025-05-05,A,2\n", "sheet.csv")
    with pytest.raises(MappingError, match="mapping of 'Thrips'"):
        read_rows(table, mapping={"Thrips": {"means": "beetle"}})


def test_a_mapping_goes_before_what_a_heading_seems_to_say():
    table = table_of(b"Date,Unit,Thrips,Sum\n2025-05-05,A,2,9\n", "sheet.csv")
    mapping = {
        "Sum": {"means": "tally", "taxon": "aphid", "stage": "any", "method": "plant_count"},
        "Thrips": {"means": "ignored"},
    }
    (count,) = read_rows(table, mapping=mapping).records
    assert (count.taxon, count.value) == ("aphid", 9)


@pytest.mark.parametrize(
    "row",
    [
        "TOTAL,,,12,",
        "Totals:,,,12,",
        "Week total,,,12,",
        "Total week 19,,,12,",
        "2025-05-05,TOTAL,,12,",
        "Suma,,,12,",
        "Summe,,,12,",
        ",Average,,1.2,",
    ],
)
def test_a_row_that_adds_up_others_is_skipped(row):
    mine = read_lines("2025-05-05,Bay 1,10,12,", row, headings=WIDE.format("Thrips"))
    assert [(s["at"]["row"], s["why"]) for s in mine["skip"]] == [(3, "totals")]
    assert len(mine["records"]) == 1
    assert mine["reject"] == []


def test_a_bay_on_a_day_is_no_sum_though_its_remark_speaks_of_one():
    mine = read_lines(
        "2025-05-05,Bay 1,10,12,total mess here", ",,,,total mess", headings=WIDE.format("Thrips")
    )
    assert len(mine["records"]) == 1
    assert mine["skip"] == []
    assert [n["text"] for n in mine["notes"]] == ["total mess here", "total mess"]


def test_a_label_between_the_rows_is_kept_as_a_note():
    mine = read_lines("North end,,,,", "2025-05-05,Bay 1,10,12,", headings=WIDE.format("Thrips"))
    assert [n["text"] for n in mine["notes"]] == ["North end"]
    assert mine["reject"] == []


def test_a_blank_cell_in_a_row_without_a_day_is_nothing_and_its_counts_are_refused():
    mine = read_lines(",Bay 1,10,12,,", ",Bay 2,10,,,", headings=WIDE.format("Thrips,Aphids"))
    told = [(r["at"]["row"], r["at"]["col"], r["reason"]) for r in mine["reject"]]
    assert told == [(2, "Thrips", "missing_date"), (3, "Date", "missing_date")]
    assert mine["not_looked"] == []


def test_a_week_that_contradicts_its_date_is_refused_and_a_shifted_numbering_is_not():
    # ISO 8601: 5 May 2025 is in week 19, 12 May in week 20
    headings = "Week,Date,Unit,Plant,Pest,Stage,Count"
    rows = ["{},2025-05-05,A,1,thrips,adult,1", "{},2025-05-12,A,1,thrips,adult,1"]
    rows += ["{},2025-05-19,A,1,thrips,adult,1"]

    def reasons(*weeks):
        lines = [row.format(week) for row, week in zip(rows, weeks, strict=True)]
        return [r["reason"] for r in read_lines(*lines, headings=headings)["reject"]]

    assert reasons("19", "20", "21") == []
    assert reasons("wk 19", "KW 20", "21") == []
    assert reasons("1", "2", "3") == []
    assert reasons("19", "", "21") == []
    assert reasons("19", "22", "21") == ["date_contradicts_week"]
