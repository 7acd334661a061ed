"""What a remark tells of treatments, renamed units and signs; expected values read by hand.

The walk is on Monday 5 May 2025, in a file that writes months first. How people word a remark is
common practice, no source.
"""

import datetime as dt

import pytest

from benchwalk.records.sheets.remarks import keys_in, order_in, rename_in, treatments
from tests.in_turn import each_of
from tests.records.sheets.small_sheet import read_lines

WALK = dt.date(2025, 5, 5)
SOAP = "potassium salts of fatty acids"


def told(text, order="month first", walk=WALK):
    return {
        (d.kind, d.on and d.on.isoformat(), d.active) for d in treatments(text, walk, order) or ()
    }


@each_of(
    ("text", "treatment"),
    [
        ("sprayed 5/6, soap", ("spray", "2025-05-06", SOAP)),
        ("Soap spray 5/6.", ("spray", "2025-05-06", SOAP)),
        ("soap 5/6", ("spray", "2025-05-06", SOAP)),
        ("sprayed May 6 w/ soap", ("spray", "2025-05-06", SOAP)),
        ("sprayed 6th May, soap", ("spray", "2025-05-06", SOAP)),
        ("sprayed soap 6-May", ("spray", "2025-05-06", SOAP)),
        ("sprayed soap 05/06/2025", ("spray", "2025-05-06", SOAP)),
        ("sprayed soap 2025-05-06", ("spray", "2025-05-06", SOAP)),
        ("drenched azadirachtin 5/8", ("drench", "2025-05-08", "azadirachtin")),
        ("applied Bti drench 5/8", ("drench", "2025-05-08", "Bacillus thuringiensis israelensis")),
        ("drench 5/8 nematodes", ("release", "2025-05-08", None)),
        ("released cucumeris 5/8, 50/m2", ("release", "2025-05-08", "Neoseiulus cucumeris")),
        ("se aplicó jabón potásico el 8 de mayo", ("spray", "2025-05-08", SOAP)),
        ("suelta de cucumeris 8 mayo 2025", ("release", "2025-05-08", "Neoseiulus cucumeris")),
        ("gespritzt 8.5. mit Kaliseife", ("spray", "2025-05-08", SOAP)),
        ("am 8. Mai Kaliseife gespritzt", ("spray", "2025-05-08", SOAP)),
        ("pulled weeds 5/8", ("cultural", "2025-05-08", None)),
        ("gespritzt Kaliseife 8.5. / sprayed soap 5/8", ("spray", "2025-05-08", SOAP)),
    ],
)
def test_a_treatment_is_read_from_words_and_a_day(text, treatment):
    assert told(text) == {treatment}


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("sprayed soap today", "2025-05-05"),
        ("sprayed soap yesterday", "2025-05-04"),
        ("sprayed soap Tues", "2025-05-06"),
        ("sprayed soap last Tues", "2025-04-29"),
        ("sprayed soap last Monday", "2025-04-28"),
        ("rociado jabón el viernes pasado", "2025-05-02"),
        ("sprayed soap", "2025-05-05"),
    ],
)
def test_a_day_that_is_counted_from_the_walk_says_that_it_was_inferred(text, day):
    (done,) = treatments(text, WALK, "month first")
    assert done.on == dt.date.fromisoformat(day)
    assert str(WALK) in done.inferred or "row" in done.inferred


def test_two_treatments_in_a_remark_keep_each_its_own_day():
    assert told("sprayed 5/6, soap; released cucumeris 5/9") == {
        ("spray", "2025-05-06", SOAP),
        ("release", "2025-05-09", "Neoseiulus cucumeris"),
    }


def test_two_materials_on_one_day_are_two_treatments():
    assert told("soap and spinosad 5/6") == {
        ("spray", "2025-05-06", SOAP),
        ("spray", "2025-05-06", "spinosad"),
    }


def test_two_days_of_one_material_are_two_treatments():
    assert told("5/6 + 5/13 spinosad") == {
        ("spray", "2025-05-06", "spinosad"),
        ("spray", "2025-05-13", "spinosad"),
    }


def test_a_day_for_something_else_is_no_day_of_treatment():
    assert told("sprayed soap 5/6, count again 5/15") == {("spray", "2025-05-06", SOAP)}


def test_a_fraction_of_plants_is_no_day():
    assert told("sprayed soap 5/6, 4/25 plants with mites") == {("spray", "2025-05-06", SOAP)}


@pytest.mark.parametrize(
    "text",
    [
        "not sprayed 5/6",
        "needs spray, soap 5/6",
        "will spray soap 5/6",
        "no se roció",
        "nicht gespritzt",
        "soap residue on the leaves",
        "leaves look pale",
        "",
    ],
)
def test_what_was_not_done_is_no_treatment(text):
    assert treatments(text, WALK, "month first") == ()


@pytest.mark.parametrize("text", ["sprayed", "sprayed something last week", "rociado algo"])
def test_neither_day_nor_material_is_incomplete(text):
    assert treatments(text, WALK, "month first") is None


def test_a_vague_day_of_a_known_material_is_a_treatment_without_a_day():
    assert told("sprayed soap last week") == {("spray", None, SOAP)}


def test_a_day_that_does_not_exist_is_not_replaced_by_that_of_the_row():
    assert told("sprayed soap 5/32") == told("sprayed soap 2/30") == {("spray", None, SOAP)}


def test_a_day_near_new_year_is_in_the_year_near_the_walk():
    walk = dt.date(2025, 1, 2)
    assert told("sprayed soap 12/30", walk=walk) == {("spray", "2024-12-30", SOAP)}


def test_without_an_order_the_day_near_the_walk_is_meant_and_else_none():
    # 6 May is a day after the walk, 5 June a month; 5 and 6 May 2025 lie both near 5/6 in no order
    assert told("sprayed soap 5/6", order=None) == {("spray", "2025-05-06", SOAP)}
    near_both = dt.date(2025, 5, 21)
    assert told("sprayed soap 5/6", order=None, walk=near_both) == {("spray", None, SOAP)}


def test_remarks_settle_the_order_of_their_days_where_dates_do_not():
    assert order_in(["sprayed 5/6", "count again 5/13"]) == "month first"
    assert order_in(["rociado 5/6", "suelta 13/5"]) == "day first"
    assert order_in(["sprayed 5/6", "5/13 and 14/5"]) is None
    assert order_in(["sprayed 5/6", "13/25 plants"]) is None


@pytest.mark.parametrize(
    ("text", "old", "new"),
    [
        ("N3 is the old North 3, renumbered 6/3", "North 3", "N3"),
        ("North 3 is now N3", "North 3", "N3"),
        ("North 3 renamed to N3 on 6/3", "North 3", "N3"),
        ("N3 was called North 3", "North 3", "N3"),
        ("B3 es el antiguo Banco 3", "Banco 3", "B3"),
        ("Banco 3 ahora se llama B3", "Banco 3", "B3"),
        ("T4 ist der alte Tisch 4", "Tisch 4", "T4"),
        ("formerly Bench 12", "Bench 12", ""),
    ],
)
def test_a_stated_rename_has_an_old_and_a_new_name(text, old, new):
    stated = rename_in(text, WALK, "month first")
    assert (stated.old, stated.new) == (old, new)


@each_of(
    ("text", "key"),
    [
        ("- = not checked", {"-": "not checked"}),
        ("Key: - = none found", {"-": "none found"}),
        ("key: '-' means not looked", {"-": "not looked"}),
        ("A dash means not checked that day", {"-": "not checked"}),
        ("(-) : no revisado", {"-": "no revisado"}),
        ("Clave: - = no revisado; tntc = 200+", {"-": "no revisado", "tntc": "200+"}),
        ("Legende: - = nicht kontrolliert", {"-": "nicht kontrolliert"}),
        ("- = none or not checked", {}),
        ("- ask the grower", {}),
        ("North house: pansies", {}),
    ],
)
def test_a_key_says_what_a_sign_means_or_nothing(text, key):
    assert dict(keys_in(text)) == key


def test_a_treatment_in_a_row_of_its_own_has_the_day_of_the_row():
    mine = read_lines("2025-05-05,Bay 1,1,thrips,adult,2,", "2025-05-07,Bay 1,,,,,sprayed soap")
    (treatment,) = mine["treatments"]
    assert (treatment["date"], treatment["active"]) == ("2025-05-07", SOAP)
    assert mine["asked"] == []


def test_a_row_of_a_wide_sheet_with_a_treatment_alone_is_no_look():
    mine = read_lines(
        "2025-05-05,Bay 1,10,2,1,",
        "2025-05-07,Bay 1,,,,sprayed soap",
        headings="Date,Unit,Plants,Thrips,WF adults,Notes",
    )
    assert [t["date"] for t in mine["treatments"]] == ["2025-05-07"]
    assert mine["not_looked"] == []


def test_a_wide_row_that_only_says_clean_is_a_look_that_found_nothing():
    mine = read_lines(
        "2025-05-05,Bay 1,10,2,1,",
        "2025-05-05,Bay 2,10,,,no pests",
        headings="Date,Unit,Plants,Thrips,WF adults,Notes",
    )
    assert [(n["unit"], n["plants"]) for n in mine["nothing_seen"]] == [("Bay 2", 10)]
    assert mine["not_looked"] == []


def test_a_treatment_in_a_row_whose_date_is_open_waits_for_the_same_answer():
    lines = ["3/4/2025,Bay 1,1,thrips,adult,2,sprayed 3/5 soap"]
    mine = read_lines(*lines)
    assert [r["reason"] for r in mine["reject"]] == ["ambiguous_date"] * 2
    assert mine["treatments"] == []
    answered = read_lines(*lines, answers={"date_order": "month_first"})
    assert [t["date"] for t in answered["treatments"]] == ["2025-03-05"]


@each_of(
    "text",
    [
        *("spray window 6/4 - skipped", "spray 6/4 skipped", "soap 6/4 not applied", "no aplicado"),
        *("no aplicado 6/4 jabón", "rociado 6/4 cancelado", "Spritzung 4.6. ausgefallen"),
        *("Seife 4.6. nicht ausgebracht", "did not spray 6/4", "spray 6/4 called off"),
    ],
)
def test_what_was_given_up_is_no_treatment(text):
    assert treatments(text, dt.date(2024, 6, 3), "month first") == ()


@pytest.mark.parametrize("text", ["sprayed 6/4?", "spray soap 6/4 ?", "jabón 6/4 (?)"])
def test_what_a_remark_only_asks_is_put_before_a_person(text):
    assert treatments(text, dt.date(2024, 6, 3), "month first") is None


def test_two_works_of_one_day_are_of_that_day():
    done = treatments("pruned and cleaned 6/4", dt.date(2024, 6, 3), "month first")
    assert [(d.kind, d.on, d.inferred) for d in done] == [("cultural", dt.date(2024, 6, 4), None)]
