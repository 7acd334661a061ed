"""No style cuts a text off: each rule that could is named here with its reason.

What cuts: ``overflow`` and ``clip`` (CSS Overflow 3), ``text-overflow``, line clamps, paint
containment (CSS Containment 2, 3.3). What a browser then shows is looked at in
`test_every_page_in_a_browser.py` and, for the phone, in `test_phone_looks.py`.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import benchwalk

SHEETS = sorted(Path(benchwalk.__file__).parent.rglob("*.css"))
CUTS = re.compile(
    r"\b(overflow(?:-[xy]|-inline|-block)?|contain|content-visibility|text-overflow|clip"
    r"|(?:-webkit-)?line-clamp)\s*:\s*([^;}]*)"
)
HARMLESS = {"visible", "auto", "scroll", "none", "normal"}
PAINTED_LATER = ("content-visibility", "auto")  # contains paint too
ALLOWED = {
    (".vh", "overflow"): "is heard, not seen",
    (".rowed .unit-row", "content-visibility"): "its edge leaves room: test_rows_that_wait.py",
}


def cutting(source: str) -> set[tuple[str, str]]:
    """(selector, property) of each rule that may cut what stands inside."""
    plain = re.sub(r"/\*.*?\*/", "", source, flags=re.DOTALL)
    return {
        (selector.strip(), name)
        for selector, said in re.findall(r"([^{};]+)\{([^{}]*)\}", plain)
        for name, value in CUTS.findall(said)
        if value.split()[0] not in HARMLESS or (name, value.split()[0]) == PAINTED_LATER
    }


@pytest.mark.parametrize("path", SHEETS, ids=lambda p: p.name)
def test_no_style_cuts_a_text_off(path):
    assert cutting(path.read_text("utf-8")) <= set(ALLOWED)


def test_every_exception_is_still_there():
    assert set().union(*(cutting(p.read_text("utf-8")) for p in SHEETS)) == set(ALLOWED)


@pytest.mark.parametrize(
    "source",
    [
        "td { overflow: hidden }",
        "@media print { td { overflow-x: clip; } }",
        "td { color: red; text-overflow: ellipsis; }",
        "td { -webkit-line-clamp: 2; }",
        "td { contain: paint; }",
        "/* td { } */ td, th { overflow : hidden; }",
    ],
)
def test_a_style_that_cuts_is_found(source):
    assert len(cutting(source)) == 1


@pytest.mark.parametrize("source", ["td { overflow: visible }", "td { overflow-wrap: anywhere; }"])
def test_a_style_that_cuts_nothing_is_let_pass(source):
    assert cutting(source) == set()
