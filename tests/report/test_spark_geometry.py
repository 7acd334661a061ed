"""Where ten weeks stand in their small picture, worked by hand from its rule.

The picture (own design) is 108 by 24 pixels, weeks 11 apart from 4 on, and upright the axis of the
strips: 0.0316 at the foot, 10 at the top, the threshold at 24 (1 - 0.6) = 9.6. By hand: log10(2) =
0.30103, so 2 at 24 (1 - 0.7204) = 6.71 and 0.5 at 24 (1 - 0.4796) = 12.49.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchwalk import web
from benchwalk.catalogue import LOCALES
from benchwalk.report.spark import HEIGHT, spark

A_WEEK = st.none() | st.just(0.0) | st.floats(1e-3, 1e3)
CSS = (Path(web.__file__).parent / "static" / "benchwalk.css").read_text("utf-8")


def outlines(*weeks: float | None) -> dict[str, str]:
    """The outline of each kind of mark; none stands twice."""
    svg = ET.fromstring(spark(weeks))
    found = [(part.get("class", ""), part.get("d", "")) for part in svg]
    assert len(found) == len(dict(found))
    return dict(found)


def test_weeks_in_a_row_are_joined_and_the_newest_is_a_disc():
    found = outlines(0.5, 0.5)
    assert found["path"] == "M4 12.49L15 12.49"
    assert found["now"] == "M12.6 12.49a2.4 2.4 0 1 0 4.8 0a2.4 2.4 0 1 0 -4.8 0"
    assert set(found) == {"path", "now"}


def test_over_is_a_diamond_around_its_place():
    assert outlines(2.0)["now-over"] == "M4 3.71L7 6.71L4 9.71L1 6.71Z"


def test_looked_none_is_a_ring_on_its_own_line_and_not_looked_a_dash_below_it():
    found = outlines(0.0, None)
    assert found["zero"] == "M2 21.5a2 2 0 1 0 4 0a2 2 0 1 0 -4 0"
    assert found["gap"] == "M13 22.5h4"
    assert set(found) == {"zero", "gap"}


def test_a_week_without_a_count_breaks_the_line():
    assert outlines(0.5, 0.5, None, 2.0, 2.0)["path"] == "M4 12.49L15 12.49M37 6.71L48 6.71"


def test_a_week_alone_has_no_line():
    assert "path" not in outlines(0.5, None, 0.5)


def test_nothing_to_compare_with_is_no_picture():
    assert spark(()) == ""


@given(st.lists(A_WEEK, min_size=1, max_size=10))
def test_every_week_that_is_none_over_or_not_counted_has_its_mark(weeks):
    found = outlines(*weeks)
    marks = {kind: outline.count("M") for kind, outline in found.items()}
    assert marks.get("gap", 0) == weeks.count(None)
    assert marks.get("zero", 0) == weeks.count(0)
    assert marks.get("now-over", 0) == sum(m is not None and m >= 1 for m in weeks)


@given(st.lists(A_WEEK, min_size=1, max_size=10), st.sampled_from(LOCALES))
def test_the_sentence_counts_what_the_picture_shows(weeks, locale):
    said = ET.fromstring(spark(weeks, locale)).get("aria-label", "")
    counted = [m for m in weeks if m is not None]
    figures = [len(weeks), len(counted), sum(m >= 1 for m in counted), weeks.count(0)]
    assert [int(n) for n in re.findall(r"\d+", said)] == figures


def test_the_threshold_behind_the_picture_stands_where_one_does():
    """A tile of one pixel at 40 % of 24 begins at 9.2 and so lies on 9.6."""
    at, high = re.search(r"\.c-weeks svg \{[^}]*\) 0 (\d+)% / 100% (\d+)px", CSS).groups()
    top = float(at) / 100 * (HEIGHT - float(high))
    assert top < 24 * (1 - 0.6) < top + float(high)


@pytest.mark.parametrize("weeks", [(1, 0, None, 2), (3,)])
def test_whole_numbers_are_drawn_as_the_same_decimals(weeks):
    assert spark(weeks) == spark([None if m is None else float(m) for m in weeks])
