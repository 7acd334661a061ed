"""What a raw count cell says; the policy is the project's own, row by row."""

import datetime as dt
from dataclasses import fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchwalk.records.sheets.context import Context
from benchwalk.records.sheets.counts import Taken, count_of, taken_as
from benchwalk.records.sheets.found import At
from benchwalk.records.sheets.names import Named
from benchwalk.records.sheets.values import Said, hostile, marks, said
from tests.in_turn import each_of

HOWS = {"counted", "at_least", "present", "infested", "not_looked", "rejected"}


def reason(raw, **given_):
    found = said(raw, **given_)
    assert found.how == "rejected", found
    assert (found.value, found.of, found.stage_word) == (None, None, None)
    return found.reason


@each_of(
    "raw",
    [
        "0",
        "nil",
        "none",
        "cero",
        "nada",
        "ninguno",
        "0.0",
        "0.00",
        "00",
        "NIL",
        " none ",
        "None found",
        "ninguna",
        "keine",
        "zero",
        "no pests",
        "０",
        "0\u200b",
    ],
)
def test_a_written_nothing_is_counted_0(raw):
    assert said(raw) == Said("counted", 0)


@each_of(
    "raw",
    [
        "",
        " ",
        "\xa0",
        "\u200b",
        "\t",
        "n/a",
        "N/A",
        "not checked",
        "Not  Checked",
        "s/d",
        "S/D",
        "n.a.",
        "N. A.",
        "n.d.",
        "k.A.",
        "k. A.",
        "nicht gezählt",
        "nicht gezahlt",
        "sin datos",
    ],
)
def test_an_empty_cell_and_words_for_it_are_not_looked_and_never_0(raw):
    assert said(raw) == Said("not_looked")


@pytest.mark.parametrize("raw", ["-", "--", "–", "—", "−", "‑", " - ", "'-"])
def test_a_dash_is_refused_without_a_key_and_what_the_key_says_with_one(raw):
    assert reason(raw) == "dash_without_key"
    assert said(raw, key={"-": "none"}) == Said("counted", 0)
    assert said(raw, key={"-": "not checked"}) == Said("not_looked")


@each_of(
    ("raw", "least"),
    [
        ("50+", 50),
        ("50 +", 50),
        ("50＋", 50),
        (">50", 51),
        ("> 50", 51),
        ("＞50", 51),
        (">=50", 50),
        ("≥50", 50),
        ("≥ 50", 50),
        ("at least 50", 50),
        ("over 50", 51),
        ("más de 50", 51),
        ("mehr als 50", 51),
        ("al menos 50", 50),
        ("mindestens 50", 50),
        ("min. 50", 50),
        ("MORE THAN 50", 51),
        ("über 50", 51),
        ("0+", 0),
        (">0", 1),
    ],
)
def test_a_bound_is_at_least_so_many_and_over_a_whole_number_is_one_more(raw, least):
    assert said(raw) == Said("at_least", least)


@pytest.mark.parametrize(
    "raw", ["tntc", "TNTC", "muchos", "present", "Presente", "too many to count", "viele"]
)
def test_words_for_many_are_present_without_a_number_unless_the_key_gives_one(raw):
    assert said(raw) == Said("present")
    assert said("tntc", key={"tntc": "200+"}) == Said("at_least", 200)


@pytest.mark.parametrize(
    ("raw", "value", "of"),
    [
        ("4/25", 4, 25),
        ("4 / 25", 4, 25),
        ("0/25", 0, 25),
        ("25/25", 25, 25),
        ("4 of 25", 4, 25),
        ("4 de 25", 4, 25),
        ("4 von 25", 4, 25),
        ("4 OF 25", 4, 25),
    ],
)
def test_a_fraction_is_so_many_infested_of_those_inspected(raw, value, of):
    assert said(raw) == Said("infested", value, of)


def test_more_infested_than_inspected_and_none_inspected_are_refused():
    assert reason("26/25") == "infested_over_inspected"
    assert reason("4/0") == "infested_over_inspected"
    assert reason("0/0") == "missing_effort"


@each_of(
    "raw",
    [
        "25-Apr",
        "Apr-25",
        "25. Apr",
        "25 Apr",
        "25-Apr-24",
        "25-April",
        "abril-25",
        "25-mär",
        "2024-04-25",
        "4/25/2024",
        "25.04.24",
        "2024-04-25 00:00:00",
        "2024-04-25T00:00",
        "4.3.24",
    ],
)
def test_a_date_that_a_spreadsheet_made_of_a_fraction_is_refused(raw):
    assert reason(raw) == "date_in_count_cell"


@pytest.mark.parametrize("raw", ["25-Xyz", "Foo-25", "24:00", "1-2-3-4", "25-Aprx"])
def test_what_only_looks_like_a_date_is_refused_as_no_count(raw):
    assert reason(raw) == "unreadable_text"


@pytest.mark.parametrize("decimal", [".", ","])
def test_three_with_a_comma_five_is_never_a_whole_count(decimal):
    expected = {".": "ambiguous_decimal", ",": "fractional_count"}
    assert reason("3,5", decimal=decimal) == expected[decimal]
    assert reason("0,5", decimal=decimal) == expected[decimal]


@each_of(
    ("raw", "point", "comma"),
    [
        ("2.5", "fractional_count", "ambiguous_decimal"),
        ("3.25", "fractional_count", None),
        (".5", "fractional_count", None),
        (",5", None, "fractional_count"),
        ("1.5000", "fractional_count", None),
        ("1,200", "ambiguous_decimal", "ambiguous_decimal"),
        ("1,234,567", "ambiguous_decimal", "ambiguous_decimal"),
        ("1 200", "ambiguous_decimal", ""),
        ("1'200", "ambiguous_decimal", ""),
        ("1.000", "ambiguous_decimal", "a thousand"),
        ("1,000", "ambiguous_decimal", "ambiguous_decimal"),
        ("1.2345", "fractional_count", None),
        ("3.0", "three", "ambiguous_decimal"),
        ("3,0", "ambiguous_decimal", "three"),
        ("0,0", "nothing", "nothing"),
        ("0.0", "nothing", "nothing"),
    ],
)
def test_a_mark_in_a_number_counts_only_where_it_leaves_no_doubt(raw, point, comma):
    whole = {"three": 3, "a thousand": 1000, "nothing": 0}
    for decimal, expected in ((".", point), (",", comma)):
        if expected in whole:
            assert said(raw, decimal=decimal) == Said("counted", whole[expected])
        else:
            assert reason(raw, decimal=decimal) == (expected or "ambiguous_decimal")


def test_a_thousand_mark_is_read_only_in_a_file_of_decimal_commas():
    assert said("1.204", decimal=",") == Said("counted", 1204)
    assert said("1.204.000", decimal=",") == Said("counted", 1_204_000)
    assert reason("1.204") == "ambiguous_decimal"
    assert reason("0.204", decimal=",") == "ambiguous_decimal"
    assert reason("1.20", decimal=",") == "ambiguous_decimal"
    assert reason("1234.567", decimal=",") == "ambiguous_decimal"


@each_of(
    "raw",
    [
        "2-3",
        "2 - 3",
        "2–3",
        "2—3",
        "2 to 3",
        "2 bis 3",
        "2 a 3",
        "2..3",
        "2…3",
        "2 or 3",
        "2 y 3",
        "3+2",
        "3 + 2",
        "2 and 3",
        "2 & 3",
    ],
)
def test_two_numbers_are_refused(raw):
    assert reason(raw) == "range_not_count"


@each_of(
    "raw",
    [
        "~20",
        "~ 20",
        "≈20",
        "c. 20",
        "ca 20",
        "ca. 20",
        "about 20",
        "approx. 20",
        "aprox. 20",
        "etwa 20",
        "20?",
        "20 ?",
        "20ish",
        "20-ish",
        "20 approx",
        "20 (est.)",
        "20~",
        "<5",
        "<=5",
        "≤5",
        "less than 5",
        "up to 5",
        "hasta 5",
        "menos de 5",
        "unter 5",
        "casi 20",
        "±3",
    ],
)
def test_about_and_under_so_many_are_refused_as_no_count(raw):
    assert reason(raw) == "approximate_count"


@pytest.mark.parametrize("raw", ["-3", "− 3", "–3", "-0", "-2.5", "-2,5", "- 12", "'-3"])
def test_a_number_below_zero_is_refused(raw):
    assert reason(raw) == "negative_count"


@each_of("raw", ["l2", "O", "1e2", "1E2", "12adults", "5*", "(5)", "few", "x", "✓", "TRUE", "NaN"])
def test_other_text_is_refused(raw):
    assert reason(raw) == "unreadable_text"


@each_of("raw", ["5²", "²", "1½", "①", "Ⅳ", "٣", "1 2", "5.", "+", "++", "=", "@"])
def test_raised_foreign_and_stray_signs_make_no_number(raw):
    assert reason(raw) == "unreadable_text"


@each_of(
    "raw",
    [
        "=2+3",
        "=A1",
        "＝2+3",
        "+2",
        "+ 2",
        "+A1",
        "@SUM(1+1)",
        "-2+3",
        "-2*3",
        "-2 + 3",
        "'=2+3",
        "= 2",
        '=HYPERLINK("x")',
    ],
)
def test_formula_text_is_refused_and_never_evaluated(raw):
    assert reason(raw) == "formula_text"


@each_of(
    "raw", ["#DIV/0!", "#N/A", "#REF!", "#NAME?", "#NUM!", "#WERT!", "#¡DIV/0!", "#NV", "Err:502"]
)
def test_an_error_of_a_spreadsheet_is_refused_as_that(raw):
    assert reason(raw) == "error_value"


@pytest.mark.parametrize("raw", ["#", "#5", "####", "# 5", "#lost"])
def test_a_number_sign_alone_is_no_error_of_a_spreadsheet(raw):
    assert reason(raw) == "unreadable_text"


def test_a_number_may_have_nine_figures_and_no_more():
    assert said("999999999") == Said("counted", 999_999_999)
    assert reason("1000000000") == "unreadable_text"
    assert reason("1000000000+") == "unreadable_text"


def test_a_number_with_a_word_is_that_number_of_the_stage_that_the_word_names():
    assert said("12 adults") == Said("counted", 12, stage_word="adults")
    assert said("12\u00a0 ad.") == Said("counted", 12, stage_word="ad.")


@pytest.mark.parametrize(
    ("word", "taxon", "stage", "expected"),
    [
        ("adults", "thrips", "adult", Taken("adult", "plant_count", value=12)),
        ("adults", "thrips", "any", Taken("adult", "plant_count", value=12)),
        ("adults", "thrips", "larva", Taken("larva", "plant_count", reason="stage_contradicts")),
        ("pupae", "aphid", "any", Taken("any", "plant_count", reason="stage_not_possible")),
        ("boxes", "thrips", "adult", Taken("adult", "plant_count", reason="unreadable_text")),
        ("boxes", "thrips", "any", Taken("any", "plant_count", reason="unreadable_text")),
    ],
)
def test_the_stage_in_a_cell_must_be_that_of_its_row_or_one_of_the_animal(
    word, taxon, stage, expected
):
    assert taken_as(said(f"12 {word}"), taxon, stage, "plant_count", 1) == expected


def infested(raw, plants, method="plant_infested"):
    return taken_as(said(raw), "thrips", "any", method, plants)


def test_a_bare_number_of_infested_plants_is_of_the_plants_inspected():
    assert infested("4", 25) == Taken("any", "plant_infested", "infested", 4, 25)
    assert infested("25", 25) == Taken("any", "plant_infested", "infested", 25, 25)
    assert infested("4", None).reason == "missing_effort"
    assert infested("26", 25).reason == "infested_over_inspected"


def test_a_fraction_makes_any_column_one_of_infested_plants():
    assert infested("4/25", 25, "plant_count") == Taken("any", "plant_infested", "infested", 4, 25)
    assert infested("4/25", None, "plant_count").of == 25
    assert infested("4/25", 1, "plant_count").of == 25
    assert infested("4/25", 10, "plant_count").reason == "infested_over_inspected"
    assert infested("1/2", 2, "plant_count").of == 2


def test_present_and_at_least_stay_what_they_are_among_infested_plants():
    assert infested("present", 25) == Taken("any", "plant_infested", "present")
    assert infested("20+", 25) == Taken("any", "plant_infested", "at_least", 20)
    assert infested("26+", 25).reason == "infested_over_inspected"
    assert infested("25+", 25).reason is None
    assert infested("26+", None).reason is None


@pytest.mark.parametrize(
    ("on", "unit", "taxon"),
    [
        (None, "Bay 1", "thrips"),
        (dt.date(2024, 5, 7), None, "thrips"),
        (dt.date(2024, 5, 7), "Bay 1", None),
    ],
)
def test_no_count_is_made_without_a_day_a_unit_and_a_name(on, unit, taxon):
    blank = dict.fromkeys(f.name for f in fields(Context))
    context = Context(**blank | {"row": 2, "on": on, "unit": unit})
    with pytest.raises(ValueError, match="row 2 has no day, unit or name; expected"):
        count_of(context, At(2), Taken("any", "plant_count"), Named(taxon), raw="2", taxon_raw="x")


def test_refused_and_not_looked_cells_are_no_counts():
    assert taken_as(said("2-3"), "thrips", "any", "plant_count", 1).reason == "range_not_count"
    assert taken_as(Said("not_looked"), "thrips", "any", "plant_count", 1).reason is not None


@pytest.mark.parametrize(
    ("cells", "mark"),
    [
        ([], "."),
        (["13", "1.204", ""], "."),
        (["13.0", "19.2"], "."),
        (["13,0", "19,2", "", "7"], ","),
        (["13,0", "19.2"], "."),
        (["1,204", "3,512"], "."),
        (["13,25"], ","),
    ],
)
def test_the_decimal_mark_is_a_comma_only_where_measured_columns_use_it_alone(cells, mark):
    assert marks(cells) == mark


@each_of("start", ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠", " ="])
def test_text_that_a_spreadsheet_would_run_is_hostile(start):
    assert hostile(start + "1+1")
    assert not hostile("1" + start)
    assert not hostile("'" + start)


CELLS = st.one_of(
    st.text(max_size=12),
    st.text("0123456789 .,-+/<>~=@#'?adult±²½٣\u00a0", max_size=8),
    st.from_regex(r"\s?[=@+-]?[0-9]{0,12}[ .,/+-]?[0-9]{0,12}\s?", fullmatch=True),
)


@given(CELLS, st.sampled_from(".,"))
def test_any_text_says_one_thing_and_gives_a_number_only_where_it_is_written(raw, decimal):
    found = said(raw, decimal=decimal)
    assert found.how in HOWS
    assert (found.reason is not None) == (found.how == "rejected")
    assert (found.value is not None) == (found.how in ("counted", "at_least", "infested"))
    assert (found.of is not None) == (found.how == "infested")
    if found.value:
        assert any(c.isdigit() for c in raw)


@given(st.integers(0, 999_999_999), st.sampled_from(["", " ", "\u00a0", "\t"]))
def test_every_whole_number_reads_as_itself_whatever_spaces_stand_around_it(number, space):
    assert said(f"{space}{number}{space}") == Said("counted", number)


@given(st.integers(0, 10**6), st.integers(0, 10**6))
def test_a_fraction_is_never_more_than_its_whole(value, of):
    found = said(f"{value}/{of}")
    assert (found.how == "infested") == (value <= of and of > 0)


@given(CELLS.filter(hostile))
def test_a_guarded_cell_copied_back_reads_as_it_did_before(raw):
    assert said("'" + raw.lstrip(" ")) == said(raw)
