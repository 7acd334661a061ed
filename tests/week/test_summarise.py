"""The week's summary, each statement against a value worked by hand beside it."""

import datetime as dt
import math

import pytest
from scipy import stats

import benchwalk.records as r
from benchwalk.records.database import session, writing
from benchwalk.summarise import summarise
from tests.week.nursery import MONDAY, WEEK, noon

DAY = dt.timedelta(days=1)


def state_of(nursery, unit, day=MONDAY):
    return next(u.state for u in nursery.week(day).units if u.unit.id == unit.id)


def not_looked(nursery, unit, day=MONDAY):
    return next(n for n in nursery.week(day).not_looked if n.unit.id == unit.id)


def test_nobody_has_walked_is_no_summary(nursery):
    with session(nursery.engine, nursery.n) as s:
        assert summarise(s) is None


def test_a_density_is_individuals_over_plants_worked_by_hand(nursery):
    """0 + 1 + 3 + 0 + 6 = 10 on 5 plants: 2 a plant, 3 of 5 infested."""
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [0, 1, 3, 0, 6])
    line = nursery.line(bench)
    assert (line.series.units_sampled, line.series.total, line.series.infested) == (5, 10, 3)
    assert line.density.mean == 2.0
    assert line.density.low < 2.0 < line.density.high
    assert line.infested_percent[0] == 60.0


def test_pooled_looks_are_summed_and_not_averaged_worked_by_hand(nursery):
    """10 on 10 plants and 2 on 40: 12 / 50 = 0.24, not the mean of 1 and 0.05."""
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [10], plants=10)
    nursery.looks(bench, [2], plants=40, position="far end")
    line = nursery.line(bench)
    assert line.density.mean == pytest.approx(0.24)
    assert line.series.infested is None, "of pooled plants nobody said how many were infested"
    assert line.infested_percent is None


def test_a_look_that_saw_nothing_is_a_zero_of_every_pest_counted_that_way(nursery):
    """3 + 1 on two plants and one plant with none at all: 4 / 3."""
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [3, 1, None])
    line = nursery.line(bench)
    assert line.density.mean == pytest.approx(4 / 3)
    assert (line.series.units_sampled, line.series.none_at_all) == (3, 1)


def test_a_walk_that_saw_nothing_at_all_is_looked_none_and_says_what_it_proves(nursery):
    """1 - 0.05 ** (1/60) = 4.87 %: the binomial limit of 60 clean plants (hand-worked)."""
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [None] * 60)
    week = nursery.week()
    assert week.counts == {"none": 1}
    clean = week.units[0].clean
    assert clean.at_most_percent == pytest.approx(100 * (1 - 0.05 ** (1 / 60)))
    assert clean.could_miss_plants is None, "how many plants stand there was never said"


def test_the_largest_patch_a_clean_walk_could_miss_against_the_hypergeometric(nursery):
    """The largest D with P(none of D among 20 of 600) >= 5 %, by scipy's hypergeometric."""
    bench = nursery.unit("Bench 1", "poinsettia", plants=600)
    nursery.looks(bench, [0] * 20)
    missed = [d for d in range(601) if stats.hypergeom.pmf(0, 600, d, 20) >= 0.05]
    assert nursery.week().units[0].clean.could_miss_plants == max(missed)


def test_a_pooled_look_at_an_unknown_number_of_plants_has_a_count_and_no_density(nursery):
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [7], plants=None)
    line = nursery.line(bench)
    assert line.series.total == 7
    assert math.isnan(line.density.mean)
    assert (line.state, line.density.reason) == ("no_density", "effort_not_said")


def test_zero_plants_looked_none_has_an_upper_bound_and_no_lower(nursery):
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [0] * 10)
    line = nursery.line(bench)
    assert (line.state, line.density.mean, line.density.low) == ("none", 0, 0)
    assert line.density.high > 0


def test_the_same_count_is_over_on_poinsettia_and_under_on_tomato(nursery):
    """Whitefly: near zero on poinsettia, 10 to 20 on tomato. Common practice, no source."""
    nursery.threshold("poinsettia", 0.5)
    nursery.threshold("tomato", 10, high=20)
    one, other = nursery.unit("Bench 1", "poinsettia"), nursery.unit("Row 1", "tomato")
    for unit in (one, other):
        nursery.looks(unit, [1, 2, 0, 3, 2])
    assert (state_of(nursery, one), state_of(nursery, other)) == ("over", "under")
    times = nursery.line(one).times, nursery.line(other).times
    assert (times[0][0], times[1][0]) == (pytest.approx(3.2), pytest.approx(0.16))
    assert nursery.line(other).rule.threshold.high == 20


def test_exactly_at_the_threshold_is_over_and_just_below_is_under(nursery):
    nursery.threshold("poinsettia", 2)
    at, below = nursery.unit("At", "poinsettia"), nursery.unit("Below", "poinsettia")
    nursery.looks(at, [2, 2, 2, 2])
    nursery.looks(below, [2, 2, 2, 1])
    assert (state_of(nursery, at), state_of(nursery, below)) == ("over", "under")


def test_no_threshold_is_said_and_not_taken_for_under(nursery):
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [3], taxon="melon_aphid", stage="wingless")
    assert nursery.line(bench).state == "no_threshold"
    assert nursery.line(bench).times is None


def test_a_stage_without_a_threshold_leaves_the_unit_to_the_stage_that_has_one(nursery):
    nursery.threshold("poinsettia", 30)
    bench, other = nursery.unit("Bench 1", "poinsettia"), nursery.unit("Bench 2", "poinsettia")
    for unit in (bench, other):
        nursery.looks(unit, [3])
    nursery.looks(bench, [5], stage="adult", position="the same plant")
    nursery.looks(other, [5], taxon="melon_aphid", stage="wingless", position="the same plant")
    assert (state_of(nursery, bench), state_of(nursery, other)) == ("under", "no_threshold")


def test_the_strongest_rule_is_in_force_phase_before_crop_before_general(nursery):
    bench = nursery.unit("Bench 1", "poinsettia", phase="finishing")
    nursery.looks(bench, [1, 1])
    found = []
    for rule, crop, phase, value in (
        ("general", "any_crop", "any", 9),
        ("crop", "poinsettia", "any", 8),
        ("phase", "poinsettia", "finishing", 7),
    ):
        nursery.threshold(crop, value, rule=rule, phase=phase)
        in_force = nursery.line(bench).rule.threshold
        found.append((in_force.rule, in_force.value))
    assert found == [("general", 9), ("crop", 8), ("phase", 7)]


def test_a_rule_for_another_phase_is_not_in_force(nursery):
    bench = nursery.unit("Bench 1", "poinsettia", phase="vegetative")
    nursery.threshold("poinsettia", 7, rule="phase", phase="finishing")
    nursery.looks(bench, [9])
    line = nursery.line(bench)
    assert line.rule is None
    assert [u.why for u in line.unlike] == ["phase"]


def test_a_later_threshold_replaces_the_earlier_one_from_its_day_on(nursery):
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.threshold("poinsettia", 4)
    nursery.threshold("poinsettia", 2, from_on=MONDAY + DAY)
    nursery.looks(bench, [3])
    assert nursery.line(bench).rule.threshold.value == 4
    assert nursery.line(bench, day=MONDAY + DAY).rule.threshold.value == 2


def test_changing_a_threshold_changes_comparisons_and_not_one_digit_of_a_density(nursery):
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [1, 4, 0, 2])
    nursery.threshold("poinsettia", 4)
    before = nursery.line(bench)
    nursery.threshold("poinsettia", 0.5)
    after = nursery.line(bench)
    assert (before.state, after.state) == ("under", "over")
    assert (before.density, before.dispersion) == (after.density, after.dispersion)


def test_of_two_crops_in_a_unit_the_lower_threshold_binds_and_is_named(nursery):
    bench = nursery.unit("Bench 1", "tomato")
    nursery.plant(bench, "poinsettia")
    nursery.threshold("tomato", 10)
    nursery.threshold("poinsettia", 0.5)
    nursery.looks(bench, [1])
    assert nursery.line(bench).rule.crop == "poinsettia"


@pytest.mark.parametrize(
    ("key", "why"),
    [
        ({"stage": "adult"}, "stage"),
        ({"method": "leaf_count", "per": "per_leaf"}, "method"),
        ({"per": "per_leaf"}, "quantity"),
        ({"taxon": "silverleaf_whitefly"}, None),
    ],
)
def test_unlike_is_refused_in_a_word_and_another_species_is_no_rule_at_all(nursery, key, why):
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.threshold("poinsettia", 0.5, **key)
    nursery.looks(bench, [3])
    line = nursery.line(bench)
    assert line.state == "no_threshold"
    assert [u.why for u in line.unlike if u.threshold.value == 0.5] == ([why] if why else [])


def test_thrips_nobody_named_are_not_compared_with_a_rule_for_one_species(nursery):
    bench = nursery.unit("Bench 1", "gerbera")
    nursery.looks(bench, [9], taxon="thrips", stage="larva")
    nursery.threshold("gerbera", 2, taxon="western_flower_thrips", stage="larva")
    unlike = nursery.line(bench).unlike
    assert {u.why for u in unlike} == {"taxon"}
    assert "western_flower_thrips" in {u.threshold.taxon for u in unlike}


def test_a_rule_for_a_group_binds_its_species(nursery):
    bench = nursery.unit("Bench 1", "gerbera")
    nursery.looks(bench, [9], taxon="western_flower_thrips", stage="larva")
    nursery.threshold("gerbera", 2, taxon="thrips", stage="larva")
    assert nursery.line(bench).state == "over"


def test_fungus_gnat_larvae_on_plants_are_not_compared_with_the_rule_for_potato_slices(nursery):
    """Larvae are counted on potato slices: the shipped rule is per disc (common practice)."""
    bench = nursery.unit("Bench 1", "poinsettia", phase="propagation")
    nursery.looks(bench, [9], taxon="fungus_gnat", stage="larva")
    assert "method" in [u.why for u in nursery.line(bench).unlike]


def test_a_rule_for_young_plantings_fits_by_age_and_an_unknown_age_fits_none(nursery):
    """The shipped rules for spider mite on ivy geranium change at five weeks (Rettke2009)."""
    young = nursery.unit("Young", "ivy_geranium", since=MONDAY - 4 * WEEK)
    old = nursery.unit("Old", "ivy_geranium", since=MONDAY - 5 * WEEK)
    unknown = nursery.unit("Unknown", "ivy_geranium", provisional=True)
    mites = {"taxon": "two_spotted_spider_mite", "stage": "motile", "method": "leaf_count"}
    for unit in (young, old, unknown):
        walk = nursery.walk(MONDAY, unit)
        counted = r.Tally(taxon=mites["taxon"], stage="motile", number=9)
        examined = r.Examined(method="leaf_count", items=3, tallies=[counted])
        look = r.Observation(kind="look", walk_id=walk.id, unit_id=unit.id, seen_at=noon(MONDAY))
        look.why, look.plants, look.examined = "sample", 1, [examined]
        nursery.write(look)
    assert nursery.line(young).density.mean == 3.0, "9 on 3 leaves"
    assert nursery.line(young).rule.threshold.value == 2
    assert nursery.line(old).rule.threshold.value == 7
    assert {u.why for u in nursery.line(unknown).unlike} == {"age"}


def test_a_capped_count_is_a_lower_bound_and_never_under(nursery):
    nursery.threshold("poinsettia", 30)
    low, high = nursery.unit("Low", "poinsettia"), nursery.unit("High", "poinsettia")
    nursery.looks(low, ["50+", 0, 0])
    nursery.looks(high, ["50+", 60])
    assert (state_of(nursery, low), state_of(nursery, high)) == ("at_least", "over")
    line = nursery.line(low)
    assert (line.density.mean, line.density.high) == (pytest.approx(50 / 3), math.inf)


def test_present_without_a_number_is_a_find_of_at_least_one(nursery):
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, ["present", 0])
    line = nursery.line(bench)
    assert (line.series.total, line.series.at_least, line.series.infested) == (1, True, 1)


def test_a_mean_without_a_count_has_no_total_and_no_interval_worked_by_hand(nursery):
    """A mean of 1.5 on 10 plants and of 0 on 5: 15 / 15 = 1.0; nobody wrote a count."""
    nursery.threshold("poinsettia", 2)
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [1.5], plants=10)
    nursery.looks(bench, [0.0], plants=5, position="far end")
    line = nursery.line(bench)
    assert line.series.total is None
    assert (line.density.mean, line.density.reason) == (1.0, "mean_only")
    assert math.isnan(line.density.low)
    assert (line.state, line.times[0]) == ("under", 0.5)


def test_means_beside_counts_are_weighted_by_their_plants_worked_by_hand(nursery):
    """A mean of 1.5 on 10 plants (15) and 3 counted on 5: 18 / 15 = 1.2, not the 3 alone."""
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [1.5], plants=10)
    nursery.looks(bench, [3], plants=5, position="far end")
    assert nursery.line(bench).density.mean == pytest.approx(1.2)
    assert nursery.line(bench).density.reason == "mean_only"


def test_finds_on_flagged_plants_alone_are_not_looked_none(nursery):
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [0, 0, 0])
    nursery.looks(bench, [4], why="flagged", position="flag")
    assert state_of(nursery, bench) == "present"


def test_a_floor_is_not_compared_as_if_it_were_a_ceiling(nursery):
    nursery.threshold("poinsettia", 0.5, sense="floor")
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [3])
    assert nursery.line(bench).rule is None


def test_natural_enemies_need_no_threshold_and_do_not_make_a_unit_worse(nursery):
    bench = nursery.unit("Bench 1", "tomato")
    nursery.looks(bench, [0, 0])
    nursery.looks(bench, [5, 3], taxon="encarsia_formosa", stage="parasitised_pupa")
    assert nursery.line(bench, taxon="encarsia_formosa").state == "enemy"
    assert state_of(nursery, bench) == "none"


def test_finds_on_flagged_plants_stand_apart_and_out_of_the_density(nursery):
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [0, 0, 1])
    nursery.looks(bench, [40], why="flagged", position="flag")
    assert nursery.line(bench).density.mean == pytest.approx(1 / 3)
    apart = nursery.week().units[0].apart
    assert [(a.series.why, a.series.total) for a in apart] == [("flagged", 40)]


def test_fewer_than_one_plant_in_a_hundred_is_said(nursery):
    """Common practice, no source: 29 of 3,000 are few, 30 are not; unknown plants say nothing."""
    benches = [nursery.unit(n, "poinsettia", plants=3000) for n in ("Few", "Enough")]
    unknown = nursery.unit("Unknown", "poinsettia")
    for unit, n in (*zip(benches, (29, 30), strict=True), (unknown, 1)):
        nursery.looks(unit, [0], plants=n)
    few = {u.unit.name: u.few for u in nursery.week().units}
    assert few == {"Few": True, "Enough": False, "Unknown": False}


def test_eighteen_on_a_card_in_five_days_are_25_2_a_week(nursery):
    """18 in 5 days = 25.2 in 7 days (common practice, no source; 18 * 7 / 5 by hand)."""
    bench = nursery.unit("Bench 1", "gerbera")
    nursery.card(bench, 18, on=MONDAY, hung=MONDAY - 5 * DAY)
    line = nursery.line(bench)
    assert line.density.mean == pytest.approx(25.2)
    assert (line.series.per, line.rule.threshold.value) == ("per_card_per_week", 18)
    assert (line.state, line.times[0]) == ("over", pytest.approx(1.4))


def test_squares_of_squares_scale_to_a_full_card_worked_by_hand(nursery):
    """9 on 12 of 24 squares in 7 days: 18 a full card and week."""
    bench = nursery.unit("Bench 1", "gerbera")
    nursery.card(bench, 9, hung=MONDAY - WEEK, squares=(12, 24))
    assert nursery.line(bench).density.mean == pytest.approx(18)


def test_cards_are_summed_over_their_days_and_door_cards_are_left_out(nursery):
    """10 in 7 days and 20 in 14 days: 30 in 3 card-weeks, 10 a week; the door's 99 is apart."""
    bench = nursery.unit("Bench 1", "gerbera")
    nursery.card(bench, 10, hung=MONDAY - WEEK)
    nursery.card(bench, 20, hung=MONDAY - 2 * WEEK)
    nursery.card(bench, 99, hung=MONDAY - WEEK, role="door")
    line = nursery.line(bench)
    assert (line.density.mean, line.series.looks) == (pytest.approx(10), 2)


def test_a_card_without_its_day_out_has_a_count_per_card_and_no_rate(nursery):
    bench = nursery.unit("Bench 1", "gerbera")
    nursery.card(bench, 18)
    line = nursery.line(bench)
    assert (line.series.per, line.density.mean) == ("per_card", 18)
    assert line.rule is None
    assert [u.why for u in line.unlike] == ["quantity", "quantity"]


def test_what_is_new_on_a_card_that_hangs_on_is_the_difference(nursery):
    """10 after a week, 24 after two (all since hanging): 14 new in the second week."""
    bench = nursery.unit("Bench 1", "gerbera")
    card = nursery.card(bench, 10, hung=MONDAY - WEEK)
    nursery.card(bench, 24, on=MONDAY + WEEK, reuse=card)
    line = nursery.line(bench, day=MONDAY + WEEK)
    assert (line.series.total, line.density.mean) == (14, pytest.approx(14))


def test_a_card_that_lost_insects_is_for_a_person_and_makes_no_density(nursery):
    bench = nursery.unit("Bench 1", "gerbera")
    card = nursery.card(bench, 10, hung=MONDAY - WEEK)
    nursery.card(bench, 6, on=MONDAY + WEEK, reuse=card)
    line = nursery.line(bench, day=MONDAY + WEEK)
    assert math.isnan(line.density.mean)
    assert line.density.reason == "card_fell_below"


def test_the_change_since_the_walk_before_is_a_ratio_with_its_interval(nursery):
    """2 a plant after 0.5 a plant: 4 times."""
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [0, 1, 0, 1], on=MONDAY - WEEK)
    nursery.looks(bench, [2, 2, 3, 1])
    change = nursery.line(bench).change
    assert (change.before_on, change.before) == (MONDAY - WEEK, 0.5)
    assert change.ratio == pytest.approx(4)
    assert change.low < 4 < change.high


def test_another_method_is_no_walk_before(nursery):
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [1], on=MONDAY - WEEK, method="hand_search")
    nursery.looks(bench, [2])
    assert nursery.line(bench).change is None


def test_first_finds_are_marked_and_a_units_first_walk_is_not(nursery):
    a, b = nursery.unit("A", "poinsettia"), nursery.unit("B", "poinsettia")
    for unit in (a, b):
        nursery.looks(unit, [0], on=MONDAY - 2 * WEEK)
    nursery.looks(a, [1], on=MONDAY - WEEK)
    nursery.looks(b, [0], on=MONDAY - WEEK)
    nursery.looks(b, [1])
    c = nursery.unit("C", "poinsettia")
    nursery.looks(c, [1])
    assert nursery.line(a, day=MONDAY - WEEK).first == "operation"
    assert nursery.line(b).first == "unit"
    assert nursery.line(c).first == ""


def test_stage_structure_is_given_where_every_stage_was_counted(nursery):
    bench = nursery.unit("Bench 1", "poinsettia")
    walk = nursery.walk(MONDAY, bench)
    counted = [
        r.Tally(taxon="greenhouse_whitefly", stage=s, number=n)
        for s, n in (("nymph", 6), ("pupa", 2), ("adult", 0))
    ]
    look = r.Observation(kind="look", walk_id=walk.id, unit_id=bench.id, seen_at=noon(MONDAY))
    look.why, look.plants = "sample", 1
    look.examined = [r.Examined(method="plant_count", tallies=counted)]
    nursery.write(look)
    share = nursery.week().units[0].shares[0]
    assert (share.total, dict(share.stages)) == (8, {"nymph": 6, "pupa": 2, "adult": 0})


def test_clumping_is_assumed_under_ten_rounds_and_learned_after(nursery):
    bench = nursery.unit("Bench 1", "poinsettia")
    for back in range(11):
        nursery.looks(bench, [0, 1, 5, 2], on=MONDAY - back * WEEK)
    ninth = nursery.line(bench, day=MONDAY - WEEK)
    tenth = nursery.line(bench)
    assert (ninth.dispersion.rounds, ninth.dispersion.assumed) == (9, True)
    assert (tenth.dispersion.rounds, tenth.dispersion.assumed) == (10, False)


def test_a_pooled_round_teaches_no_clumping(nursery):
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [8], plants=4, on=MONDAY - WEEK)
    nursery.looks(bench, [8], plants=4)
    assert nursery.line(bench).dispersion.rounds == 0


def test_nobody_looked_is_said_with_its_reason_and_is_no_zero(nursery):
    names = ("Skipped", "No word", "No walk", "Looked", "Came by")
    skipped, silent, idle, looked, empty = (nursery.unit(n, "poinsettia") for n in names)
    nursery.walk(MONDAY, skipped, state="skipped", reason="sign is up")
    nursery.walk(MONDAY - DAY, silent, route=True)
    nursery.walk(MONDAY, empty)
    nursery.looks(looked, [0])
    week = nursery.week()
    assert not_looked(nursery, skipped).reason == "sign is up"
    assert not_looked(nursery, silent).reason == "no_word"
    assert not_looked(nursery, idle).reason == "no_walk"
    assert not_looked(nursery, empty).reason == "nothing_recorded"
    assert week.counts == {"none": 1, "not_looked": 4}
    assert [u.unit.name for u in week.units] == ["Looked"]


def test_the_counts_add_up_to_the_units_alive(nursery):
    nursery.threshold("poinsettia", 1)
    for n in range(5):
        unit = nursery.unit(f"Bench {n}", "poinsettia")
        if n < 4:
            nursery.looks(unit, [n])
    closed = nursery.unit("Closed", "poinsettia")
    with writing(nursery.engine, nursery.n) as s:
        s.get_one(r.Unit, (nursery.n, closed.id)).closed_on = MONDAY
    week = nursery.week()
    assert sum(week.counts.values()) == 5
    assert week.counts == {"over": 3, "none": 1, "not_looked": 1}


def test_a_look_older_than_the_week_is_not_looked_with_the_last_day(nursery):
    bench = nursery.unit("Bench 1", "poinsettia")
    other = nursery.unit("Bench 2", "poinsettia")
    nursery.looks(bench, [3], on=MONDAY - WEEK)
    nursery.looks(other, [0])
    assert not_looked(nursery, bench).last_on == MONDAY - WEEK
    assert [u.unit.name for u in nursery.week(days=8).units] == ["Bench 1", "Bench 2"]


def test_a_pest_counted_before_and_not_this_week_is_not_counted_and_no_zero(nursery):
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [3], on=MONDAY - WEEK)
    nursery.looks(bench, [1], on=MONDAY - WEEK, taxon="melon_aphid", stage="wingless")
    nursery.looks(bench, [0])
    unit = nursery.week().units[0]
    assert [line.taxon for line in unit.lines] == ["greenhouse_whitefly"]
    assert [(n.key.taxon, n.reason) for n in unit.not_counted] == [("melon_aphid", "not_counted")]


def test_units_that_need_somebody_come_first(nursery):
    nursery.threshold("poinsettia", 1)
    wanted = {"Worst": 9, "Over": 2, "Under": 0.5, "None": 0}
    for name, mean in sorted(wanted.items()):
        nursery.looks(nursery.unit(name, "poinsettia"), [int(2 * mean)], plants=2)
    assert [u.unit.name for u in nursery.week().units] == list(wanted)


def test_two_scouts_on_one_day_are_one_round_worked_by_hand(nursery):
    """4 on 2 plants and 2 on 4 plants: 6 / 6 = 1."""
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [4], plants=2)
    nursery.walks.pop(MONDAY)
    nursery.visited.clear()
    nursery.looks(bench, [2], plants=4)
    assert nursery.line(bench).density.mean == 1.0


def test_a_void_look_leaves_the_summary(nursery):
    bench = nursery.unit("Bench 1", "poinsettia")
    nursery.looks(bench, [0, 0])
    nursery.looks(bench, [100], position="wrong bench")
    with writing(nursery.engine, nursery.n) as s:
        s.info["void_reason"] = "wrong bench"
        found = s.query(r.Observation).filter(r.Observation.position == "wrong bench").one()
        s.delete(found)
    assert nursery.line(bench).series.total == 0
