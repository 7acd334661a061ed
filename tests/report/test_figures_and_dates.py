"""Figures with two digits, intervals, dates; expected texts are worked by hand."""

from __future__ import annotations

import datetime as dt
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchwalk.report.figures import day, figure, interval, percent, shown, times_figure
from tests.in_turn import each_of


@each_of(
    ("value", "text"),
    [
        (0, "0"),
        (2.4, "2.4"),
        (2, "2.0"),
        (0.35, "0.35"),
        (0.0312, "0.031"),
        (18, "18"),
        (123.4, "120"),
        (125, "130"),  # halves away from zero
        (0.125, "0.13"),
        (9.96, "10"),
        (0.0996, "0.10"),
        (99.6, "100"),
    ],
)
def test_a_figure_has_two_significant_digits_worked_by_hand(value, text):
    assert figure(value) == text


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_an_absent_figure_is_refused_and_not_shown_as_a_number(value):
    with pytest.raises(ValueError, match="expected a finite number; say in words"):
        figure(value)


@given(st.integers(0, 100_000))
def test_a_whole_number_reads_the_same_as_the_float_of_it(n):
    assert figure(n) == figure(float(n))


@given(st.floats(1e-6, 1e9))
def test_a_figure_is_within_five_per_cent_of_its_value_and_never_in_powers_of_ten(value):
    text = figure(value)
    assert "e" not in text.lower()
    assert float(text) == pytest.approx(value, rel=0.0501)


@given(st.floats(1e-6, 1e6))
def test_a_multiple_of_the_threshold_reads_on_its_own_side_of_one(value):
    assert (float(times_figure(value)) >= 1) == (value >= 1)


def test_just_under_the_threshold_never_reads_as_one():
    assert times_figure(0.996) == "0.996"
    assert times_figure(1.004) == "1.0"


@pytest.mark.parametrize(
    ("locale", "both_ends", "no_upper_end"),
    [("en", "0.40 to 1.2", "0.40 or more"), ("es", "0.40 a 1.2", "0.40 o más")],
)
def test_an_interval_is_two_figures_and_a_word(locale, both_ends, no_upper_end):
    assert interval(0.4, 1.2, locale) == both_ends
    assert interval(0.4, math.inf, locale) == no_upper_end


def test_no_interval_is_no_text():
    assert interval(math.nan, 1.2, "en") == ""
    assert interval(0.4, math.nan, "en") == ""


@pytest.mark.parametrize(
    ("value", "text"),
    [(0, "0"), (13.91, "14"), (99.7, "99.7"), (99.97, ">99.9"), (100, "100"), (0.03, "0.030")],
)
def test_a_share_reads_as_all_only_where_it_is_all(value, text):
    assert percent(value) == f"{text}\N{NO-BREAK SPACE}%"


@pytest.mark.parametrize(
    ("on", "english", "spanish"),
    [
        (dt.date(2026, 5, 7), "Thu 7 May", "jue 7 may"),
        (dt.date(2026, 9, 1), "Tue 1 Sep", "mar 1 sep"),
        (dt.date(2026, 12, 26), "Sat 26 Dec", "sáb 26 dic"),
    ],
)
def test_a_date_is_a_weekday_a_day_and_a_month_of_three_letters(on, english, spanish):
    assert day(on, "en") == english
    assert day(on, "es") == spanish


@pytest.mark.parametrize("locale", ["en", "es"])
def test_no_month_is_written_with_more_than_three_letters(locale):
    months = [day(dt.date(2026, m, 1), locale).split()[2] for m in range(1, 13)]
    assert {len(month) for month in months} == {3}
    assert len(set(months)) == 12


def test_signs_that_move_a_cursor_or_turn_the_reading_direction_are_shown_as_replaced():
    assert shown("Bench\x1b[2J 1\u202e") == "Bench\ufffd[2J 1\ufffd"
    assert shown("Mesa ñ, línea 3º") == "Mesa ñ, línea 3º"
