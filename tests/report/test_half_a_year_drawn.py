"""The picture of half a year: where days, densities, gaps and treatments stand.

By hand from the picture's own scale: 182 days from x = 30 to 422, so the first day stands at 30,
the last at 422; y = 125 - (60 + 40 log10(times)), so 1 at 65, 10 at 25, 0.1 at 105, 0.0316 at 125.
"""

from __future__ import annotations

import datetime as dt
import math
import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchwalk.report.targets import LOOKS, Paper
from benchwalk.report.timeline import (
    FOOT,
    GAP,
    LEFT,
    NONE,
    RIGHT,
    TOP,
    Course,
    Spot,
    Stamp,
    day_x,
    timeline,
    times_y,
)

UNTIL = dt.date(2026, 7, 1)
WEEK = dt.timedelta(days=7)
PAPER = Paper(0, 0)
SVG = "{http://www.w3.org/2000/svg}"


def spot(weeks: int, times: float | None, low: float | None = None, high: float | None = None):
    return Spot(UNTIL - weeks * WEEK, times, low, high)


def course(*spots: Spot, stamps: tuple[Stamp, ...] = ()) -> Course:
    return Course(UNTIL, tuple(spots), stamps)


def drawn(held: Course, locale: str = "en") -> ET.Element:
    return ET.fromstring(timeline(held, "a sentence", locale, PAPER))


def having(svg: ET.Element, kind: str, tag: str = "") -> list[ET.Element]:
    look = LOOKS[kind]
    parts = (e for e in svg.iter() if e.tag.endswith(tag))
    return [e for e in parts if all(e.get(k) == v for k, v in look.items())]


@pytest.mark.parametrize(("times", "y"), [(1, 65), (10, 25), (0.1, 105), (10**-1.5, 125)])
def test_a_density_stands_as_high_as_the_hand_puts_it(times, y):
    assert times_y(times) == pytest.approx(y)


def test_the_first_and_the_last_day_stand_at_the_ends_of_the_axis():
    held = course()
    assert held.since == dt.date(2026, 1, 1)
    assert (day_x(held, held.since), day_x(held, UNTIL)) == (30, 422)


@given(st.floats(1e-4, 1e4))
def test_every_density_stands_on_the_axis(times):
    assert TOP <= times_y(times) <= FOOT


def test_over_is_a_diamond_and_under_a_disc_with_a_bar_each():
    svg = drawn(course(spot(1, 0.5, 0.2, 1.2), spot(0, 2.0, 1.0, 4.0)))
    (disc,) = having(svg, "now")
    assert float(disc.get("cy", "nan")) == pytest.approx(
        125 - (60 + 40 * math.log10(0.5)), abs=0.01
    )
    (diamond,) = having(svg, "now-over")
    assert diamond.get("d", "").startswith("M422 ")
    assert [(w.get("y1"), w.get("y2")) for w in having(svg, "whisker")] == [
        ("92.96", "61.83"),
        ("65", "40.92"),
    ]


def test_looked_none_is_a_ring_on_its_own_line_under_the_axis():
    svg = drawn(course(spot(0, 0.0, 0.0, 0.3)))
    (ring,) = having(svg, "zero")
    assert float(ring.get("cy", "nan")) == NONE > FOOT
    assert having(svg, "now") == []
    (bar,) = having(svg, "whisker")
    assert float(bar.get("y1", "nan")) == FOOT


def test_a_week_nobody_counted_is_a_dash_and_breaks_the_line():
    svg = drawn(course(spot(4, 0.5), spot(3, 0.6), spot(1, 0.7), spot(0, 0.8)))
    (dash,) = having(svg, "gap")
    end = day_x(course(), UNTIL - 2 * WEEK)  # weeks end on the weekday of the report
    assert float(dash.get("y1", "nan")) == GAP
    assert end - 16 < float(dash.get("x1", "nan")) < float(dash.get("x2", "nan")) < end + 3
    assert len(having(svg, "path", "path")) == 2


def test_no_mark_stands_in_a_week_without_a_count():
    """What a zero made up there would be: a ring, a disc, or a line through it."""
    svg = drawn(course(spot(5, 0.5), spot(0, 0.5)))
    marks = [*having(svg, "now"), *having(svg, "zero"), *having(svg, "now-over")]
    assert len(marks) == 2
    assert len(having(svg, "gap")) == 4
    assert having(svg, "path", "path") == []


def test_weeks_before_the_first_count_have_no_dash():
    assert having(drawn(course(spot(1, 0.5), spot(0, 0.5))), "gap") == []
    assert having(drawn(course()), "gap") == []


def test_a_day_seen_without_being_measured_has_its_own_mark_and_no_place_on_the_axis():
    svg = drawn(course(spot(2, 0.5), spot(1, None), spot(0, 0.5)))
    (tick,) = having(svg, "unmeasured")
    assert float(tick.get("y1", "nan")) > FOOT
    assert len(having(svg, "now")) == 2
    assert having(svg, "gap") == []
    assert having(svg, "path", "path") == []  # no line through what was not measured


def test_what_lies_beyond_the_axis_stands_on_its_end_with_an_arrowhead():
    svg = drawn(course(spot(0, 36.0, 22.0, 71.0)))
    (head,) = having(svg, "beyond", "path")
    assert "L422 " in head.get("d", "")
    assert having(drawn(course(spot(0, 3.0, 2.0, 9.0))), "beyond", "path") == []


def test_what_is_less_than_the_axis_shows_is_a_disc_with_an_arrowhead_and_never_the_ring_of_none():
    svg = drawn(course(spot(0, 0.01, 0.0, 0.4)))
    (head,) = having(svg, "beyond", "path")
    assert head.get("d", "").startswith(f"M418.5 {FOOT + 3.2 + 1.5:g}L422 ")
    assert float(having(svg, "now")[0].get("cy", "nan")) == FOOT
    assert having(svg, "zero") == []


def test_an_interval_without_an_upper_end_goes_on_too():
    svg = drawn(course(spot(0, 3.0, 2.0, math.inf)))
    assert having(svg, "beyond", "path")
    assert having(svg, "whisker")[0].get("y2") == "25"


def stamps(*days: int) -> tuple[Stamp, ...]:
    return tuple(
        Stamp(n, UNTIL - dt.timedelta(days=ago), False) for n, ago in enumerate(days, start=1)
    )


def test_a_treatment_is_a_numbered_disc_over_its_day():
    svg = drawn(course(stamps=stamps(70)))
    (disc,) = having(svg, "disc", "circle")
    x = LEFT + (181 - 70) / 181 * (RIGHT - LEFT)
    assert float(disc.get("cx", "nan")) == pytest.approx(x, abs=0.01)
    assert [e.text for e in having(svg, "number", "text")] == ["1"]
    (line,) = having(svg, "treated", "path")
    assert line.get("d", "").endswith("V125")


@given(st.lists(st.integers(20, 181), min_size=2, max_size=12, unique=True))
def test_discs_of_treatments_never_lie_on_one_another(days):
    svg = drawn(course(stamps=stamps(*sorted(days, reverse=True))))
    at = [float(e.get("cx", "nan")) for e in having(svg, "disc", "circle")]
    assert all(b - a >= 12.9 for a, b in pairwise(at))


def test_cultural_work_has_a_dashed_line():
    svg = drawn(course(stamps=(Stamp(1, UNTIL - WEEK, True),)))
    assert having(svg, "treated cultural", "path")


def test_months_are_named_in_the_language_where_they_begin():
    def names(locale):
        found = drawn(course(), locale).iter(f"{SVG}text")
        return [e.text for e in found if e.get("text-anchor") == "start" and e.text][:-1]

    assert names("en") == ["Jan", "Feb", "Mar", "Apr", "May", "Jun"]
    assert names("es") == ["ene", "feb", "mar", "abr", "may", "jun"]


def test_on_a_page_the_picture_says_its_sentence_and_on_paper_it_has_no_class():
    page = timeline(course(spot(0, 2.0)), 'over "now"', "en")
    assert ET.fromstring(page).get("aria-label") == 'over "now"'
    assert "class=" not in timeline(course(spot(0, 2.0)), "x", "en", PAPER)
