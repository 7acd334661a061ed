"""Sample sizes of fixed precision, stop lines, and the precision that was reached."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from benchwalk.science.dispersion import taylor_variance
from benchwalk.science.precision import (
    Precision,
    green_line,
    half_width,
    kuno_line,
    precision_reached,
    standard_error,
    units_binomial,
    units_from_variance,
    units_iwao,
    units_negative_binomial,
    units_poisson,
    units_taylor,
)
from tests.in_turn import each_of
from tests.science.published_values import rows

NAN, INF = np.nan, np.inf
QUARTER = standard_error(0.25)

means = st.floats(0.01, 500)
shares = st.floats(0.02, 0.9)
scales = st.floats(0.1, 20)
# nearer to 1 and 2 a line is flat or steep beyond any count of plants
powers = st.floats(1.05, 1.9)


def asked(row):
    """A precision with the z of the row: 1 where D is SE / mean, 1.96 where it is a half-width."""
    z = float(row["z"])
    level = 2 * stats.norm.cdf(z) - 1
    share = float(row["share"])
    return standard_error(share) if z == 1 else half_width(share, level)


def size(row, precision, mean=None):
    mean = float(row["mean"]) if mean is None else mean
    law = [float(row[key]) for key in ("first", "second") if row[key]]
    call = {
        "taylor": units_taylor,
        "iwao": units_iwao,
        "negative binomial": units_negative_binomial,
        "poisson": units_poisson,
        "binomial": units_binomial,
    }[row["law"]]
    return call(mean, *law, precision)


@each_of("row", rows("precision"))
def test_sizes_against_the_table_to_its_digits(row):
    found = size(row, asked(row))
    assert_allclose(found.exact, float(row["exact"]), atol=0.51 * 10.0 ** -int(row["digits"]))
    assert found.reason == ""


def test_whole_leaves_for_whitefly_on_melon_against_formosan_entomologist_2006():
    # Formosan Entomol. 2006:343-356 (seen): 47 leaves by Taylor, 75 by Iwao, mean 5, D 0.2
    assert units_taylor(5, 3.917, 1.538, standard_error(0.2)).units == 47
    assert units_iwao(5, 12.29, 1.327, standard_error(0.2)).units == 75


def test_those_leaves_are_not_what_a_half_width_takes():
    # the same D read as half of a 95 % interval takes z**2 = 3.84 times as many
    assert units_taylor(5, 3.917, 1.538, half_width(0.2, 0.95)).units == 179
    assert units_iwao(5, 12.29, 1.327, half_width(0.2, 0.95)).units == 287


def test_cards_in_strawberry_against_yang_2017_as_bounds():
    # Yang et al. 2017, Korean J. Appl. Entomol. 56:309-314 (abstract): 13, 11 and 10 cards at 4.0 a
    # card, D 0.25; a and b are not shown, so these are the largest variances that agree
    found = units_from_variance(4.0, np.array([0.8125, 0.6875, 0.625]) * 16, QUARTER)
    assert_array_equal(found.units, [13, 11, 10])


@each_of("row", rows("stop_lines"))
def test_stop_lines_against_the_table_to_its_digits(row):
    line = {"green": green_line, "kuno": kuno_line}[row["line"]]
    law = float(row["first"]), float(row["second"])
    found = line(float(row["n"]), *law, standard_error(float(row["share"])))
    assert_allclose(found.total, float(row["total"]), atol=0.51 * 10.0 ** -int(row["digits"]))


def test_greens_line_at_fifty_plants_leads_back_to_fifty_own_value():
    total = green_line(50, 2.586, 1.511, QUARTER).total
    assert_allclose(total / 50, 0.678981390, atol=6e-10)
    assert_allclose(units_taylor(total / 50, 2.586, 1.511, QUARTER).exact, 50, rtol=1e-12)


def test_share_of_plants_against_statsmodels():
    proportion = pytest.importorskip("statsmodels.stats.proportion")
    for share in (0.05, 0.2, 0.6):
        for relative in (0.1, 0.25):
            wanted = proportion.samplesize_confint_proportion(share, relative * share, alpha=0.1)
            found = units_binomial(share, half_width(relative, 0.9))
            assert_allclose(found.exact, wanted, rtol=1e-12)


def test_the_mean_of_that_many_plants_varies_as_asked_against_scipy_nbinom():
    # the total over n plants is negative binomial: its own standard deviation from scipy
    mean, k = 2.0, 0.8
    n = units_negative_binomial(mean, k, QUARTER).exact
    total = stats.nbinom(n * k, k / (k + mean))
    assert_allclose(total.std() / total.mean(), 0.25, rtol=1e-12)


def test_a_half_width_takes_z_squared_times_the_units():
    z = stats.norm.ppf(0.95)
    se = units_negative_binomial(1.5, 0.7, standard_error(0.25)).exact
    half = units_negative_binomial(1.5, 0.7, half_width(0.25, 0.9)).exact
    assert_allclose(half / se, z**2, rtol=1e-12)
    assert half > 2 * se


@pytest.mark.parametrize(
    "call",
    [
        lambda: units_poisson(1.0, 0.25),
        lambda: units_taylor(1.0, 2.0, 1.5, 0.25),
        lambda: green_line(10, 2.0, 1.5, 0.25),
        lambda: kuno_line(10, 0.5, 1.3, 0.25),
    ],
)
def test_a_bare_number_is_no_precision(call):
    with pytest.raises(
        TypeError, match=r"got precision 0.25; expected standard_error\(D\) or half"
    ):
        call()


def test_a_finite_unit_takes_fewer_plants_hand_worked():
    # 64 of many; 64 / (1 + 64/64) = 32 of 64; 64 / (1 + 64/576) = 57.6 of 576
    found = units_binomial(0.2, QUARTER, [INF, 64, 576])
    assert_allclose(found.exact, [64, 32, 57.6])
    assert_array_equal(found.units, [64, 32, 58])


def test_a_size_that_is_whole_but_for_rounding_is_not_raised():
    # 0.9 / 0.1 / 0.3**2 = 100.00000000000001 in floats
    assert units_binomial(0.1, standard_error(0.3)).units == 100
    assert units_from_variance(1.0, 1.01, standard_error(0.1)).units == 101
    assert units_from_variance(1.0, 1.0101, standard_error(0.1)).units == 102


@given(means, scales, powers, shares)
def test_taylors_size_reaches_its_precision(mean, a, b, share):
    n = units_taylor(mean, a, b, standard_error(share)).exact
    found = precision_reached(mean, taylor_variance(mean, a, b), n)
    assert_allclose(found.relative, share, rtol=1e-9)


@given(means, st.floats(0.1, 10), shares, st.integers(1, 2000))
def test_a_finite_size_reaches_its_precision_and_never_exceeds_the_unit(mean, k, share, population):
    n = units_negative_binomial(mean, k, standard_error(share), population).exact
    assert n < population
    found = precision_reached(mean, mean + mean**2 / k, n, population)
    assert_allclose(found.relative, share, rtol=1e-6)


@given(st.integers(1, 500), scales, powers, shares)
def test_at_greens_line_the_size_is_the_units_counted(n, a, b, share):
    line = green_line(n, a, b, standard_error(share))
    assert_allclose(units_taylor(line.total / n, a, b, standard_error(share)).exact, n, rtol=1e-7)


@given(st.integers(1, 500), scales, powers, shares, st.integers(501, 3000))
def test_at_greens_line_in_a_finite_unit_too(n, a, b, share, population):
    line = green_line(n, a, b, standard_error(share), population)
    back = units_taylor(line.total / n, a, b, standard_error(share), population).exact
    assert_allclose(back, n, rtol=1e-6)


@given(st.integers(1, 500), st.floats(-0.5, 10), st.floats(0.9, 4), shares)
def test_at_kunos_line_the_size_is_the_units_counted(n, alpha, beta, share):
    line = kuno_line(n, alpha, beta, standard_error(share))
    if line.reason == "too_few_units":
        assert n <= (beta - 1) / share**2 * (1 + 1e-12)
        return
    back = units_iwao(line.total / n, alpha, beta, standard_error(share))
    assert_allclose(back.exact, n, rtol=1e-6)


@given(st.integers(5, 500), st.floats(0.2, 10), shares)
def test_kunos_line_with_a_known_k_is_that_of_the_negative_binomial(n, k, share):
    line = kuno_line(n, 0, 1 + 1 / k, standard_error(share))
    if line.reason == "":
        back = units_negative_binomial(line.total / n, k, standard_error(share)).exact
        assert_allclose(back, n, rtol=1e-6)


@given(means, st.floats(0.1, 10), shares, st.floats(1.1, 5))
def test_a_finer_precision_takes_the_square_of_its_factor(mean, k, share, factor):
    coarse = units_negative_binomial(mean, k, standard_error(share)).exact
    fine = units_negative_binomial(mean, k, standard_error(share / factor)).exact
    assert_allclose(fine, coarse * factor**2, rtol=1e-9)


@given(means, st.floats(0.1, 10), st.floats(1.01, 5))
def test_more_pests_or_less_clumping_never_take_more_plants(mean, k, factor):
    here = units_negative_binomial(mean, k, QUARTER).exact
    assert units_negative_binomial(mean * factor, k, QUARTER).exact <= here
    assert units_negative_binomial(mean, k * factor, QUARTER).exact <= here
    assert units_poisson(mean, QUARTER).exact <= here


@given(st.integers(1, 400), powers)
def test_greens_line_falls_with_the_units_counted(n, b):
    line = green_line([n, n + 1], 2.0, b, QUARTER).total
    assert line[1] < line[0]


@given(means, scales, st.floats(0.5, 2.5))
def test_scaling_the_count_scales_taylors_a(mean, a, b):
    # the same plants counted in pairs of pests: mean c m, variance c**2 s2
    c = 2.0
    scaled = a * c ** (2 - b)
    assert_allclose(
        units_taylor(c * mean, scaled, b, QUARTER).exact,
        units_taylor(mean, a, b, QUARTER).exact,
        rtol=1e-9,
    )


def test_laws_that_are_special_cases_agree():
    assert_allclose(
        units_taylor(3.0, 1, 1, QUARTER).exact, units_poisson(3.0, QUARTER).exact, rtol=1e-12
    )
    assert_allclose(
        units_iwao(3.0, 0, 1 + 1 / 0.7, QUARTER).exact,
        units_negative_binomial(3.0, 0.7, QUARTER).exact,
        rtol=1e-12,
    )
    assert_allclose(units_from_variance(3.0, 7.0, QUARTER).exact, 7 / 9 / 0.0625, rtol=1e-12)


def test_integers_and_floats_agree():
    assert_array_equal(
        units_negative_binomial(np.array([1, 2]), 2, QUARTER).exact,
        units_negative_binomial([1.0, 2.0], 2.0, QUARTER).exact,
    )
    assert_array_equal(
        green_line(np.array([10, 20]), 2, 1.5, QUARTER).total,
        green_line([10.0, 20.0], 2.0, 1.5, QUARTER).total,
    )
    assert_array_equal(
        precision_reached(2, 6, 20, 100).relative, precision_reached(2.0, 6.0, 20.0, 100.0).relative
    )


def test_precision_of_an_array_broadcasts():
    found = units_poisson([[1.0], [4.0]], standard_error([0.1, 0.25]))
    assert_allclose(found.exact, [[100, 16], [25, 4]])
    with pytest.raises(ValueError, match=r"mean \(2,\).*precision \(3,\).*give one value, or one"):
        units_poisson([1.0, 2.0], standard_error([0.1, 0.2, 0.3]))


@each_of(
    ("found", "reason"),
    [
        (units_poisson(NAN, QUARTER), "no_mean"),
        (units_poisson(0, QUARTER), "zero_mean"),
        (units_binomial(0, QUARTER), "zero_mean"),
        (units_binomial(1, QUARTER), "all_infested"),
        (units_negative_binomial(1, NAN, QUARTER), "no_law"),
        (units_taylor(1, NAN, 1.5, QUARTER), "no_law"),
        (units_taylor(1, 2, NAN, QUARTER), "no_law"),
        (units_iwao(1, NAN, 1.3, QUARTER), "no_law"),
        (units_iwao(1, 0.5, NAN, QUARTER), "no_law"),
        (units_iwao(3, 0.5, 0.5, QUARTER), "no_variance"),
        (units_from_variance(1, NAN, QUARTER), "no_law"),
        (units_from_variance(1, 0, QUARTER), "no_variance"),
        (units_poisson(1, QUARTER, NAN), "no_population"),
    ],
)
def test_without_an_answer_a_size_is_absent_with_its_reason(found, reason):
    assert found.reason == reason
    assert np.isnan(found.exact)
    assert np.isnan(found.units)


@each_of(
    ("found", "reason"),
    [
        (green_line(0, 2, 1.5, QUARTER), "no_effort"),
        (green_line(NAN, 2, 1.5, QUARTER), "no_effort"),
        (green_line(10, NAN, 1.5, QUARTER), "no_law"),
        (green_line(10, 2, NAN, QUARTER), "no_law"),
        (green_line(10, 2, 2, QUARTER), "no_line"),
        (green_line(10, 2, 2.4, QUARTER), "no_line"),
        (green_line(10, 2, 1.5, QUARTER, NAN), "no_population"),
        (kuno_line(0, 0.5, 1.3, QUARTER), "no_effort"),
        (kuno_line(10, NAN, 1.3, QUARTER), "no_law"),
        (kuno_line(10, 0.5, NAN, QUARTER), "no_law"),
        (kuno_line(10, -1, 1.3, QUARTER), "no_variance"),
        (kuno_line(10, 0.5, 1.3, QUARTER, NAN), "no_population"),
        (kuno_line(4, 0.5, 1.3, QUARTER), "too_few_units"),
    ],
)
def test_without_an_answer_a_line_is_absent_with_its_reason(found, reason):
    assert found.reason == reason
    assert np.isnan(found.total)


def test_kunos_line_begins_after_its_fewest_units_hand_worked():
    # (1.3 - 1) / 0.25**2 = 4.8 units
    found = kuno_line([4, 5], 0.5, 1.3, QUARTER)
    assert_array_equal(found.reason, ["too_few_units", ""])
    assert_allclose(found.total[1], 1.5 / (0.0625 - 0.06))


def test_when_every_plant_was_counted_any_total_is_enough():
    assert green_line(60, 2, 1.5, QUARTER, 60).total == 0
    assert kuno_line(60, 0.5, 1.3, QUARTER, 60).total == 0
    assert precision_reached(2, 6, 60, 60).relative == 0


def test_precision_reached_keeps_the_five_cases_apart():
    found = precision_reached([0, NAN, 2, 2, 2], [0.5, 1, NAN, 6, 6], [20, 20, 20, 0, NAN])
    assert_array_equal(found.reason, ["zero_mean", "no_mean", "no_law", "no_effort", "no_effort"])
    assert np.isnan(found.relative).all()
    assert_allclose(found.standard_error[0], np.sqrt(0.5 / 20))
    assert np.isnan(found.standard_error[1:]).all()
    assert precision_reached(2, 6, 20, NAN).reason == "no_population"


@each_of(
    ("call", "words"),
    [
        (lambda: standard_error(0), "got a precision of 0; expected more than zero"),
        (lambda: standard_error([0.1, NAN]), "got a precision of nan; expected more than zero"),
        (lambda: half_width(-0.1, 0.95), "got a precision of -0.1"),
        (lambda: half_width(0.1, 1), r"got level 1; expected a share in \(0, 1\)"),
        (lambda: units_poisson(-1, QUARTER), "got mean -1; expected zero or more"),
        (lambda: units_negative_binomial(1, 0, QUARTER), "got k 0; expected more than zero"),
        (lambda: units_taylor(1, 0, 1.5, QUARTER), "got a 0; expected more than zero"),
        (lambda: units_taylor(1, 2, -1, QUARTER), "got b -1; expected more than zero"),
        (lambda: units_binomial(1.2, QUARTER), "got share 1.2 of all 1"),
        (lambda: units_binomial(-0.2, QUARTER), "got share -0.2; expected zero or more"),
        (lambda: units_from_variance(1, -2, QUARTER), "got variance -2"),
        (lambda: units_poisson(1, QUARTER, 0), "got population 0; expected more than zero"),
        (lambda: green_line(-1, 2, 1.5, QUARTER), "got n -1; expected zero or more"),
        (lambda: green_line(10, 0, 1.5, QUARTER), "got a 0; expected more than zero"),
        (lambda: green_line(61, 2, 1.5, QUARTER, 60), "got n 61 of population 60"),
        (lambda: kuno_line(61, 0.5, 1.3, QUARTER, 60), "got n 61 of population 60"),
        (lambda: precision_reached(2, -6, 20), "got variance -6"),
        (lambda: precision_reached(2, 6, 61, 60), "got n 61 of population 60"),
    ],
)
def test_impossible_arguments_are_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def test_a_precision_says_what_it_amounts_to_in_standard_errors():
    assert isinstance(QUARTER, Precision)
    assert QUARTER.standard_error == 0.25
    assert_allclose(half_width(0.25, 0.95).standard_error, 0.25 / 1.959964, rtol=1e-6)
