"""How many plants to inspect, and what a clean inspection proves."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from benchwalk.science.detection import (
    confidence_after_clean,
    largest_patch_missed,
    miss_probability,
    plants_to_inspect,
    prevalence_limit,
)
from tests.in_turn import each_of
from tests.science.published_values import column, rows

NAN, INF = np.nan, np.inf

units = st.integers(1, 400).flatmap(
    lambda size: st.tuples(
        st.just(size), st.integers(0, size), st.integers(0, size), st.floats(0.01, 1)
    )
)


def test_finite_units_against_the_hypergeometric_table_of_ispm_31():
    # ISPM 31 (IPPC 2008), appendix; from memory, each recomputed; empty cells: under one plant
    found = plants_to_inspect(
        column("ispm31_finite", "prevalence"), column("ispm31_finite", "population")
    )
    expected = column("ispm31_finite", "plants")
    assert_array_equal(found.plants, expected)
    assert_array_equal(found.reason == "under_one_plant", np.isnan(expected))


def test_large_populations_against_the_binomial_table_of_ispm_31():
    # ISPM 31 (IPPC 2008), appendix; 299 seen elsewhere, the rest from memory, each recomputed
    found = plants_to_inspect(
        column("ispm31_large", "prevalence"),
        confidence=column("ispm31_large", "confidence"),
        sensitivity=column("ispm31_large", "sensitivity"),
    )
    assert_array_equal(found.plants, column("ispm31_large", "plants"))


@each_of("row", [r for r in rows("ispm31_finite") if r["plants"]])
def test_one_plant_fewer_than_the_table_is_not_enough(row):
    size, p = float(row["population"]), float(row["prevalence"])
    enough = confidence_after_clean(float(row["plants"]), p, size).confidence
    fewer = confidence_after_clean(float(row["plants"]) - 1, p, size).confidence
    assert fewer < 0.95 <= enough + 1e-12


def test_with_a_scout_who_finds_four_of_five_own_values():
    # own values by the thinned hypergeometric sum, checked by two routes
    found = plants_to_inspect(
        [0.05, 0.02, 0.01, 0.005],
        [[100], [200], [400], [500], [1000], [2000], [10000]],
        sensitivity=0.8,
    )
    expected = [
        [56, 97, NAN, NAN],
        [64, 132, 195, NAN],
        [69, 156, 263, 389],
        [70, 161, 281, 486],
        [72, 173, 323, 563],
        [73, 180, 347, 647],
        [74, 185, 368, 726],
    ]
    assert_array_equal(found.plants, expected)
    assert found.reason[0, 2] == "cannot_reach"  # one infested plant, found 80 times of 100
    assert found.reason[0, 3] == "under_one_plant"
    assert found.reason[1, 3] == "cannot_reach"
    assert found.reason[2, 3] == ""


def test_a_fraction_of_a_plant_rounded_up_own_values():
    # own values; more plants in the unit and yet fewer to inspect: 0.5 % of 300 is 2 plants or 1
    found = plants_to_inspect(0.005, [300, 500, 700, 900], infested="ceil")
    assert_array_equal(found.plants, [233, 316, 369, 405])
    assert_array_equal(found.infested, [2, 3, 4, 5])
    assert_array_equal(plants_to_inspect(0.05, [25, 50], infested="ceil").plants, [19, 31])
    assert_array_equal(plants_to_inspect(0.005, [500, 700]).infested, [2, 3])


def test_whole_plants_survive_float_products():
    # 0.07 x 100 = 7.000000000000001 and 0.29 x 100 = 28.999999999999996 in floats
    assert plants_to_inspect(0.07, 100, infested="ceil").infested == 7
    assert plants_to_inspect(0.29, 100, infested="floor").infested == 29


def test_published_outputs_of_a_freedom_calculator_differ_by_its_approximation_only():
    # RSurveillance docs (rdrr.io, n.freedom): 226 of 500 by n = (N/e) [1-(1-c)^(1/D)]; exact is 225
    approximation = np.ceil(500 * (1 - 0.05 ** (1 / 5)))
    assert approximation == 226
    assert plants_to_inspect(0.01, 500).plants == 225
    assert plants_to_inspect(0.01).plants == 299  # same docs, N unknown


def test_inspection_of_600_units_against_the_statement_of_a_quarantine_page():
    # CSIRO page on ISPM 31 sampling: 600 units, 0.5 % infested, at least 95 %; recomputed 95.06 %
    found = confidence_after_clean(600, 0.005)
    assert_allclose(found.confidence, 0.9506, atol=5e-5)
    assert plants_to_inspect(0.005).plants == 598


def test_twenty_plants_of_which_a_fifth_are_infested_against_spinner_2011():
    # Spinner et al. 2011, Austral Entomology (abstract): 20 plants, over 20 % infested, over 95 %
    assert_allclose(confidence_after_clean(20, 0.2).confidence, 1 - 0.8**20)
    assert confidence_after_clean(20, 0.2).confidence > 0.95


def test_sixty_clean_plants_prove_less_than_five_percent_own_value():
    # own value; the rule of three gives 3/60 = 0.05
    assert_allclose(prevalence_limit(60).limit, 0.048703, atol=5e-7)
    assert_allclose(prevalence_limit(60, sensitivity=0.5).limit, 2 * 0.048703, atol=1e-6)
    assert prevalence_limit(1, sensitivity=0.5).limit == 1


def test_a_clean_look_at_235_of_600_is_sure_of_under_one_percent():
    # ISPM 31 table: 235 plants of 600 find 1 % (6 plants) with 95 %
    assert prevalence_limit(235, population=600).plants == 5
    assert_allclose(prevalence_limit(235, population=600).limit, 5 / 600)
    assert prevalence_limit(234, population=600).plants == 6


def test_where_confidence_is_met_exactly_the_plan_holds_and_the_patch_could_be_missed():
    # 95 of 100 inspected miss one infested plant with chance 0.05 exactly
    assert plants_to_inspect(0.01, 100).plants == 95
    assert prevalence_limit(95, population=100).plants == 0
    assert largest_patch_missed(95, 100).plants == 1
    assert_allclose(largest_patch_missed(95, 100).share, 0.01)


def test_largest_patch_is_the_last_with_a_fair_chance_to_be_missed():
    found = largest_patch_missed(20, 600)
    assert found.plants == 82
    assert_allclose(found.share, 82 / 600)
    assert miss_probability(20, 82, 600) >= 0.05 > miss_probability(20, 83, 600)


def test_every_plant_inspected_by_a_perfect_scout_leaves_nothing():
    assert largest_patch_missed(600, 600).plants == 0
    assert largest_patch_missed(600, 600, sensitivity=0.8).plants == 1
    assert prevalence_limit(600, population=600).limit == 0


def test_a_large_population_has_a_share_and_no_number():
    found = largest_patch_missed(60, INF)
    assert np.isnan(found.plants)
    assert_allclose(found.share, prevalence_limit(60).limit)
    assert np.isnan(plants_to_inspect(0.05).infested)


@given(units)
def test_missing_agrees_with_scipy_hypergeometric(case):
    size, infested, inspected, sensitivity = case
    met = np.arange(infested + 1)
    chance = stats.hypergeom.pmf(met, size, infested, inspected)
    expected = (chance * (1 - sensitivity) ** met).sum()
    assert_allclose(
        miss_probability(inspected, infested, size, sensitivity), expected, rtol=1e-8, atol=1e-14
    )


@given(units)
def test_inspected_and_infested_may_be_exchanged(case):
    size, infested, inspected, sensitivity = case
    assert_allclose(
        miss_probability(inspected, infested, size, sensitivity),
        miss_probability(infested, inspected, size, sensitivity),
        rtol=1e-8,
    )


def test_missing_in_a_huge_unit_does_not_drown_in_tiny_terms():
    # the chance of meeting none is exp(-3500) here, the chance of finding none near (1-0.0005)^5000
    found = miss_probability(50_000, 5_000, 100_000, 0.001)
    assert_allclose(found, (1 - 0.0005) ** 5000, rtol=0.01)


@given(st.integers(1, 500), st.floats(0.001, 0.999), st.floats(0.05, 1))
def test_a_finite_unit_never_needs_more_than_a_large_population(size, prevalence, sensitivity):
    finite = plants_to_inspect(prevalence, size, sensitivity=sensitivity, infested="ceil")
    large = plants_to_inspect(prevalence, sensitivity=sensitivity)
    assert not finite.plants > large.plants


@given(st.integers(1, 300), st.floats(0.5, 0.999))
def test_more_plants_prove_more(inspected, confidence):
    fewer = prevalence_limit(inspected, confidence, 301).plants
    more = prevalence_limit(inspected + 1, confidence, 301).plants
    assert more <= fewer


def test_confidence_of_a_plan_is_what_the_plan_promises():
    plan = plants_to_inspect([0.05, 0.01], [[300], [INF]], confidence=0.9, sensitivity=0.7)
    again = confidence_after_clean(plan.plants, [0.05, 0.01], [[300], [INF]], 0.7)
    assert_allclose(plan.confidence, again.confidence)
    assert (plan.confidence >= 0.9).all()


def test_not_looked_is_no_confidence_and_no_limit():
    assert_array_equal(confidence_after_clean([0, NAN], 0.05).reason, "no_effort")
    assert np.isnan(confidence_after_clean([0, NAN], 0.05).confidence).all()
    assert_array_equal(prevalence_limit([0, NAN]).reason, "no_effort")
    assert np.isnan(prevalence_limit([0, NAN]).limit).all()
    assert np.isnan(largest_patch_missed([0, NAN], 50).share).all()
    assert_array_equal(largest_patch_missed([0, NAN], 50).reason, "no_effort")


def test_an_unknown_number_of_plants_has_no_answer():
    for found in (
        plants_to_inspect(0.05, NAN).reason,
        confidence_after_clean(20, 0.05, NAN).reason,
        prevalence_limit(20, population=NAN).reason,
        largest_patch_missed(20, NAN).reason,
    ):
        assert found == "no_population"


def test_less_than_one_plant_has_no_confidence():
    found = confidence_after_clean(20, 0.01, 99)
    assert found.reason == "under_one_plant"
    assert np.isnan(found.confidence)


def test_whole_floats_and_integers_give_the_same():
    whole = confidence_after_clean(np.array([20, 30]), 0.05, np.array([200, 400]))
    floats = confidence_after_clean([20.0, 30.0], 0.05, [200.0, 400.0])
    assert_array_equal(whole.confidence, floats.confidence)
    assert_array_equal(plants_to_inspect(1, 10).plants, plants_to_inspect(1.0, 10.0).plants)
    assert_array_equal(largest_patch_missed(5, 60).plants, largest_patch_missed(5.0, 60.0).plants)


def test_a_certain_find_needs_one_plant():
    assert plants_to_inspect(1.0).plants == 1
    assert plants_to_inspect(1.0, 40).plants == 1


@each_of(
    ("call", "words"),
    [
        (lambda: plants_to_inspect(0.0), r"got prevalence 0; expected a share in \(0, 1\]"),
        (lambda: plants_to_inspect(0.05, confidence=1.0), r"got confidence 1; expected a share in"),
        (lambda: plants_to_inspect(0.05, sensitivity=0.0), "got sensitivity 0"),
        (lambda: plants_to_inspect(0.05, 0), "got population 0; expected more than zero"),
        (lambda: plants_to_inspect(0.05, 10, infested="round"), "got infested='round'; expected"),
        (lambda: plants_to_inspect([0.1, 0.2], [1, 2, 3]), r"prevalence \(2,\), population \(3,\)"),
        (lambda: prevalence_limit(-1), "got inspected -1; expected zero or more"),
        (lambda: prevalence_limit(61, population=60), "got inspected 61 of population 60"),
        (lambda: largest_patch_missed(61, 60), "check whether the two were exchanged"),
        (lambda: confidence_after_clean(61, 0.5, 60), "got inspected 61 of population 60"),
        (lambda: miss_probability(3, 9, 8), "got infested 9 of population 8"),
        (lambda: miss_probability(9, 3, 8), "got inspected 9 of population 8"),
        (lambda: miss_probability(3, 3, 8, 1.1), "got sensitivity 1.1"),
    ],
)
def test_impossible_arguments_are_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
