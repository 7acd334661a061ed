"""Every word and sign beside a number that changes what the number says, in three languages.

Readings are those of the sheet format; the words are common practice, no source.
"""

import pytest

from benchwalk.records.sheets.counts import Taken, mean_taken, taken_as
from benchwalk.records.sheets.values import Said, rejected, said
from tests.in_turn import each_of

AT_LEAST = [">=", "≥", "at least", "min", "min.", "mindestens", "al menos", "ab"]
MORE_THAN = [">", "more than", "over", "mas de", "más de", "uber", "über", "mehr als"]
OR_MORE = ["+", "or more", "plus", "y mas", "y más", "o mas", "oder mehr", "und mehr"]
ABOUT = [
    *("~", "≈", "±", "<", "<=", "≤", "c.", "ca", "ca.", "circa", "about", "around", "approx"),
    *("approx.", "aprox", "aprox.", "etwa", "less than", "unter", "up to", "bis", "hasta"),
    *("menos de", "casi", "unos", "unas", "weniger als", "almost", "nearly", "max", "max."),
]
ABOUT_BEHIND = [
    *("?", "ish", "-ish", "~", "approx", "approx.", "aprox", "aprox.", "circa", "ca", "ca."),
    *("est", "est.", "(est)", "(est.)"),
]
BETWEEN = [
    *("-", "‐", "‑", "‒", "–", "—", "−", "~", "+", "&", "to", "bis", "a", "or", "o", "oder"),
    *("and", "y", "und", "..", "...", "…"),
]
PLANTS = ["plant", "plants", "planta", "plantas", "pflanze", "pflanzen", "pl", "pl."]
ERRORS = [
    *("#REF!", "#DIV/0!", "#N/A", "#NAME?", "#VALUE!", "#NUM!", "#NULL!", "#¡REF!", "#¿NOMBRE?"),
    *("#WERT!", "#BEZUG!", "#ÜBERLAUF!", "#SPILL!", "Err:502", "Err:5"),
]


@pytest.mark.parametrize("word", AT_LEAST)
def test_at_least_so_many(word):
    assert said(f"{word} 50") == said(f"{word.upper()}  50") == Said("at_least", 50)


@pytest.mark.parametrize("word", MORE_THAN)
def test_more_than_so_many_is_at_least_one_more(word):
    assert said(f"{word} 50") == said(f"{word.title()} 50") == Said("at_least", 51)


@pytest.mark.parametrize("word", OR_MORE)
def test_so_many_or_more(word):
    assert said(f"50 {word}") == said(f"50 {word.upper()}") == Said("at_least", 50)


@each_of("word", ABOUT)
def test_about_so_many_is_no_count(word):
    assert said(f"{word} 20") == said(f"{word}20") == rejected("approximate_count")


@each_of("word", ABOUT_BEHIND)
def test_so_many_about_is_no_count(word):
    assert said(f"20 {word}") == rejected("approximate_count")


@each_of("word", BETWEEN)
def test_from_one_number_to_another_is_no_count(word):
    assert said(f"2 {word} 3") == rejected("range_not_count")


@each_of("word", PLANTS)
@each_of("of", ["/", " / ", " of ", " out of ", " de ", " von "])
def test_so_many_of_so_many_plants(of, word):
    assert said(f"4{of}25") == said(f"4{of}25 {word}") == Said("infested", 4, 25)
    assert said(f"26{of}25") == rejected("infested_over_inspected")
    assert said(f"25{of}25") == Said("infested", 25, 25)
    assert said(f"0{of}0") == rejected("missing_effort")


@each_of("text", ERRORS)
def test_what_a_spreadsheet_could_not_work_out_is_no_count(text):
    assert said(text) == rejected("error_value")


@pytest.mark.parametrize("text", ["# 5", "#5", "#", "error", "err", "#n/a"])
def test_other_signs_of_number_are_no_error(text):
    assert said(text) != rejected("error_value")


@each_of(
    ("text", "decimal", "found"),
    [
        ("0.0", ".", Said("counted", 0)),
        ("0.00", ",", Said("counted", 0)),
        ("00.0", ".", Said("counted", 0)),
        ("12.0", ".", Said("counted", 12)),
        ("12.00", ".", Said("counted", 12)),
        ("12.000", ".", rejected("ambiguous_decimal")),
        ("0.000", ".", Said("counted", 0)),
        ("12,0", ",", Said("counted", 12)),
        ("12,0", ".", rejected("ambiguous_decimal")),
        ("12.0", ",", rejected("ambiguous_decimal")),
        ("1.204", ",", Said("counted", 1204)),
        ("1.204.512", ",", Said("counted", 1_204_512)),
        ("0.204", ",", rejected("ambiguous_decimal")),
        ("1204.512", ",", rejected("ambiguous_decimal")),
        ("1,204", ".", rejected("ambiguous_decimal")),
        ("1,204", ",", rejected("ambiguous_decimal")),
        ("1 204", ".", rejected("ambiguous_decimal")),
        ("1'204", ".", rejected("ambiguous_decimal")),
        ("1’204", ".", rejected("ambiguous_decimal")),
        ("1204", ",", Said("counted", 1204)),
        (".5", ".", rejected("fractional_count")),
        ("2.5", ".", rejected("fractional_count")),
        ("2,5", ",", rejected("fractional_count")),
        ("999999999", ".", Said("counted", 999_999_999)),
        ("1000000000", ".", rejected("unreadable_text")),
        ("007", ".", Said("counted", 7)),
        ("1e2", ".", rejected("unreadable_text")),
        ("l2", ".", rejected("unreadable_text")),
        ("-3", ".", rejected("negative_count")),
        ("−3,5", ",", rejected("negative_count")),
        ("- 3", ".", rejected("negative_count")),
        ("-3+2", ".", rejected("formula_text")),
        ("-3*2", ".", rejected("formula_text")),
        ("-3/2", ".", rejected("formula_text")),
        ("-3^2", ".", rejected("formula_text")),
        ("=2+3", ".", rejected("formula_text")),
        ("@SUM(A1)", ".", rejected("formula_text")),
        ("+3", ".", rejected("formula_text")),
        ("+ 3", ".", rejected("formula_text")),
    ],
)
def test_a_number_with_marks_is_whole_only_where_no_doubt_is_left(text, decimal, found):
    assert said(text, decimal=decimal) == found


@each_of(
    "text",
    [
        *("25-Apr", "Apr-25", "4/25/2024", "2024-04-25", "25.4.2024", "25 abr", "25. Mai"),
        *("May 5", "mai-05", "5-May-24", "5 dic 2024", "2024-04-25 00:00:00", "4-25-24"),
    ],
)
def test_what_a_spreadsheet_took_for_a_date_is_no_count(text):
    assert said(text) == rejected("date_in_count_cell")


@pytest.mark.parametrize("text", ["25-Larv", "May", "5 maybe", "12 adults"])
def test_other_words_beside_a_number_are_no_date(text):
    assert said(text) != rejected("date_in_count_cell")


@pytest.mark.parametrize(
    ("raw", "decimal", "value"),
    [
        ("3", ".", 3.0),
        ("2.5", ".", 2.5),
        ("2,5", ",", 2.5),
        ("none", ".", 0.0),
        ("0", ",", 0.0),
        ("1.204,5", ",", 1204.5),
        ("1,204.5", ".", 1204.5),
        ("12.345.678,25", ",", 12_345_678.25),
    ],
)
def test_a_mean_is_a_number_with_or_without_decimals(raw, decimal, value):
    assert mean_taken(raw, decimal, "adult", "yellow_card") == Taken(
        "adult", "yellow_card", "density", value
    )


@pytest.mark.parametrize("raw", ["2,5", "1.204", "12.34,5", "~3", "2-3", "", "many", "1.2045,5"])
def test_anything_else_is_no_mean(raw):
    decimal = "." if raw == "2,5" else ","
    taken = mean_taken(raw, decimal, "adult", "yellow_card")
    assert (taken.value, taken.how) == (None, "counted")
    assert taken.reason is not None


@each_of(
    ("raw", "plants", "expected"),
    [
        ("4", 25, ("infested", 4, 25, None)),
        ("25", 25, ("infested", 25, 25, None)),
        ("26", 25, (None, None, None, "infested_over_inspected")),
        ("4", None, (None, None, None, "missing_effort")),
        ("4/25", 25, ("infested", 4, 25, None)),
        ("4/25", 30, ("infested", 4, 25, None)),
        ("4/25", 20, (None, None, None, "infested_over_inspected")),
        ("4/25", 1, ("infested", 4, 25, None)),
        ("4/25", 2, (None, None, None, "infested_over_inspected")),
        ("4+", 25, ("at_least", 4, None, None)),
        ("present", None, ("present", None, None, None)),
    ],
)
def test_plants_infested_are_of_the_plants_inspected(raw, plants, expected):
    taken = taken_as(said(raw), "thrips", "any", "plant_infested", plants)
    how = None if taken.reason else taken.how
    assert (how, taken.value, taken.of, taken.reason) == expected
    assert taken.method == "plant_infested"
