"""`export`, `adopt` and `person`, as they are typed."""

import json
import shutil

import frictionless
import pytest
import sqlalchemy as sa
from typer.testing import CliRunner

import benchwalk.records as r
from benchwalk.cli import app
from benchwalk.records.database import address, open_database
from tests.conftest import fresh_postgres
from tests.leaving.eventful import EVENTFUL, NAME, OTHER


@pytest.fixture(params=["sqlite", "postgres"])
def data(request, tmp_path, monkeypatch, templates):
    """The folder of an operation's records, which are in SQLite or in PostgreSQL."""
    monkeypatch.delenv("BENCHWALK_DATABASE", raising=False)
    folder = tmp_path / "data"
    folder.mkdir()
    if request.param == "postgres":
        server = request.getfixturevalue("postgres_template")
        url = fresh_postgres(server, templates.postgres(*EVENTFUL))
        monkeypatch.setenv("BENCHWALK_DATABASE", url.replace("+psycopg", ""))
    else:
        shutil.copy(templates.sqlite(*EVENTFUL), sa.make_url(address(folder)).database)
    return folder


def run(*words, data, stdin=None):
    return CliRunner().invoke(app, [*map(str, words), "--data", str(data)], input=stdin)


def names(data):
    engine = open_database(address(data))
    with engine.connect() as c:
        found = c.execute(sa.select(r.Person.name).order_by(r.Person.pseudonym)).scalars().all()
    engine.dispose()
    return found


FILES = {
    "package": "datapackage.json",
    "xlsx": "records.xlsx",
    "parquet": "unit=H %2F U1",
    "darwin": "meta.xml",
    "full": "ledger.jsonl",
}


@pytest.mark.parametrize("kind", FILES)
def test_each_kind_lands_beside_the_records_under_a_name_that_says_what_it_is(data, kind):
    done = run("export", "--as", kind, data=data)
    assert done.exit_code == 0, done.output
    (folder,) = (data / "exports").iterdir()
    assert folder.name.startswith(f"{kind}-")
    assert str(folder) in done.output
    assert (folder / FILES[kind]).exists()


def test_an_export_overwrites_nothing_and_leaves_no_half_of_itself(data, tmp_path):
    to = tmp_path / "given"
    to.mkdir()
    assert run("export", "--to", to, data=data).exit_code == 0
    before = {p: p.read_bytes() for p in to.iterdir()}
    again = run("export", "--as", "full", "--to", to, data=data)
    assert again.exit_code == 1
    assert "overwrites nothing" in again.output
    assert {p: p.read_bytes() for p in to.iterdir()} == before
    assert [p.name for p in tmp_path.iterdir() if ".part" in p.name] == []


def test_an_export_that_fails_leaves_nothing(data, tmp_path, monkeypatch):
    def full_disk(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("benchwalk.records.exports.package.write_csv", full_disk)
    failed = run("export", "--to", tmp_path / "given", data=data)
    assert failed.exit_code == 1
    assert "No space left" in failed.output
    assert not (tmp_path / "given").exists()
    assert [p.name for p in tmp_path.iterdir() if ".part" in p.name] == []


def test_the_package_made_by_the_command_passes_frictionless(data, tmp_path):
    run("export", "--to", tmp_path / "given", data=data)
    assert frictionless.validate(str(tmp_path / "given" / "datapackage.json")).valid


def test_the_full_export_is_adopted_elsewhere_and_leaves_from_there_as_the_same_bytes(
    data, tmp_path, monkeypatch
):
    assert run("export", "--as", "full", "--to", tmp_path / "one", data=data).exit_code == 0
    monkeypatch.delenv("BENCHWALK_DATABASE", raising=False)
    adopted = run("adopt", tmp_path / "one", data=tmp_path / "there")
    assert adopted.exit_code == 0, adopted.output
    about = json.loads((tmp_path / "one" / "operation.json").read_text("utf-8"))
    assert f"{about['ledger_rows']} ledger rows taken up" in adopted.output
    assert about["head"] in adopted.output
    run("export", "--as", "full", "--to", tmp_path / "two", data=tmp_path / "there")
    for path in (tmp_path / "one").iterdir():
        assert (tmp_path / "two" / path.name).read_bytes() == path.read_bytes()


def test_an_operation_is_not_adopted_where_one_is(data, tmp_path):
    run("export", "--as", "full", "--to", tmp_path / "one", data=data)
    refused = run("adopt", tmp_path / "one", data=data)
    assert refused.exit_code == 1
    assert "is here already" in refused.output


def test_the_older_words_of_darwin_core_are_a_switch(data, tmp_path):
    run("export", "--as", "darwin", "--older-words", "--to", tmp_path / "old", data=data)
    text = (tmp_path / "old" / "occurrence.csv").read_text("utf-8")
    assert ",absent," in text
    assert "notDetected" not in text


def test_one_person_is_found_given_out_and_removed(data, tmp_path):
    found = run("person", "find", NAME, data=data)
    assert found.exit_code == 0
    assert "4 texts name this person" in found.output
    assert "cannot be changed" in found.output
    given = run("person", "export", NAME, "--to", tmp_path / "own", data=data)
    assert given.exit_code == 0, given.output
    assert {p.name for p in (tmp_path / "own").iterdir()} == {"person.json", "said.jsonl"}
    removed = run("person", "remove", NAME, "--yes", "--lang", "es", data=data)
    assert removed.exit_code == 0, removed.output
    assert "4 textos nombran a esta persona" in removed.output
    assert names(data) == [OTHER, None]
    assert NAME not in run("export", "--as", "full", "--to", tmp_path / "f", data=data).output
    assert NAME not in (tmp_path / "f" / "names.jsonl").read_text("utf-8")


def test_without_a_yes_nobody_is_removed(data):
    """The test's input is no terminal: nobody is there to ask, so the answer is no."""
    asked = run("person", "remove", "scout 1", data=data, stdin="y\n")
    assert asked.exit_code == 3
    assert names(data) == [OTHER, NAME]


def test_texts_that_name_somebody_come_as_json_for_programs(data):
    found = run("person", "find", OTHER, "--json", data=data)
    held = json.loads(found.output)
    assert {"kind", "id", "seq", "field", "text", "current"} == set(held[0])
    assert ("observation", "void_reason") in {(m["kind"], m["field"]) for m in held}


def test_a_name_that_nobody_has_is_refused_with_the_pseudonyms_there_are(data):
    refused = run("person", "export", "N. N.", data=data)
    assert refused.exit_code == 1
    assert "Nobody is called N. N. here" in refused.output
    assert "scout 1" in refused.output
    assert NAME not in refused.output
