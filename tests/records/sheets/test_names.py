"""Names of pests, stages and crops as people write them, and the questions about them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchwalk.records.sheets.found import At
from benchwalk.records.sheets.names import (
    Named,
    crop_of,
    stage_of,
    stage_words_for,
    taxon_of,
)
from benchwalk.records.sheets.questions import Questions, choices_of
from benchwalk.records.sheets.words import fold, halfwidth, means, squeezed, tidy
from benchwalk.reference import taxa, taxon_names
from tests.in_turn import each_of
from tests.records.sheets.small_sheet import named

MITES = ("broad_mite", "cyclamen_mite", "mite", "predatory_mite", "spider_mite")


def known(key):
    return Named(key, (key,))


@each_of(
    ("text", "key"),
    [
        # as in the tables, in any case, with any spaces
        ("thrips", "thrips"),
        ("  THRIPS ", "thrips"),
        ("thrips\u00a0", "thrips"),
        ("thrips\u200b", "thrips"),
        # plural, hyphen, spaces
        ("aphids", "aphid"),
        ("whiteflies", "whitefly"),
        ("whiteflys", "whitefly"),
        ("GH whiteflies", "greenhouse_whitefly"),
        ("white fly", "whitefly"),
        ("white-fly", "whitefly"),
        ("spidermite", "spider_mite"),
        ("leaf miners", "leafminer"),
        ("Western-flower thrips", "western_flower_thrips"),
        # with and without accents
        ("araña roja", "spider_mite"),
        ("arana roja", "spider_mite"),
        ("arana\u0303 roja", "spider_mite"),
        ("pulgón", "aphid"),
        ("pulgones", "aphid"),
        ("mosca blanca", "whitefly"),
        ("Weiße Fliege", "whitefly"),
        ("Weisse Fliege", "whitefly"),
        ("Blattläuse", "aphid"),
        ("Spinnmilben", "spider_mite"),
        # scientific, with the genus abbreviated
        ("Frankliniella occidentalis", "western_flower_thrips"),
        ("F. occidentalis", "western_flower_thrips"),
        ("F occidentalis", "western_flower_thrips"),
        ("E. formosa", "encarsia_formosa"),
        ("Liriomyza spp.", "leafminer"),
        # abbreviations in use, keys
        ("WFT", "western_flower_thrips"),
        ("W.F.T.", "western_flower_thrips"),
        ("2-spotted spider mite", "two_spotted_spider_mite"),
        ("silverleaf_whitefly", "silverleaf_whitefly"),
    ],
)
def test_a_name_is_known_however_it_is_spelled(text, key):
    assert taxon_of(text) == known(key)


@pytest.mark.parametrize(
    ("code", "key"),
    # EPPO codes of the EPPO Global Database, from memory
    [
        ("FRANOC", "western_flower_thrips"),
        ("tetrur", "two_spotted_spider_mite"),
        ("TRIAVA", "greenhouse_whitefly"),
        ("BEMITA", "silverleaf_whitefly"),
        ("MYZUPE", "green_peach_aphid"),
        ("APHIGO", "melon_aphid"),
    ],
)
def test_an_eppo_code_is_a_name(code, key):
    assert taxon_of(code) == known(key)


@each_of(
    ("text", "key"),
    [
        ("thirps", "thrips"),  # two letters changed places
        ("thrps", "thrips"),  # one lost, five letters left
        ("thripps", "thrips"),
        ("throps", "thrips"),
        ("wihteflz", "whitefly"),  # two slips in eight letters
        ("greenhouse whitfly", "greenhouse_whitefly"),
        ("green peech aphid", "green_peach_aphid"),
        ("Frankliniella ocidentalis", "western_flower_thrips"),
        ("Frankliniela ocidentalis", "western_flower_thrips"),  # two slips in a long name
    ],
)
def test_one_near_name_is_proposed(text, key):
    assert taxon_of(text) == Named(key, (key,), None, proposed=True)


@each_of(
    "text",
    [
        "aphd",  # four letters are too few
        "thrups!!",
        "thirpss",  # two slips in seven letters
        "Frankliniela ocidentalus",  # three slips
        "Trauerm?cke",  # a lost letter is no slip
        "Trauerm\ufffdcke",
        "aphid?",
        "@SUM(1+1)",
        "xyzzy",
        "x",
        "",
    ],
)
def test_a_name_that_is_near_to_none_is_unknown(text):
    assert taxon_of(text) == Named(None, (), "unknown_pest")


@pytest.mark.parametrize("text", ["mite", "mites", "Mites "])
def test_a_word_for_several_pests_is_ambiguous_with_its_candidates(text):
    assert taxon_of(text) == Named(None, MITES, "ambiguous_pest")


def test_a_misspelling_near_to_two_pests_is_ambiguous_and_neither_is_proposed():
    found = taxon_of("F. ocidentalis")
    assert found == Named(
        None, ("galendromus_occidentalis", "western_flower_thrips"), "ambiguous_pest"
    )


def test_the_operations_own_words_go_before_all_others():
    own = {"Blackies": "aphid", "mite": "two_spotted_spider_mite"}
    assert taxon_of("blackies ", own) == known("aphid")
    assert taxon_of("Mite", own) == known("two_spotted_spider_mite")
    assert taxon_of("mites", own).reason == "ambiguous_pest"


@given(st.sampled_from([n for n in taxon_names() if n.language != "abbr"]))
def test_every_name_of_the_tables_is_known_in_capitals_and_without_spaces(name):
    for text in (name.name, name.name.upper(), squeezed(name.name)):
        found = taxon_of(text)
        assert name.taxon_key in found.candidates
        assert not found.proposed


@given(st.sampled_from([t for t in taxa() if t.eppo_code]))
def test_every_eppo_code_of_the_tables_is_known(taxon):
    assert taxon.taxon_key in taxon_of(taxon.eppo_code.lower()).candidates


@given(st.text(max_size=15))
def test_any_text_is_one_pest_or_has_a_reason(text):
    found = taxon_of(text)
    assert (found.key is None) == (found.reason is not None)
    assert found.key is None or found.candidates == (found.key,)
    assert not (found.proposed and found.key is None)


@each_of(
    ("word", "taxon", "stage"),
    [
        ("ad.", "thrips", "adult"),
        ("Adults", "thrips", "adult"),
        ("L", "thrips", "larva"),
        ("larvas", "thrips", "larva"),
        ("Larven", "thrips", "larva"),
        ("N", "greenhouse_whitefly", "nymph"),
        ("pup", "greenhouse_whitefly", "pupa"),
        ("black scale", "encarsia_formosa", "parasitised_pupa"),
        ("wingless", "green_peach_aphid", "wingless"),
        ("motiles", "spider_mite", "motile"),
    ],
)
def test_a_word_for_a_stage_is_that_stage_of_the_animal(word, taxon, stage):
    assert stage_of(word, taxon) == stage


def test_a_stage_that_the_animal_does_not_have_is_none():
    assert stage_words_for("pupa") == ("pupa",)
    assert stage_of("pupa", "aphid") is None
    assert stage_of("sprayed", "aphid") is None
    assert stage_words_for("sprayed") == ()


def test_a_crop_is_known_by_its_names_and_by_no_other_text():
    assert crop_of("Tomato") == crop_of("tomatoes") == crop_of("tomate") == "tomato"
    assert crop_of("Gerbera") == "gerbera"
    assert crop_of("Easter lilies") == crop_of("easter lily") is not None
    assert crop_of("plastic") is None
    assert crop_of("") is None


def test_text_is_tidied_for_showing_and_folded_for_comparing():
    assert tidy("  Bay\u00a0 1 ") == "Bay 1"
    assert tidy("Su\u0308d") == "Süd"
    assert fold(" Haus_Süd-Ost. ") == "haus sud ost"
    assert fold("WEISSE") == fold("weiße")
    assert fold("a‐b‑c–d") == "a b c d"
    assert squeezed("Spider-Mites") == "spidermites"
    assert halfwidth("１２＋\u00a0ａ\u200b²½") == "12+ a²½"


def test_words_of_cells_mean_what_the_table_says_and_others_nothing():
    assert means("Not  Checked") == "not_looked"
    assert means("n. a.") == "not_looked"
    assert means("NADA") == "zero"
    assert means("grand total") == "totals"
    assert means("nicht gezählt") == "not_looked"
    assert means("thrips") is None
    assert means("") is None


def ends(sheet):
    taken = [(r["pest_raw"], r["pest"], r.get("resolved")) for r in sheet["records"]]
    return taken, [(r["raw"], r["reason"]) for r in sheet["reject"]]


def asked(sheet):
    return [(q["id"], q["reason"], q["choices"], q["proposed"]) for q in sheet["asked"]]


def test_a_misspelling_is_taken_as_proposed_and_asked_once_where_it_first_stands():
    sheet = named("thirps", "Thirps ", "thrips")
    assert ends(sheet) == (
        [
            ("thirps", "thrips", "proposed"),
            ("Thirps ", "thrips", "proposed"),
            ("thrips", "thrips", None),
        ],
        [],
    )
    assert asked(sheet) == [("name:thirps", "misspelt_pest", ["thrips", "no"], "thrips")]
    assert sheet["asked"][0]["at"] == {"row": 2, "col": "Pest"}
    assert sheet["asked"][0]["question"] == "'thirps' is no name in the tables; is it thrips?"


@pytest.mark.parametrize("answer", ["thrips", "yes", "Yes ", "Thrips"])
@pytest.mark.parametrize("id_", ["name:thirps", "name:THIRPS"])
def test_a_yes_or_the_name_itself_settles_a_misspelling(id_, answer):
    sheet = named("thirps", "thirps", answers={id_: answer})
    assert ends(sheet) == ([("thirps", "thrips", None)] * 2, [])
    assert sheet["asked"] == []


def test_an_answer_may_be_another_pest_than_the_one_proposed():
    sheet = named("thirps", answers={"name:thirps": "onion_thrips"})
    assert ends(sheet) == ([("thirps", "onion_thrips", None)], [])


def test_a_no_refuses_every_count_of_that_name_and_asks_no_more():
    sheet = named("thirps", "thirps", answers={"name:thirps": "no"})
    assert ends(sheet) == ([], [("thirps", "unknown_pest")] * 2)
    assert sheet["asked"] == []
    assert sheet["accounts"]["rejected"] == 2


def test_an_answer_that_is_no_pest_or_a_misspelling_leaves_the_question_open():
    for answer in ("perhaps", "", "thrps"):
        sheet = named("thirps", answers={"name:thirps": answer})
        assert [q["id"] for q in sheet["asked"]] == ["name:thirps"]
        assert ends(sheet)[0] == [("thirps", "thrips", "proposed")]


def test_a_word_for_several_pests_is_refused_and_asked_with_all_of_them():
    sheet = named("mite", "mites")
    assert ends(sheet) == ([], [("mite", "ambiguous_pest"), ("mites", "ambiguous_pest")])
    assert asked(sheet) == [
        (f"name:{word}", "ambiguous_pest", [*MITES, "no"], None) for word in ("mite", "mites")
    ]
    assert sheet["asked"][0]["question"] == (
        "'mite' names several: broad_mite, cyclamen_mite, mite, predatory_mite, spider_mite;"
        " which one is it?"
    )
    assert sheet["accounts"]["asked"] == 2


def test_an_answer_settles_which_of_several_pests_is_meant():
    sheet = named("mite", answers={"name:mite": "spider_mite"})
    assert ends(sheet) == ([("mite", "spider_mite", None)], [])


def test_a_yes_to_a_question_without_a_proposal_settles_nothing():
    sheet = named("mite", answers={"name:mite": "yes"})
    assert [q["id"] for q in sheet["asked"]] == ["name:mite"]
    assert ends(sheet)[0] == []


def test_a_name_that_nobody_knows_is_refused_and_asked_and_an_answer_settles_it():
    sheet = named("speckles")
    assert ends(sheet) == ([], [("speckles", "unknown_pest")])
    assert asked(sheet) == [("name:speckles", "unknown_pest", ["no"], None)]
    assert sheet["asked"][0]["question"] == (
        "'speckles' is no name in the tables; which pest is it?"
    )
    settled = named("speckles", answers={"name:speckles": "spider_mite"})
    assert ends(settled) == ([("speckles", "spider_mite", None)], [])


def test_own_names_settle_a_name_without_a_question():
    sheet = named("speckles", own_names={"Speckles": "spider_mite"})
    assert ends(sheet) == ([("speckles", "spider_mite", None)], [])
    assert sheet["asked"] == []


def test_a_row_without_a_name_is_refused_and_nobody_is_asked():
    sheet = named("")
    assert ends(sheet) == ([], [("", "missing_pest")])
    assert sheet["asked"] == []


def test_an_inferred_day_stands_until_somebody_says_otherwise():
    place, day = At(4, "Notes"), "2024-05-21"
    asks = Questions({}, {})
    assert asks.day(place, "drench 5/21", day, None)
    question = asks.asked["day:4"]
    assert (question.id, question.reason, question.proposed) == ("day:4", "day_not_written", day)
    assert question.question == "'drench 5/21': was that on 2024-05-21?"
    assert question.choices == (day, "no")
    assert Questions({}, {}).day(place, "drench", day, "2024-05-14")
    agreed, refused = Questions({"day:4": day}, {}), Questions({"day:4": "no"}, {})
    assert agreed.day(place, "drench 5/21", day, None)
    assert not refused.day(place, "drench 5/21", day, None)
    assert agreed.asked == refused.asked == {}


def test_the_id_of_an_open_question_about_a_name_is_found_however_it_is_spelled():
    asks = Questions({}, {})
    asks.name("Thirps", At(2, "Pest"))
    assert asks.open("thirps ") == "name:Thirps"
    assert asks.open("speckles") is None
    assert asks.ids() == {"name:Thirps"}


def test_choices_stand_once_each_and_end_with_the_refusal():
    assert choices_of(["a", "b", "a"]) == ("a", "b", "no")
