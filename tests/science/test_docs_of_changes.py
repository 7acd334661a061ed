"""Pages of density, efficacy, heat, climate and agreement: examples, tables, pictures, sources."""

import doctest
import importlib.util
import json
import re
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "src" / "benchwalk" / "science"
PAGES = [
    ROOT / "docs" / "science" / f"{name}.md"
    for name in ("degree_days", "climate", "efficacy", "agreement")
]
RESULTS = json.loads((ROOT / "bench" / "results" / "change_coverage.json").read_text("utf-8"))
HOWS = ("recovered", "profile", "log")


@pytest.fixture
def script(monkeypatch):
    """A script of the bench as a module; one may import another, as when it is run."""
    monkeypatch.syspath_prepend(str(ROOT / "bench"))

    def load(name: str) -> ModuleType:
        spec = importlib.util.spec_from_file_location(name, ROOT / "bench" / f"{name}.py")
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        return module

    return load


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.stem)
def test_examples_of_a_page_run(page):
    result = doctest.testfile(str(page), module_relative=False)
    assert result.attempted > 5
    assert result.failed == 0


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.stem)
def test_sources_of_a_family_stand_on_its_page_and_no_others(page):
    text = "".join(p.read_text("utf-8") for p in FOLDER.joinpath(page.stem).glob("*.py"))
    listed = set(re.findall(r"^\| (\w+) \|", page.read_text("utf-8").split("## Sources")[1], re.M))
    assert set(re.findall(r"\[(\w+)\]_", text)) == listed - {"key"}


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.stem)
def test_a_page_says_its_question_its_formulas_and_when_not_to_use_it(page):
    text = page.read_text("utf-8")
    for part in ("**Question.**", "## Formulas", "## Worked example", "## When not to use it"):
        assert part in text


@pytest.mark.parametrize("name", ["density", "efficacy"])
def test_tables_of_changes_are_those_of_the_bench_results(script, name):
    page = (ROOT / "docs" / "science" / f"{name}.md").read_text("utf-8")
    assert "<!-- table: " in page
    assert script("change_coverage").written(page, RESULTS) == page


@pytest.mark.parametrize("name", ["density", "efficacy", "degree_days"])
def test_pictures_are_those_that_the_package_draws(script, name):
    drawn = script("science_pictures").picture(name)
    assert drawn == (ROOT / "docs" / "science" / f"{name}.svg").read_text("utf-8")
    assert f"({name}.svg)" in (ROOT / "docs" / "science" / f"{name}.md").read_text("utf-8")


def test_ratio_of_two_rounds_holds_its_promise_in_every_cell():
    held = np.array([cell["held"] for cell in RESULTS["ratio"]])
    assert held.shape == (27, 3)
    assert held.min() >= 0.90


def test_prose_about_the_intervals_of_control_agrees_with_the_results():
    cells = RESULTS["abbott"] + RESULTS["tilton"]
    assert len(cells) == 54
    held = {how: np.array([cell[how] for cell in cells]) for how in HOWS}
    # four thousand repeats: two standard errors are 0.95 %
    assert held["recovered"].min() >= 0.89
    assert held["profile"].min() < 0.86
    assert held["log"].min() < 0.86
    pairs = np.array([cell["pairs"] for cell in RESULTS["pairs"]])
    assert pairs.min() >= 0.89
    one = [c["held"] for c in RESULTS["units"] if c["untreated_units"] == 1]
    more = [c["held"] for c in RESULTS["units"] if c["untreated_units"] > 1]
    assert min(one) < 0.7
    assert min(more) >= 0.88


def test_one_cell_of_the_ratio_is_recomputed(script):
    cell = next(c for c in RESULTS["ratio"] if (c["n"], c["k"], c["mean"]) == (10, 0.6, 0.2))
    assert script("change_coverage").ratio_cell(10, 0.6, 0.2) == cell


def test_results_say_how_they_were_made():
    assert re.fullmatch(r"[0-9a-f]{40}", RESULTS["commit"])
    assert {"seed", "repeats", "level", "python", "numpy", "scipy"} <= RESULTS.keys()
