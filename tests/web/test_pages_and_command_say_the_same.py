"""Every number of the pages of units and looks is one that `benchwalk unit` and `looks` print.

The JSON is read by key and shown by the rules of figures; a page's number has the key in
``data-key``. On both databases, over four weeks of the demo; the command itself on one of them.
"""

from __future__ import annotations

import datetime as dt
import html
import json
import re
import uuid

import pytest
from typer.testing import CliRunner

from benchwalk.catalogue import LOCALES, say
from benchwalk.cli import app
from benchwalk.demo import build
from benchwalk.demo.ground import id_of
from benchwalk.records.database import session, writing
from benchwalk.records.setup import set_up
from benchwalk.report.figures import chance, figure, times_figure
from benchwalk.report.terminal_unit import unit_lines
from benchwalk.report.unit_as_json import course_json, looks_json
from benchwalk.report.unit_page_words import unit_page_words
from benchwalk.summarise import Key, summarise
from benchwalk.summarise.foreseen import foreseen
from benchwalk.summarise.looks import behind
from benchwalk.summarise.unit import unit_course
from benchwalk.web import Served, create_app
from tests.web.conftest import asking, listening, token_of
from tests.web.test_week_page import first_figure, numbers_of


def of_unit(said: dict) -> dict[str, str | float]:
    """What the JSON of a unit says under the keys that its page uses, as a page shows it."""
    held: dict[str, str | float] = {}
    for line in [] if said["now"] is None else said["now"]["lines"]:
        key = f"unit.{said['unit_id']}.{line['taxon']}.{line['stage']}.{line['method']}"
        counted, density = line["counted"], line["density"]["mean"]
        if line["times_threshold"] is not None and line["times_threshold"]["value"] is not None:
            held[f"{key}.times"] = float(times_figure(line["times_threshold"]["value"]))
        if density is not None:
            held[f"{key}.density"] = float(figure(density))
        if counted["total"] is not None:
            held[f"{key}.counted"] = float(counted["total"])
        if counted["infested"] is not None:
            held[f"{key}.infested"] = float(counted["infested"])
    for course in said["courses"]:
        for stage in course["stages"]:
            tail = f"{course['taxon']}.{stage['stage']}.{course['method']}"
            for point in stage["points"]:
                key = f"unit.{point['unit_id']}.{tail}.density.{point['on']}"
                held[key] = "" if point["mean"] is None else figure(point["mean"])
            held |= of_days(f"unit.{said['unit_id']}.{tail}", stage["ahead"])
    return held


def of_days(key: str, ahead: dict | None) -> dict[str, str | float]:
    held: dict[str, str | float] = {}
    for d in [] if ahead is None else (ahead["next_walk"], *ahead["days"]):
        held[f"{key}.ahead.{d['on']}"] = figure(d["middle"])
        if d["over"] is not None:
            held[f"{key}.over.{d['on']}"] = chance(d["over"], "en")
    return held


def compared(shown: dict[str, str], said: dict[str, str | float]) -> int:
    """Each number of a page is in the JSON, and the same there; how many there were."""
    for key, text in shown.items():
        assert key in said, f"a number that no command prints: {key}"
        there = said[key]
        if isinstance(there, str):
            assert text == there, key
        elif text.startswith("looked, none"):
            assert there == 0, key
        else:
            assert first_figure(text) == there, key
    return len(shown)


@pytest.fixture
def nursery(engine):
    operation = set_up(engine, "Four weeks (invented)", "America/New_York").operation
    with writing(engine, operation) as s:
        build(s, weeks=4)
    return engine, operation


def test_every_number_of_every_unit_and_its_looks_is_printed_by_a_command(nursery):
    """At least 500 on each database; a sample of the looks pages, every unit's page."""
    with session(*nursery) as s:
        week = foreseen(s, summarise(s))
        units = [u.id for u in week.known.units]
        said = {unit: course_json(unit_course(s, unit), week.forecasts) for unit in units}
    total = 0
    with (
        listening(create_app(Served(*nursery))) as url,
        asking(url, token_of(*nursery, "grower")) as grower,
    ):
        grower.get(f"/units/{units[0]}/ahead")
        for unit in units:
            source = grower.get(f"/units/{unit}?lang=en").text
            total += compared(numbers_of(source), of_unit(said[unit]))
            links = re.findall(r'data-key="[^"]+\.counted" href="([^"]+)"', source)
            for link in dict.fromkeys(links[:2]):
                answer = grower.get(f"{html.unescape(link)}&lang=en")
                total += compared(numbers_of(answer.text), of_looks(nursery, link))
    assert total >= 500, total


def of_looks(nursery, link: str) -> dict[str, str | float]:
    """The number that the command prints for the looks of a link: their sum."""
    asked = dict(re.findall(r"(\w+)=([^&]+)", html.unescape(link)))
    key = Key(uuid.UUID(asked["unit"]), asked["pest"], asked["stage"], asked["method"])
    with session(*nursery) as s:
        said = looks_json(behind(s, key, dt.date.fromisoformat(asked["on"])))
    numbers = [look["counts"] for look in said["looks"] if look["counts"] is not None]
    assert said["counted"]["total"] == sum(numbers)
    name = f"unit.{said['unit_id']}.{said['taxon']}.{said['stage']}.{said['method']}.counted"
    return {name: float(said["counted"]["total"])}


@pytest.fixture(scope="module")
def data(data_of_the_demo):
    return data_of_the_demo() / "demo-operation"


def run(data, *said: str):
    return CliRunner().invoke(app, [*said, "--data", str(data)])


@pytest.fixture(scope="module")
def printed(data) -> dict:
    """What the command prints of one unit, once for all tests."""
    return json.loads(run(data, "unit", "Glass House / Bench 2", "--json").stdout)


def test_the_command_prints_what_the_page_of_the_unit_shows(printed, signed_in):
    """Half a year of one unit: more than a hundred numbers, and what is ahead of it."""
    grower = signed_in("grower")
    grower.get(f"/units/{printed['unit_id']}/ahead")
    shown = numbers_of(grower.get(f"/units/{printed['unit_id']}?lang=en").text)
    assert compared(shown, of_unit(printed)) > 100
    assert any(".ahead." in key for key in shown)
    assert [w["state"] for w in printed["walks"]].count(None) == 0
    assert printed["sightings"][0]["taxon"] == "insv"
    assert printed["did"]


def test_the_command_prints_the_looks_that_add_up_to_the_number(data, printed):
    line = next(x for x in printed["now"]["lines"] if x["method"] == "yellow_card")
    args = (printed["unit"], line["taxon"], line["stage"], line["method"], "--on", line["on"])
    looks = json.loads(run(data, "looks", *args, "--json").stdout)
    assert sum(look["number"] for look in looks["looks"]) == line["counted"]["total"]
    assert len(looks["looks"]) == line["counted"]["looks"]
    text = run(data, "looks", *args).stdout
    assert f"{line['counted']['total']} on {len(looks['looks'])} card" in text


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (("unit", "Bench 2"), "Several units are called 'Bench 2': Glass House / Bench 2;"),
        (("unit", "Bench 99"), "No unit is called 'Bench 99'. Units: Glass House / Bench 1;"),
        (("unit", "Row 1", "--day", "2001-01-01"), "'Row 1' was not there by that day"),
        (
            ("looks", "Row 1", "fungus_gnat", "larva", "potato_disc_48h", "--on", "2001-01-01"),
            "Nothing of fungus_gnat was counted there in that way on 2001-01-01",
        ),
    ],
)
def test_what_is_not_there_is_refused_with_what_there_is(data, said, words):
    answer = run(data, *said)
    assert answer.exit_code == 1
    assert words in " ".join(answer.stderr.split())


@pytest.fixture(scope="module")
def courses(demo_operation):
    """A unit that was looked at, one that was not, and one that is treated often."""
    with session(*demo_operation) as s:
        return [unit_course(s, id_of("unit", key)) for key in ("G2", "L4", "L1")]


@pytest.mark.parametrize("lang", LOCALES)
def test_a_unit_on_the_terminal_has_its_sentence_first_and_no_zero_for_not_looked(courses, lang):
    assert sum(course.missing is not None for course in courses) == 1
    for course in courses:
        lines = list(unit_lines(unit_page_words(course, lang), lang))
        assert lines[0] == course.unit.full_name
        if course.missing is not None:
            assert course.now is None
            assert not re.search(r"(?<![\d.,])0(?![\d.])", lines[2])
            assert say("reason.no_word", lang).lower() in lines[2].lower()
