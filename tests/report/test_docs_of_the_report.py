"""The page on the report: its figures are those of the bench, its options those there are."""

import importlib.util
import json
import re
from pathlib import Path

import pytest
from typer.main import get_command

from benchwalk.cli import app
from benchwalk.report.files import KINDS
from benchwalk.report.pdf import Size
from benchwalk.report.strip import AT_ONE, TENFOLD
from benchwalk.report.timeline import WEEKS

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "report.md").read_text("utf-8")
RESULTS = json.loads((ROOT / "bench" / "results" / "report_speed.json").read_text("utf-8"))


@pytest.fixture(scope="module")
def bench():
    spec = importlib.util.spec_from_file_location("report_speed", ROOT / "bench/report_speed.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_table_of_the_page_is_that_of_the_bench_results(bench):
    assert "| PDF, A4, a page |" in PAGE
    assert bench.written(PAGE, RESULTS) == PAGE


def test_milliseconds_a_page_are_those_of_the_file_over_its_pages():
    for size in Size:
        whole, pages = RESULTS[f"pdf_{size}_ms"], RESULTS[f"pages_{size}"]
        assert RESULTS[f"pdf_{size}_ms_a_page"] == pytest.approx(whole / pages, abs=0.06)


def test_every_option_of_the_command_stands_on_the_page():
    options = {o for p in get_command(app).commands["report"].params for o in p.opts}
    said = set(re.findall(r"^\| `(--\w+)` \|", PAGE, flags=re.MULTILINE))
    assert said == options - {"--data"}


def test_kinds_sheets_and_numbers_of_the_page_are_those_of_the_code():
    assert f"`{','.join(KINDS)}`" in PAGE
    assert all(f"`{size}`" in PAGE for size in Size)
    assert f"x = {AT_ONE:g} + {TENFOLD:g} log10(times)" in PAGE
    assert f"{WEEKS} weeks" in PAGE
