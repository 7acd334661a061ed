"""Bringing a sheet in: one reading at a time, and the process is left as it was."""

import gc
import json
import weakref

import pytest
from typer.testing import CliRunner

from benchwalk.cli import app
from benchwalk.records.sheets import bring, table
from benchwalk.records.sheets.found import SheetRefused
from benchwalk.records.sheets.mappings import Kept
from benchwalk.records.sheets.table import read_table

LONG = "Date,Unit,Plant,Pest,Stage,Count\n2024-05-07,Bay 1,1,thrips,adult,2\n"


@pytest.fixture
def brings(engine, operation, tmp_path):

    def once(text, agree=lambda reading, asked: True):
        sheet = tmp_path / "sheet.csv"
        sheet.write_text(text, encoding="utf-8")
        said = {"answers": {}, "kept": Kept(tmp_path), "rejects": tmp_path / "not-taken.csv"}
        return bring.bring(engine, operation, read_table(sheet), agree=agree, **said)

    return once


@pytest.fixture
def readings(monkeypatch):
    """Each reading of a file: by which columns, and how many readings were held when it began."""
    made, held = [], []
    read_rows = bring.read_rows

    def counted(table, **said):
        made.append((said.get("mapping"), sum(one() is not None for one in held)))
        reading = read_rows(table, **said)
        held.append(weakref.ref(reading))
        return reading

    monkeypatch.setattr(bring, "read_rows", counted)
    return made


def test_cycles_are_searched_for_again_after_a_sheet_is_in(brings):
    assert brings(LONG).landed.counts == 1
    assert gc.isenabled()


def test_cycles_are_searched_for_again_after_a_sheet_is_refused(brings):
    with pytest.raises(SheetRefused, match="no row names a date and counts"):
        brings("nothing, of a table\n")
    assert gc.isenabled()


def test_a_process_that_searches_for_no_cycles_is_left_so(brings):
    gc.disable()
    try:
        brings(LONG)
        assert not gc.isenabled()
    finally:
        gc.enable()


def test_cycles_are_searched_for_while_a_person_is_asked(brings):
    seen = []
    brings(LONG, agree=lambda reading, asked: seen.append(gc.isenabled()) or True)
    assert seen == [True]


def test_a_sheet_with_columns_agreed_to_as_proposed_is_read_once(brings, readings):
    brings(LONG)
    brings(LONG)
    assert len(readings) == 2


def test_a_sheet_whose_proposals_are_agreed_to_is_read_again_with_them(brings, readings):
    assert brings(LONG.replace("thrips", "thirps")).landed.counts == 1
    assert [mapping is None for mapping, _ in readings] == [True, False]


def test_two_readings_of_a_sheet_are_never_held_at_a_time(brings, readings, tmp_path):
    brings(LONG)
    agreed = json.loads((tmp_path / "mappings.json").read_text(encoding="utf-8"))
    for meanings in agreed.values():
        meanings["Stage"] = {"means": "ignored"}
    (tmp_path / "mappings.json").write_text(json.dumps(agreed), encoding="utf-8")
    brings(LONG.replace("thrips", "thirps"))
    assert [mapping is None for mapping, _ in readings] == [True, True, False, False]
    assert [held for _, held in readings] == [0, 0, 0, 0]


@pytest.fixture
def taken_apart(monkeypatch):
    """The names of the files that were taken apart, each time they were."""
    names = []
    read_table = table.read_table

    def counted(path):
        names.append(path.name)
        return read_table(path)

    monkeypatch.setattr(table, "read_table", counted)
    return names


@pytest.mark.parametrize("how", [["--yes"], ["--dry-run"], ["--explain", "2"], ["--as", "counts"]])
def test_a_file_is_taken_apart_once_whoever_reads_it(taken_apart, tmp_path, how):
    sheet, data = tmp_path / "sheet.csv", ["--data", str(tmp_path / "data")]
    sheet.write_text(LONG, encoding="utf-8")
    CliRunner().invoke(app, ["init", "Test nursery (invented)", *data])
    assert CliRunner().invoke(app, ["import", str(sheet), *how, *data]).exit_code in (0, 3)
    assert taken_apart == ["sheet.csv"]


@pytest.mark.parametrize(
    ("text", "how", "reason"),
    [
        ("nothing of a table\n", [], "file_is_not_a_table"),
        ("nothing of a table\n", ["--as", "counts"], "file_is_not_a_table"),
        ("nothing of a table\n", ["--as", "climate"], "file_is_not_a_table"),
        ("Date,Weather\n2024-05-07,fair\n", ["--dry-run"], "file_is_not_a_table"),
        ("Date,Weather\n2024-05-07,fair\n", ["--as", "climate"], "list_lacks"),
    ],
)
def test_a_file_of_which_nothing_is_taken_is_told_to_programs_too(tmp_path, text, how, reason):
    sheet, data = tmp_path / "sheet.csv", ["--data", str(tmp_path / "data")]
    sheet.write_text(text, encoding="utf-8")
    CliRunner().invoke(app, ["init", "Test nursery (invented)", *data])
    told = CliRunner().invoke(app, ["import", str(sheet), "--json", *how, *data])
    held = json.loads(told.stdout)
    assert (told.exit_code, held["opens"], held["file_reject"]) == (1, False, reason)


WALKS = "Date,Unit,Plant,Pest,Stage,Count\n" + "".join(
    f"2024-05-{day:02},{unit},1,thrips,adult,2\n"
    for day, unit in ((6, "North 1"), (13, "North 1"), (20, "Nroth 1"))
)


def test_a_misspelt_unit_that_was_agreed_to_is_not_asked_about_again(brings):
    asked = []
    first = brings(WALKS, agree=lambda reading, open_: asked.append(open_) or True)
    assert [q.id for q in asked[0]] == ["unit:Nroth 1"]
    assert first.landed.units_made == ["North 1"]
    again = brings(WALKS, agree=lambda *_: pytest.fail("asked again"))
    assert (again.landed.new, len(again.landed.already_there)) == (0, 3)


def test_a_unit_that_is_no_misspelling_is_not_asked_about_again_either(tmp_path):
    kept = Kept(tmp_path)
    kept.keep_units({"unit:Nroth 1": "no", "name:thirps": "thrips"})
    kept.keep(["Date"], {"Date": {"means": "date"}})
    kept.keep_units({"unit:Bay 2": "Bay 20"})
    assert Kept(tmp_path).units() == {"unit:Nroth 1": "no", "unit:Bay 2": "Bay 20"}
    assert kept.of(["Date"]) == {"Date": {"means": "date"}}
