"""Where a pest is heading: the filter against numerical integration and particles, and by laws.

Checks against other programs are own computations by another method (integration on a fine grid,
1e5 particles, scipy). The laws need no oracle.
"""

from dataclasses import replace

import numpy as np
import pytest
import scipy.integrate
import scipy.special
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

from benchwalk.science import forecast
from benchwalk.science.forecast import (
    DEFAULTS,
    Flag,
    Group,
    Kind,
    Pests,
    Programmes,
    ScoutOffset,
    Temperature,
    Treatments,
)
from benchwalk.science.forecast.distributions import (
    normal_quantile,
)
from benchwalk.science.forecast.observation import Counts, learned
from tests.science.forecast_makers import STEADY, lived, same, sprayed, weekly

RNG = 20


def likelihood(kind, y, n, z, k, so2):
    """Log likelihood on a grid, from scipy.stats; not the code under test."""
    r = 1 / (1 / (n * k) + so2)
    mean = n * np.exp(z)
    if kind == Kind.AT_LEAST:
        return np.log(scipy.stats.nbinom.sf(y - 1, r, r / (r + mean)))
    if kind == Kind.INFESTED:
        p = 1 - (1 + np.exp(z) / k) ** -k
        slope = (1 - p) * np.exp(z) / (1 + np.exp(z) / k)
        rho = np.clip(slope**2 * so2 / (p * (1 - p)), 1e-6, 0.99)
        return scipy.stats.betabinom.logpmf(y, n, p * (1 / rho - 1), (1 - p) * (1 / rho - 1))
    return scipy.stats.nbinom.logpmf(y, r, r / (r + mean))


def integrated(kind, y, n, m, v, k, so2):
    z = np.linspace(m - 9 * np.sqrt(v), m + 9 * np.sqrt(v), 20001)
    with np.errstate(divide="ignore"):
        logs = likelihood(kind, y, n, z, k, so2) + scipy.stats.norm.logpdf(z, m, np.sqrt(v))
    weight = np.exp(logs - logs[np.isfinite(logs)].max())
    mean = (weight * z).sum() / weight.sum()
    sd = np.sqrt((weight * (z - mean) ** 2).sum() / weight.sum())
    log_evidence = np.log(np.exp(logs[np.isfinite(logs)]).sum() * (z[1] - z[0]))
    return mean, sd, log_evidence


def updated(kind, y, n, m, v, k, so2):
    one = [np.array([float(a)]) for a in (y, n, n)]
    counts = Counts(*one, np.array([kind]), np.array([k]), np.array([so2]))
    found = learned(np.array([m]), np.array([v]), counts)
    return found.mean[0], np.sqrt(found.variance[0]), found.log_evidence[0]


@pytest.mark.parametrize(
    ("kind", "tolerance"), [(Kind.COUNT, 0.002), (Kind.AT_LEAST, 0.01), (Kind.INFESTED, 0.01)]
)
def test_one_update_is_that_of_numerical_integration(kind, tolerance):
    """Own computation on a grid of 20,001 points with likelihoods of scipy.stats."""
    rng = np.random.default_rng(RNG)
    for _ in range(60):
        m, v = rng.normal(-1, 1.5), rng.uniform(0.05, 2.5)
        n, k, so2 = int(rng.integers(5, 80)), rng.uniform(0.2, 3), rng.uniform(0.02, 0.4)
        z = m + rng.normal() * np.sqrt(v)
        y = int(rng.poisson(n * np.exp(min(z, 4))))
        if kind == Kind.INFESTED:
            y = int(rng.binomial(n, min(1 - (1 + np.exp(z) / k) ** -k, 0.55)))
            y = min(y, int(0.6 * n))
        mean, sd, evidence = updated(kind, y, n, m, v, k, so2)
        right = integrated(kind, y, n, m, v, k, so2)
        assert abs(mean - right[0]) < tolerance * right[1]
        assert abs(sd - right[1]) < tolerance * right[1]
        assert evidence == pytest.approx(right[2], abs=5 * tolerance)


def particles(rng, counts, plants, treat_day, number=100_000):
    """Bootstrap particles of the same model, day by day: own computation by another method."""
    g = DEFAULTS.common
    c = DEFAULTS.classes["contact"]
    x = rng.normal(np.log(0.5), np.sqrt(DEFAULTS.prior_variance), number)
    d = rng.normal(0, g.sg, number)
    kill, back = np.zeros(number), np.zeros(number)
    r = 1 / (1 / (plants * 0.6) + 0.10)
    means, sds, per_day = [], [], 4
    for walk, y in enumerate(counts):
        for tick in range(7 * per_day if walk else 0):
            day = (walk - 1) * 7 + tick / per_day
            if treat_day is not None and abs(day - treat_day) < 1e-9:
                kill = rng.normal(c.log_kill, c.log_kill_sd, number)
                back = rng.normal(0, DEFAULTS.rebound_sd, number)
            tau = np.array([day, day + 1 / per_day]) - (1e9 if treat_day is None else treat_day)
            w = np.clip(tau / c.action, 0, 1)
            b = (1 - np.exp(-0.1 * np.maximum(tau, 0))) / 0.1
            h = 1 / per_day
            x += g.a * 0.2 * 0.5 * h + d * h - kill * (w[1] - w[0]) + back * (b[1] - b[0])
            x += rng.normal(0, np.sqrt(g.q * h), number)
            fade = np.exp(-g.rho * h)
            d = d * fade + rng.normal(0, g.sg * np.sqrt(1 - fade**2), number)
        logs = y * x - (y + r) * np.log(r + plants * np.exp(x))
        weight = np.exp(logs - logs.max())
        weight /= weight.sum()
        means.append(weight @ x)
        sds.append(np.sqrt(weight @ (x - means[-1]) ** 2))
        # stratified draws
        at = (np.arange(number) + rng.random(number)) / number
        kept = np.minimum(np.searchsorted(np.cumsum(weight), at), number - 1)
        x, d, kill, back = x[kept], d[kept], kill[kept], back[kept]
    return np.array(means), np.array(sds)


@pytest.mark.parametrize("treat_day", [None, 30.0])
def test_ten_walks_are_those_of_a_hundred_thousand_particles(treat_day):
    counts = [3, 0, 8, 14, 22, 4, 6, 9, 25, 31]
    series = weekly([counts])
    if treat_day is not None:
        series = sprayed(series, treat_day)
    found = forecast.run(series)
    mean, sd = particles(np.random.default_rng(RNG), counts, 20, treat_day)
    assert np.abs((found.now_mean - mean) / sd).max() < 0.05
    assert np.abs(found.now_sd / sd - 1).max() < 0.05


@given(unit=st.floats(0.001, 1000))
@settings(deadline=None, max_examples=30)
def test_the_unit_of_density_changes_no_probability(unit):
    one = sprayed(weekly([[3, 9, 12, 30, 6]]), 22.0)
    other = replace(
        one,
        effort=one.effort * unit,
        reference=one.reference / unit,
        threshold=one.threshold / unit,
    )
    here, there = forecast.run(one), forecast.run(other)
    np.testing.assert_allclose(here.over, there.over, atol=1e-9, rtol=0)
    np.testing.assert_allclose(here.now_mean, there.now_mean + np.log(unit), atol=1e-9)


def test_counts_of_one_walk_may_come_in_any_number_of_parts():
    whole = weekly([[4, 9, 12]])
    parts = replace(
        whole,
        series=np.zeros(6, int),
        day=np.repeat(whole.day, 2),
        count=np.array([1, 3, 9, 0, 5, 7.0]),
        effort=np.array([5, 15, 10, 10, 19, 1.0]),
        plants=np.array([5, 15, 10, 10, 19, 1.0]),
    )
    same(forecast.run(whole), forecast.run(parts), atol=1e-12)


def test_what_was_not_looked_at_or_not_counted_changes_nothing():
    whole = weekly([[4, 9, 12]])
    more = weekly([[4, np.nan, 9, 70, 12]], days=[0, 3, 7, 9, 14])
    more = replace(more, effort=np.array([20, 20, 20, 0, 20]))
    found = forecast.run(more)
    same(forecast.run(whole), found)
    assert found.walk_of_count.tolist() == [0, -1, 1, -1, 2]


def test_whole_numbers_and_fractions_are_the_same():
    one = sprayed(weekly([[4, 9, 12]]), 8)
    whole = replace(
        one, **{n: getattr(one, n).astype(int) for n in ("day", "count", "effort", "plants")}
    )
    same(forecast.run(one), forecast.run(whole))


def test_a_threshold_changes_no_digit_of_an_estimate():
    one, other = weekly([[4, 9, 12]]), weekly([[4, 9, 12]], threshold=7.0)
    none = weekly([[4, 9, 12]], threshold=np.nan)
    for name in ("now_mean", "now_sd", "mean", "sd", "ahead_mean", "residual", "log_evidence"):
        values = getattr(forecast.run(one), name)
        assert (values == getattr(forecast.run(other), name)).all()
        assert (values == getattr(forecast.run(none), name)).all()
    assert np.isnan(forecast.run(none).over).all()


def test_ways_of_counting_of_one_day_may_come_in_any_order():
    """Tolerance 0.2 sd of log density, for each update is made normal again."""
    n = np.full(3, 20.0)
    rng = np.random.default_rng(RNG)
    for _ in range(30):
        z = np.exp(rng.normal(-0.7, 0.7))
        y = float(rng.poisson(20 * z))
        infested = float(rng.binomial(20, 1 - (1 + z / 0.6) ** -0.6))
        k, so2 = np.full(1, 0.6), np.full(1, 0.1)
        ends = []
        for order in ((0, 2), (2, 0)):
            m, v = np.array([-0.7]), np.array([0.5])
            for kind in order:
                count = np.array([y if kind == 0 else infested])
                found = learned(m, v, Counts(count, n[:1], n[:1], np.array([kind]), k, so2))
                m, v = found.mean, found.variance
            ends.append((m[0], np.sqrt(v[0])))
        assert abs(ends[0][0] - ends[1][0]) < 0.2 * ends[0][1]
        assert abs(ends[0][1] / ends[1][1] - 1) < 0.1


def test_a_kept_state_goes_on_as_if_all_had_been_filtered_at_once():
    rng = np.random.default_rng(RNG)
    series = sprayed(weekly(rng.integers(0, 30, (50, 8)).astype(float)), 25.0)
    whole = forecast.run(series)
    first = forecast.run(forecast.until(series, 20.0))
    then = forecast.step(first.state, forecast.since(series, 20.0))
    rows = whole.day >= 20
    np.testing.assert_allclose(then.mean, whole.mean[rows], rtol=1e-12)
    np.testing.assert_allclose(then.effect.mean, whole.effect.mean[rows], rtol=1e-12)
    np.testing.assert_allclose(then.state.values, whole.state.values, rtol=1e-12)


def test_a_series_is_the_same_alone_and_beside_thousands_of_others():
    rng = np.random.default_rng(RNG)
    counts = rng.integers(0, 30, (5000, 3)).astype(float)
    alone, beside = forecast.run(weekly(counts[4321:4322])), forecast.run(weekly(counts))
    mine = beside.series == 4321
    np.testing.assert_allclose(beside.mean[mine], alone.mean, atol=1e-10)
    np.testing.assert_allclose(beside.log_evidence[mine], alone.log_evidence, atol=1e-8)


def test_forecasts_of_the_filters_own_world_cover_what_they_say():
    """An 80 % interval of its own model: 2,000 series, two standard errors are .02."""
    rng = np.random.default_rng(RNG)
    x = lived(rng, 2000, 8)
    r = 1 / (1 / 12 + 0.1)
    counts = rng.negative_binomial(r, r / (r + 20 * np.exp(x[:, :6]))).astype(float)
    found = forecast.run(weekly(counts))
    last = found.last
    for column, walk in ((0, 6), (1, 7)):
        z = (x[:, walk] - found.mean[last, column]) / found.sd[last, column]
        assert abs((np.abs(z) < normal_quantile(0.9)).mean() - 0.80) < 0.025
    over = (x[:, 6] > 0).mean()
    assert abs(found.p_over[last, 0].mean() - over) < 0.03


def test_an_impossible_record_is_refused_with_what_to_do():
    good = weekly([[1, 2]])
    with pytest.raises(ValueError, match=r"sort them with numpy.lexsort"):
        forecast.run(replace(good, day=good.day[::-1]))
    with pytest.raises(ValueError, match="got count -1; expected 0 or more"):
        forecast.run(replace(good, count=np.array([1.0, -1.0])))
    with pytest.raises(ValueError, match=r"lengths \[1, 2\]"):
        forecast.run(replace(good, count=np.array([1.0])))
    with pytest.raises(ValueError, match="series counted from 0"):
        forecast.run(replace(good, series=np.array([0, 1])))
    with pytest.raises(ValueError, match=r"exposure of lengths \[1, 2\]"):
        forecast.run(replace(good, exposure=np.array([7.0])))
    with pytest.raises(ValueError, match="got count 21 of plants 20"):
        forecast.run(weekly([[21]], kind=np.array([Kind.INFESTED])))
    with pytest.raises(ValueError, match="got treatment class 'smoke'; expected one of"):
        forecast.run(sprayed(good, 3.0, "smoke"))
    with pytest.raises(ValueError, match=r"got share 1.5; expected a share in \(0, 1\]"):
        forecast.run(replace(good, treatments=replace(sprayed(good, 3.0).treatments, share=[1.5])))
    with pytest.raises(ValueError, match="reference density that is not above 0"):
        forecast.run(replace(good, reference=np.zeros(1)))


def test_nothing_counted_gives_no_row():
    found = forecast.run(weekly([[np.nan, np.nan]]))
    assert found.mean.shape == (0, 2)
    assert found.last.tolist() == []
    assert np.isnan(found.state.log_mean).all()


def test_growth_follows_temperature_and_stops_at_the_base():
    cold, warm = (
        forecast.run(
            weekly([[10, 10]], temperature=Temperature(0, np.full((1, 30), degrees))), FLAT_SLOW
        )
        for degrees in (8.0, 25.0)
    )
    # r30 .2 at 30 degC from a base of 10: .15 a day at 25; realised a quarter; 7 days
    gained = warm.ahead_mean[1] - warm.now_mean[0]
    assert gained == pytest.approx(0.25 * 0.15 * 7, abs=1e-12)
    assert cold.ahead_mean[1] == pytest.approx(cold.now_mean[0], abs=1e-12)


FLAT_SLOW = replace(DEFAULTS, common=Group(a=0.25, sg=0.0, room=np.inf))


def grown_in_a_week(density, room=100.0, days=7.0):
    """Gain of log density of a series known exactly, half of r30 at the assumed 20 degC."""
    crowd = replace(FLAT_SLOW, common=replace(FLAT_SLOW.common, q=0.0))
    seen = weekly([[20 * density, np.nan]], days=[0, days], room=np.array([room]))
    seen = replace(seen, prior_mean=np.log([density]), prior_sd=np.array([1e-6]))
    found = forecast.run(seen, crowd, horizons=(days, 2 * days))
    return found.mean[0] - found.now_mean[0]


def test_growth_fades_with_crowding_as_the_logistic_equation_says():
    """D' = r D (1 - D/K), stepped by scipy; a density over K falls to it no faster than it may."""
    for density in (0.5, 20.0, 90.0):
        gained = grown_in_a_week(density)
        for at, days in enumerate((7.0, 14.0)):
            path = scipy.integrate.solve_ivp(
                lambda _, d: 0.025 * d * (1 - d / 100.0), (0, days), [density], rtol=1e-10
            )
            assert gained[at] == pytest.approx(np.log(path.y[0, -1] / density), abs=1e-6)


def test_crowding_is_of_no_weight_far_below_and_where_nobody_says_follows_the_reference():
    assert grown_in_a_week(0.001)[0] == pytest.approx(0.25 * 0.1 * 7, abs=1e-4)
    given, not_said = (
        forecast.run(weekly([[400, 500]], reference=2.0, room=room))
        for room in (np.array([2.0 * DEFAULTS.common.room]), np.array([np.nan]))
    )
    same(given, not_said)


def kept_rows(series, day, cut):
    """Forecasts made by a day, of all that is known and of what was known then."""
    whole, known = forecast.run(series), forecast.run(cut)
    rows = whole.day < day
    assert rows.sum() == len(known.day) > 0
    for name in ("now_mean", "now_sd", "mean", "sd", "over", "residual", "log_evidence"):
        np.testing.assert_allclose(
            getattr(whole, name)[rows], getattr(known, name), rtol=1e-12, atol=1e-12, err_msg=name
        )


def test_what_was_forecast_by_a_day_knows_no_later_count_reading_treatment_or_scout():
    rng = np.random.default_rng(RNG)
    kind = np.where(np.arange(400 * 9) % 5 == 4, Kind.AT_LEAST, Kind.COUNT)
    air = rng.normal(21, 3, (1, 70))
    air[0, 5:9] = np.nan
    plain = weekly(rng.poisson(15, (400, 9)), temperature=Temperature(0, air), kind=kind)
    series = sprayed(plain, 37.0)
    cut = replace(
        forecast.until(plain, 35.0),
        temperature=Temperature(0, air[:, :29]),
        treatments=Treatments(),
    )
    kept_rows(series, 35.0, cut)
    two = replace(series, scout=np.arange(400 * 9) % 2)
    late = replace(DEFAULTS, scouts={1: ScoutOffset(-0.7, 0.1, known_from=35.0)})
    with_offset, without = forecast.run(two, late), forecast.run(two)
    before = without.day < 35
    np.testing.assert_allclose(with_offset.mean[before], without.mean[before], rtol=1e-12)
    assert np.abs(with_offset.mean[~before] - without.mean[~before]).max() > 0.1


def test_a_missing_reading_is_the_mean_of_the_house_until_then_and_never_0_degrees():
    air = np.array([[20.0, 24.0, np.nan]])
    found = forecast.run(weekly([[5, 5]], days=[0, 3], temperature=Temperature(0, air)), FLAT_SLOW)
    rate = 0.2 / 20 * (np.array([20, 24, 22]) - 10)
    assert found.ahead_mean[1] - found.now_mean[0] == pytest.approx(0.25 * rate.sum(), abs=1e-12)


def test_growth_that_is_general_is_less_sure():
    general = replace(STEADY, general=np.array([True]))
    one, other = forecast.run(weekly([[5]])), forecast.run(weekly([[5]], pests=general))
    assert (other.sd > one.sd).all()


def test_heat_kills_and_cold_wears_down_only_where_a_source_says_so():
    pests = Pests(np.array([0.2]), np.array([10.0]), None, np.array([0.05]), np.array([0.01]))
    for degrees, rate in ((40.0, 0.2 / 20 * 23 - 0.05 * 5), (5.0, -0.01)):
        air = Temperature(0, np.full((1, 20), degrees))
        found = forecast.run(weekly([[5, 5]], temperature=air, pests=pests), FLAT_SLOW)
        gained = found.ahead_mean[1] - found.now_mean[0]
        assert gained == pytest.approx(0.25 * 7 * rate, abs=1e-12)


def test_a_level_that_may_jump_widens_by_half():
    flags = np.array([0, Flag.LEVEL_JUMP])
    one, other = forecast.run(weekly([[5, 5]])), forecast.run(weekly([[5, 5]], flags=flags))
    widened = other.ahead_sd[1] ** 2 - one.ahead_sd[1] ** 2
    assert widened == pytest.approx(DEFAULTS.jump_variance, abs=1e-12)


def test_a_surprising_count_is_listed_and_widens_the_state():
    calm, wild = forecast.run(weekly([[5, 5, 5, 6]])), forecast.run(weekly([[5, 5, 5, 900]]))
    assert np.abs(calm.residual).max() < 2
    assert wild.residual[3] > 3
    assert wild.now_sd[3] > 0.25
    none = forecast.run(weekly([[60, 60, 60, 0]]))
    assert none.residual[3] < -3


def test_residuals_of_the_filters_own_world_are_standard():
    rng = np.random.default_rng(RNG)
    x = lived(rng, 3000, 5)
    r = 1 / (1 / 12 + 0.1)
    counts = rng.negative_binomial(r, r / (r + 20 * np.exp(x))).astype(float)
    found = forecast.run(weekly(counts)).residual.reshape(3000, 5)[:, 2:].ravel()
    assert abs(found.mean()) < 0.08
    assert 0.85 < found.std() < 1.1
    assert (np.abs(found) > 3).mean() < 0.006


# scouts, programmes, infested


def test_a_scouts_offset_is_taken_out_with_its_variance():
    seen = weekly([[10, 10]], scout=np.array([1, 2]))
    half = replace(DEFAULTS, scouts={2: ScoutOffset(float(np.log(0.5)), 0.0)})
    double = replace(seen, effort=np.array([20, 10.0]))
    one, other = forecast.run(seen, half), forecast.run(double)
    np.testing.assert_allclose(one.now_mean, other.now_mean, atol=1e-9)
    unsure = replace(DEFAULTS, scouts={2: ScoutOffset(float(np.log(0.5)), 0.4)})
    assert forecast.run(seen, unsure).now_sd[1] > one.now_sd[1]


def test_a_programme_makes_growth_less_known_and_its_mean_no_other():
    series = weekly([[5, 5, 5, 5]])
    with_programme = replace(
        series, programmes=Programmes(np.array([0]), np.array([3.0]), np.array([60.0]))
    )
    one, other = forecast.run(series), forecast.run(with_programme)
    assert (other.sd[1:] > one.sd[1:]).all()
    assert other.ahead_mean[1] == pytest.approx(one.ahead_mean[1], abs=1e-12)
    learned_one = replace(DEFAULTS, programme_growth=-0.05)
    assert (forecast.run(with_programme, learned_one).mean[2:] < other.mean[2:]).all()


def test_a_programme_that_ends_gives_growth_back():
    learned_one = replace(
        DEFAULTS,
        common=Group(rho=0.0, sg=0.0, room=np.inf),
        programme_growth=-0.05,
        programme_sd=0.0,
    )
    series = weekly([[5, np.nan, np.nan, np.nan, np.nan, np.nan, 5]])
    short = replace(series, programmes=Programmes(np.array([0]), np.array([1.0]), np.array([15.0])))
    found, plain = forecast.run(short, learned_one), forecast.run(series, learned_one)
    # a ramp of 14 days up, 14 down, in four steps each: 14 days of all of it
    lost = plain.ahead_mean[1] - found.ahead_mean[1]
    assert lost == pytest.approx(0.05 * 14, abs=1e-9)


def test_above_60_percent_infested_says_only_at_least():
    few, many, all_ = (
        forecast.run(weekly([[y]], kind=np.array([Kind.INFESTED]))) for y in (8, 17, 19)
    )
    assert few.now_sd[0] < many.now_sd[0]
    assert few.now_mean[0] < many.now_mean[0] <= all_.now_mean[0]


def test_a_treatment_just_before_the_first_walk_is_still_at_work():
    series = weekly([[20, 20]], days=[10, 17])
    none, at_work, long_ago = (
        forecast.run(sprayed(series, day, "systemic"), DEFAULTS) for day in (99.0, 9.0, -40.0)
    )
    assert at_work.ahead_mean[1] < none.ahead_mean[1] - 0.5
    assert abs(long_ago.ahead_mean[1] - none.ahead_mean[1]) < 1e-9


def test_a_treatment_of_a_share_moves_the_whole_by_that_share():
    half = replace(
        weekly([[20, 20]]),
        treatments=Treatments(np.array([0]), np.array([1.0]), ("contact",), np.array([0.5])),
    )
    found = forecast.run(half)
    # half of the unit keeps all, half keeps exp(-1.2)
    assert found.effect.expected[1] == pytest.approx(0.5 * (1 - np.exp(-1.2)), abs=1e-12)


@given(
    st.lists(
        st.tuples(
            st.sampled_from([0.0, 1.0, 7.0, 400.0, 1e6]),
            st.sampled_from([0.01, 1.0, 20.0, 5000.0]),
            st.sampled_from(list(Kind)),
            st.sampled_from([0.01, 1.0, 200.0]),
        ),
        min_size=1,
        max_size=6,
    )
)
@settings(deadline=None, max_examples=60)
def test_no_record_however_wild_makes_a_number_that_is_none(rows):
    count, effort, kind, gap = (np.array(column, float) for column in zip(*rows, strict=True))
    plants = np.maximum(np.ceil(effort), 1)
    count = np.where(kind == Kind.INFESTED, np.minimum(count, plants), count)
    series = replace(
        weekly([count], days=np.cumsum(gap)),
        effort=effort,
        plants=plants,
        kind=kind.astype(int),
        exposure=np.where(kind == Kind.CARD, 7.0, 0.0),
        treatments=Treatments(np.zeros(2, int), np.array([0.5, 3.0]), ("systemic", "contact")),
    )
    found = forecast.run(series)
    for name in ("now_mean", "now_sd", "mean", "sd", "over", "log_evidence", "ahead_sd"):
        assert np.isfinite(getattr(found, name)).all(), name
    assert (found.now_sd > 0).all()
