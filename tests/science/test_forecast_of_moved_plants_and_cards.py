"""What plants bring with them, and what a card caught: laws, and invented exact means."""

from dataclasses import replace

import numpy as np
import pytest

from benchwalk.science import forecast
from benchwalk.science.forecast import DEFAULTS, Group, Kind, Methods, Movements, Pests
from tests.science.forecast_makers import FLAT, sprayed, weekly

# plants that come in


def came(**values):
    given = {k: np.atleast_1d(np.asarray(v, float)) for k, v in values.items()}
    given["series"] = given["series"].astype(int)
    given["origin"] = given["origin"].astype(int)
    return Movements(**given)


def expected_number(mean, sd):
    return np.exp(mean + sd**2 / 2)


def test_a_pure_movement_keeps_the_expected_number_of_pests():
    """Plants of one series stand beside those of another: the number on all is kept to 1e-9."""
    still = replace(DEFAULTS, common=Group(a=0.0, rho=0.0, sg=0.0, q=0.0))
    series = weekly([[30, 30, np.nan], [3, 3, 4]], days=[0, 7, 8])
    moved = came(
        series=1, day=7.5, plants=100, resident=300, origin=0, log_mean=np.nan, log_sd=np.nan
    )
    found = forecast.run(replace(series, movements=moved), still)
    own, other = found.day == 7, (found.series == 1) & (found.day == 8)
    each = expected_number(found.now_mean[own], found.now_sd[own])
    together = expected_number(found.ahead_mean[other], found.ahead_sd[other])
    assert 400 * together[0] == pytest.approx(100 * each[0] + 300 * each[1], rel=1e-9)


def test_plants_that_come_in_bring_their_state_of_that_day_and_nothing_later():
    counts = [[30, 40, 900], [3, 3, 4]]
    moved = came(
        series=1, day=8, plants=100, resident=100, origin=0, log_mean=np.nan, log_sd=np.nan
    )
    series = replace(weekly(counts), movements=moved)
    counts[0][2] = 0
    other = replace(weekly(counts), movements=moved)
    mine = forecast.run(series).series == 1
    assert (forecast.run(series).mean[mine] == forecast.run(other).mean[mine]).all()
    alone = forecast.run(weekly(counts))
    assert (forecast.run(series).ahead_mean[mine] > alone.ahead_mean[mine] + 0.5)[2]


def test_a_population_made_of_plants_of_another_begins_where_that_stood():
    still = replace(DEFAULTS, common=Group(a=0.0, rho=0.0, sg=0.0, q=0.0))
    moved = came(series=0, day=10, plants=50, resident=0, origin=1, log_mean=np.nan, log_sd=np.nan)
    series = replace(weekly([[np.nan, np.nan, 9], [40, 44, np.nan]]), movements=moved)
    found = forecast.run(series, still)
    source = (found.series == 1) & (found.day == 7)
    assert found.ahead_mean[0] == pytest.approx(found.now_mean[source][0], abs=1e-9)
    assert found.ahead_sd[0] == pytest.approx(found.now_sd[source][0], abs=1e-9)


def test_plants_of_which_nothing_is_known_make_the_level_less_sure():
    unknown = came(series=0, day=3, plants=5, resident=5, origin=-1, log_mean=np.nan, log_sd=np.nan)
    wide = replace(DEFAULTS, common=replace(DEFAULTS.common, room=np.inf))
    one = forecast.run(weekly([[5, 5]]), wide)
    other = forecast.run(replace(weekly([[5, 5]]), movements=unknown), wide)
    widened = other.ahead_sd[1] ** 2 - one.ahead_sd[1] ** 2
    assert widened == pytest.approx(DEFAULTS.jump_variance, abs=1e-9)


# cards


def on_cards(counts, days, cards=4.0, exposure=7.0, **more):
    counts = np.atleast_2d(np.asarray(counts, float))
    full = np.full(counts.size, cards)
    series = weekly(counts, days=days, methods=Methods(), **more)
    return replace(
        series,
        effort=full * exposure,
        plants=full,
        kind=np.full(counts.size, Kind.CARD),
        exposure=np.full(counts.size, exposure),
        method=np.ones(len(counts), int),
    )


def test_a_card_over_seven_days_with_an_80_percent_kill_two_days_before():
    """Exact means of an invented catch: steady before, a fifth after. From the reading of that week
    and the next the kill is 80 % within 65 to 90 %, with at most .8 of the sd of its class.
    """
    level, cards = 3.0, 4
    catch = level * 7 * cards
    parted = level * cards * (5 + 2 * 0.2)
    series = on_cards(
        [[catch, catch, catch, catch, round(parted), round(catch * 0.2)]],
        np.arange(1, 7) * 7.0,
        reference=3.0,
    )
    series = sprayed(series, 33.0)
    atomic = replace(
        FLAT, classes={"contact": replace(DEFAULTS.classes["contact"], lag=0, action=1e-6)}
    )
    found = forecast.run(series, atomic)
    middle = 1 - np.exp(-found.effect.mean[4:])
    assert (middle > 0.65).all()
    assert (middle < 0.90).all()
    assert found.effect.sd[5] <= 0.8 * found.effect.expected_sd[5]
    # the catch of the week of the treatment is no surprise: five of its days were before
    assert abs(found.residual[4]) < 0.5


def test_a_saturated_card_says_at_least():
    whole = on_cards([[80, 80]], [7.0, 14.0])
    full = replace(whole, kind=np.array([Kind.CARD, Kind.AT_LEAST]))
    one, other = forecast.run(whole), forecast.run(full)
    assert other.now_mean[1] > one.now_mean[1]
    assert other.now_sd[1] > one.now_sd[1]


def test_a_card_is_its_average_and_not_todays_density():
    """A density that doubles each week stands above a week's average by ln(2)/(1 - 1/2)."""
    still = replace(
        DEFAULTS,
        common=Group(a=1.0, rho=0.0, sg=0.0, q=0.0, room=np.inf),
        prior_variance=1e6,
        surprise=np.inf,
    )
    rate = np.log(2) / 7
    pests = Pests(np.array([rate * 2]), np.array([10.0]))  # half of r30 at the assumed 20 degC
    series = replace(
        on_cards([[2800]], [7.0], cards=100.0, pests=pests),
        methods=Methods(np.array([1, 1e9]), np.array([0, 1e-9])),
    )
    found = forecast.run(series, still)
    assert np.exp(found.now_mean[0]) == pytest.approx(4 * np.log(2) / 0.5, rel=1e-3)
