"""A strip for print: the geometry of the page in pixels, its looks as attributes, and as drawn.

Numbers by hand from the axis (own design): 60 + 40 log10(times) per cent. On an axis 200 pixels
wide 1 stands at 120, 10 at 200, 0.1 at 40; log10(2) = 0.30103, so 2 at 144.08 and 0.5 at 95.92.
"""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchwalk import web
from benchwalk.report.strip import AT_ONE, TENFOLD, axis, strip
from benchwalk.report.targets import (
    GUTTER,
    INK,
    INK_3,
    LOOKS,
    PAGE,
    RECKON,
    RUBRIC,
    TINT,
    Paper,
    fades,
    stylesheet,
)
from tests.in_turn import each_of
from tests.report.pictures import SCALE, drawn, like

WIDTH, HEIGHT = 200.0, 40.0
PAPER = Paper(WIDTH, HEIGHT)
SVG = "{http://www.w3.org/2000/svg}"


def on_paper(*args: object, **kw: object) -> ET.Element:
    return ET.fromstring(strip(*args, target=PAPER, **kw))


def having(svg: ET.Element, kind: str) -> list[ET.Element]:
    """Parts with all the attributes of a look."""
    return [e for e in svg.iter() if all(e.get(k) == v for k, v in LOOKS[kind].items())]


def only(svg: ET.Element, kind: str) -> ET.Element:
    (part,) = having(svg, kind)
    return part


def test_a_paper_strip_stands_alone_with_a_size_and_its_gutters():
    svg = on_paper(2, 1, 4, "over")
    assert svg.tag == f"{SVG}svg"
    assert (svg.get("width"), svg.get("height"), svg.get("viewBox")) == (
        "228",
        "40",
        "-14 0 228 40",
    )


def test_no_class_and_no_per_cent_is_left_on_paper():
    """Print has no stylesheet: a part with a class alone comes out black."""
    for text in (
        strip(2, 1, 4, "over", before=0.5, ahead=(1, 2, 30), target=PAPER),
        strip(None, None, None, "not_looked", before=0.5, target=PAPER),
        axis("es", PAPER),
    ):
        assert not re.search(r'class=|%"|style=', text)


def test_the_threshold_line_and_the_marks_stand_where_the_hand_puts_them():
    svg = on_paper(2, 0.5, 5, "over", before=0.1)
    one, bar = only(svg, "one"), having(svg, "interval")[0]
    assert [one.get(a) for a in ("x1", "x2", "y1", "y2")] == ["120", "120", "0", "40"]
    assert (bar.get("x"), bar.get("y"), bar.get("height")) == ("95.92", "-8.5", "5")
    assert bar.get("width") == "80"  # 0.5 to 5 is a tenfold: 40 % of 200
    assert only(svg, "before").get("cx") == "40"
    groups = [e.get("transform") for e in svg.iter(f"{SVG}g")]
    assert groups == ["translate(0 20)", "translate(144.08 0)"]


TICKS = {"0.03": 0.0, "0.1": 40.0, "0.3": 80.0, "1": 120.0, "3": 160.0, "10": 200.0}


def ticks_of(svg: str) -> dict[str | None, float]:
    found = ET.fromstring(svg).iter(f"{SVG}text")
    return {e.text: float(e.get("x", "nan")) for e in found if e.get("y") == "36"}


def test_every_tick_of_the_axis_stands_within_a_hundredth_of_the_width():
    """0.03 and 0.3 stand for 0.0316 and 0.316, half a tenfold: where their figures round to."""
    found = ticks_of(axis("en", PAPER))
    assert found.keys() == TICKS.keys()
    for label, at in found.items():
        assert label is not None
        assert at == pytest.approx(TICKS[label], abs=0.005)
        assert at == pytest.approx((AT_ONE + TENFOLD * math.log10(float(label))) * 2, abs=2)


def test_a_narrow_axis_has_four_numbers_and_no_title():
    """Below about 180 pixels the others would lie on one another."""
    narrow = ET.fromstring(axis("en", Paper(179, 43)))
    assert [e.text for e in narrow.iter(f"{SVG}text")] == ["act", "0.03", "0.1", "1", "10"]


@given(
    st.floats(1e-3, 1e3),
    st.floats(1, 50),
    st.floats(1, 50),
    st.none() | st.floats(1e-3, 1e3),
    st.sampled_from(["over", "under", "not_looked"]),
)
def test_paper_is_the_page_at_one_width_whatever_is_drawn(times, down, up, before, state):
    known = (times, times / down, times * up, state)
    page = strip(*known, before=before, target=PAGE)
    paper = strip(*known, before=before, target=PAPER)
    per_cents = [float(x) for x in re.findall(r'(?:x|x1|x2|cx)="(-?[\d.]+)%"', page)]
    shifts = r'(?:\b(?:x|x1|x2|cx)="|translate\()(-?[\d.]+)(?:"| 0\))'
    inside = re.sub(r"<svg[^>]*>|translate\(0 20\)", "", paper)
    pixels = [float(x) for x in re.findall(shifts, inside)]
    per_cents = [x for x in per_cents if x] + [0.0] * per_cents.count(0.0)
    assert sorted(x for x in pixels if x) == pytest.approx(
        sorted(2 * x for x in per_cents if x), abs=0.021
    )


# the forecast ---------------------------------------------------------------------------------


def test_the_forecast_is_two_fades_that_meet_at_its_median():
    svg = on_paper(2, 1, 4, "over", ahead=(0.5, 1, 2))
    low, high = svg.iter(f"{SVG}linearGradient")
    assert (low.get("x1"), low.get("x2")) == ("95.92", "120")
    assert (high.get("x1"), high.get("x2")) == ("144.08", "120")
    opacities = [s.get("stop-opacity") for s in svg.iter(f"{SVG}stop")]
    assert opacities == ["0.04", "0.75", "0.04", "0.75"]
    bands = [e for e in svg.iter(f"{SVG}rect") if "url" in e.get("fill", "")]
    assert [(b.get("x"), b.get("width"), b.get("y"), b.get("height")) for b in bands] == [
        ("95.92", "24.08", "4.5", "5"),
        ("120", "24.08", "4.5", "5"),
    ]
    median = only(svg, "ahead-median")
    assert [median.get(a) for a in ("x1", "x2", "y1", "y2")] == ["120", "120", "3", "11"]


def test_a_forecast_beyond_the_axis_is_cut_there_and_its_fade_is_not_made_anew():
    svg = on_paper(2, 1, 4, "over", ahead=(1, 5, 100))
    high = list(svg.iter(f"{SVG}linearGradient"))[1]
    assert high.get("x1") == "280"  # 100 stands at 140 %: the fade ends beyond the axis
    band = next(e for e in svg.iter(f"{SVG}rect") if e.get("fill") == "url(#falling)")
    end = float(band.get("x", "nan")) + float(band.get("width", "nan"))
    assert end == pytest.approx(200, abs=0.01)
    assert only(svg, "ahead-beyond").get("d") == "M1 4L6 7L1 10Z"


def test_the_forecast_of_what_was_not_looked_at_stands_without_any_mark():
    svg = on_paper(None, None, None, "not_looked", ahead=(0.5, 1, 2))
    assert having(svg, "ahead-median")
    assert not having(svg, "now-over")
    assert not having(svg, "interval")


def test_a_page_clips_the_forecast_and_has_its_fades_once():
    text = strip(2, 1, 4, "over", ahead=(1, 5, 100))
    assert 'fill="url(#rising)"' in text
    assert "linearGradient" not in text
    assert re.findall(r'id="(\w+)"', fades()) == ["rising", "falling", "band"]


@pytest.mark.parametrize(
    ("locale", "said"),
    [("en", "next walk 2.8, 1.1 to 6.9"), ("es", "próximo recorrido 2.8, 1.1 a 6.9")],
)
def test_the_sentence_ends_with_the_forecast(locale, said):
    text = strip(2.4, 1.5, 3.7, "over", before=1.1, ahead=(1.1, 2.8, 6.9), locale=locale)
    assert ET.fromstring(text).get("aria-label", "").endswith(f"; {said}")


# looks ----------------------------------------------------------------------------------------


def rules_of(css: str) -> dict[str, dict[str, str]]:
    found = re.findall(r"^([^@{}\n]+?) \{ ([^}]*?);? \}", css, flags=re.MULTILINE)
    return {
        one.strip(): dict(re.findall(r"([\w-]+): ([^;]+)", rules))
        for names, rules in found
        for one in names.split(",")
    }


def test_the_stylesheet_says_what_the_attributes_say():
    rules = rules_of(stylesheet())
    assert rules == {f".{kind.replace(' ', '.')}": dict(look) for kind, look in LOOKS.items()}


KINDS = ("tint", "grid", "one", "base", "base dotted", "move", "interval", "beyond")
MARKS = ("before", "now", "now-over", "zero", "tick", "tick-act")


@each_of("kind", [*KINDS, *MARKS])
def test_the_pages_stylesheet_has_the_colours_and_widths_of_paper(kind):
    """The served page has a stylesheet of its own; print must not drift from it."""
    css = (Path(web.__file__).parent / "static" / "benchwalk.css").read_text("utf-8")
    tokens = dict(re.findall(r"(--[\w-]+): (#\w+)", css))
    rules = rules_of(css)
    look = rules[f".{kind.split()[0]}"] | rules.get(f".{kind.replace(' ', '.')}", {})
    look = {k: re.sub(r"var\((--[\w-]+)\)", lambda m: tokens[m[1]], v) for k, v in look.items()}
    shared = {"fill", "stroke", "stroke-width", "stroke-dasharray"} & look.keys()
    assert shared
    assert {k: look[k] for k in shared} == {k: LOOKS[kind][k] for k in shared}


# as drawn -------------------------------------------------------------------------------------


def picture(*args: object, **kw: object) -> np.ndarray:
    svg = strip(*args, target=PAPER, **kw)
    return drawn(svg, WIDTH + 2 * GUTTER, HEIGHT)


def columns(mask: np.ndarray) -> tuple[float, float]:
    """First and last column of a mask, in pixels of the axis."""
    found = np.flatnonzero(mask.any(axis=0))
    return found[0] / SCALE - GUTTER, (found[-1] + 1) / SCALE - GUTTER


@pytest.fixture(scope="module")
def seen():
    return picture(0.5, 0.2, 0.9, "under")


def test_in_the_drawing_the_red_line_stands_at_sixty_per_cent_over_the_full_height(seen):
    red = like(seen, RUBRIC, 60)
    low, high = columns(red)
    assert (low + high) / 2 == pytest.approx(120, abs=0.3)  # 1 % off would be 2 pixels
    assert high - low == pytest.approx(1.5, abs=0.5)
    rows = red.any(axis=1)
    assert rows[0]
    assert rows[-1]
    assert (~rows).sum() / SCALE == pytest.approx(1, abs=0.5)  # the base line crosses it


def test_in_the_drawing_the_tint_lies_from_the_line_to_the_end(seen):
    low, high = columns(like(seen, TINT, 3))
    assert low == pytest.approx(120.75, abs=0.3)
    assert high == pytest.approx(199.5, abs=0.3)  # the last half pixel is the line at 10


def test_in_the_drawing_the_bar_and_the_disc_stand_where_the_hand_puts_them(seen):
    """0.2 at 120 + 80 log10(0.2) = 64.08; 0.9 at 116.34; 0.5 at 95.92; rows -8.5 to -3.5 of 20."""
    bar = like(seen, INK_3, 8)
    low, high = columns(bar)
    assert low == pytest.approx(64.08, abs=0.3)
    assert high == pytest.approx(116.34, abs=0.3)
    rows = np.flatnonzero(bar.sum(axis=1) > 100)
    assert rows[0] / SCALE == pytest.approx(11.5, abs=0.3)
    assert (rows[-1] + 1) / SCALE == pytest.approx(16.5, abs=0.3)
    left, right = columns(like(seen, INK, 8))
    assert (left + right) / 2 == pytest.approx(95.92, abs=0.3)
    assert right - left == pytest.approx(2 * 4.6 - 1.5, abs=0.6)  # the white edge lies half inside


def test_in_the_drawing_a_diamond_marks_what_is_over():
    red = like(picture(3.0, None, None, "over"), RUBRIC, 30)
    right = red[:, int((GUTTER + 130) * SCALE) :]
    found = np.flatnonzero(right.any(axis=0)) / SCALE + 130
    assert (found[0] + found[-1]) / 2 == pytest.approx(120 + 80 * math.log10(3), abs=0.3)
    widths = right.sum(axis=1)
    assert widths.argmax() / SCALE == pytest.approx(14, abs=0.3)


def test_in_the_drawing_nothing_is_black_that_has_a_colour():
    """What a part with a class alone would be on paper."""
    for args in ((2, 1, 40, "over"), (None, None, None, "not_looked")):
        assert not (picture(*args, before=0.5, ahead=(0.1, 1, 20)).max(axis=2) < 20).any()


def test_in_the_drawing_not_looked_has_no_mark_in_ink_or_red_beside_the_line():
    pixels = picture(None, None, None, "not_looked")
    assert not like(pixels, INK, 8).any()
    red = like(pixels, RUBRIC, 60)
    low, high = columns(red)
    assert high - low < 2.1


def test_in_the_drawing_the_forecast_fades_away_from_its_median():
    pixels = picture(None, None, None, "not_looked", ahead=(0.1, 0.5, 0.9)).astype(int)
    row = pixels[int((HEIGHT / 2 + 7) * SCALE)]
    blue = [int(row[int((GUTTER + x) * SCALE)][0]) for x in (44, 60, 75, 92)]
    assert blue == sorted(blue, reverse=True)  # less red the nearer the median
    assert like(pixels.astype(np.uint8), RECKON, 10).any()
