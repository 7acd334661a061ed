"""Which stages a taxon goes through, which of them a count covers, and the bits of each."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchwalk.reference import (
    NoSuchKey,
    NoSuchStage,
    development_stages,
    rows,
    stage_bits,
    stage_possible,
    stage_words,
    stages,
    taxa,
)
from benchwalk.reference.rows.animals import Stage, StageSet
from tests.in_turn import each_of

TAXA = st.sampled_from([taxon.taxon_key for taxon in taxa()])
STAGES = st.sampled_from([word.stage_key for word in stage_words()])

# general entomology, common practice, no source
POSSIBLE = [
    ("aphid", "nymph", True),
    ("aphid", "winged", True),
    ("aphid", "adult", True),
    ("aphid", "pupa", False),
    ("aphid", "larva", False),
    ("aphid", "egg", False),  # in a greenhouse aphids bear live young all year
    ("green_peach_aphid", "wingless", True),
    ("whitefly", "egg", True),
    ("whitefly", "nymph", True),
    ("whitefly", "pupa", True),
    ("whitefly", "adult", True),
    ("whitefly", "larva", False),
    ("whitefly", "winged", False),
    ("whitefly", "nymph_3_4", True),
    ("thrips", "larva", True),
    ("thrips", "nymph", False),
    ("thrips", "soil_stage", True),
    ("spider_mite", "motile", True),
    ("spider_mite", "egg", True),
    ("spider_mite", "pupa", False),
    ("fungus_gnat", "larva", True),
    ("fungus_gnat", "nymph", False),
    ("leafminer", "larva", True),
    ("leafminer", "puparium", True),
    ("mealybug", "nymph", True),
    ("mealybug", "adult_female", True),
    ("encarsia_formosa", "parasitised_pupa", True),
    ("encarsia_formosa", "egg", False),
    ("tswv", "adult", False),
    ("vine_weevil", "larva", True),
]


@each_of(("taxon_key", "stage_key", "possible"), POSSIBLE)
def test_a_stage_is_possible_as_general_entomology_says(taxon_key, stage_key, possible):
    assert stage_possible(taxon_key, stage_key) is possible


@pytest.mark.parametrize(
    ("taxon_key", "stage_key", "covered"),
    [
        ("greenhouse_whitefly", "nymph", ("nymph_1", "nymph_2", "nymph_3", "nymph_4")),
        ("greenhouse_whitefly", "nymph_2", ("nymph_2",)),
        ("western_flower_thrips", "larva", ("larva_1", "larva_2")),
        ("western_flower_thrips", "motile", ("larva_1", "larva_2", "adult")),
        ("two_spotted_spider_mite", "motile", ("larva", "protonymph", "deutonymph", "adult")),
        ("green_peach_aphid", "adult", ("wingless", "winged")),
        ("leafminer", "pupa", ("puparium",)),
        ("fungus_gnat", "larva", ("larva_1", "larva_2", "larva_3", "larva_4")),
    ],
)
def test_a_counted_stage_covers_stages_of_development(taxon_key, stage_key, covered):
    assert development_stages(taxon_key, stage_key) == covered


def test_a_species_without_stages_goes_by_the_level_above():
    assert [stage.stage_key for stage in stages("bradysia_impatiens")] == [
        stage.stage_key for stage in stages("fungus_gnat")
    ]
    assert development_stages("tetranychus_turkestani", "nymph") == ("nymph",)


def test_a_species_may_be_counted_at_the_finer_stages_of_its_relatives():
    assert development_stages("tetranychus_turkestani", "protonymph") == ("protonymph",)


def test_a_group_goes_by_its_own_list_and_then_by_its_species():
    assert [stage.stage_key for stage in stages("whitefly")] == ["egg", "nymph", "pupa", "adult"]
    assert development_stages("whitefly", "nymph") == ("nymph",)
    assert development_stages("whitefly", "nymph_3_4") == ("nymph_3", "nymph_4")


def test_a_group_without_a_list_has_the_stages_of_all_below():
    assert [stage.stage_key for stage in stages("mite")] == [
        "egg",
        "larva",
        "nymph",
        "protonymph",
        "deutonymph",
        "quiescent_nymph",
        "adult",
    ]


def test_the_root_of_all_pests_does_not_lend_its_stages():
    assert stages("chewing_pest") == ()
    assert stage_possible("chewing_pest", "any")


def test_every_animal_but_the_mixed_guild_has_stages_and_no_disease_agent_has():
    without = {taxon.taxon_key for taxon in taxa() if not stages(taxon.taxon_key)}
    agents = {taxon.taxon_key for taxon in taxa() if taxon.role == "pathogen"}
    assert without == agents | {"chewing_pest"}


def test_an_impossible_stage_is_refused_with_those_there_are():
    sentence = (
        "aphid has no stage 'pupa'; it has nymph, nymph_1, nymph_2, nymph_3, nymph_4, adult, "
        "wingless, winged, any, motile, immature"
    )
    with pytest.raises(NoSuchStage, match=f"^{re.escape(sentence)}$"):
        development_stages("aphid", "pupa")


def test_a_word_that_is_no_stage_is_refused():
    with pytest.raises(
        NoSuchKey, match=r"stage_vocabulary\.csv has no stage_key 'pupae'; near it: "
    ):
        stage_possible("aphid", "pupae")
    with pytest.raises(NoSuchKey, match=r"taxa\.csv has no taxon_key 'aphids'; near it: aphid"):
        development_stages("aphids", "nymph")


def test_the_bits_are_fixed_for_ever():
    """Own regression: records hold these numbers, so the file may only grow at its end."""
    bits = stage_bits()
    assert {key: bits[key] for key in FIRST_BITS} == FIRST_BITS


FIRST_BITS = {
    "egg": 1,
    "larva_1": 1 << 2,
    "larva_2": 1 << 3,
    "nymph_1": 1 << 8,
    "protonymph": 1 << 13,
    "deutonymph": 1 << 14,
    "prepupa": 1 << 17,
    "puparium": 1 << 21,
    "adult_female": 1 << 23,
    "wingless": 1 << 25,
    "winged": 1 << 26,
    "infective_juvenile": 1 << 27,
    "parasitised_pupa": 1 << 28,
}


def test_no_two_words_have_the_same_bits():
    bits = stage_bits()
    assert len(set(bits.values())) == len(bits) == 42


def test_the_bits_fit_a_signed_column_of_64():
    assert all(0 < mask < 2**62 for mask in stage_bits().values())


def test_any_holds_every_bit():
    whole = 0
    for mask in stage_bits().values():
        whole |= mask
    assert stage_bits()["any"] == whole


def test_a_word_that_is_stage_and_set_is_its_own_bit_and_its_members():
    bits = stage_bits()
    assert bits["larva"] & bits["larva_1"] == bits["larva_1"]
    own = bits["larva"] & ~sum(bits[f"larva_{n}"] for n in range(1, 6))
    assert own == 1 << 1


@each_of(
    ("whole", "part"),
    [
        ("motile", "adult"),
        ("motile", "larva"),
        ("motile", "nymph"),
        ("adult", "winged"),
        ("nymph", "protonymph"),
        ("immature", "egg"),
        ("pupa", "puparium"),
        ("soil_stage", "prepupa"),
        ("nymph_pupa", "nymph"),
    ],
)
def test_a_set_overlaps_its_members_and_holds_all_of_them(whole, part):
    bits = stage_bits()
    assert bits[part] & ~bits[whole] == 0


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("egg", "motile"),
        ("adult", "immature"),
        ("larva", "nymph"),
        ("pupa", "motile"),
        ("parasitised_pupa", "pupa"),
        ("parasitised_pupa", "motile"),
        ("nymph_1_2", "nymph_3_4"),
    ],
)
def test_stages_that_share_no_animal_share_no_bit(one, other):
    assert stage_bits()[one] & stage_bits()[other] == 0


def test_every_set_row_is_within_its_set():
    bits = stage_bits()
    for row in rows(StageSet):
        assert bits[row.stage_key] & ~bits[row.set_key] == 0, row


@given(TAXA, STAGES)
def test_what_is_possible_covers_something_and_what_is_not_is_refused(taxon_key, stage_key):
    if stage_possible(taxon_key, stage_key) and stages(taxon_key):
        covered = development_stages(taxon_key, stage_key)
        assert covered
        assert len(set(covered)) == len(covered)
        for key in covered:
            assert stage_bits()[key] & ~stage_bits()[stage_key] == 0
    else:
        with pytest.raises(NoSuchStage, match=f"^{taxon_key} has no stage '{stage_key}'; it has "):
            development_stages(taxon_key, stage_key)


@given(TAXA)
def test_every_stage_of_a_taxon_covers_itself(taxon_key):
    for stage in stages(taxon_key):
        assert stage.stage_key in development_stages(taxon_key, stage.stage_key)


@given(TAXA)
def test_any_stage_is_always_possible(taxon_key):
    assert stage_possible(taxon_key, "any")


def test_stages_come_in_the_order_of_life():
    for taxon_key in {row.taxon_key for row in rows(Stage)}:
        order = [stage.sort_order for stage in stages(taxon_key)]
        assert order == sorted(order)
