"""The command line, as a person types it: what it says, what it leaves, how it ends."""

import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit
from urllib.request import HTTPCookieProcessor, build_opener

import pytest
import sqlalchemy as sa
from typer.testing import CliRunner

import benchwalk.records as r
from benchwalk.cli import app
from benchwalk.records.database import address, open_database, session
from tests.patience import killed, line_of

EXAMPLES = Path(__file__).parent / "records" / "sheets" / "examples"
LONG = "01_long_tallies.csv"
WIDE = "02_wide_bench_rounds.csv"
ENDED_BY_CTRL_C = 128 + signal.SIGINT


@pytest.fixture
def cli(tmp_path, request, monkeypatch):
    """Runs a command against an empty place for records."""
    monkeypatch.chdir(tmp_path)
    for sheet in (LONG, WIDE):
        shutil.copy(EXAMPLES / sheet, tmp_path)

    def run(*words, stdin=None):
        where = () if "--help" in words else ("--data", str(tmp_path / "data"))
        return CliRunner().invoke(app, [*map(str, words), *where], input=stdin)

    return run


@pytest.fixture(params=["sqlite", "postgres"])
def records(request, tmp_path, monkeypatch):
    """The same, with records in SQLite and in PostgreSQL."""
    if request.param == "postgres":
        from tests.conftest import fresh_postgres  # noqa: PLC0415 - starts a server

        url = fresh_postgres(request.getfixturevalue("postgres_template"))
        monkeypatch.setenv("BENCHWALK_DATABASE", url.replace("+psycopg", ""))
    return tmp_path / "data"


def rows(data, model):
    engine = open_database(address(data))
    with session(engine, 1) as s:
        found = s.scalars(sa.select(model)).all()
    engine.dispose()
    return found


def truth(path):
    return json.loads((EXAMPLES / path).with_suffix(".truth.json").read_text("utf-8"))


@pytest.mark.parametrize("sheet", [LONG, WIDE])
def test_a_sheet_goes_in_and_the_weeks_summary_comes_out(records, cli, sheet):
    assert cli("init", "North Nursery", "--zone", "America/New_York").exit_code == 0
    brought = cli("import", sheet, "--yes")
    assert brought.exit_code == 0, brought.output
    said = truth(sheet)
    assert f"{said['counts']['records']} counts recorded." in brought.output
    assert len(rows(records, r.Tally)) == said["counts"]["records"]
    assert len(rows(records, r.Application)) == said["counts"]["treatments"]
    week = cli("summary", "--json")
    assert week.exit_code == 0
    held = json.loads(week.output)
    units = {rec["unit"] for rec in said["records"]}
    assert len(held["units"]) + len(held["not_looked"]) == len(units)


@pytest.mark.parametrize("sheet", [LONG, WIDE])
def test_the_same_file_twice_adds_nothing(records, cli, sheet):
    cli("init", "North Nursery")
    cli("import", sheet, "--yes")
    before = len(rows(records, r.Ledger))
    again = cli("import", sheet, "--yes", "--json")
    assert len(rows(records, r.Ledger)) == before
    held = json.loads(again.output)["recorded"]
    said = truth(sheet)["counts"]
    there = said["records"] + said["nothing_seen"] + said["treatments"]
    assert (held["new_records"], held["already_there"], held["conflicts"]) == (0, there, [])


def test_every_count_in_the_records_is_that_of_the_truth(records, cli):
    """What was written down for sheet 02, unit by unit and pest by pest (its truth file)."""
    cli("init", "North Nursery", "--zone", "America/New_York")
    cli("import", WIDE, "--yes")
    units = {u.id: u.name for u in rows(records, r.Unit)}
    looks = {o.id: o for o in rows(records, r.Observation)}
    held = sorted(
        (
            looks[t.observation_id].seen_at.date().isoformat(),
            units[looks[t.observation_id].unit_id],
            t.method,
            t.taxon,
            t.stage,
            t.how,
            t.number,
        )
        for t in rows(records, r.Tally)
    )
    said = sorted(
        (c["date"], c["unit"], c["method"], c["pest"], c["stage"], c["kind"], c["value"])
        for c in truth(WIDE)["records"]
    )
    assert held == said


def test_an_import_that_nobody_agrees_to_records_nothing_and_says_how_to_agree(cli, tmp_path):
    cli("init", "North Nursery")
    asked = cli("import", LONG)
    assert asked.exit_code == 3
    assert "Nothing was recorded. Agree with --yes" in asked.output
    assert rows(tmp_path / "data", r.Tally) == []


def test_answers_in_a_file_are_as_good_as_yes_and_a_no_takes_the_row_out(cli, tmp_path):
    cli("init", "North Nursery")
    answers = tmp_path / "answers.json"
    names = ("greenhouse whitfly", "thirps", "green peech aphid")
    answers.write_text(json.dumps({f"name:{n}": "no" for n in names}), encoding="utf-8")
    brought = cli("import", LONG, "--answers", answers)
    assert brought.exit_code == 0, brought.output
    spelt = [c for c in truth(LONG)["records"] if c["pest_raw"].strip() not in names]
    assert len(rows(tmp_path / "data", r.Tally)) == len(spelt)


def test_agreed_names_are_the_operations_own_from_then_on(cli):
    cli("init", "North Nursery")
    cli("import", LONG, "--yes")
    again = json.loads(cli("import", LONG, "--dry-run", "--json").output)
    assert [q["id"] for q in again["asked"] if q["proposed"]] == []


def test_a_dry_run_needs_no_records_and_leaves_none(cli, tmp_path):
    ran = cli("import", LONG, "--dry-run", "--json")
    assert ran.exit_code == 0
    held = json.loads(ran.output)
    assert held["counts"]["records"] == truth(LONG)["counts"]["records"]
    assert not (tmp_path / "data").exists()


def test_a_dry_run_in_words_shows_columns_questions_and_the_sum(cli):
    said = cli("import", WIDE, "--dry-run").output
    assert "Thr L: tally, thrips, larva, plant_count" in said
    assert "dash (row 12, TSSM mot)" in said
    assert "Dry run: nothing was recorded." in said


def test_questions_are_asked_in_the_language_asked_for(cli):
    said = cli("import", WIDE, "--dry-run", "--lang", "es").output
    assert "¿Qué significa '-' en un conteo: nada, o sin revisar?" in said
    assert "Fila 29: ¿fue el 2024-06-18?" in said
    assert "sin plantas ni cuadros revisados" in said


def test_what_is_no_table_is_refused_in_one_sentence_and_as_json_for_programs(cli, tmp_path):
    image = tmp_path / "walk.csv"
    image.write_bytes(b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR")
    told = cli("import", image, "--dry-run")
    assert told.exit_code == 1
    assert "Traceback" not in told.output
    held = json.loads(cli("import", image, "--dry-run", "--json").stdout)
    assert (held["opens"], held["file_reject"]) == (False, "file_is_not_a_table")


def test_a_file_that_is_not_there_is_one_sentence(cli):
    told = cli("import", "nowhere.csv", "--dry-run")
    assert told.exit_code == 1
    assert "nowhere.csv" in told.output


def test_rows_that_were_not_taken_are_written_where_asked(cli, tmp_path):
    cli("init", "North Nursery")
    kept = tmp_path / "not taken.csv"
    cli("import", LONG, "--yes", "--rejects", kept)
    lines = kept.read_text("utf-8-sig").splitlines()
    assert len(lines) == 1 + truth(LONG)["counts"]["reject"]
    assert not any(cell.startswith(("=", "@")) for line in lines for cell in line.split(","))


def test_rows_that_were_not_taken_are_written_in_the_language_asked_for(cli, tmp_path):
    kept = tmp_path / "kept.csv"
    cli("init", "North Nursery", "--zone", "America/New_York")
    cli("import", LONG, "--yes", "--rejects", kept, "--lang", "es")
    heading = kept.read_text(encoding="utf-8-sig").splitlines()[0]
    assert "por qué no se anotó" in heading


def test_before_an_operation_there_is_nothing_to_summarise_and_it_says_what_to_do(cli):
    told = cli("summary")
    assert told.exit_code == 1
    assert "benchwalk init NAME" in told.output


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31"])
@pytest.mark.parametrize("command", ["summary", "report", "forecast"])
def test_a_day_that_no_year_stands_around_is_told_in_one_sentence(cli, command, day):
    answer = cli(command, "--day", day)
    assert (answer.exit_code, answer.exception.__class__) == (2, SystemExit)
    assert "a day from 1900-01-01 to 2999-12-31" in answer.output


def test_before_a_walk_the_summary_says_so_in_both_languages(cli):
    cli("init", "North Nursery")
    assert "Nobody has counted yet" in cli("summary").output
    spoken = cli("summary", "--lang", "es")
    assert (spoken.exit_code, "Aún no hay conteos" in spoken.output) == (1, True)


def test_a_threshold_of_ones_own_changes_the_comparison_and_no_density(records, cli):
    cli("init", "North Nursery")
    cli("import", WIDE, "--yes")
    before = json.loads(cli("summary", "--json").output)
    key = ("--pest", "whitefly", "--stage", "nymph", "--method", "plant_count")
    value = ("--crop", "fuchsia", "--value", "0.5", "--per", "per_plant", "--source", "our own")
    told = cli("threshold", *key, *value)
    assert told.exit_code == 0, told.output
    after = json.loads(cli("summary", "--json").output)

    def line(week):
        unit = next(u for u in week["units"] if u["unit"] == "South 1")
        return next(x for x in unit["lines"] if (x["taxon"], x["stage"]) == ("whitefly", "nymph"))

    assert (line(before)["state"], line(after)["state"]) == ("no_threshold", "over")
    assert line(before)["density"] == line(after)["density"]


def test_a_wrong_word_in_a_threshold_is_told_with_words_like_it(cli):
    cli("init", "North Nursery")
    key = ("--pest", "whitefli", "--stage", "nymph", "--method", "plant_count")
    value = ("--value", "1", "--per", "per_plant", "--source", "our own")
    told = cli("threshold", *key, *value)
    assert told.exit_code == 1
    assert "taxon 'whitefli' is not in the vocabulary" in told.output


@pytest.mark.slow
def test_the_demo_is_ready_twice_and_adds_nothing_the_second_time(cli):
    first, second = cli("demo"), cli("demo")
    assert (first.exit_code, second.exit_code) == (0, 0)
    assert "Demo nursery (invented)" in first.output
    assert "0 counts recorded." in second.output


@pytest.mark.slow
def test_the_demo_in_spanish_says_arriba(demo_data, tmp_path, cli):
    shutil.copytree(demo_data, tmp_path / "data")
    assert "Arriba" in cli("demo", "--lang", "es").output


@pytest.mark.slow
def test_the_demo_writes_its_report_into_the_data_directory_and_says_where(
    demo_data, cli, tmp_path
):
    shutil.copytree(demo_data, tmp_path / "data")
    before = {p for p in tmp_path.iterdir() if p.name != "data"}
    output = cli("demo").output.replace("\n", "")
    made = sorted((tmp_path / "data").rglob("week-2026-07-01-en*"))
    assert [p.name for p in made] == [
        "week-2026-07-01-en-a4.pdf",
        "week-2026-07-01-en.html",
        "week-2026-07-01-en.xlsx",
    ]
    assert all(f"Report written: {path}" in output for path in made)
    assert {p for p in tmp_path.iterdir() if p.name != "data"} == before


def reports(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_report_of_a_sheet_stands_beside_the_records(records, cli):
    cli("init", "North Nursery", "--zone", "America/New_York")
    cli("import", LONG, "--yes")
    ran = cli("report")
    assert ran.exit_code == 0, ran.output
    day = json.loads(cli("summary", "--json").output)["day"]
    stem = f"week-{day}-en"
    assert reports(records / "reports") == [f"{stem}-a4.pdf", f"{stem}.html", f"{stem}.xlsx"]


def test_a_report_goes_where_it_is_asked_to_in_the_kind_day_sheet_and_language_asked_for(
    cli, tmp_path
):
    cli("init", "North Nursery", "--zone", "America/New_York")
    cli("import", LONG, "--yes")
    day = json.loads(cli("summary", "--json").output)["day"]
    words = ("--day", day, "--paper", "letter", "--lang", "es", "--only", "pdf")
    ran = cli("report", *words, "--out", tmp_path / "for friday")
    assert ran.exit_code == 0, ran.output
    assert reports(tmp_path / "for friday") == [f"week-{day}-es-letter.pdf"]
    assert ran.output.startswith("Informe hecho: ")


def test_a_report_without_walks_is_refused_and_leaves_nothing(cli, tmp_path):
    cli("init", "North Nursery")
    ran = cli("report")
    assert ran.exit_code == 1
    assert "Nobody has counted yet" in ran.output
    assert not (tmp_path / "data" / "reports").exists()


def test_a_kind_of_report_there_is_none_of_is_refused_with_those_there_are(cli):
    cli("init", "North Nursery", "--zone", "America/New_York")
    cli("import", LONG, "--yes")
    ran = cli("report", "--only", "doc")
    assert ran.exit_code == 1
    assert "'doc' is no kind of report; give some of: pdf, html, xlsx" in ran.output


def test_the_sheets_the_command_line_offers_are_those_a_report_has():
    from benchwalk.cli.showing import KINDS, Paper  # noqa: PLC0415 - only here
    from benchwalk.report import files, pdf  # noqa: PLC0415 - starts the typesetter

    assert [paper.value for paper in Paper] == [size.value for size in pdf.Size]
    assert KINDS.split(",") == list(files.KINDS)


@contextmanager
def served(data):
    """A process that serves the demo, with the lines it says."""
    command = [sys.executable, "-m", "benchwalk", "serve", "--demo", "--port", "0"]
    environment = dict(os.environ, PYTHONUNBUFFERED="1")
    process = subprocess.Popen(
        [*command, "--data", str(data)], stdout=subprocess.PIPE, text=True, env=environment
    )
    try:
        where, _, link = (line_of(process) for _ in range(3))
        yield process, where, link
    finally:
        killed(process)


@pytest.mark.kills
def test_the_page_is_served_on_loopback_and_shows_the_demo(data_of_the_demo):
    data = data_of_the_demo()
    with served(data) as (_, where, link):
        assert where.startswith("http://127.0.0.1:")
        page = _entered(where, link)
        port = urlsplit(where).port
        taken = CliRunner().invoke(
            app, ["serve", "--demo", "--port", str(port), "--data", str(data)]
        )
    assert '<html lang="es"' in page
    assert "Demo nursery (invented)" in page
    assert taken.exit_code == 1
    assert f"port {port} of this machine is not free" in taken.output


def test_a_server_reads_the_week_once_before_anybody_asks(cli, monkeypatch):
    read = []
    monkeypatch.setattr("uvicorn.Server.run", lambda *_, **__: None)
    monkeypatch.setattr("benchwalk.web.week_pages.read_once", read.append)
    cli("init", "North Nursery", "--zone", "America/New_York")
    assert cli("serve", "--port", "0").exit_code == 0
    assert [served.locale for served in read] == ["en"]


@pytest.mark.kills
def test_a_browser_that_went_quiet_does_not_keep_the_server_from_ending(data_of_the_demo):
    begun = "POST /sign-in HTTP/1.1\r\nSec-Fetch-Site: same-origin\r\nContent-Length: 9\r\n" + (
        "Content-Type: application/x-www-form-urlencoded"
    )
    with served(data_of_the_demo()) as (process, where, link):
        assert _entered(where, link)
        here = urlsplit(where)
        with socket.create_connection((here.hostname, here.port)) as quiet:
            quiet.sendall("\r\n".join([begun, f"Host: {here.netloc}", "", ""]).encode())
            time.sleep(0.5)
            process.send_signal(signal.SIGINT)
            process.wait(timeout=30)
    assert process.returncode == ENDED_BY_CTRL_C


def _entered(where, link):
    """The week in Spanish, as a browser gets it that opens the printed link and presses its key."""
    browser = build_opener(HTTPCookieProcessor())
    browser.addheaders = [("Sec-Fetch-Site", "same-origin")]
    assert "/enter" in browser.open(link).read().decode("utf-8")
    browser.open(f"{link}/enter", data=b"")
    return browser.open(f"{where}?lang=es").read().decode("utf-8")


def test_a_refusal_is_said_in_the_language_asked_for(cli):
    told = cli("summary", "--lang", "es")
    assert told.exit_code == 1
    assert "primero cree una empresa" in told.output
