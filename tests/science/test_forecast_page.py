"""The page of the forecast: its example runs, its figures are those of the bench."""

import doctest
import json
import re
from pathlib import Path

from benchwalk.science import forecast

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "science" / "forecast.md"
RESULT = ROOT / "bench" / "results" / "forecast_speed.json"
RIVALS = {
    "exponential_smoothing": "exponential smoothing (statsmodels), scaled",
    "state_space_fit": "a state-space fit of each (statsmodels), scaled",
}


def test_examples_of_the_page_run():
    result = doctest.testfile(str(PAGE), module_relative=False)
    assert result.attempted > 8
    assert result.failed == 0


def test_seconds_of_the_page_are_those_of_the_bench():
    held = re.search(r"<!-- speed -->\n(.*?)<!-- end -->", PAGE.read_text("utf-8"), re.DOTALL)
    found = json.loads(RESULT.read_text("utf-8"))
    rivals = [
        f"| {said} | {found['rivals'][name]['seconds_scaled']:.0f} "
        f"| {found['rivals'][name]['ratio']:.0f} |"
        for name, said in RIVALS.items()
    ]
    glm = found["dynamic_glm"]
    assert held[1].splitlines()[2:] == [
        f"| the filter, all series | {found['seconds']:.1f} | 1 |",
        f"| the same by the clock | {found['seconds_by_the_clock']:.0f} | |",
        f"| a dynamic GLM, all series | {glm['seconds']:.1f} | {glm['ratio']:.2f} |",
        *rivals,
        f"| a new walk of each series | {found['seconds_of_a_new_walk']:.2f} | |",
        f"| peak memory [GB] | {found['gigabytes']:.2f} | |",
    ]
    assert (found["series"], found["counts"]) == (100_000, 1_700_000)


def test_start_values_of_the_page_are_those_of_the_code():
    page, g = PAGE.read_text("utf-8"), forecast.DEFAULTS.common
    for said in (
        f"a = {g.a}",
        f"rho = {g.rho}/d",
        f"sd {g.sg}/d",
        f"spreads by {g.q} a day",
        f"variance {forecast.DEFAULTS.prior_variance}",
        f"sd {forecast.DEFAULTS.programme_sd}/d",
        f"variance + {forecast.DEFAULTS.jump_variance}",
        f"to none at {g.room:.0f} times",
    ):
        assert said in page


def test_every_name_of_the_page_is_there():
    calls = re.findall(r"^\| `([\w.]+)\(", PAGE.read_text("utf-8"), re.MULTILINE)
    assert len(calls) > 7
    for call in calls:
        held = forecast
        for name in call.split("."):
            held = getattr(held, name, None) or getattr(forecast.Result, name)
        assert callable(held)
