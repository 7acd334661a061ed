"""The words people write for pests, stages and crops, and what they may mean."""

import re
from collections import defaultdict

import pytest

from benchwalk.reference import (
    ancestors,
    crop_names,
    crops,
    descendants,
    stage_names,
    stage_possible,
    taxa,
    taxon,
    taxon_names,
)
from benchwalk.reference.rows.animals import TaxonName
from tests.in_turn import each_of


def meanings(names, attribute):
    found = defaultdict(set)
    for name in names:
        found[name.name.casefold()].add(getattr(name, attribute))
    return found


TAXA = meanings(taxon_names(), "taxon_key")
STAGES = meanings(stage_names(), "stage_key")
CROPS = meanings(crop_names(), "crop_key")


# common practice, no source: what growers in three languages write on their sheets
@each_of(
    ("written", "taxon_key"),
    [
        ("thrips", "thrips"),
        ("thrip", "thrips"),
        ("trips", "thrips"),
        ("WFT", "western_flower_thrips"),
        ("Frankliniella occidentalis", "western_flower_thrips"),
        ("F. occidentalis", "western_flower_thrips"),
        ("FRANOC", "western_flower_thrips"),
        ("trips de California", "western_flower_thrips"),
        ("Whiteflies", "whitefly"),
        ("white fly", "whitefly"),
        ("mosca blanca", "whitefly"),
        ("Weiße Fliege", "whitefly"),
        ("Weisse Fliege", "whitefly"),
        ("GWF", "greenhouse_whitefly"),
        ("Trialeurodes vaporariorum", "greenhouse_whitefly"),
        ("sweetpotato whitefly", "silverleaf_whitefly"),
        ("Bemisia argentifolii", "silverleaf_whitefly"),
        ("B. tabaci", "silverleaf_whitefly"),
        ("TSSM", "two_spotted_spider_mite"),
        ("2-spotted spidermite", "two_spotted_spider_mite"),
        ("two-spotted mite", "two_spotted_spider_mite"),
        ("araña roja", "spider_mite"),
        ("Spinnmilbe", "spider_mite"),
        ("pulgón", "aphid"),
        ("Blattläuse", "aphid"),
        ("GPA", "green_peach_aphid"),
        ("peach-potato aphid", "green_peach_aphid"),
        ("fungus gnats", "fungus_gnat"),
        ("Bradysia sp.", "fungus_gnat"),
        ("Trauermücke", "fungus_gnat"),
        ("leaf miners", "leafminer"),
        ("Liriomyza spp.", "leafminer"),
        ("Liriomyza trifolii", "american_serpentine_leafminer"),
        ("mealy bugs", "mealybug"),
        ("E. formosa", "encarsia_formosa"),
        ("Amblyseius cucumeris", "neoseiulus_cucumeris"),
        ("Hypoaspis miles", "stratiolaelaps_scimitus"),
        ("INSV", "insv"),
    ],
)
def test_a_name_on_a_sheet_means_one_taxon(written, taxon_key):
    assert TAXA[written.casefold()] == {taxon_key}


def test_a_word_that_names_several_pests_has_a_row_for_each():
    assert TAXA["mite"] == {"mite", "spider_mite", "broad_mite", "cyclamen_mite", "predatory_mite"}
    assert TAXA["milben"] == TAXA["ácaros"] == TAXA["mite"]


def test_the_words_with_several_meanings_are_these_and_no_others():
    """Own regression: a new row that makes a common word ambiguous has to be meant."""
    assert {word for word, keys in TAXA.items() if len(keys) > 1} == {
        "aphidius",
        "avispita aphidius",
        "avispita del piojo harinoso",
        "cm",
        "cochinilla",
        "cochinillas",
        "eretmocerus",
        "mb",
        "milbe",
        "milben",
        "mite",
        "mites",
        "steinernema",
        "ácaro",
        "ácaros",
    }
    assert {word for word, keys in CROPS.items() if len(keys) > 1} == set()


@each_of(
    ("written", "stage_key"),
    [
        ("A", "adult"),
        ("ad", "adult"),
        ("adultos", "adult"),
        ("Imago", "adult"),
        ("L", "larva"),
        ("lv", "larva"),
        ("larvae", "larva"),
        ("Larve", "larva"),
        ("N", "nymph"),
        ("nym", "nymph"),
        ("ninfa", "nymph"),
        ("pup", "pupa"),
        ("Puppe", "pupa"),
        ("huevo", "egg"),
        ("Ei", "egg"),
        ("mot", "motile"),
        ("apt", "wingless"),
        ("aptera", "wingless"),
        ("al", "winged"),
        ("alate", "winged"),
        ("BS", "parasitised_pupa"),
        ("mummy", "parasitised_pupa"),
        ("parasitised pupa", "parasitised_pupa"),
        ("all stages", "any"),
    ],
)
def test_a_word_for_a_stage_means_one_stage(written, stage_key):
    assert STAGES[written.casefold()] == {stage_key}


@pytest.mark.parametrize(
    ("taxon_key", "stage_key"),
    [("whitefly", "nymph"), ("mealybug", "nymph"), ("thrips", "larva"), ("fungus_gnat", "larva")],
)
def test_immature_is_what_the_taxon_can_be(taxon_key, stage_key):
    assert [key for key in STAGES["imm"] if stage_possible(taxon_key, key)] == [stage_key]


@each_of(
    ("written", "crop_key"),
    [
        ("Petunia", "petunia"),
        ("petunias", "petunia"),
        ("calibrachoa", "calibrachoa"),
        ("verbena", "verbena"),
        ("fuchsia", "fuchsia"),
        ("tomatoes", "tomato"),
        ("jitomate", "tomato"),
        ("pepper", "sweet_pepper"),
        ("Paprika", "sweet_pepper"),
        ("Gerbera", "gerbera"),
        ("nochebuena", "poinsettia"),
        ("Weihnachtsstern", "poinsettia"),
        ("garden mums", "chrysanthemum"),
        ("NGI", "new_guinea_impatiens"),
    ],
)
def test_a_name_of_a_crop_means_one_crop(written, crop_key):
    assert CROPS[written.casefold()] == {crop_key}


def test_eppo_codes_ship_only_where_they_were_seen():
    """Published: gd.eppo.int, pra.eppo.int, rnqp.eppo.int (8); open lists that cite them (7)."""
    official = {"FRANOC", "BEMITA", "LIRITR", "DUPOFO", "POPIJA", "XANTBE", "INSV00", "TSWV00"}
    secondary = {"TETRUR", "TRIAVA", "MYZUPE", "APHIGO", "BOTRCI", "RHIZSO", "LAPHEG"}
    assert {t.eppo_code for t in taxa() if t.eppo_status == "official"} == official
    assert {t.eppo_code for t in taxa() if t.eppo_status == "secondary"} == secondary
    codes = {n.name for n in taxon_names() if n.source_key in ("EPPOGD", "EPPOList")}
    abbreviations = {n.name for n in taxon_names() if n.language == "abbr" and n.status == "seen"}
    assert abbreviations == official | secondary
    assert codes >= abbreviations


def test_an_eppo_code_has_six_letters_or_four_and_two_noughts():
    """Published: form of codes in the EPPO Global Database (EPPOGD)."""
    for t in taxa():
        assert t.eppo_code is None or re.fullmatch(r"[A-Z]{6}|[A-Z]{4}00", t.eppo_code)


def test_a_code_is_a_name_of_its_own_taxon():
    for t in taxa():
        if t.eppo_code:
            assert TAXA[t.eppo_code.casefold()] == {t.taxon_key}


def test_every_binomial_is_also_written_with_the_genus_cut_short():
    for t in taxa():
        if re.fullmatch(r"[A-Z][a-z]+ [a-z]+", t.scientific_name or ""):
            genus, species = t.scientific_name.split()
            assert t.taxon_key in TAXA[t.scientific_name.casefold()]
            assert t.taxon_key in TAXA[f"{genus[0]}. {species}".casefold()]


def test_the_first_english_name_of_a_taxon_is_its_common_name():
    first = {n.taxon_key: n.name for n in reversed(taxon_names()) if n.language == "en"}
    assert first == {t.taxon_key: t.common_name for t in taxa()}


def test_general_knowledge_says_so():
    for name in (*taxon_names(), *stage_names(), *crop_names()):
        if name.source_key == "Untraced":
            assert name.status == "memory"
    assert any(isinstance(n, TaxonName) and n.status == "seen" for n in taxon_names())


def test_the_levels_above_a_taxon_come_nearest_first():
    assert ancestors("two_spotted_spider_mite") == ("spider_mite", "mite", "pest")
    assert ancestors("pest") == ()


def test_the_levels_below_are_the_other_way_round():
    assert "two_spotted_spider_mite" in descendants("mite")
    assert "predatory_mite" not in descendants("mite")
    assert descendants("western_flower_thrips") == ()
    for t in taxa():
        assert all(t.taxon_key in ancestors(below) for below in descendants(t.taxon_key))


def test_a_leafminer_is_the_group_and_not_one_species():
    assert taxon("leafminer").rank == "genus"
    assert set(descendants("leafminer")) == {
        "american_serpentine_leafminer",
        "pea_leafminer",
        "vegetable_leafminer",
    }


def test_a_crop_belongs_to_its_groups():
    above = {c.crop_key: c.parent_key for c in crops()}
    assert (above["ivy_geranium"], above["geranium"]) == ("geranium", "any_ornamental")
    assert (above["cherry_tomato"], above["tomato"]) == ("tomato", "any_edible")
    assert above["any_edible"] == above["any_ornamental"] == "any_crop"
    assert above["cotton"] is None
