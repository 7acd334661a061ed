"""Every example list against its truth, written by hand beside it."""

import json
from pathlib import Path

import pytest

from benchwalk.records.sheets.lists.as_json import list_json
from benchwalk.records.sheets.lists.bring import taken_as
from benchwalk.records.sheets.table import read_table

EXAMPLES = Path(__file__).parent / "examples"
NAMES = sorted(p.name.removesuffix(".truth.json") for p in EXAMPLES.glob("*.truth.json"))
DEFAULTS = {"span_s"}


def truth_of(name):
    return json.loads((EXAMPLES / f"{name}.truth.json").read_text("utf-8"))


def table_named(name):
    return read_table(EXAMPLES / f"{name}.csv")


@pytest.fixture(params=NAMES)
def name(request):
    return request.param


@pytest.fixture
def seen(nursery, name):
    kind, held = taken_as(table_named(name), None, nursery.kept, {})
    if name == "treatments":
        # "all" needs units that are known already
        nursery.bring("stations", "Code,House,Unit,Kind,Since", "Z,North,Bay 1,card,2026-02-01")
        nursery.bring("stations", "Code,House,Unit,Kind,Since", "Y,North,Bay 2,card,2026-02-01")
    return list_json(nursery.look(kind, held))


def record(said):
    return {"row": said["at"]["row"]} | {
        k: v for k, v in said.items() if k not in ("at", "crop_raw", *DEFAULTS)
    }


def place(said):
    kept = {"row": said["at"]["row"], "reason": said["reason"]}
    if "col" in said["at"]:
        kept["col"] = said["at"]["col"]
    if "conflicts_with" in said:
        kept["conflicts_with"] = said["conflicts_with"]["row"]
    return kept


def ordered(items):
    return sorted(items, key=lambda item: json.dumps(item, sort_keys=True, ensure_ascii=False))


def test_the_headings_tell_what_kind_of_list_it_is(seen, name):
    assert seen["as"] == truth_of(name)["as"]


def test_every_row_ends_where_the_truth_says_and_they_add_up(seen, name):
    said = truth_of(name)
    assert seen["accounts"] == said["accounts"]
    assert sum(seen["accounts"].values()) == seen["read"] == said["read"]


def test_the_records_are_those_of_the_truth(seen, name):
    said = truth_of(name)
    refused = {p["row"] for p in said["reject"] if p["reason"] == "unit_over_full"}
    found = [record(x) for x in seen["records"] if x["at"]["row"] not in refused]
    assert ordered(found) == ordered(said["records"])


def test_what_is_not_taken_is_named_with_its_place_and_reason(seen, name):
    assert ordered(map(place, seen["reject"])) == ordered(truth_of(name)["reject"])


def test_repeats_and_passed_over_rows_are_named(seen, name):
    said = truth_of(name)
    repeats = [[d["at"]["row"], d["of"]["row"]] for d in seen["duplicates"]]
    assert sorted(repeats) == said["duplicates"]
    assert {str(s["at"]["row"]): s["why"] for s in seen["skip"]} == said["skip"]


def test_what_is_odd_is_named(seen, name):
    found = [
        {"what": f["what"], "row": f["at"]["row"], "sensor": f["sensor"]}
        | {k: f[k] for k in ("from", "to", "raw")}
        for f in seen["found"]
    ]
    assert ordered(found) == ordered(truth_of(name).get("found", []))


def test_brought_in_it_fills_the_tables_and_a_second_time_adds_nothing(nursery, name):
    said = truth_of(name)
    kind, held = taken_as(table_named(name), None, nursery.kept, {})
    if name == "treatments":
        before = "Code,House,Unit,Kind,Since", "Z,North,Bay 1,card,2026-02-01"
        nursery.bring("stations", *before, "Y,North,Bay 2,card,2026-02-01")
    brought = nursery.bring_table(kind, held)
    assert brought.recorded
    made = brought.landed.units_made
    assert sorted(made) == [u for u in said["units_made"] if name != "treatments" or "South" in u]
    assert {t: nursery.count(t) for t in said["tables"]} == said["tables"]
    length = nursery.ledger_length()
    again = list_json(nursery.bring_table(kind, held))
    assert nursery.ledger_length() == length
    there = said["accounts"] | {"already_there": said["accounts"]["recorded"]}
    there.pop("recorded")
    assert again["accounts"] == there


def test_the_file_of_what_was_not_taken_has_a_line_each_with_why_and_what_to_do(nursery, name):
    kind, held = taken_as(table_named(name), None, nursery.kept, {})
    brought = nursery.bring_table(kind, held)
    lines = nursery.rejects.read_text("utf-8-sig")
    left = [*brought.reading.rejects, *brought.landed.rejects]
    mark = held.delimiter
    assert lines.startswith(mark.join(("row", "column", "written", "why it was not taken")))
    for reject in left:
        assert f"\n{reject.at.row}{mark}" in lines
