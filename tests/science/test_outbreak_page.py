"""The page of the outbreak model: its examples run, its figures are those of the bench."""

import doctest
import json
import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "science" / "outbreak.md"
RESULT = ROOT / "bench" / "results" / "outbreak_speed.json"


def test_examples_of_the_page_run():
    result = doctest.testfile(str(PAGE), module_relative=False)
    assert result.attempted > 10
    assert result.failed == 0


def test_shares_of_the_page_are_those_of_the_bench():
    held = re.search(r"<!-- speed -->\n(.*?)<!-- end -->", PAGE.read_text("utf-8"), re.DOTALL)
    cases = json.loads(RESULT.read_text("utf-8"))["cases"]
    expected = [f"| {name} | {case['share']:.2f} |" for name, case in cases.items()]
    assert held[1].splitlines()[2:] == expected
