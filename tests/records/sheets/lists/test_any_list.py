"""Whatever a file holds, it is refused as a whole or every row of it ends in one outcome."""

from collections import Counter
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchwalk.records.sheets.found import SheetRefused
from benchwalk.records.sheets.lists.as_json import list_json
from benchwalk.records.sheets.lists.bring import taken_as
from benchwalk.records.sheets.lists.found import KINDS, ListRefused
from benchwalk.records.sheets.lists.reading import read_list
from benchwalk.records.sheets.mappings import Kept
from benchwalk.records.sheets.table import table_of
from tests.records.sheets.lists.small_list import Nursery, table

HEADINGS = {
    "plantings": "House,Unit,Crop,Planted on,Removed,Plants,Share,Spacing,Phase,Phase since,Edible",
    "stations": "Code,House,Unit,Kind,Colour,Role,x,y (m),Since,Until",
    "treatments": "Date,Start,End,House,Unit,Material,Active,Kind,IRAC,Rate,Water,Target,Who",
    "climate": "Timestamp,Sensor,North Temp (°C),North RH,South Temp,Min °F,Max °F,House",
}
# a row of each kind that lands: random cells alone hardly ever make one
LANDS = {
    "plantings": "North,Bay 1,pansy,2026-02-03,,100,,,,,",
    "stations": "Y1,North,Bay 1,card,,interior,,,2026-02-03,",
    "treatments": "2026-03-10,,,North,Bay 1,soap,,spray,,,,,",
    "climate": "2026-03-10 06:30,,20,70,,,,North",
}
# cells that mean something somewhere, so that rows get past the first refusal
TELLING = st.sampled_from(
    [
        "2026-03-08 02:30",
        "2026-11-01 01:30",
        "2026-03-10",
        "5/7/26",
        "13/5/26",
        "31.02.2026",
        "24:00",
        "6:30 PM",
        "Bay 1",
        "Bay 1, Bay 2",
        "Bay 1-3",
        "all",
        "North",
        "North / Bay 1",
        "pansy",
        "Fan flower",
        "card",
        "yellow",
        "sensor",
        "door",
        "Y1",
        "spinosad",
        "imidacloprit",
        "spinosad + abamectin",
        "soap 2 %",
        "swirskii",
        "thirps",
        "fog",
        "20",
        "20,5",
        "20.5",
        "1,200",
        "68 °F",
        "20 °C",
        "100%",
        "104",
        "-40",
        "0",
        "=2+3",
        "@x",
        "-",
        "n/a",
        "#REF!",
        "total",
        "flowering",
        "20 x 25 cm",
        "x",
        "no",
        "²",
        "nan",
        "1e5",
        "inf",
        "",
        "",
    ]
)
TEXT = st.text(st.characters(codec="utf-8", exclude_categories=["Cc"]), max_size=6)
CELL = st.one_of(TELLING, TELLING, TEXT)
ANSWERS = st.dictionaries(
    st.sampled_from(
        [
            "date_order",
            "clock",
            "unit:temperature",
            "unit:x",
            "unit:area_share",
            "unit:water",
            "house:sensor",
            "house:Y1",
            "active:imidacloprit",
            "name:thirps",
            "column:Role",
        ]
    ),
    st.sampled_from(["yes", "no", "degF", "m", "percent", "day first", "standard_time", "role"]),
    max_size=3,
)


def line_of(cells):
    return ",".join('"' + c.replace('"', '""') + '"' for c in cells)


@st.composite
def lists(draw, kind=None):
    kind = kind or draw(st.sampled_from(KINDS))
    width = HEADINGS[kind].count(",") + 1
    row = st.lists(CELL, min_size=0, max_size=width + 1)
    usual = st.builds(
        lambda first, rest: [first, *rest],
        st.sampled_from(["2026-03-10 06:30", "2026-03-10 06:40", "North", "Y1"]),
        st.lists(TELLING, min_size=width - 1, max_size=width - 1),
    )
    lands = st.just(LANDS[kind].split(","))
    lines = draw(st.lists(st.one_of(usual, row, lands), max_size=6))
    return kind, "\n".join([HEADINGS[kind], *map(line_of, lines), ""]), draw(ANSWERS)


def read(kind, text, answers):
    return read_list(table(text), kind, zone=ZoneInfo("America/New_York"), answers=answers)


@given(lists())
def test_every_row_ends_in_exactly_one_outcome_and_they_add_up(held):
    kind, text, answers = held
    try:
        reading = read(kind, text, answers)
    except (ListRefused, SheetRefused):
        return
    ends = reading.ends
    assert sum(reading.accounts().values()) == reading.read == len(ends)
    if kind == "climate":
        # a row of a logger file is one outcome for each of its sensors, or one for the row
        assert {at.row for at, _ in ends} == set(range(1, len(reading.rows) + 1))
    else:
        assert Counter(at.row for at, _ in ends) == Counter(range(1, len(reading.rows) + 1))


@given(lists())
def test_nothing_waits_for_an_answer_to_a_question_that_is_not_asked(held):
    kind, text, answers = held
    try:
        reading = read(kind, text, answers)
    except (ListRefused, SheetRefused):
        return
    asked = {q.id for q in reading.asked}
    assert {r.question for r in reading.rejects} - {None} <= asked


@given(lists())
def test_reading_twice_says_the_same(held):
    kind, text, answers = held
    try:
        reading = read(kind, text, answers)
    except (ListRefused, SheetRefused):
        return
    assert read(kind, text, answers) == reading


@given(st.binary(max_size=300), st.sampled_from([*KINDS, None]))
def test_any_bytes_are_read_or_refused_in_words(tmp_path_factory, content, said):
    kept = Kept(tmp_path_factory.getbasetemp() / "none")
    told = ""
    try:
        found = taken_as(table_of(content, "any.bin"), said, kept, {})
        if found is not None:
            read_list(found[1], found[0])
    except (SheetRefused, ListRefused) as refused:
        told = str(refused)
    assert not told or "any.bin" in told


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_whatever_is_read_lands_whole_or_is_named_and_a_second_time_adds_nothing(
    engine, tmp_path, kind
):
    nursery = Nursery(engine, tmp_path)

    # own choice: twenty lists of a kind on each database
    @settings(max_examples=20, suppress_health_check=[HealthCheck.too_slow])
    @given(lists(kind))
    def holds(held):
        _, text, answers = held
        try:
            first = nursery.bring_table(kind, table(text), answers)
        except (ListRefused, SheetRefused):
            return
        said = list_json(first)
        assert sum(said["accounts"].values()) == said["read"]
        length = nursery.ledger_length()
        again = nursery.bring_table(kind, table(text), answers)
        assert nursery.ledger_length() == length
        assert again.landed.recorded == []

    holds()
