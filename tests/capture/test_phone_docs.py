"""docs/phone.md says what the benches measured, and the page loads every module there is."""

import json
import re
from pathlib import Path

from benchwalk.web.capture_pages import WORKER, shell
from tests.in_turn import each_of

ROOT = Path(__file__).parent.parent.parent
PAGE = (ROOT / "docs" / "phone.md").read_text(encoding="utf-8")
FIGURES = {
    "phone_page": (
        "taps_of_three_counts_of_one",
        "save_median_ms",
        "press_median_ms",
        "taps_of_20_at_9_a_second",
        "presses_of_3_hits_in_30_ms",
        "shell_kb_gz",
        "ready_median_ms",
    ),
    "phone_kills": ("lost", "rounds", "confirmed"),
}


@each_of(
    ("bench", "figure"), [(bench, figure) for bench, all_ in FIGURES.items() for figure in all_]
)
def test_the_figures_of_the_phone_are_those_measured(bench, figure):
    path = ROOT / "bench" / "results" / f"{bench}.json"
    held = json.loads(path.read_text(encoding="utf-8"))
    section = PAGE.split("## What holds")[1].split("\n## ")[0]
    assert str(held[figure]) in section.replace("\n", " ").split(" ")


def test_what_is_measured_reaches_what_was_asked_for():
    page = json.loads((ROOT / "bench/results/phone_page.json").read_text(encoding="utf-8"))
    kills = json.loads((ROOT / "bench/results/phone_kills.json").read_text(encoding="utf-8"))
    assert page["save_median_ms"] < 20
    assert page["ready_median_ms"] < 1000
    assert (page["taps_of_20_at_9_a_second"], page["presses_of_3_hits_in_30_ms"]) == (20, 1)
    assert (kills["lost"], kills["said_twice"], kills["rounds_that_went_back"]) == (0, 0, 0)


def test_every_module_is_asked_for_at_once():
    html = shell()[""].content.decode()
    asked = set(re.findall(r'(?:modulepreload" href|module" src)="/phone/([\w.]+)"', html))
    assert asked == {name for name in shell() if name.endswith(".js")} - set(WORKER)


def test_the_page_without_its_fonts_is_at_most_60_kb():
    import gzip  # noqa: PLC0415 - of this test only

    assert sum(len(gzip.compress(f.content)) for f in shell().values()) <= 60_000
