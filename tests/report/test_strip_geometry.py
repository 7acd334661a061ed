"""Where a strip puts its marks, against numbers worked by hand from the rule of the axis.

The axis (own design): x = 60 + 40 log10(times) in per cent of the width. By hand: 1 at 60, 10 at
100, 0.1 at 20; log10(2) = 0.30103 so 2 at 72.04; log10(5) = 0.69897 so 5 at 87.96 and 0.5 at
47.96; the left end, 0, is 10 ** -1.5 = 0.0316. Vertical places are pixels from the row's middle:
marks at -6, a bar 5 high from -8.5.
"""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from html import unescape
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchwalk import web
from benchwalk.catalogue import LOCALES
from benchwalk.report.strip import axis, position, strip
from benchwalk.report.targets import HAIR, ROWS, RUBRIC, TINT


def drawn(*args: object, **kw: object) -> ET.Element:
    return ET.fromstring(strip(*args, **kw))


def parts(svg: ET.Element, kind: str) -> list[ET.Element]:
    return [e for e in svg.iter() if kind in e.get("class", "").split()]


def only(svg: ET.Element, kind: str) -> ET.Element:
    (part,) = parts(svg, kind)
    return part


def holder(svg: ET.Element, kind: str) -> ET.Element:
    """The small viewport that puts a mark of fixed size at its place."""
    return next(e for e in svg.iter() if any(kind == c.get("class") for c in e))


@pytest.mark.parametrize(
    ("times", "per_cent"),
    [(1, 60), (10, 100), (0.1, 20), (2, 72.04), (5, 87.96), (0.5, 47.96), (10**-1.5, 0)],
)
def test_a_position_on_the_axis_worked_by_hand(times, per_cent):
    assert position(times) == pytest.approx(per_cent, abs=0.005)


def test_nothing_has_no_place_on_a_logarithmic_axis():
    with pytest.raises(ValueError, match="expected more than 0; 0 has its own mark"):
        position(0)


@given(st.floats(1e-3, 1e3))
def test_tenfold_is_forty_per_cent_of_the_width_wherever_it_starts(times):
    assert position(10 * times) - position(times) == pytest.approx(40)


def test_under_one_is_a_disc_and_at_one_a_diamond():
    assert only(drawn(0.999, 0.5, 2, "under"), "now").get("r") == "4.6"
    over = drawn(1, 0.5, 2, "over")
    assert parts(over, "now") == []
    assert holder(over, "now-over").get("x") == "60%"
    assert only(over, "now-over").get("d") == "M0 -12.2L6.2 -6L0 0.2L-6.2 -6Z"


def test_the_interval_is_a_bar_from_its_low_to_its_high_end():
    bar = only(drawn(1, 0.5, 2, "over"), "interval")
    assert (bar.get("x"), bar.get("y"), bar.get("height")) == ("47.96%", "-8.5", "5")
    assert bar.get("width") == "24.08%"  # 72.04 - 47.96


def test_the_threshold_is_one_line_at_sixty_per_cent_over_the_full_height():
    line = only(drawn(2, 1, 4, "over"), "one")
    assert [line.get(a) for a in ("x1", "x2", "y1", "y2")] == ["60%", "60%", "0", "100%"]
    tint = only(drawn(2, 1, 4, "over"), "tint")
    assert (tint.get("x"), tint.get("width"), tint.get("height")) == ("60%", "40%", "100%")


def test_looked_none_is_a_ring_at_the_left_end_with_a_bar_to_its_upper_bound():
    svg = drawn(0.0, 0.0, 0.5, "none")
    ring, bar = only(svg, "zero"), only(svg, "interval")
    assert (ring.get("cx"), ring.get("cy"), ring.get("r")) == ("0%", "-6", "4")
    assert (bar.get("x"), bar.get("width")) == ("0%", "47.96%")
    assert parts(svg, "now") == []
    assert parts(svg, "beyond") == []


def test_not_looked_is_a_dotted_line_and_no_mark_at_all():
    svg = drawn(None, None, None, "not_looked")
    assert only(svg, "base").get("class") == "base dotted"
    for kind in ("now", "now-over", "zero", "interval", "beyond", "move"):
        assert parts(svg, kind) == []


def test_the_last_value_of_what_was_not_looked_at_is_a_broken_ring():
    ring = only(drawn(None, None, None, "not_looked", before=0.5), "before")
    assert ring.get("class") == "before dotted"
    assert ring.get("cx") == "47.96%"


def test_an_interval_beyond_the_axis_is_cut_there_and_goes_on_as_an_arrowhead():
    svg = drawn(5, 2, 20, "over")
    bar = only(svg, "interval")
    assert (bar.get("x"), bar.get("width")) == ("72.04%", "27.96%")
    assert holder(svg, "beyond").get("x") == "100%"
    assert only(svg, "beyond").get("d") == "M1 -10.5L8 -6L1 -1.5Z"


def test_a_lower_bound_without_an_upper_end_goes_on_as_an_arrowhead():
    svg = drawn(0.5, 0.2, math.inf, "at_least")
    bar = only(svg, "interval")
    assert float(bar.get("x").rstrip("%")) + float(bar.get("width").rstrip("%")) == 100
    assert holder(svg, "beyond").get("x") == "100%"


def test_an_estimate_beyond_the_axis_stands_on_its_end_with_the_arrowhead_beside_it():
    svg = drawn(40, 20, 80, "over")
    assert holder(svg, "now-over").get("x") == "100%"
    assert only(svg, "beyond").get("d") == "M7 -10.5L14 -6L7 -1.5Z"


def test_an_estimate_below_the_axis_is_a_disc_with_an_arrowhead_and_never_the_ring_of_none():
    svg = drawn(0.01, 0.005, 0.5, "under")
    assert only(svg, "now").get("cx") == "0%"
    assert parts(svg, "zero") == []
    assert holder(svg, "beyond").get("x") == "0%"


def test_the_walk_before_is_a_ring_joined_to_now_by_a_line():
    svg = drawn(2, 1, 4, "over", before=0.5)
    ring, line = only(svg, "before"), only(svg, "move")
    assert (ring.get("cx"), ring.get("r")) == ("47.96%", "3.4")
    assert (line.get("x1"), line.get("x2")) == ("47.96%", "72.04%")


def test_the_walk_before_is_left_out_where_there_is_none_to_compare_with():
    svg = drawn(2, 1, 4, "over")
    assert parts(svg, "before") == []
    assert parts(svg, "move") == []


def test_an_estimate_without_an_interval_has_no_bar():
    assert parts(drawn(0.5, None, None, "under"), "interval") == []


@pytest.mark.parametrize(
    ("args", "sentence"),
    [
        ((2.4, 1.5, 3.7, "over"), "2.4 times the threshold, interval 1.5 to 3.7"),
        ((0.4, None, None, "under"), "0.40 times the threshold, no interval"),
        (
            (0.4, 0.2, math.inf, "at_least"),
            "at least 0.40 times the threshold, interval 0.20 or more",
        ),
        ((0.0, 0.0, 0.5, "none"), "looked, none; interval 0 to 0.50 times the threshold"),
        ((0.0, None, None, "none"), "looked, none"),
        ((None, None, None, "not_looked"), "no count"),
    ],
)
def test_a_strip_says_its_sentence(args, sentence):
    assert drawn(*args).get("aria-label") == sentence


def test_the_sentence_ends_with_the_walk_before():
    label = drawn(2.4, 1.5, 3.7, "over", before=1.1, locale="es").get("aria-label")
    assert label == "2.4 veces el umbral, intervalo 1.5 a 3.7; recorrido anterior 1.1"


@given(
    st.floats(1e-3, 1e3),
    st.floats(1, 50),
    st.floats(1, 50),
    st.none() | st.floats(0, 1e3),
    st.sampled_from(LOCALES),
)
def test_every_mark_of_every_strip_stands_on_the_axis(times, down, up, before, locale):
    text = strip(times, times / down, times * up, "over", before=before, locale=locale)
    places = [float(x) for x in re.findall(r'(?:x|x1|x2|cx)="(-?[\d.]+)%"', text)]
    assert all(0 <= x <= 100 for x in places)
    bar = only(ET.fromstring(text), "interval")
    start, width = (float(bar.get(side).rstrip("%")) for side in ("x", "width"))
    assert 0 <= width <= 100.01 - start


@pytest.mark.parametrize("locale", LOCALES)
def test_no_picture_carries_a_style_or_a_script(locale):
    for text in (strip(2.4, 1.5, 3.7, "over", locale=locale), axis(locale)):
        assert not re.search(r"\bstyle=|<style|<script|\bon\w+=|href", unescape(text))


def test_the_axis_prints_its_numbers_where_they_stand():
    ticks = {
        e.text: float(e.get("x").rstrip("%")) for e in ET.fromstring(axis()) if e.get("y") == "36"
    }
    assert set(ticks) == {"0.03", "0.1", "0.3", "1", "3", "10"}
    for label, at in ticks.items():
        assert position(float(label)) == pytest.approx(at, abs=1.0), label


# the ground behind the rows of a page -----------------------------------------------------------

TILE = re.compile(
    r"\(var\((--[\w-]+)\) 0 0\) (?:calc\()?(\d+)%(?: ([+-]) ([\d.]+)px\))? 0 / ([\d.]+)(px|%)"
)
AN_AXIS = 500.0  # [px]


def behind_every_strip() -> list[tuple[str, float, float]]:
    """Colour, left end and width of each layer of the served stylesheet, front to back [px].

    A tile's place counts from its own part: at 60 % the 60 % of the tile lies (CSS Backgrounds and
    Borders Module Level 3, 3.6).
    """
    css = (Path(web.__file__).parent / "static" / "benchwalk.css").read_text("utf-8")
    tokens = dict(re.findall(r"(--[\w-]+): (#\w+)", css))
    rule = re.search(r"""\.strip > \[role="img"\] \{ background: ([^;]+);""", css)[1]
    layers = []
    for token, at, sign, off, size, unit in TILE.findall(rule):
        width = float(size) * (AN_AXIS / 100 if unit == "%" else 1)
        shift = float(f"{sign}{off}") if off else 0.0
        layers.append((tokens[token], float(at) / 100 * (AN_AXIS - width) + shift, width))
    return layers


def test_the_ground_behind_the_rows_is_that_of_a_strip_which_draws_its_own():
    """Centres of lines and edges of the tint, within half a pixel: the last line ends the axis."""
    svg = drawn(2, 1, 4, "over")
    lines = [(RUBRIC, 1.5, only(svg, "one")), *((HAIR, 1.0, e) for e in parts(svg, "grid"))]
    expected = [
        (colour, float(e.get("x1").rstrip("%")) / 100 * AN_AXIS - width / 2, width)
        for colour, width, e in lines
    ]
    tint = only(svg, "tint")
    edges = [float(tint.get(side).rstrip("%")) / 100 * AN_AXIS for side in ("x", "width")]
    expected.append((TINT, *edges))
    for (colour, left, width), (wanted, at, wide) in zip(
        behind_every_strip(), expected, strict=True
    ):
        assert colour == wanted
        assert left == pytest.approx(at, abs=0.51 if at > 490 else 0.05)
        assert width == pytest.approx(wide)


@given(st.floats(1e-3, 1e3), st.floats(1, 50), st.none() | st.floats(1e-3, 1e3))
def test_a_row_is_a_strip_without_its_ground(times, spread, before):
    known, kw = (times, times / spread, times * spread, "over"), {"before": before}
    row, whole = drawn(*known, **kw, target=ROWS), drawn(*known, **kw)
    ground = [e for e in whole if e.get("class") in ("tint", "grid", "one")]
    assert len(ground) == 4
    for part in ground:
        whole.remove(part)
    assert ET.tostring(row) == ET.tostring(whole)


def bands(svg: ET.Element) -> list[tuple[str | None, ...]]:
    found = [e for e in svg.iter() if "url" in e.get("fill", "")]
    return [(e.get("x"), e.get("width"), e.get("y"), e.get("fill")) for e in found]


def test_a_forecast_whose_halves_are_alike_is_one_band_and_else_two_that_meet_at_its_median():
    """By hand: 0.5 at 47.96 and 2 at 72.04, as far from 1 as each other; 3 at 79.08."""
    alike = drawn(2, 1, 4, "over", ahead=(0.5, 1, 2))
    assert bands(alike) == [("47.96%", "24.08%", "4.5", "url(#band)")]
    unlike = drawn(2, 1, 4, "over", ahead=(0.5, 1, 3))
    assert bands(unlike) == [
        ("47.96%", "12.04%", "4.5", "url(#rising)"),
        ("60%", "19.08%", "4.5", "url(#falling)"),
    ]


def test_a_forecast_beyond_the_axis_is_cut_there_by_a_viewport_of_the_axis():
    beyond = drawn(2, 1, 4, "over", ahead=(1, 5, 100))
    (cut,) = [e for e in beyond.iter() if any("falling" in c.get("fill", "") for c in e)]
    assert cut.tag.endswith("svg")
    assert cut.get("overflow") is None
    assert cut[0].get("width") == "52.04%"  # 5 stands at 87.96, 100 at 140


def test_a_band_wholly_beyond_the_axis_is_not_drawn():
    svg = drawn(20, 15, 30, "over", ahead=(12, 20, 40))
    assert bands(svg) == []
    assert parts(svg, "ahead-beyond")
