"""What is said of treatments: the words at their boundaries, pooling, what would tell, controls."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchwalk.science import forecast
from benchwalk.science.forecast import Effect, Pooled, Treatments
from tests.science.forecast_makers import counted, lived, sprayed, weekly


def effect(mean, sd):
    one = np.array([1.0])
    return Effect(7 * one, mean * one, sd * one, 1.2 * one, 0.8 * one)


@pytest.mark.parametrize(
    ("low", "high", "word"),
    [
        (0.301, 0.95, "worked"),
        (0.299, 0.95, "cannot_tell"),
        (-0.50, 0.499, "did_not_work"),
        (-0.50, 0.501, "cannot_tell"),
        (0.31, 0.49, "worked"),
    ],
)
def test_the_word_follows_the_ends_of_the_interval(low, high, word):
    """Hand-worked: ends of a normal log-kill at 95 %."""
    ends = -np.log1p(-np.array([low, high]))
    mean, sd = ends.mean(), (ends[1] - ends[0]) / 2 / 1.959964
    assert forecast.verdict(effect(mean, sd)).tolist() == [word]
    found = effect(mean, sd).ends(0.95)
    assert (found[0][0], found[1][0]) == pytest.approx((low, high), abs=1e-6)


def test_no_treatment_has_no_word():
    found = forecast.run(weekly([[3, 4]]))
    assert forecast.verdict(found.effect).tolist() == ["", ""]
    assert np.isnan(found.effect.share_of_data).all()
    assert len(forecast.treatment_table(weekly([[3, 4]]), found).walk) == 0


def test_share_of_data_grows_with_walks_and_is_hand_worked_once():
    assert effect(1.0, 0.4).share_of_data[0] == pytest.approx(1 - 0.25)
    found = forecast.run(sprayed(weekly([[20, 22, 25, 5, 4, 6]]), 15.0))
    shares = found.effect.share_of_data[3:]
    assert 0 < shares[0] < 1


def test_each_treatment_is_told_by_the_last_walk_before_the_next():
    series = weekly([[9] * 6, [9] * 6])
    held = Treatments(np.array([1, 0, 0, 1]), np.array([40.0, 20.0, 8.0, 14.0]), ("contact",) * 4)
    series = replace(series, treatments=held)
    found = forecast.run(series)
    table = forecast.treatment_table(series, found)
    # the one on day 40 was followed by no walk; that on day 14 came after the walk of that day
    assert table.treatment.tolist() == [2, 1, 3]
    assert found.day[table.walk].tolist() == [14.0, 35.0, 35.0]
    assert found.series[table.walk].tolist() == [0, 0, 1]
    assert table.effect.days.tolist() == [6.0, 15.0, 21.0]


def test_pooling_one_treatment_keeps_what_the_filter_said_but_for_their_spread():
    """Hand-worked: the class counted once, 1/.4² - 1/.8² of own data, no spread."""
    found = forecast.pooled_effect([0.0], [0.5], [0.4], [1.2], [0.8], single_sd=0.0)
    assert (found.mean, found.sd) == pytest.approx((0.5, 0.4), abs=1e-12)
    assert found.share_of_data == pytest.approx(0.75)


@given(st.permutations(list(range(5))))
@settings(deadline=None, max_examples=20)
def test_treatments_may_come_in_any_order(order):
    day = np.array([3.0, 30, 80, 200, 400])
    mean, sd = np.array([0.2, 1.0, 0.5, 0.9, 0.1]), np.array([0.4, 0.5, 0.6, 0.5, 0.4])
    one = forecast.pooled_effect(day, mean, sd, 1.2, 0.8)
    i = np.array(order)
    other = forecast.pooled_effect(day[i], mean[i], sd[i], 1.2, 0.8)
    assert (one.mean, one.sd) == pytest.approx((other.mean, other.sd), abs=1e-12)


def test_a_treatment_that_no_walk_followed_is_excluded_and_counted():
    found = forecast.pooled_effect([0, 9], [0.5, np.nan], [0.4, np.nan], 1.2, [0.8, np.nan])
    assert (found.treatments, found.excluded) == (1, 1)
    assert forecast.pooled_effect([0], [np.nan], [np.nan], [np.nan], [np.nan]) is None
    with pytest.raises(ValueError, match="expected sds above 0"):
        forecast.pooled_effect([0], [0.5], [0.0], [1.2], [0.8])


def test_an_active_that_stopped_working_is_followed_slowly():
    """Old successes count less the longer ago they are."""
    sd = np.full(6, 0.5)
    mean = np.array([1.8, 1.8, 1.8, 0.4, 0.4, 0.4])
    soon = forecast.pooled_effect(np.arange(6) * 7.0, mean, sd, 1.2, 0.8)
    late = forecast.pooled_effect([0, 7, 14, 1500, 1507, 1514], mean, sd, 1.2, 0.8)
    assert late.mean < soon.mean - 0.1


def test_the_pooled_word_is_at_90_percent():
    pooled = Pooled(-np.log(0.7) + 1.7 * 0.2, 0.2, 1.2, 0.8, 8, 0)
    assert forecast.pooled_verdict(pooled) == "worked"
    assert forecast.pooled_verdict(pooled, 0.95) == "cannot_tell"
    assert forecast.pooled_verdict(replace(pooled, mean=0.2)) == "did_not_work"


def test_how_many_treatments_would_tell_is_hand_worked_once():
    """A spray of nothing, class 1.2 ± .8, .72 a treatment: precisions 1.5625 + n 1.929.

    n = 4: mean 1.875/9.279 = .202, sd .328, upper .742 > ln 2; n = 5: .1675 + 1.645 x .2987 = .659.
    """
    assert forecast.treatments_that_would_tell(0.0, 1.2, 0.8) == 5
    assert forecast.treatments_that_would_tell(np.log(10), 1.2, 0.8) == 1
    assert forecast.treatments_that_would_tell(0.0, 1.2, 0.8, data_sd=20.0) is None


def test_treatments_that_were_never_made_are_the_negative_control():
    rng = np.random.default_rng(3)
    series = weekly(counted(rng, lived(rng, 400, 8)).astype(float))
    series = sprayed(series, 20.0, number=100)
    fake = forecast.fake_treatments(series, np.random.default_rng(4))
    assert fake.number == 300
    assert ((fake.treatments.day >= 7) & (fake.treatments.day <= 42)).all()
    assert (fake.count == series.count[800:]).all()
    table = forecast.treatment_table(fake, forecast.run(fake))
    said = forecast.verdict(table.effect)
    assert (said == "worked").mean() <= 0.05
    short = forecast.fake_treatments(weekly([[1, 2, 3]]), np.random.default_rng(5))
    assert short.number == 0
