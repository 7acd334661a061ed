"""The week for other programs: codes, null with its reason, never a 0 for what is absent."""

from __future__ import annotations

import json

import pytest

from benchwalk.report.as_json import week_json
from tests.report import a_summary as made
from tests.report.a_summary import a_summary


@pytest.fixture(scope="module")
def week() -> dict:
    return json.loads(json.dumps(week_json(a_summary()), allow_nan=False))


def line(week: dict, name: str, place: int = 0) -> dict:
    (unit,) = (u for u in week["units"] if name in u["unit"])
    return unit["lines"][place]


def test_it_is_strict_json_without_nan_or_infinity(week):
    assert week["format"] == 1
    assert (week["since"], week["day"]) == ("2026-05-01", "2026-05-07")
    assert (week["interval_level"], week["clean_level"]) == (0.9, 0.95)


def test_the_counts_add_up_to_the_units(week):
    assert sum(week["counts"].values()) == len(week["units"]) + len(week["not_looked"]) == 15


def test_figures_are_whole_and_not_rounded_for_reading(week):
    said = line(week, "Bench row 3")
    assert said["times_threshold"] == {"value": 0.996, "low": 0.63, "high": 1.56}
    assert said["density"]["mean"] == 9.96
    assert said["density"]["per"] == "per_card_per_week"
    assert said["density"]["reason"] is None


def test_no_upper_end_is_null_and_the_reason_says_why(week):
    said = line(week, "Bench row 5")
    assert said["density"] == {
        "per": "per_plant",
        "mean": 0.4,
        "low": 0.15,
        "high": None,
        "reason": "capped",
    }
    assert said["counted"]["how"] == "at_least"


def test_seen_and_not_counted_is_null_with_its_word_and_not_0(week):
    said = line(week, "Bench row 6")
    assert said["counted"]["total"] is None
    assert said["counted"]["how"] == "present"
    assert said["density"]["mean"] is None
    assert said["density"]["reason"] == "not_counted"


def test_looked_none_is_0_with_its_word_and_its_upper_bound(week):
    said = line(week, "Mist bed 1")
    assert (said["counted"]["total"], said["counted"]["how"]) == (0, "looked_none")
    assert said["density"]["high"] == 0.16
    assert said["state"] == "none"


def test_an_effort_nobody_wrote_down_is_null(week):
    said = line(week, "Bench row 7")
    assert (said["counted"]["total"], said["counted"]["sampled"]) == (7, None)
    assert said["density"]["reason"] == "effort_not_said"


def test_a_mean_without_counts_is_null_counts_and_a_mean(week):
    said = line(week, "Bench row 4")
    assert (said["counted"]["how"], said["counted"]["total"]) == ("mean_only", None)
    assert (said["density"]["mean"], said["density"]["low"]) == (0.02, None)


def test_the_threshold_in_force_stands_with_its_source(week):
    rule = line(week, "Bench row 2")["threshold"]
    assert (rule["value"], rule["high"], rule["source"]) == (18.0, 30.0, "Rettke2009")
    assert line(week, "Bench row 3")["threshold"]["below"] is True
    assert line(week, "Bench row 3")["threshold"]["status"] == "memory"
    assert line(week, made.LONG_UNIT)["threshold"]["value"] is None
    assert line(week, made.LONG_UNIT)["threshold"]["sense"] == "any_find"


def test_why_a_threshold_is_not_compared_with_is_a_word(week):
    others = line(week, "Bay 1")["not_compared_with"]
    whys = [other["why"] for other in others]
    assert whys == ["taxon", "stage", "method", "quantity", "age", "phase"]
    assert line(week, "Bay 1")["threshold"] is None
    assert line(week, "Bay 1")["times_threshold"] is None


def test_a_change_without_a_ratio_is_null_with_its_reason(week):
    change = line(week, "Mist bed 1")["change"]
    assert (change["ratio"], change["reason"]) == (None, "none_counted")
    assert change["before"] == 0
    assert line(week, "Bay 4", 1)["change"] is None


def test_what_was_not_looked_at_has_its_reason_and_no_figure(week):
    reasons = [miss["reason"] for miss in week["not_looked"]]
    assert reasons == ["time", "no_word", "no_walk", "the key to the gate was lost"]
    assert week["not_looked"][2]["last_on"] is None
    for miss in week["not_looked"]:
        assert not any(isinstance(value, int | float) for value in miss.values())


def test_finds_on_flagged_plants_stand_apart(week):
    (unit,) = (u for u in week["units"] if u["unit"].endswith("Bench row 2"))
    (apart,) = unit["not_at_random"]
    assert (apart["why"], apart["total"], apart["taxon"]) == (
        "flagged",
        5,
        "western_flower_thrips",
    )


def test_names_stand_as_they_were_written(week):
    names = [u["unit"] for u in week["units"]]
    assert f"{made.HOSTILE_HOUSE} / {made.HOSTILE_UNIT}" in names
