"""Pests and diseases on the plants of a house: spread, arrivals, treatments, enemies, moves."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_array_equal

from benchwalk.science.outbreak import (
    Applied,
    Arrival,
    Bench,
    ContactDisease,
    Enemies,
    Enemy,
    Flight,
    Layout,
    Population,
    Release,
    Season,
    Stage,
    Treatment,
    days,
    infected_on,
    life_cycle_growing_at,
    planted,
)
from tests.in_turn import each_of

# invented
CYCLE = life_cycle_growing_at(0.01, (Stage("egg", 50, 0.8), Stage("larva", 100, 0.7)), 120)
TWO_BENCHES = planted([Bench(0, 0, 2, 5, 0.5), Bench(3, 0, 2, 5, 0.5)])
NEAR = Flight(a_day=0.2, mean_distance=0.5)
ENEMY = Enemy(("egg", "larva"), attack=0.4, handling=0.05, young=0.1, life_days=12, flight=NEAR)
ALL = np.arange(TWO_BENCHES.plants)
EVERYWHERE = np.full(TWO_BENCHES.plants, 1 / TWO_BENCHES.plants)
seeds = st.integers(0, 10_000)
shares = st.floats(0, 1)


def infested(seed=1, replicates=2, steps=20, cycle=CYCLE, **how):
    population = Population(
        cycle, TWO_BENCHES, np.random.default_rng(seed), replicates=replicates, **how
    )
    for stage in cycle.names:
        population.arrive(stage, 3)
    for _ in range(steps):
        population.step(10)
    return population


def numbers(population):
    return {stage: population.number(stage) for stage in population.cycle.names}


def total(population):
    return sum(n.sum() for n in numbers(population).values())


def test_plants_stand_on_a_grid_within_their_bench():
    layout = planted([Bench(1, 2, 1.0, 1.5, 0.5)])
    assert_array_equal(np.unique(layout.x), [1.25, 1.75])
    assert_array_equal(np.unique(layout.y), [2.25, 2.75, 3.25])
    assert layout.plants == 6


def test_the_share_that_comes_in_falls_with_the_distance_from_the_door_as_by_hand():
    """exp(-1/2) and exp(-3/2): e times as many on a plant 2 m nearer, mean distance 2 m."""
    layout = Layout(np.array([1.0, 3.0]), np.zeros(2), np.zeros(2, dtype=np.int64))
    near = layout.nearness(0, 0, mean_distance=2)
    assert near.sum() == pytest.approx(1)
    assert near[0] / near[1] == pytest.approx(np.e)


def test_a_door_far_from_all_plants_still_lets_somebody_in():
    assert TWO_BENCHES.nearness(5000, 0, mean_distance=1).sum() == pytest.approx(1)


@given(seeds)
@settings(max_examples=20)
def test_the_same_seed_gives_the_same_outbreak(seed):
    first, second = (numbers(infested(seed, flight=NEAR, room=500)) for _ in range(2))
    for stage in CYCLE.names:
        assert_array_equal(first[stage], second[stage])


def test_another_seed_gives_another_outbreak():
    assert (infested(1).number("egg") != infested(2).number("egg")).any()


@given(seeds, st.floats(0, 1), st.floats(0, 1), st.floats(0.2, 3))
@settings(max_examples=25)
def test_flight_moves_adults_and_loses_none(seed, a_day, far, mean_distance):
    population = infested(seed, steps=0, flight=Flight(a_day, mean_distance, far))
    before = population.number("adult").sum(axis=1)
    population.movers.move(population.adults, population.rng)
    assert_array_equal(population.number("adult").sum(axis=1), before)


@pytest.mark.parametrize("start", [0, 17, 79])
def test_adults_fly_to_neighbours_first_and_across_the_aisle_in_time(start):
    population = Population(
        CYCLE, TWO_BENCHES, np.random.default_rng(4), replicates=200, flight=NEAR
    )
    one_plant = np.where(np.isin(ALL, start), 10, 0)
    population.arrive("adult", one_plant)
    population.step(0)
    away = np.hypot(TWO_BENCHES.x - TWO_BENCHES.x[start], TWO_BENCHES.y - TWO_BENCHES.y[start])
    by_plant = population.number("adult").sum(axis=0)
    # kernel exp(-d / 0.5): 0.5 m against 1.5 m is e**2 as many
    assert by_plant[np.isclose(away, 0.5)].mean() > 3 * by_plant[np.isclose(away, 1.5)].mean() > 0
    for _ in range(40):
        population.step(5)
    assert min(population.number("adult")[:, TWO_BENCHES.on(n)].sum() for n in (0, 1)) > 0


@given(seeds)
@settings(max_examples=20)
def test_without_eggs_a_population_never_grows(seed):
    no_eggs = life_cycle_growing_at(-0.00833, CYCLE.stages, 120)
    population = infested(seed, steps=0, cycle=no_eggs, flight=NEAR)
    for _ in range(60):
        before = total(population)
        population.step(10)
        assert total(population) <= before


def assert_each_in_one_column(population):
    for wheel in population.wheels:
        held = wheel.going_on.sum(axis=0) + wheel.dying.sum(axis=0)
        assert_array_equal(held, wheel.number)
        assert held.min() >= 0


@given(seeds, st.integers(0, 40))
@settings(max_examples=20)
def test_every_individual_stands_in_one_column_of_its_stage(seed, steps):
    population = infested(seed, steps=steps, flight=NEAR)
    population.kill({"egg": 0.3, "larva": 0.6}, plants=ALL[::3])
    assert_each_in_one_column(population)


def test_a_cold_day_changes_nothing():
    population = infested(3)
    before = numbers(population)
    population.step(0)
    for stage in CYCLE.names:
        assert_array_equal(population.number(stage), before[stage])


def test_warmth_given_in_one_day_or_in_ten_develops_as_many():
    """Thermal time is what counts: 100 degree-days at once or by tens."""
    found = []
    for steps in (1, 10):
        population = Population(CYCLE, TWO_BENCHES, np.random.default_rng(5), replicates=50)
        population.arrive("egg", 10)
        for _ in range(steps):
            population.step(100 / steps)
        found.append(population.number("larva").sum())
    assert found[0] == pytest.approx(found[1], rel=0.05)


def test_crowding_stops_growth_near_the_room_on_a_plant():
    free, crowded = infested(6, steps=120), infested(6, steps=120, room=60)
    assert total(crowded) < total(free) / 5
    on_a_plant = sum(numbers(crowded).values())
    assert 20 < on_a_plant.mean() < 80


@given(seeds, shares)
@settings(max_examples=25)
def test_a_spray_that_spares_eggs_kills_no_egg(seed, share):
    population = infested(seed)
    before = numbers(population)
    season = Season(treatments=[Applied(0, Treatment({"larva": 0.9, "adult": 0.5}, 3), ALL)])
    population.kill({"larva": share, "adult": share})
    assert_array_equal(population.number("egg"), before["egg"])
    assert (population.number("larva") <= before["larva"]).all()
    assert season.treatments[0].treatment.on_day(0).keys() == {"larva", "adult"}


@pytest.mark.parametrize("seed", range(3))
def test_eggs_live_through_a_sprayed_day_as_through_an_unsprayed_one(seed):
    """The same eggs on a cold day (none laid, none hatching), sprayed or not."""
    season = Season(treatments=[Applied(0, Treatment({"larva": 0.9, "adult": 0.9}), ALL)])
    sprayed, not_sprayed = infested(seed), infested(seed)
    list(days(sprayed, [0.0], season))
    list(days(not_sprayed, [0.0], Season()))
    assert_array_equal(sprayed.number("egg"), not_sprayed.number("egg"))
    assert sprayed.number("larva").sum() < 0.2 * not_sprayed.number("larva").sum()


def test_a_treatment_kills_from_its_day_on():
    season = Season(treatments=[Applied(2, Treatment({"larva": 0.9}, residual_days=1), ALL)])
    population = infested(23, replicates=20)
    larvae = [population.number("larva").sum()]
    larvae += [population.number("larva").sum() for _ in days(population, [0.0] * 5, season)]
    assert larvae[0] == larvae[1] == larvae[2]
    # 0.9 on the day, and half of its rate on the day after: 1 - 0.1 ** 0.5
    assert larvae[3] == pytest.approx(0.1 * larvae[2], rel=0.1)
    assert larvae[4] == pytest.approx(0.1**0.5 * larvae[3], rel=0.2)
    assert larvae[5] == larvae[4]


@given(seeds)
@settings(max_examples=10)
def test_a_kill_of_all_leaves_none_and_of_none_all(seed):
    population = infested(seed)
    before = population.number("larva")
    population.kill({"larva": 0.0})
    assert_array_equal(population.number("larva"), before)
    population.kill({"larva": 1.0})
    assert population.number("larva").sum() == 0


def test_the_share_killed_is_the_share_asked_for():
    population = infested(7, replicates=60)
    before = population.number("larva").sum()
    population.kill({"larva": 0.7})
    expected = 0.3 * before
    # 4 standard deviations of a binomial count
    left = population.number("larva").sum()
    assert left == pytest.approx(expected, abs=4 * np.sqrt(0.7 * expected))


def test_a_treatment_reaches_the_plants_treated_and_no_other():
    population = infested(8)
    before = population.number("larva")
    population.kill({"larva": 1.0}, plants=TWO_BENCHES.on(0))
    assert population.number("larva")[:, TWO_BENCHES.on(0)].sum() == 0
    assert_array_equal(
        population.number("larva")[:, TWO_BENCHES.on(1)], before[:, TWO_BENCHES.on(1)]
    )


def test_a_residue_kills_less_every_day_and_then_nothing_as_by_hand():
    """A kill of 0.84 with 3 days of residue: rates of 1, 3/4, 1/2, 1/4 of -ln 0.16."""
    treatment = Treatment({"larva": 0.84}, residual_days=3)
    found = [treatment.on_day(day).get("larva") for day in range(-1, 5)]
    expected = [1 - 0.16**left for left in (1, 0.75, 0.5, 0.25)]
    assert expected[2] == pytest.approx(0.6)
    assert found == [None, *(pytest.approx(e) for e in expected), None]


def test_a_treatment_that_acts_late_begins_after_its_lag():
    treatment = Treatment({"larva": 0.9}, lag_days=3)
    assert [bool(treatment.on_day(day)) for day in range(6)] == [0, 0, 0, 1, 0, 0]


@given(shares, shares, st.integers(0, 10))
def test_a_stronger_treatment_never_kills_less_on_any_day(one, other, since):
    low, high = sorted((0.99 * one, 0.99 * other))
    weak, strong = (Treatment({"egg": kill}, 8).on_day(since) for kill in (low, high))
    assert weak.get("egg", -1.0) <= strong.get("egg", -1.0) or not strong


def test_enemies_eat_at_the_rate_of_the_disc_equation():
    """Holling 1959: attack N / (1 + attack handling N); 0.1 x 100 / (1 + 0.1 x 0.1 x 100) = 5."""
    enemy = Enemy(("egg",), attack=0.1, handling=0.1, young=0, life_days=1e9, flight=NEAR)
    population = Population(CYCLE, TWO_BENCHES, np.random.default_rng(9), replicates=50)
    population.arrive("egg", 100)
    enemies = Enemies(enemy, population)
    enemies.release(1)
    enemies.step()
    eaten = 100 - population.number("egg")
    # the risk 1 - exp(-0.05) of a day, not its rate: 4.88 of 100
    assert eaten.mean() == pytest.approx(100 * -np.expm1(-0.05), rel=0.03)
    assert population.number("larva").sum() == 0


def test_enemies_leave_the_stages_they_do_not_eat():
    population = infested(10)
    adults = population.number("adult")
    enemies = Enemies(ENEMY, population)
    enemies.release(5)
    enemies.step()
    assert_array_equal(population.number("adult"), adults)


def test_weekly_releases_hold_a_pest_down():
    weekly = [Release(day, 200.0, EVERYWHERE) for day in range(0, 70, 7)]
    warmth = np.full(70, 10.0)
    with_enemies, without = infested(11), infested(11)
    list(days(with_enemies, warmth, Season(releases=weekly), Enemies(ENEMY, with_enemies)))
    list(days(without, warmth, Season()))
    assert total(with_enemies) < total(without) / 5


def test_an_enemy_without_prey_dies_out():
    empty = Population(CYCLE, TWO_BENCHES, np.random.default_rng(12))
    enemies = Enemies(ENEMY, empty)
    enemies.release(3)
    for _ in range(150):
        enemies.step()
    assert enemies.number.sum() == 0


def test_a_treatment_kills_the_enemies_it_is_said_to_kill():
    population = infested(13)
    enemies = Enemies(ENEMY, population)
    enemies.release(5)
    spray = Applied(0, Treatment({}), TWO_BENCHES.on(0), enemies_killed=1.0)
    list(days(population, [5.0], Season(treatments=[spray]), enemies))
    assert enemies.number[:, TWO_BENCHES.on(0)].sum() == 0
    assert enemies.number[:, TWO_BENCHES.on(1)].sum() > 0


def test_what_comes_in_at_a_door_lands_near_it_and_on_its_day():
    door = TWO_BENCHES.nearness(0, 0, mean_distance=1.0)
    season = Season(arrivals=[Arrival(2, "adult", 30.0, door)])
    population = Population(CYCLE, TWO_BENCHES, np.random.default_rng(14), replicates=40)
    there = [population.adults.sum() for _ in days(population, [0.0] * 4, season)]
    assert there[:2] == [0, 0]
    # 4 standard deviations of a Poisson total
    assert there[2] == pytest.approx(40 * 30, abs=4 * np.sqrt(40 * 30))
    near = population.number("adult")[:, TWO_BENCHES.on(0)].sum()
    assert near > 5 * population.number("adult")[:, TWO_BENCHES.on(1)].sum()


def test_new_plants_bring_young_stages_of_their_own():
    share = np.isin(ALL, TWO_BENCHES.on(1)[:4]) / 4
    season = Season(arrivals=[Arrival(0, "larva", 12.0, share)])
    population = Population(CYCLE, TWO_BENCHES, np.random.default_rng(15), replicates=10)
    list(days(population, [0.0], season))
    assert population.number("larva")[:, share > 0].sum() > 60
    assert population.number("larva")[:, share == 0].sum() == 0


@given(seeds)
@settings(max_examples=15)
def test_plants_that_change_places_take_their_pests_along(seed):
    population = infested(seed)
    before = numbers(population)
    population.swap([0, 1], [30, 31])
    assert_each_in_one_column(population)
    for stage in CYCLE.names:
        assert_array_equal(population.number(stage)[:, [30, 31]], before[stage][:, [0, 1]])
        assert population.number(stage).sum() == before[stage].sum()
    population.swap([30, 31], [0, 1])
    for stage in CYCLE.names:
        assert_array_equal(population.number(stage), before[stage])


def test_plants_that_are_cleared_leave_nothing_and_others_everything():
    population = infested(16)
    before = total(population)
    gone = sum(n[:, :5].sum() for n in numbers(population).values())
    population.clear(ALL[:5])
    assert_each_in_one_column(population)
    assert total(population) == before - gone
    assert sum(n[:, :5].sum() for n in numbers(population).values()) == 0


def test_whole_numbers_and_floats_give_the_same_outbreak():
    found = []
    for number, warmth in ((2, 10), (2.0, 10.0)):
        population = Population(CYCLE, TWO_BENCHES, np.random.default_rng(17))
        population.arrive("egg", number)
        for _ in range(20):
            population.step(warmth)
        found.append(population.number("larva"))
    assert_array_equal(found[0], found[1])


def test_a_contact_is_infected_with_the_chance_reckoned_by_hand():
    """Two plants 1 m apart, reach 1 m, rate 0.2: healthy after 5 days with exp(-0.2 x 5 / e)."""
    pair = Layout(np.array([0.0, 1.0]), np.zeros(2), np.zeros(2, dtype=np.int64))
    disease = ContactDisease(
        pair, np.random.default_rng(18), rate=0.2, reach=1.0, latent_days=0, replicates=4000
    )
    disease.infect([0])
    for _ in range(5):
        disease.step()
    expected = np.exp(-0.2 * 5 / np.e)
    healthy = 1 - disease.infected[:, 1].mean()
    # 4 standard errors of a share of 4000
    assert healthy == pytest.approx(expected, abs=4 * np.sqrt(expected * (1 - expected) / 4000))


def test_a_latent_plant_infects_nobody():
    disease = ContactDisease(
        TWO_BENCHES, np.random.default_rng(19), rate=5.0, reach=1.0, latent_days=7
    )
    disease.infect([0])
    infected = []
    for _ in range(8):
        disease.step()
        infected.append(int(disease.infected.sum()))
    assert infected[:7] == [1] * 7
    assert infected[7] > 1


def test_contact_goes_along_a_bench_before_it_crosses_an_aisle():
    disease = ContactDisease(
        TWO_BENCHES, np.random.default_rng(20), rate=0.3, reach=0.3, latent_days=2, replicates=20
    )
    disease.infect([0])
    for _ in range(25):
        disease.step()
    first, second = infected_on(TWO_BENCHES.bench, disease.infected, 2).sum(axis=0)
    assert first > 5 * second
    assert first > 40


def test_hands_and_tools_carry_a_disease_across_an_aisle():
    disease = ContactDisease(
        TWO_BENCHES,
        np.random.default_rng(21),
        rate=0.0,
        reach=0.3,
        latent_days=0,
        handled=0.05,
        replicates=20,
    )
    disease.infect([0])
    for _ in range(10):
        disease.step()
    assert infected_on(TWO_BENCHES.bench, disease.infected, 2)[:, 1].sum() > 20


def test_a_plant_taken_out_infects_no_more_and_a_moved_one_elsewhere():
    disease = ContactDisease(
        TWO_BENCHES, np.random.default_rng(22), rate=1.0, reach=0.5, latent_days=0
    )
    disease.infect([0])
    disease.swap([0], [45])
    assert_array_equal(np.flatnonzero(disease.infected[0]), [45])
    disease.remove([45])
    disease.step()
    assert not disease.infected.any()


@each_of(
    ("asked", "sentence"),
    [
        (lambda p: p.number("nymph"), r"stage 'nymph'; expected one of egg, larva, adult"),
        (lambda p: p.kill({"egg": 1.1}), r"share of egg killed outside \[0, 1\]"),
        (lambda p: p.kill({"egg": np.nan}), r"share of egg killed outside \[0, 1\]"),
        (lambda p: p.step(-1), r"degree_days -1; expected 0 or more"),
        (lambda p: p.step(np.nan), r"degree_days nan; expected 0 or more; fill the gap"),
        (lambda p: p.swap([0], [1, 2]), r"got 1 plants for 2; expected as many, each named once"),
        (lambda p: p.swap([0, 1], [1, 2]), r"expected as many, each named once"),
        (
            lambda p: next(days(p, [1.0], Season(releases=[Release(0, 1.0, EVERYWHERE)]))),
            r"releases without enemies",
        ),
        (lambda p: Enemies(Enemy(("nymph",), 1, 1, 0, 5, NEAR), p), r"stage 'nymph'; expected"),
        (lambda p: Enemies(Enemy(("egg",), 1, 1, 0, 0, NEAR), p), r"life_days 0; expected above"),
        (lambda p: Population(CYCLE, TWO_BENCHES, p.rng, room=0), r"room 0; expected at least 1"),
        (lambda p: Population(CYCLE, TWO_BENCHES, p.rng, replicates=0), r"replicates 0"),
        (lambda p: Treatment({"egg": 1.0}), r"kill of 1\.0 of egg; expected a share in \[0, 1\)"),
        (lambda p: Treatment({}, residual_days=-1), r"got negative days"),
        (lambda p: planted([]), r"got no bench; expected at least one"),
        (lambda p: planted([Bench(0, 0, 0.2, 5, 0.5)]), r"expected room for one plant"),
        (
            lambda p: ContactDisease(TWO_BENCHES, p.rng, rate=1, reach=0, latent_days=0),
            r"expected none negative and a reach above 0",
        ),
    ],
)
def test_what_cannot_be_is_refused_with_what_was_expected(asked, sentence):
    with pytest.raises(ValueError, match=sentence):
        asked(infested(steps=0, replicates=1))
