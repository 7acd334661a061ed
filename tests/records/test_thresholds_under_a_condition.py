"""A virus found in an air space brings the threshold of its carrier into force there."""

import datetime as dt

import pytest

from benchwalk.records import uuid7
from benchwalk.records.setup import SetupRefusedError, shipped_thresholds, thresholds_under

AIR_SPACE, DAY = uuid7(), dt.date(2026, 5, 12)


def test_a_tospovirus_puts_thrips_on_cards_at_one_a_week_rettke_2009():
    """The published row wft_card_tospovirus: 1 a card and week, whatever the crop."""
    (found,) = thresholds_under("tospovirus_present", AIR_SPACE, DAY)
    assert (found.taxon, found.stage, found.method) == (
        "western_flower_thrips",
        "adult",
        "yellow_card",
    )
    assert (found.value, found.per, found.crop) == (1.0, "per_card_per_week", "any_crop")
    assert (found.rule, found.air_space_id, found.from_on) == ("virus", AIR_SPACE, DAY)


def test_nothing_of_a_condition_is_in_force_before_it_is_recorded():
    assert all(t.air_space_id is None and t.rule != "virus" for t in shipped_thresholds())


@pytest.mark.parametrize("condition", ["tospovirus", "none", "no_tospovirus"])
def test_a_condition_that_brings_nothing_is_refused_with_those_that_do(condition):
    with pytest.raises(SetupRefusedError, match="tospovirus_present"):
        thresholds_under(condition, AIR_SPACE, DAY)
