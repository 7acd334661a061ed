"""By which method a stage is generally counted. Common practice, no source."""

import pytest

from benchwalk.reference import (
    NoSuchKey,
    methods,
    reference_methods,
    rows,
    stage_possible,
)
from benchwalk.reference.rows.counting import ReferenceMethod


def used(taxon_key, stage_key):
    return [(row.method_key, row.use) for row in reference_methods(taxon_key, stage_key)]


def test_fungus_gnat_larvae_are_counted_on_potato():
    assert used("fungus_gnat", "larva") == [
        ("potato_disc", "reference"),
        ("potato_wedge", "reference"),
        ("medium_inspection", "alternative"),
    ]


def test_a_species_is_counted_as_its_group():
    assert used("bradysia_impatiens", "larva_2") == used("fungus_gnat", "larva")


def test_thrips_are_counted_on_yellow_or_blue_cards():
    cards = [method for method, use in used("western_flower_thrips", "adult") if use == "reference"]
    assert cards == ["yellow_card", "blue_card"]


@pytest.mark.parametrize("taxon_key", ["whitefly", "fungus_gnat", "shore_fly", "leafminer"])
def test_other_fliers_are_counted_on_yellow_cards(taxon_key):
    assert used(taxon_key, "adult")[0] == ("yellow_card", "reference")
    assert "blue_card" not in dict(used(taxon_key, "adult"))


def test_a_stage_without_its_own_row_is_counted_with_its_set():
    assert used("two_spotted_spider_mite", "protonymph")[0] == ("leaf_count", "reference")


def test_the_reference_stands_before_other_ways():
    for row in rows(ReferenceMethod):
        uses = [use for _, use in used(row.taxon_key, row.stage_key)]
        assert uses == sorted(uses, key=lambda use: use != "reference")


def test_what_nobody_wrote_down_is_empty_and_not_guessed():
    assert reference_methods("ant", "adult") == ()


def test_a_word_that_is_no_stage_is_refused():
    with pytest.raises(NoSuchKey, match=r"stage_vocabulary\.csv has no stage_key 'larvae'"):
        reference_methods("thrips", "larvae")


def test_every_method_counts_a_stage_that_the_taxon_has():
    for row in rows(ReferenceMethod):
        assert stage_possible(row.taxon_key, row.stage_key), row


def test_common_practice_says_that_it_has_no_source():
    assert {(row.source_key, row.status) for row in rows(ReferenceMethod)} == {
        ("CommonPractice", "memory")
    }


def test_a_method_says_what_it_counts_on():
    on = {method.method_key: method.sampling_unit_key for method in methods()}
    assert (on["potato_disc"], on["yellow_card"], on["leaf_count"]) == ("disc", "card", "leaf")
