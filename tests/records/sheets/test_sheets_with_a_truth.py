"""Two invented sheets with everything they say written beside them by hand."""

import json
from pathlib import Path

import pytest

from benchwalk.records.sheets.as_json import as_format_json
from benchwalk.records.sheets.names import crop_of
from benchwalk.records.sheets.reading import read
from tests.in_turn import each_of

EXAMPLES = Path(__file__).parent / "examples"
LISTS = ["records", "nothing_seen", "not_looked", "reject", "duplicates", "skip", "notes"]
NAMES = ["01_long_tallies", "02_wide_bench_rounds"]
# said to a reader of the truth, or by a reading beyond the truth; neither is compared
REMARKED = {"note", "accept", "accept_kind", "resolved"}


def got(name):
    return as_format_json(read(EXAMPLES / f"{name}.csv"))


def truth(name):
    return json.loads((EXAMPLES / f"{name}.truth.json").read_text(encoding="utf-8"))


def bare(items):
    kept = [{k: v for k, v in item.items() if k not in REMARKED} for item in items]
    # a truth has the crop's word, a reading the crop that the word stands for
    return [i | {"crop": crop_of(i["crop"])} if "crop" in i else i for i in kept]


def in_order(items):
    return sorted(bare(items), key=lambda i: json.dumps(i["at"]))


@each_of("name", NAMES)
@each_of("outcome", LISTS)
def test_a_sheet_reads_as_its_truth_says_in_every_key(name, outcome):
    assert in_order(got(name)[outcome]) == in_order(truth(name)[outcome])


@pytest.mark.parametrize("name", NAMES)
def test_treatments_and_renames_are_those_of_the_truth(name):
    mine, true = got(name), truth(name)
    assert bare(mine["renames"]) == bare(true["renames"])
    dropped = {"inferred"}
    assert [{k: v for k, v in t.items() if k not in dropped} for t in mine["treatments"]] == [
        {k: v for k, v in t.items() if k not in dropped} for t in bare(true["treatments"])
    ]
    assert [("inferred" in t) for t in mine["treatments"]] == [
        ("inferred" in t) for t in true["treatments"]
    ]


@pytest.mark.parametrize("name", NAMES)
def test_encoding_delimiter_and_numbers_of_outcomes_are_those_of_the_truth(name):
    mine, true = got(name), truth(name)
    for key in ("opens", "encoding", "delimiter", "counts", "ignored_columns"):
        assert mine[key] == true[key], key


def test_misspelt_names_are_proposed_once_each_and_marked_on_their_counts():
    mine = got("01_long_tallies")
    proposals = {q["id"]: q["proposed"] for q in mine["asked"] if q["proposed"]}
    assert proposals == {
        "name:greenhouse whitfly": "greenhouse_whitefly",
        "name:thirps": "thrips",
        "name:green peech aphid": "green_peach_aphid",
    }
    marked = {r["pest_raw"].strip() for r in mine["records"] if r.get("resolved") == "proposed"}
    assert marked == {"greenhouse whitfly", "thirps", "green peech aphid"}


@pytest.mark.parametrize("name", NAMES)
def test_every_cell_and_row_ends_in_one_outcome(name):
    reading = read(EXAMPLES / f"{name}.csv")
    assert sum(reading.accounts().values()) == reading.read
    places = [
        o.at
        for outcomes in (
            reading.records,
            reading.nothing_seen,
            reading.not_looked,
            reading.rejects,
            reading.duplicates,
            reading.notes,
            reading.skips,
        )
        for o in outcomes
    ] + list({t.at for t in reading.treatments})
    assert len(places) == len(set(places)) == reading.read
    assert sorted(at for at, _ in reading.ends) == sorted(places)


def test_what_was_read_is_counted_by_hand():
    # 269 rows below the headings; four have a remark that is not only "clean"
    assert read(EXAMPLES / "01_long_tallies.csv").read == 269 + 4
    # 36 rows of 8 columns of counts, five remarks, four rows without counts
    assert read(EXAMPLES / "02_wide_bench_rounds.csv").read == 36 * 8 + 5 + 4
