"""Logger files become climate logs: only new instants, nothing corrected, what is odd is named."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

import benchwalk.records as r
from benchwalk.records.database import session, writing
from benchwalk.records.ledger import verify
from tests.in_turn import each_of
from tests.records.sheets.lists.small_list import only, read, reasons, utc

HOUSE = {"house:sensor": "North"}


def climate(*lines, **more):
    return read("climate", *lines, **more)


def instants(reading):
    return [t.instant for t in reading.things]


def found(reading):
    return [(f.what, f.at.row, f.raw) for f in reading.findings]


def every(minutes, values, start="2026-03-10 06:00", heading="Time stamp,Temp (°C)"):
    """A file of one reading every so many minutes; None leaves a reading out."""
    at = dt.datetime.fromisoformat(start)
    step = dt.timedelta(minutes=minutes)
    lines = [f"{at + n * step:%Y-%m-%d %H:%M},{v}" for n, v in enumerate(values) if v is not None]
    return [heading, *lines]


@each_of(
    ("heading", "cells"),
    [
        ("Timestamp,Temp (C)", "2026-03-10T06:30:00-04:00,20"),
        ("Timestamp,Temp (C)", "2026-03-10 10:30Z,20"),
        ("Timestamp,Temp (C)", "2026-03-10 06:30,20"),
        ("Timestamp,Temp (C)", "3/10/2026 6:30 AM,20"),
        ("Timestamp,Temp (C)", "03/10/26 06:30:00 a. m.,20"),
        ("Date,Time,Temp (C)", "2026-03-10,6:30 AM,20"),
        ("Date,Time,Temp (C)", "10.03.2026,06:30,20"),
        ("Date Time (UTC-05:00),Temp (C)", "2026-03-10 05:30,20"),
        ('"Date Time, GMT-05:00",Temp (C)', "2026-03-10 05:30,20"),
        ("Time,Temp (C)", "2026-03-10 06:30,20"),
    ],
)
def test_the_same_instant_written_in_many_ways(heading, cells):
    reading = climate(heading, cells, answers={"date_order": "month first"})
    assert only(reading).instant == utc(2026, 3, 10, 10, 30)


@pytest.mark.parametrize(
    ("clock", "hour", "minute"),
    [("12:00 AM", 0, 0), ("12:30 AM", 0, 30), ("12:00 PM", 12, 0), ("1:05 p.m.", 13, 5)],
)
def test_twelve_hour_clocks_at_midnight_and_noon(clock, hour, minute):
    """12 a.m. is midnight, 12 p.m. is noon: NIST, "Times of Day FAQs"; from memory."""
    reading = climate("Timestamp,Temp (C)", f"2026-03-10 {clock},20", zone=dt.UTC)
    assert only(reading).instant == utc(2026, 3, 10, hour, minute)


def test_a_day_that_ends_at_24_is_the_next_at_0():
    """ISO 8601-1:2019 (amended 2022) has 24:00 as the end of a day; from memory."""
    reading = climate("Timestamp,Temp (C)", "2026-03-10 24:00,20", zone=dt.UTC)
    assert only(reading).instant == utc(2026, 3, 11)


@each_of(
    ("heading", "cell"),
    [
        ("Temp (°C)", "20"),
        ("Temp (°F)", "68"),
        ("Temperature F", "68"),
        ("temp_f", "68"),
        ("Air temperature [deg C]", "20"),
        ("Temperatura (ºC)", "20"),
        ("Lufttemperatur °C", "20"),
        ("Temp", "20 °C"),
        ("Temp", "68°F"),
    ],
)
def test_degrees_are_celsius_as_the_heading_or_the_cell_says(heading, cell):
    """68 degF = 20 degC: NIST SP 811 (2008), B.8, t/degC = (t/degF - 32)/1.8."""
    reading = climate(f"Timestamp,{heading}", f"2026-03-10 06:30,{cell}")
    assert only(reading).temp_c == pytest.approx(20, abs=1e-12)


def test_a_temperature_without_its_measure_is_asked_and_never_guessed():
    lines = "Timestamp,Temp", "2026-03-10 06:30,20"
    reading = climate(*lines)
    assert reasons(reading) == [(2, "unit_not_said")]
    assert [(q.id, q.choices) for q in reading.asked] == [("unit:temperature", ("degC", "degF"))]
    answered = climate(*lines, answers={"unit:temperature": "degF"})
    assert only(answered).temp_c == pytest.approx(-6.666666666666667)


def test_a_measure_answered_once_is_remembered_with_the_columns(nursery):
    lines = "Timestamp,Temp", "2026-03-10 06:30,68"
    given = HOUSE | {"unit:temperature": "degF"}
    assert nursery.bring("climate", *lines, answers=given).recorded
    later = nursery.bring("climate", "Timestamp,Temp", "2026-03-10 07:30,70", answers=HOUSE)
    assert later.recorded
    assert len(nursery.all(r.Climate)) == 2


def test_what_a_file_says_above_its_headings_goes_before_what_is_remembered(nursery):
    given = HOUSE | {"unit:temperature": "degF"}
    nursery.bring("climate", "Timestamp,Temp", "2026-03-10 06:30,68", answers=given)
    above = "Temperature unit: °C", "Timestamp,Temp", "2026-03-10 07:30,20"
    nursery.bring("climate", *above, answers=HOUSE)
    assert sorted(c.temp_c for c in nursery.all(r.Climate)) == pytest.approx([20, 20])


def test_a_cell_with_another_unit_than_its_column_is_refused():
    reading = climate("Timestamp,Temp (°C)", "2026-03-10 06:30,68 °F")
    assert reasons(reading) == [(2, "unit_contradicts")]


def test_what_stands_above_the_headings_tells_sensor_house_and_zone():
    lines = (
        "Logger: GH2-North",
        "House,North",
        "Time zone: UTC-05:00",
        "",
        "Timestamp,Temp (C)",
        "2026-03-10 05:30,20",
    )
    reading = climate(*lines)
    assert only(reading).instant == utc(2026, 3, 10, 10, 30)
    (sensor,) = reading.sensors
    assert (sensor.code, sensor.house, sensor.unit) == ("GH2-North", "North", None)
    assert [s.why for s in reading.skips] == ["title", "title", "title", "blank", "headings"]


def test_several_sensors_stand_in_columns_or_in_rows():
    columns = climate(
        "Timestamp,North Temp (°C),North RH (%),South Temp (°C)", "2026-03-10 06:30,20,80,22"
    )
    rows = climate(
        "Timestamp,Sensor,Temp (°C),RH (%)",
        "2026-03-10 06:30,North,20,80",
        "2026-03-10 06:30,South,22,",
    )
    said = [
        sorted((t.sensor, t.instant, t.temp_c, t.rh_percent) for t in reading.things)
        for reading in (columns, rows)
    ]
    assert [s[:2] for s in said[0]] == [("North", utc(2026, 3, 10, 10, 30))] * 1 + [
        ("South", utc(2026, 3, 10, 10, 30))
    ]
    assert said[0] == said[1]


def test_numbered_headings_belong_to_numbered_sensors():
    reading = climate("Timestamp,T1 (°C),RH1,T2 (°C)", "2026-03-10 06:30,20,80,22")
    assert [(t.sensor, t.temp_c, t.rh_percent) for t in reading.things] == [
        ("1", 20, 80),
        ("2", 22, None),
    ]


@pytest.mark.parametrize(
    "heading", ["Dew point (°C)", "Soil temperature (°C)", "Punto de rocío (°C)", "Taupunkt °C"]
)
def test_what_is_no_temperature_of_the_air_is_not_read(heading):
    reading = climate(f"Timestamp,Temp (°C),{heading}", "2026-03-10 06:30,20,5")
    assert only(reading).temp_c == 20
    assert [c.col for c in reading.ignored_columns] == [heading]


def test_lows_and_highs_of_a_day_are_a_span_of_that_day():
    reading = climate("Date,Min (°C),Max (°C)", "2026-03-10,12,28", "2026-03-11,11,30")
    said = [(t.instant, t.span_s, t.temp_c, t.temp_min_c, t.temp_max_c) for t in reading.things]
    assert said == [
        (utc(2026, 3, 10, 4), 86400, None, 12, 28),
        (utc(2026, 3, 11, 4), 86400, None, 11, 30),
    ]


def test_a_low_above_its_high_is_refused():
    reading = climate("Date,Min (°C),Max (°C)", "2026-03-10,28,12")
    assert reasons(reading) == [(2, "low_above_high")]


def test_an_empty_cell_is_no_reading_and_never_a_zero():
    reading = climate("Timestamp,Temp (°C),RH (%)", "2026-03-10 06:30,,", "2026-03-10 06:40,,80")
    assert [(t.temp_c, t.rh_percent) for t in reading.things] == [(None, 80)]
    assert [s.why for s in reading.skips] == ["headings", "no reading"]


@pytest.mark.parametrize(
    ("cell", "odd"),
    [("-30", False), ("-30.1", True), ("60", False), ("60.1", True), ("0", False)],
)
def test_temperatures_at_the_limits_of_what_a_house_has(cell, odd):
    reading = climate("Timestamp,Temp (°C)", f"2026-03-10 06:30,{cell}")
    assert (only(reading).temp_c, only(reading).implausible) == (float(cell), odd)


@pytest.mark.parametrize(
    ("cell", "kept", "odd"), [("0", 0, False), ("100", 100, False), ("100.1", None, True)]
)
def test_a_humidity_over_100_is_marked_and_told_as_written(cell, kept, odd):
    reading = climate("Timestamp,RH (%)", f"2026-03-10 06:30,{cell}")
    assert (only(reading).rh_percent, only(reading).implausible) == (kept, odd)
    assert found(reading) == ([("implausible", 2, cell)] if odd else [])


@pytest.mark.parametrize(
    ("minutes", "values", "marked"),
    [
        (10, (20, 35, 20), [False, False, False]),
        (10, (20, 35.1, 20), [False, True, False]),
        (15, (20, 35.1, 20), [False, True, False]),
        (16, (20, 35.1, 20), [False, False, False]),
        (10, (20, 4.9, 20), [False, True, False]),
    ],
)
def test_a_jump_of_more_than_15_degrees_within_15_minutes_is_marked(minutes, values, marked):
    reading = climate(*every(minutes, values))
    assert [t.implausible for t in reading.things] == marked
    assert [t.temp_c for t in reading.things] == list(values)


@pytest.mark.parametrize(("left_out", "gap"), [(2, False), (3, True)])
def test_a_silence_longer_than_three_steps_is_a_gap(left_out, gap):
    values = [20, 20.1, 20.2, *([None] * left_out), 20.3, 20.4, 20.5, 20.4]
    reading = climate(*every(10, values))
    assert found(reading) == ([("gap", 5, "00:40 h")] if gap else [])


@pytest.mark.parametrize(("readings", "stuck"), [(24, False), (25, True)])
def test_the_same_value_for_24_hours_is_a_stuck_sensor(readings, stuck):
    reading = climate(*every(60, [20] * readings + [21]))
    assert found(reading) == ([("stuck", 2, "20 °C")] if stuck else [])


def test_a_file_written_backwards_is_said_to_be_and_is_no_hundred_steps_back():
    lines = every(10, [20, 21, 22, 23])
    reading = climate(lines[0], *reversed(lines[1:]))
    assert [(a.what, a.value) for a in reading.assumed][-1] == ("order", "newest first")
    assert found(reading) == []
    assert instants(reading) == sorted(instants(reading))


def test_a_double_is_taken_once_and_two_values_of_one_instant_not_at_all():
    lines = "2026-03-10 06:30,20", "2026-03-10 06:30,20", "2026-03-10 06:40,20"
    reading = climate("Timestamp,Temp (°C)", *lines, "2026-03-10 06:40,21")
    assert [(d.at.row, d.of.row) for d in reading.duplicates] == [(3, 2)]
    assert reasons(reading) == [(4, "list_said_twice"), (5, "list_said_twice")]


AUTUMN = ["00:30", "01:00", "01:30", "01:00", "01:30", "02:00"]


def local(day, clocks, **more):
    lines = [f"{day} {clock},{n}" for n, clock in enumerate(clocks)]
    return climate("Timestamp,Temp (°C)", *lines, **more)


def test_local_times_shown_twice_are_told_apart_by_their_order_and_named():
    """Clocks in New York go back at 2:00 EDT on 1 November 2026: 15 U.S.C. 260a(a); tz database."""
    reading = local("2026-11-01", AUTUMN)
    assert instants(reading) == [
        utc(2026, 11, 1, 4, 30),
        utc(2026, 11, 1, 5),
        utc(2026, 11, 1, 5, 30),
        utc(2026, 11, 1, 6),
        utc(2026, 11, 1, 6, 30),
        utc(2026, 11, 1, 7),
    ]
    assert found(reading) == [("clock_back", 5, "01:00")]


def test_an_hourly_logger_shows_the_same_hour_twice():
    reading = local("2026-11-01", ["00:00", "01:00", "01:00", "02:00", "03:00"])
    steps = [b - a for a, b in zip(instants(reading), instants(reading)[1:], strict=False)]
    assert steps == [dt.timedelta(hours=1)] * 4


def test_a_backwards_file_has_its_second_pass_first():
    lines = [f"2026-11-01 {clock},{n}" for n, clock in enumerate(AUTUMN)]
    reading = climate("Timestamp,Temp (°C)", *reversed(lines))
    assert [t.temp_c for t in reading.things] == [0, 1, 2, 3, 4, 5]


def test_one_pass_through_an_hour_shown_twice_is_asked_and_holds_the_file_back():
    reading = local("2026-11-01", ["00:30", "01:00", "01:30", "02:00"])
    assert reading.things == ()
    assert [q.id for q in reading.asked] == ["clock"]
    assert reasons(reading) == [
        (2, "clock_not_known"),
        (3, "time_shown_twice"),
        (4, "time_shown_twice"),
        (5, "clock_not_known"),
    ]


def test_a_time_that_the_clocks_never_showed_is_asked():
    """Clocks in New York go from 2:00 to 3:00 on 8 March 2026: 15 U.S.C. 260a(a); tz database."""
    reading = local("2026-03-08", ["01:30", "02:30", "03:30"])
    assert [q.reason for q in reading.asked] == ["time_shown_never"]
    assert reading.things == ()


def test_a_logger_at_standard_time_all_year_has_no_times_in_doubt():
    clocks = ["01:30", "02:30", "03:30"]
    reading = local("2026-03-08", clocks, answers={"clock": "standard_time"})
    assert instants(reading) == [utc(2026, 3, 8, h, 30) for h in (6, 7, 8)]
    summer = local("2026-07-01", ["12:00"], answers={"clock": "standard_time"})
    assert instants(summer) == [utc(2026, 7, 1, 17)]


def test_a_wall_clock_leaves_only_the_impossible_time_out():
    clocks = ["01:30", "02:30", "03:30"]
    reading = local("2026-03-08", clocks, answers={"clock": "wall_clock"})
    assert instants(reading) == [utc(2026, 3, 8, 6, 30), utc(2026, 3, 8, 7, 30)]
    assert reasons(reading) == [(3, "time_shown_never")]


def test_a_zone_that_never_changes_its_clocks_has_no_doubts():
    reading = local("2026-11-01", ["01:00", "01:30"], zone=ZoneInfo("America/Costa_Rica"))
    assert len(reading.things) == 2


def test_a_log_goes_in_as_one_record_with_a_line_an_instant(nursery):
    brought = nursery.bring("climate", *every(10, [20, 21, 22]), answers=HOUSE)
    assert brought.landed.stations_made == ["North / sensor"]
    log, station = nursery.one(r.ClimateLog), nursery.one(r.Station)
    assert (log.source, log.station_id, station.kind) == ("list.csv", station.id, "sensor")
    said = [(c.at, c.temp_c, c.rev, c.log_id) for c in nursery.all(r.Climate)]
    assert sorted(said) == [(utc(2026, 3, 10, 10, 10 * n), 20 + n, 1, log.id) for n in range(3)]
    entry = [x for x in nursery.all(r.Ledger) if x.kind == "climate_log"]
    assert [x.body.count('"temp_c"') for x in entry] == [3]
    with session(nursery.engine, nursery.operation) as s:
        assert verify(s, nursery.operation) is None


def test_which_house_a_sensor_hangs_in_is_asked_and_nothing_is_recorded_before(nursery):
    length = nursery.ledger_length()
    brought = nursery.bring("climate", *every(10, [20, 21]))
    assert not brought.recorded
    assert [q.id for q in brought.waiting] == ["house:sensor"]
    assert nursery.ledger_length() == length


def test_a_sensor_hangs_in_the_only_unit_of_its_house_or_in_a_place_of_its_own(nursery):
    stations = "Code,House,Unit,Kind,Since"
    nursery.bring("stations", stations, "Y1,North,Bay 1,card,2026-01-01")
    nursery.bring("climate", "Logger: L1", *every(10, [20]), answers={"house:L1": "North"})
    nursery.bring("stations", stations, "Y2,North,Bay 2,card,2026-01-01")
    nursery.bring("climate", "Logger: L2", *every(10, [20]), answers={"house:L2": "North"})
    units = {u.id: (u.name, u.kind) for u in nursery.all(r.Unit)}
    hung = {s.code: units[s.unit_id] for s in nursery.all(r.Station)}
    assert (hung["L1"], hung["L2"]) == (("Bay 1", "unit"), ("sensor L2", "place"))


def test_the_house_of_a_sensor_is_the_first_that_can_be_read_beside_it():
    reading = climate(
        "Timestamp,Sensor,Temp (°C),House",
        "2026-03-10 06:00,L1,20,#REF!",
        "2026-03-10 06:10,L2,20,South",
        "2026-03-10 06:20,L1,20,North",
    )
    assert [(s.name, s.house) for s in reading.sensors] == [("L1", "North"), ("L2", "South")]


def test_two_loggers_without_names_are_told_apart_by_where_they_hang(nursery):
    for bay in (1, 2):
        answers = {"house:sensor": f"North / Bay {bay}"}
        assert nursery.bring("climate", *every(10, [20 + bay]), answers=answers).recorded
    codes = sorted(s.code for s in nursery.all(r.Station))
    assert codes == ["North / Bay 1 / sensor", "North / Bay 2 / sensor"]
    assert sorted(u.name for u in nursery.all(r.Unit)) == ["Bay 1", "Bay 2"]


def test_a_sensor_of_the_list_of_stations_needs_no_question(nursery):
    nursery.bring("stations", "Code,House,Unit,Kind,Since", "L1,North,Bay 1,sensor,2026-03-11")
    brought = nursery.bring("climate", "Logger: L1", *every(10, [20]))
    assert (brought.recorded, brought.landed.stations_made) == (True, [])
    assert nursery.one(r.Station).opened_on == dt.date(2026, 3, 10)


def test_the_code_of_a_card_is_no_sensor(nursery):
    nursery.bring("stations", "Code,House,Unit,Kind,Since", "L1,North,Bay 1,card,2026-01-01")
    brought = nursery.bring("climate", "Logger: L1", *every(10, [20]))
    assert [x.reason for x in brought.landed.rejects] == ["station_is_no_sensor"]


def test_the_same_file_twice_adds_nothing(nursery):
    lines = every(10, [20, 21, None, 22, 99, 104])
    nursery.bring("climate", *lines, answers=HOUSE)
    length = nursery.ledger_length()
    again = nursery.bring("climate", *lines, answers=HOUSE)
    assert nursery.ledger_length() == length
    assert len(again.landed.already_there) == 5


def test_a_file_that_overlaps_adds_only_its_new_instants(nursery):
    nursery.bring("climate", *every(10, [20, 21, 22]), answers=HOUSE)
    later = every(10, [21, 22, 23, 24], start="2026-03-10 06:10")
    brought = nursery.bring("climate", *later, answers=HOUSE, file="later.csv")
    assert (len(brought.landed.already_there), len(brought.landed.recorded)) == (2, 2)
    assert len(nursery.all(r.Climate)) == 5
    logs = {x.source: x.id for x in nursery.all(r.ClimateLog)}
    assert set(logs) == {"list.csv", "later.csv"}


def test_another_value_for_a_recorded_instant_is_told_and_changes_nothing(nursery):
    nursery.bring("climate", *every(10, [20, 21]), answers=HOUSE)
    brought = nursery.bring("climate", *every(10, [20, 25]), answers=HOUSE)
    told = [(x.at.row, x.reason, x.raw) for x in brought.landed.rejects]
    assert told == [(3, "differs_from_recorded", "21, -, -, - > 25, -, -, -")]
    assert sorted(c.temp_c for c in nursery.all(r.Climate)) == [20, 21]


def test_a_voided_log_does_not_come_back_by_itself(nursery):
    nursery.bring("climate", *every(10, [20, 21]), answers=HOUSE)
    with writing(nursery.engine, nursery.operation) as s:
        s.info["void_reason"] = "wrong logger"
        s.delete(s.get_one(r.ClimateLog, (nursery.operation, nursery.one(r.ClimateLog).id)))
    assert nursery.all(r.Climate) == []
    brought = nursery.bring("climate", *every(10, [20, 21]), answers=HOUSE)
    assert {x.reason for x in brought.landed.rejects} == {"voided_before"}
