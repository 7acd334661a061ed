"""Bringing a sheet in: one reading at a time, and the process is left as it was."""

import gc
import json
import weakref

import pytest

from benchwalk.records.setup import set_up
from benchwalk.records.sheets import bring
from benchwalk.records.sheets.found import SheetRefused
from benchwalk.records.sheets.mappings import Kept

LONG = "Date,Unit,Plant,Pest,Stage,Count\n2024-05-07,Bay 1,1,thrips,adult,2\n"


@pytest.fixture
def brings(engine, tmp_path):
    operation = set_up(engine, "Test nursery (invented)", "UTC").operation

    def once(text, agree=lambda reading, asked: True):
        sheet = tmp_path / "sheet.csv"
        sheet.write_text(text, encoding="utf-8")
        said = {"answers": {}, "kept": Kept(tmp_path), "rejects": tmp_path / "not-taken.csv"}
        return bring.bring(engine, operation, sheet, agree=agree, **said)

    return once


@pytest.fixture
def readings(monkeypatch):
    """Each reading of a file: by which columns, and how many readings were held when it began."""
    made, held = [], []
    read = bring.read

    def counted(path, **said):
        made.append((said.get("mapping"), sum(one() is not None for one in held)))
        reading = read(path, **said)
        held.append(weakref.ref(reading))
        return reading

    monkeypatch.setattr(bring, "read", counted)
    return made


def test_cycles_are_searched_for_again_after_a_sheet_is_in(brings):
    assert brings(LONG).landed.counts == 1
    assert gc.isenabled()


def test_cycles_are_searched_for_again_after_a_sheet_is_refused(brings):
    with pytest.raises(SheetRefused, match="no columns"):
        brings("nothing of a table\n")
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
