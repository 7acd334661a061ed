"""The pages about exports say what there is."""

import importlib.util
import json
import re
from pathlib import Path

import pytest

from benchwalk.records.exports import Kind, full
from benchwalk.records.exports.count import ABSENT, LOOKED
from benchwalk.records.exports.moment import moment
from benchwalk.records.exports.package import leaving, texts
from benchwalk.records.exports.workbook import CELL_HOLDS

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "export.md").read_text("utf-8")


def bench():
    spec = importlib.util.spec_from_file_location(
        "export_tallies", ROOT / "bench/export_tallies.py"
    )
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


RESULTS = json.loads((ROOT / "bench" / "results" / "export_tallies.json").read_text("utf-8"))


def test_table_of_speed_is_that_of_the_bench_results():
    shown = re.search(r"<!-- speed -->\n(.*?)<!-- end -->", PAGE, re.DOTALL)[1].splitlines()
    assert shown == bench().table(RESULTS)
    measured = {run["tallies"]: set(run["kinds"]) for run in RESULTS["runs"]}
    assert {*Kind, "adopt"} in measured.values()
    assert {"package", "full"} <= measured[1_000_000]


def test_memory_does_not_grow_with_the_records_in_the_results():
    """Ten times the tallies: a million rows of 31 values held at once would take a gigabyte."""
    peaks = {run["tallies"]: run["kinds"] for run in RESULTS["runs"]}
    for kind in ("package", "full"):
        few, many = (peaks[n][kind]["peak_mb"] for n in (100_000, 1_000_000))
        assert many < 1.5 * few


def test_every_kind_and_every_word_stands_on_the_page():
    said = re.findall(r"^\| `([a-z, ]+)` \|", PAGE, re.MULTILINE)
    assert set(said) == {*Kind, *LOOKED, *ABSENT, "looked"}
    assert f"{CELL_HOLDS:,} characters" in PAGE
    for name in (full.LEDGER, full.OPERATION, full.NAMES):
        assert name in PAGE


def test_every_table_that_leaves_is_described_in_words(nursery):
    with moment(*nursery) as s:
        tables = {table.name: {f.name for f in table.fields} for table in leaving(s)}
    assert {table for table, field in texts() if not field} == set(tables)
    assert {field for table, field in texts() if table == "counts" and field} == tables["counts"]


@pytest.mark.parametrize("page", ["export.md", "persons.md"])
def test_commands_of_a_page_are_those_there_are(page):
    text = (ROOT / "docs" / page).read_text("utf-8")
    said = set(re.findall(r"^benchwalk (\w+(?: \w+)?)(?= |$)", text, re.MULTILINE))
    known = {"export", "adopt", "person find", "person export", "person remove"}
    assert said
    assert {s if s in known else s.split()[0] for s in said} <= known
