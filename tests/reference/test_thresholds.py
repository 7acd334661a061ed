"""Published thresholds, and how the records and pages use them."""

import dataclasses

import pytest

from benchwalk.reference import RECORD_KINDS, STRIP_KINDS, thresholds
from tests.in_turn import each_of

BY_KEY = {threshold.threshold_key: threshold for threshold in thresholds()}

# Published: Rettke 2009, Pest Counts and Action Thresholds in the Greenhouse (read in reprints):
# adult western flower thrips per yellow card and week, by sensitivity of the crop
RETTKE_2009_THRIPS = {
    "wft_card_any_ornamental": (15, None),
    "wft_card_biocontrol_start": (2, None),
    "wft_card_african_violet": (None, 10),
    "wft_card_streptocarpus": (None, 10),
    "wft_card_impatiens": (18, 30),
    "wft_card_rose": (18, 30),
    "wft_card_gerbera": (18, 30),
    "wft_card_chrysanthemum": (18, 30),
    "wft_card_gloxinia": (18, 30),
    "wft_card_poinsettia": (40, None),
}


@each_of("key", RETTKE_2009_THRIPS)
def test_thrips_on_cards_against_rettke_2009(key):
    threshold = BY_KEY[key]
    assert (threshold.low, threshold.high) == RETTKE_2009_THRIPS[key]
    assert (threshold.source_key, threshold.quantity_kind) == ("Rettke2009", "per_card_per_week")


def test_thrips_on_cucumber_against_the_abstract_of_shipp_2000():
    """Published: Shipp, Wang & Binns 2000: 20 to 50 per trap per DAY, 3 to 7.5 per flower."""
    trap, flower = BY_KEY["wft_cucumber_eil_trap"], BY_KEY["wft_cucumber_eil_flower"]
    assert (trap.low, trap.high, trap.quantity_kind) == (20, 50, "per_trap_per_day")
    assert (flower.low, flower.high, flower.quantity_kind) == (3, 7.5, "per_flower")


def test_one_card_per_1000_square_feet_is_assumed_in_square_metres():
    """Hand-worked: 1000 sq ft = 92.90304 m2 exactly (international foot), so 1/92.90304."""
    assert BY_KEY["wft_card_poinsettia"].card_per_m2 == pytest.approx(1 / 92.90304, rel=1e-6)


@each_of(
    ("kind", "record_kind"),
    [
        ("action", "action"),
        ("economic_threshold", "economic"),
        ("economic_injury_level", "economic"),
        ("biocontrol_start", "start_biocontrol"),
        ("inspect", "inspect"),
        ("ship", "ship"),
        ("risk_level", None),
        ("reference", None),
        ("biocontrol_limit", None),
        ("release_ratio", None),
        ("sampling_rule", None),
    ],
)
def test_a_kind_in_the_table_is_a_kind_in_the_records_or_a_fact(kind, record_kind):
    found = [threshold for threshold in thresholds() if threshold.kind == kind]
    assert found
    assert {threshold.record_kind for threshold in found} == {record_kind}


def test_only_action_and_economic_thresholds_make_a_strip():
    assert {t.kind for t in thresholds() if t.makes_strip} == {
        "action",
        "economic_threshold",
        "economic_injury_level",
    }
    assert set(RECORD_KINDS.values()) > STRIP_KINDS


def test_the_low_end_of_a_range_is_one_and_the_range_is_printed():
    impatiens = BY_KEY["wft_card_impatiens"]
    assert impatiens.acts_at == 18
    assert impatiens.printed() == "18 to 30"
    assert impatiens.printed("es") == "de 18 a 30"


def test_below_10_acts_at_10_and_is_printed_so():
    violet = BY_KEY["wft_card_african_violet"]
    assert violet.acts_at == 10
    assert violet.printed() == "below 10"
    assert violet.printed("es") == "menos de 10"


def test_more_than_20_is_not_20_or_more():
    ship = BY_KEY["whitefly_poinsettia_ship"]
    assert (ship.acts_at, ship.low_inclusive) == (20, False)
    assert ship.printed() == "more than 20"
    assert ship.printed("es") == "más de 20"


def test_a_single_number_is_printed_alone():
    assert BY_KEY["wft_card_poinsettia"].printed() == "40"
    assert BY_KEY["ghwf_cucumber_eil"].printed() == "6.2"
    assert BY_KEY["whitefly_poinsettia_reference"].printed() == "4.2"  # both ends the same


def test_every_threshold_acts_somewhere_and_can_be_printed():
    for threshold in thresholds():
        assert threshold.acts_at > 0
        assert threshold.printed("en")
        assert threshold.printed("es")


def test_a_threshold_without_a_number_refuses_to_act():
    empty = dataclasses.replace(BY_KEY["wft_card_poinsettia"], low=None, high=None)
    with pytest.raises(ValueError, match="wft_card_poinsettia has neither a low nor a high end"):
        _ = empty.acts_at


def test_each_crop_has_its_own_number():
    """Poinsettia bears 40 thrips a card, African violet fewer than 10."""
    assert BY_KEY["wft_card_poinsettia"].acts_at == 4 * BY_KEY["wft_card_african_violet"].acts_at


def test_no_crop_borrows_the_numbers_of_another():
    assert not [t for t in thresholds() if t.crop_key == "tomato"]
    assert {
        t.crop_key for t in thresholds() if t.taxon_key == "whitefly" and t.makes_strip
    } == set()


def test_nothing_from_memory_or_a_weak_source_ships_as_a_default():
    unsure = [t for t in thresholds() if t.status in ("memory", "weak")]
    assert {t.threshold_key for t in unsure} == {
        "tssm_cucumber_ldi",
        "tssm_foliage_persimilis_limit",
    }
    assert not any(t.ship_as_default for t in unsure)


def test_a_ratio_names_the_enemy():
    for threshold in thresholds():
        if threshold.sense == "ratio":
            assert threshold.enemy_key in ("encarsia_formosa", "phytoseiulus_persimilis")
