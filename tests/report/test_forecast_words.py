"""What a forecast says, in both languages, and as JSON; on the invented nursery's last week."""

import json

import pytest
from typer.testing import CliRunner

from benchwalk import demo
from benchwalk.cli import app
from benchwalk.records import queries
from benchwalk.records.database import session
from benchwalk.report.figures import chance
from benchwalk.report.forecast_words import forecast_json, forecast_words
from benchwalk.summarise.forecasts import forecasts
from benchwalk.summarise.gathered import gather

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def nursery(data_of_the_demo):
    """The demo, once, and what is forecast on its last day."""
    data = data_of_the_demo()
    with demo.ready(data) as (engine, operation), session(engine, operation) as s:
        known = gather(s, queries.last_walk_on(s), 7)
        yield data, known, forecasts(s, known)


def test_the_working_active_works_and_the_failing_one_is_never_said_to(nursery):
    _, _, found = nursery
    words = {(row.active, row.word) for row in found.still_works}
    assert ("spinosad", "worked") in words
    assert ("imidacloprid", "worked") not in words


def test_every_series_of_a_pest_is_forecast_and_those_over_come_first(nursery):
    _, known, found = nursery
    chances = [a.next_walk.over for a in found.by_need]
    assert len(found.ahead) > 50
    assert chances == sorted(chances, reverse=True)
    assert not [a for a in found.ahead.values() if known.taxa[a.key.taxon].kind == "enemy"]


@pytest.mark.parametrize("locale", ["en", "es"])
def test_sentences_hold_no_placeholder_and_no_code_of_the_records(nursery, locale):
    _, known, found = nursery
    words = forecast_words(known, found, locale)
    every = [s for a in (*words.with_threshold, *words.without) for s in a.sentences]
    every += [*words.treatments, *words.pooled, *words.surprising, *words.notes, words.title]
    assert len(every) > 100
    for sentence in every:
        assert "{" not in sentence
        assert "nan" not in sentence.split()
        assert "_" not in sentence.replace("benchwalk", "")


def test_json_has_each_series_with_its_intervals_and_null_without_a_threshold(nursery):
    _, known, found = nursery
    held = json.loads(json.dumps(forecast_json(known, found)))
    assert len(held["series"]) == len(found.ahead)
    for row in held["series"]:
        assert (row["next_walk"]["over"] is None) == (row["threshold"] is None)
        assert {i["level"] for i in row["next_walk"]["intervals"]} == {0.5, 0.8, 0.9, 0.95}


def test_no_chance_is_said_to_be_sure():
    assert chance(0.0, "en") == "under 1\N{NO-BREAK SPACE}%"
    assert chance(1.0, "es") == "más de 99\N{NO-BREAK SPACE}%"
    assert chance(0.617, "en") == "62\N{NO-BREAK SPACE}%"


SAID = {
    "": "Chance of being over",
    "--json": '"series"',
    "--calibration": "In their 80\N{NO-BREAK SPACE}% interval",
}


@pytest.mark.parametrize("option", SAID)
def test_the_command_says_it(nursery, option):
    data, *_ = nursery
    ran = CliRunner().invoke(app, ["forecast", "--data", str(demo.folder(data)), *option.split()])
    assert ran.exit_code == 0, ran.output
    assert SAID[option] in ran.output


def test_without_a_walk_the_command_says_what_to_do(tmp_path):
    runner = CliRunner()
    runner.invoke(app, ["init", "Test nursery (invented)", "--data", str(tmp_path)])
    ran = runner.invoke(app, ["forecast", "--data", str(tmp_path)])
    assert ran.exit_code == 1
    assert "nothing to forecast" in ran.output
