"""A list of stations: where cards, discs, traps, indicator plants, sensors and hives are."""

import datetime as dt

import pytest

import benchwalk.records as r
from tests.in_turn import each_of
from tests.records.sheets.lists.small_list import only, read, reasons

HEADINGS = "Code,House,Unit,Kind,Role,x (m),y (m),Since,Until"
ROW = "Y1,North,Bay 1,card,interior,2.5,10,2026-02-03,"


def bring(nursery, *rows, **more):
    return nursery.bring("stations", HEADINGS, *rows, **more)


def left(brought):
    return [x.reason for x in (*brought.reading.rejects, *brought.landed.rejects)]


def test_a_station_stands_in_its_unit_with_its_role_and_position(nursery):
    bring(nursery, "Y1,North,Bay 1,yellow card,door,2.5,10,2026-02-03,2026-04-01")
    station = nursery.one(r.Station)
    assert (station.code, station.kind, station.role) == ("Y1", "card", "door")
    assert (station.x_m, station.y_m) == (2.5, 10)
    assert (station.opened_on, station.closed_on) == (dt.date(2026, 2, 3), dt.date(2026, 4, 1))
    assert station.unit_id == nursery.one(r.Unit).id


@each_of(
    ("word", "kind"),
    [
        ("sticky card", "card"),
        ("Gelbtafel", "card"),
        ("tarjeta azul", "card"),
        ("potato slice", "disc"),
        ("trampa de feromona", "trap"),
        ("Zeigerpflanze", "indicator"),
        ("data logger", "sensor"),
        ("colmena", "hive"),
        ("yellow", "card"),
    ],
)
def test_kinds_are_known_by_their_words_in_three_languages(word, kind):
    reading = read("stations", "Code,Unit,Kind,Since", f"A,Bay 1,{word},2026-02-03")
    assert only(reading).kind == kind


def test_no_role_is_inside_the_crop():
    reading = read("stations", "Code,Unit,Kind,Since", "A,Bay 1,card,2026-02-03")
    assert only(reading).role == "interior"


def test_positions_in_feet_are_metres():
    """1 ft = 0.3048 m exactly (NIST SP 811, B.8)."""
    lines = "Code,Unit,Kind,Since,x (ft),y (ft)", "A,Bay 1,card,2026-02-03,10,5"
    station = only(read("stations", *lines))
    assert (station.x_m, station.y_m) == (pytest.approx(3.048), pytest.approx(1.524))


def test_since_when_is_asked_once_for_a_list_that_does_not_say_it():
    lines = "Code,Unit,Kind", "A,Bay 1,card", "B,Bay 1,card"
    asked = read("stations", *lines)
    assert reasons(asked) == [(2, "missing_opened_on"), (3, "missing_opened_on")]
    assert [q.id for q in asked.asked] == ["day:opened_on"]
    told = read("stations", *lines, answers={"day:opened_on": "2026-02-03"})
    assert {t.opened_on for t in told.things} == {dt.date(2026, 2, 3)}


def test_an_answer_that_is_no_day_is_asked_again():
    reading = read("stations", "Code,Unit,Kind", "A,Bay 1,card", answers={"day:opened_on": "soon"})
    assert [q.id for q in reading.asked] == ["day:opened_on"]


def test_a_code_in_another_unit_or_of_another_kind_is_refused(nursery):
    bring(nursery, ROW)
    length = nursery.ledger_length()
    brought = bring(
        nursery,
        "Y1,North,Bay 2,card,interior,2.5,10,2026-02-03,",
    )
    assert left(brought) == ["station_elsewhere"]
    brought = bring(nursery, "Y1,North,Bay 1,trap,interior,2.5,10,2026-02-03,")
    assert left(brought) == ["station_elsewhere"]
    assert nursery.ledger_length() == length


def test_another_role_of_a_recorded_code_is_asked_and_never_written_over_silently(nursery):
    bring(nursery, ROW)
    length = nursery.ledger_length()
    brought = bring(nursery, ROW.replace("interior", "door"))
    assert not brought.recorded
    assert [q.id for q in brought.waiting] == ["station:Y1"]
    assert nursery.ledger_length() == length


@pytest.mark.parametrize(
    ("answer", "role", "rev"), [("list", "door", 2), ("recorded", "interior", 1)]
)
def test_the_answer_says_whose_word_holds(nursery, answer, role, rev):
    bring(nursery, ROW)
    bring(nursery, ROW.replace("interior", "door"), answers={"station:Y1": answer})
    station = nursery.one(r.Station)
    assert (station.role, station.rev) == (role, rev)


def test_an_end_or_an_earlier_start_said_later_is_added_as_a_higher_rev(nursery):
    bring(nursery, "Y1,North,Bay 1,card,interior,,,2026-02-03,")
    bring(nursery, "Y1,North,Bay 1,card,interior,2.5,10,2026-01-20,2026-04-01")
    station = nursery.one(r.Station)
    assert (station.rev, station.opened_on) == (2, dt.date(2026, 1, 20))
    assert (station.x_m, station.closed_on) == (2.5, dt.date(2026, 4, 1))


def test_a_less_detailed_list_takes_nothing_away(nursery):
    bring(nursery, ROW)
    brought = bring(nursery, "Y1,North,Bay 1,card,interior,,,2026-02-03,")
    assert len(brought.landed.already_there) == 1
    assert nursery.one(r.Station).x_m == 2.5
