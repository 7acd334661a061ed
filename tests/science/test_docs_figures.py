"""The science pages: their examples run, and their tables are those of the bench results."""

import doctest
import importlib
import json
import re
from pathlib import Path

import pytest

import kept
from tests.in_turn import each_of

ROOT = Path(__file__).parents[2]
PAGES = [
    ROOT / "docs" / "science" / f"{name}.md"
    for name in ("detection", "dispersion", "density", "precision", "stopping")
]
FOLDER = ROOT / "src" / "benchwalk" / "science"
MODULES = sorted(
    ".".join(path.relative_to(FOLDER).with_suffix("").parts)
    for path in FOLDER.rglob("*.py")
    if ">>> " in path.read_text("utf-8")
)
RESULTS = json.loads((kept.RESULTS / "density_coverage.json").read_text("utf-8"))


def blocks(page: Path) -> list[tuple[str, list[str]]]:
    found = re.findall(r"<!-- (\w+) -->\n(.*?)<!-- end -->", page.read_text("utf-8"), re.DOTALL)
    return [(name, body.strip().splitlines()) for name, body in found]


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.stem)
def test_examples_of_a_page_run(page):
    result = doctest.testfile(str(page), module_relative=False)
    assert result.attempted > 3
    assert result.failed == 0


@each_of("name", MODULES)
def test_examples_of_a_module_run(name):
    result = doctest.testmod(importlib.import_module(f"benchwalk.science.{name}"))
    assert result.attempted > 0
    assert result.failed == 0


def test_the_families_have_examples():
    families = {name.split(".")[0] for name in MODULES}
    assert {page.stem for page in PAGES} <= families


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.stem)
def test_sources_of_a_family_stand_on_its_page(page):
    files = [*FOLDER.glob(f"{page.stem}.py"), *FOLDER.glob(f"{page.stem}/*.py")]
    cited = {key for f in files for key in re.findall(r"\[(\w+)\]_", f.read_text("utf-8"))}
    listed = page.read_text("utf-8").split("## Sources")[1]
    assert cited
    assert {key for key in cited if f"{key} " not in listed} == set()


@pytest.mark.parametrize("page", PAGES[1:3], ids=lambda p: p.stem)
def test_tables_of_a_page_are_those_of_the_bench_results(page):
    tables = importlib.import_module("density_coverage").TABLES
    assert blocks(page), "a page with measurements has tables between markers"
    for name, lines in blocks(page):
        assert lines == tables[name](RESULTS), f"{page.name}: table {name} is stale"


def test_picture_and_table_of_stopping_are_what_the_bench_makes():
    figures = importlib.import_module("stopping_figures")
    page = ROOT / "docs" / "science" / "stopping.md"
    assert dict(blocks(page))["characteristic"] == figures.table()
    assert figures.PICTURE.read_text("utf-8") == figures.picture()


def test_table_of_speed_is_that_of_the_bench_results():
    speed = importlib.import_module("science_speed")
    results = json.loads((kept.RESULTS / "science_speed.json").read_text("utf-8"))
    assert dict(blocks(speed.PAGE))["speed"] == speed.table(results)
    assert [row["name"] for row in results["entries"]] == [entry.name for entry in speed.ENTRIES]


def test_results_hold_every_cell_to_the_bounds_of_the_project():
    for cell in RESULTS["known"]:
        assert cell["blaker"] >= 0.87
        assert cell["expected"] < 5 or 0.88 <= cell["blaker"] <= 0.94
    learned = [c["learned"]["coverage"] for c in RESULTS["learned"] if c["rounds"] == 26]
    assert len(learned) == len(RESULTS["known"]) == 225
    assert min(learned) >= 0.82


def test_results_say_how_they_were_made():
    assert re.fullmatch(r"[0-9a-f]{40}", RESULTS["commit"])
    assert {"seed", "repeats", "level", "python", "numpy", "scipy"} <= RESULTS.keys()


def test_prose_about_mid_p_agrees_with_the_results():
    many = [c["mid_p"] for c in RESULTS["known"] if c["expected"] >= 5]
    few = [c["mid_p"] for c in RESULTS["known"] if c["expected"] < 5]
    assert sum(share < 0.88 for share in many) == 5
    assert sum(share < 0.87 for share in few) == 1


def test_one_known_cell_is_recomputed():
    cell = next(c for c in RESULTS["known"] if (c["mean"], c["k"], c["n"]) == (0.5, 0.5, 15))
    for rule in ("blaker", "mid_p", "exact"):
        assert (
            round(importlib.import_module("density_coverage").exact_coverage(0.5, 0.5, 15, rule), 4)
            == cell[rule]
        )
