"""Lists at the command line, as a person types it: what it says, what it leaves, how it ends."""

import json
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from benchwalk.cli import app

EXAMPLES = Path(__file__).parent / "examples"
SHEETS = Path(__file__).parent.parent / "examples"
LISTS = ("plantings", "stations", "treatments", "climate")


@pytest.fixture
def cli(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name in LISTS:
        shutil.copy(EXAMPLES / f"{name}.csv", tmp_path)
    shutil.copy(SHEETS / "02_wide_bench_rounds.csv", tmp_path)

    def run(*words):
        return CliRunner().invoke(app, [*map(str, words), "--data", str(tmp_path / "data")])

    return run


def ready(cli):
    assert cli("init", "North Nursery", "--zone", "America/New_York").exit_code == 0
    return cli


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("plantings", "taken as a list of plantings: 22 rows."),
        ("stations", "taken as a list of stations: 17 rows."),
        ("treatments", "taken as a spray log: 16 rows."),
        ("climate", "taken as a climate log: 35 readings and rows."),
    ],
)
def test_what_a_file_was_taken_for_is_said_first_and_a_dry_run_records_nothing(cli, name, words):
    dry = ready(cli)("import", f"{name}.csv", "--dry-run")
    assert dry.exit_code == 0, dry.output
    assert dry.output.splitlines()[0] == f"{name}.csv, {words}"
    assert dry.output.splitlines()[-1] == "Dry run: nothing was recorded."
    again = json.loads(cli("import", f"{name}.csv", "--dry-run", "--json").output)
    assert again["accounts"].get("already_there") is None


@pytest.mark.parametrize("name", LISTS)
def test_a_list_goes_in_and_a_second_time_all_of_it_is_there_already(cli, name):
    first = json.loads(ready(cli)("import", f"{name}.csv", "--yes", "--json").output)
    second = json.loads(cli("import", f"{name}.csv", "--yes", "--json").output)
    assert second["accounts"]["already_there"] == first["accounts"]["recorded"]
    assert second["recorded"]["new_records"] == 0


@pytest.mark.parametrize("name", LISTS)
def test_without_an_operation_a_dry_run_reads_and_an_import_says_what_to_do(cli, name):
    dry = cli("import", f"{name}.csv", "--dry-run", "--json")
    assert dry.exit_code == 0
    assert json.loads(dry.output)["as"] == name
    refused = cli("import", f"{name}.csv", "--yes")
    assert refused.exit_code == 1
    assert "set up an operation first" in refused.output


def test_columns_are_shown_and_agreed_to_once(cli):
    asked = ready(cli)("import", "stations.csv")
    assert asked.exit_code == 3
    assert "Código: code" in asked.output
    assert "Nothing was recorded." in asked.output
    assert cli("import", "stations.csv", "--yes").exit_code == 0
    assert cli("import", "stations.csv").exit_code == 0


def test_a_question_ends_with_3_until_its_answer_is_given(cli, tmp_path):
    log = tmp_path / "log.csv"
    log.write_text("Timestamp,Temp\n2026-03-10 06:00,68\n2026-03-10 06:10,70\n", "utf-8")
    asked = ready(cli)("import", log, "--yes")
    assert asked.exit_code == 3
    assert "unit:temperature (row 1, Temp): In which unit is the temperature?" in asked.output
    answers = tmp_path / "answers.json"
    answers.write_text(json.dumps({"unit:temperature": "degF", "house:sensor": "North"}), "utf-8")
    told = cli("import", log, "--yes", "--answers", answers)
    assert told.exit_code == 0, told.output
    assert "Read 3: recorded 2, skipped 1." in told.output
    assert "Station made: North / sensor." in told.output


def test_a_counts_sheet_takes_its_own_way(cli):
    told = ready(cli)("import", "02_wide_bench_rounds.csv", "--yes")
    assert told.exit_code == 0
    assert "counts recorded." in told.output


def test_a_list_that_is_said_to_be_counts_is_refused_by_the_reader_of_counts(cli):
    told = ready(cli)("import", "stations.csv", "--as", "counts")
    assert told.exit_code == 1
    assert "date and counts" in told.output


def test_an_unclear_list_is_one_refusal_and_for_programs_an_object(cli, tmp_path):
    held = tmp_path / "unclear.csv"
    held.write_text("Date,Unit,Pest,Product,Quantity\n2026-03-10,Bay 1,thrips,soap,200\n", "utf-8")
    told = cli("import", held, "--dry-run")
    assert told.exit_code == 1
    assert "fit counts, treatments equally well; say which it is: --as KIND" in told.output
    said = json.loads(cli("import", held, "--dry-run", "--json").stdout)
    assert (said["opens"], said["file_reject"]) == (False, "list_kind")
    assert cli("import", held, "--dry-run", "--as", "treatments").exit_code == 0


def test_a_kind_that_there_is_not_is_not_understood(cli):
    assert cli("import", "stations.csv", "--as", "harvests").exit_code == 2


def test_all_of_it_speaks_spanish(cli):
    told = ready(cli)("import", "climate.csv", "--yes", "--lang", "es").output
    assert told.splitlines()[0] == (
        "climate.csv, se toma como registro de clima: 35 lecturas y filas."
    )
    assert "2 huecos:" in told
    assert "Punto fijo nuevo: Tisch 1, Tisch 2." in told


def test_rows_that_were_not_taken_stand_in_a_file_beside_the_list(cli, tmp_path):
    told = ready(cli)("import", "stations.csv", "--yes")
    left = tmp_path / "stations.not-taken.csv"
    assert "8 places were not taken" in told.output
    assert left.read_text("utf-8-sig").count("\n") == 9
