"""Invented sheets, each with what it says written beside it by hand.

The truths follow what the trade means by a cell ("nil" is a zero, a blank is not); where a sheet
leaves something open the truth refuses or asks, and a `note` says why. `test_sheets_with_a_truth`
has the comparison.
"""

import json
from functools import cache

from benchwalk.records.sheets.as_json import as_format_json
from benchwalk.records.sheets.reading import read
from tests.in_turn import each_of
from tests.records.sheets.test_sheets_with_a_truth import EXAMPLES, LISTS, bare, in_order

ELSEWHERE = {"01", "02", "03"}  # compared key by key in tests of their own
TRUTHS = sorted(p for p in EXAMPLES.glob("*.truth.json") if p.name[:2] not in ELSEWHERE)


@cache
def truth(path):
    return json.loads(path.read_text(encoding="utf-8"))


LISTED = [(p, o) for p in TRUTHS for o in LISTS if o in truth(p)]


@cache
def reading_for(path):
    true = truth(path)
    return read(EXAMPLES / true["file"], answers=true.get("answers", {}))


@cache
def told(path):
    """A reading as it is printed: made once, since a dozen tests look at each sheet."""
    return as_format_json(reading_for(path))


def as_far_as_stated(mine, true):
    """What was read, without the keys that the truth is silent on (crop, scout and the like)."""
    pairs = zip(mine, true, strict=False)
    stated = [{k: v for k, v in m.items() if k in t} for m, t in pairs]
    return stated + mine[len(true) :]


def without_words(treatments):
    # a treatment is its day, place, kind and active ingredient; the words may be others
    return [
        {k: v for k, v in t.items() if k not in {"what", "inferred"}} for t in in_order(treatments)
    ]


@each_of(("path", "outcome"), LISTED)
def test_a_sheet_reads_as_its_truth_says(path, outcome):
    mine, true = told(path)[outcome], in_order(truth(path)[outcome])
    assert as_far_as_stated(in_order(mine), true) == true


@each_of("sheet", TRUTHS)
def test_treatments_agree_in_day_place_kind_and_active_ingredient(sheet):
    mine = without_words(told(sheet)["treatments"])
    true = without_words(truth(sheet)["treatments"])
    assert as_far_as_stated(mine, true) == true


@each_of("sheet", TRUTHS)
def test_renames_are_told_or_only_suspected_as_the_truth_says(sheet):
    assert bare(told(sheet)["renames"]) == bare(truth(sheet)["renames"])


@each_of("sheet", TRUTHS)
def test_encoding_delimiter_numbers_and_columns_passed_over_are_those_of_the_truth(sheet):
    mine, true = told(sheet), truth(sheet)
    for key in ("opens", "encoding", "delimiter", "counts"):
        assert mine.get(key) == true.get(key), key
    assert [c["col"] for c in mine["ignored_columns"]] == [
        c["col"] for c in true["ignored_columns"]
    ]


@each_of("sheet", TRUTHS)
def test_questions_are_those_of_the_truth_and_each_is_asked_once(sheet):
    asked = sorted(q["id"] for q in told(sheet)["asked"])
    # a truth without a list of questions has one for every name that it says nobody knows
    unknown = [f"name:{r['raw']}" for r in truth(sheet)["reject"] if r["reason"] == "unknown_pest"]
    true = truth(sheet).get("asked", [{"id": id_} for id_ in unknown])
    assert asked == sorted(q["id"] for q in true)


@each_of("sheet", TRUTHS)
def test_every_cell_and_row_ends_in_one_outcome_and_they_add_up(sheet):
    reading = reading_for(sheet)
    places = [at for at, _ in reading.ends]
    assert len(places) == len(set(places)) == reading.read == sum(reading.accounts().values())
