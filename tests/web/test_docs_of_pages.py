"""The figures of docs/pages.md are those that the benches of the week and of the office found."""

from __future__ import annotations

import json
from pathlib import Path

ROOT = Path(__file__).parents[2]
READERS = {
    "the first of a server that has read nothing": "started",
    "the first of a server just started, once it has read its week by itself": "read_once",
    "the first after a look was recorded": "after_a_look",
    "every other": "again",
}
DATABASES = {"SQLite": "sqlite", "PostgreSQL": "postgresql"}


def result(name):
    return json.loads((ROOT / "bench" / "results" / f"{name}.json").read_text("utf-8"))


def seconds(ms):
    return f"{ms / 1000:.2f} s"


def readers(week):
    """A line of the table for each reader."""
    for reader, name in READERS.items():
        yield f"| {reader} | {seconds(week[f'{name}_cpu_ms'])} | {week[f'{name}_ratio']} |"


def sentences(week, soaks):
    paints = week["first_paint_all_ms"]
    yield (
        f"{week['units']} units and {week['weeks']} weeks: {week['html_kb']:.0f} kB,"
        f" {week['html_gz_kb']} kB compressed, {week['questions']} questions at most."
    )
    yield (
        f"first paint after {seconds(week['first_paint_ms'])}"
        f" ({seconds(paints[0])} to {seconds(paints[-1])}),"
        f" {seconds(week['first_paint_after_a_write_ms'])} after a look was recorded."
    )
    for database, soak in soaks.items():
        _, middle, last, _ = soak["memory_mb"]
        yield (
            f"{database}: {soak['pages']} pages and {soak['walks_brought_in']} walks in"
            f" {soak['seconds']:.0f} s, {len(soak['wrong'])} errors,"
            f" memory {middle:.0f} MB in the middle third and {last:.0f} MB in the last."
        )


def test_the_figures_on_the_page_are_those_that_were_measured():
    week = result("week_page")
    soaks = {said: result(f"office_soak_{name}") for said, name in DATABASES.items()}
    page = (ROOT / "docs" / "pages.md").read_text("utf-8")
    flowing = " ".join(page.split())
    for line in readers(week):
        assert line in page
    for sentence in sentences(week, soaks):
        assert sentence in flowing
    assert all(soak["flat"] for soak in soaks.values())
