"""A spray log becomes applications, loads and treated units; nothing is guessed."""

import datetime as dt

import pytest

import benchwalk.records as r
from benchwalk.records.database import session, writing
from benchwalk.records.ledger import verify
from benchwalk.records.sheets.found import At, Reading, Treatment
from benchwalk.records.sheets.landing import land
from tests.in_turn import each_of
from tests.records.sheets.lists.small_list import only, read, reasons, utc

HEADINGS = (
    "Date,Start,End,House,Unit,Material,Active ingredient,Kind,IRAC,Water (L),Target,Applicator"
)
STATIONS = "Code,House,Unit,Kind,Since"


def row(**said):
    columns = ("date", "start", "end", "house", "unit", "material", "active", "kind", "irac")
    usual = {"date": "2026-05-04", "house": "North", "unit": "Bay 1", "material": "soap"} | said
    cells = [usual.get(c, "") for c in (*columns, "water", "target", "applicator")]
    return ",".join(f'"{c}"' for c in cells)


def one(**said):
    return only(read("treatments", HEADINGS, row(**said)))


def bring(nursery, *rows, **more):
    return nursery.bring("treatments", HEADINGS, *rows, **more)


def know(nursery, *units):
    rows = [f"S{n},{house},{unit},card,2026-01-01" for n, (house, unit) in enumerate(units)]
    nursery.bring("stations", STATIONS, *rows)


def left(brought):
    return [x.reason for x in (*brought.reading.rejects, *brought.landed.rejects)]


def treated(nursery):
    named = {u.id: u.name for u in nursery.all(r.Unit)}
    return sorted(
        named[t.unit_id] for a in nursery.all(r.Application) for x in a.loads for t in x.treated
    )


def test_a_treatment_has_its_times_its_water_its_group_and_its_target(nursery):
    know(nursery, ("North", "Bay 1"))
    said = {"start": "06:30", "end": "08:15", "active": "spinosad", "irac": "5", "water": "200"}
    bring(nursery, row(**said, material="blue jug", kind="spray", target="thrips", applicator="LQ"))
    application = nursery.one(r.Application)
    assert (application.kind, application.what) == ("spray", "blue jug / spinosad")
    assert (application.active, application.moa_group) == ("spinosad", "IRAC 5")
    assert application.taxon == "thrips"
    (load,) = application.loads
    assert (load.started_at, load.ended_at) == (utc(2026, 5, 4, 10, 30), utc(2026, 5, 4, 12, 15))
    assert (load.precision, load.water_ml) == ("minute", 200_000)
    assert treated(nursery) == ["Bay 1"]


def test_a_day_without_a_time_is_known_to_the_day(nursery):
    bring(nursery, row())
    (load,) = nursery.one(r.Application).loads
    assert (load.precision, load.started_at) == ("day", utc(2026, 5, 4, 16))
    assert load.water_ml is None


def test_the_applicator_is_a_person_and_the_ledger_holds_no_name(nursery):
    bring(
        nursery, row(applicator="Ines Quiroga"), row(date="2026-05-05", applicator="ines quiroga")
    )
    person = nursery.one(r.Person)
    assert (person.name, person.role, person.pseudonym) == (
        "Ines Quiroga",
        "applicator",
        "applicator 1",
    )
    assert "Quiroga" not in " ".join(x.body for x in nursery.all(r.Ledger))
    with session(nursery.engine, nursery.operation) as s:
        assert verify(s, nursery.operation) is None


@each_of(
    ("text", "active"),
    [
        ("spinosad", "spinosad"),
        ("Spinosad 2 ml/l", "spinosad"),
        ("insecticidal soap 2 %", "potassium salts of fatty acids"),
        ("jabón potásico", "potassium salts of fatty acids"),
        ("neem", "neem oil"),
        ("Amblyseius swirskii", "Amblyseius swirskii"),
        ("swirskii, 50 sachets", "Amblyseius swirskii"),
        ("Fish oil", None),
        ("Superspinosad", None),
        ("blue jug", None),
        ("Spinosad Gold", None),
    ],
)
def test_a_material_is_known_by_its_whole_name_and_never_by_a_part_of_it(text, active):
    said = one(material=text)
    assert (said.active, said.what) == (active, text)


def test_an_unknown_active_ingredient_stays_as_written():
    said = one(material="", active="moon dust")
    assert (said.active, said.what) == (None, "moon dust")


def test_a_misspelt_active_ingredient_is_proposed_and_waits_for_a_yes(nursery):
    asked = read("treatments", HEADINGS, row(material="", active="imidacloprit"))
    assert [(q.id, q.proposed) for q in asked.asked] == [("active:imidacloprit", "imidacloprid")]
    assert only(asked).active == "imidacloprid"
    refused = bring(nursery, row(material="", active="imidacloprit"), agree=lambda _: False)
    assert not refused.recorded
    assert nursery.all(r.Application) == []


@pytest.mark.parametrize(
    ("answer", "active"), [("yes", "imidacloprid"), ("no", None), ("spinosad", "spinosad")]
)
def test_the_answer_about_an_active_ingredient_holds(answer, active):
    lines = HEADINGS, row(material="", active="imidacloprit")
    reading = read("treatments", *lines, answers={"active:imidacloprit": answer})
    assert only(reading).active == active
    assert reading.asked == ()


@pytest.mark.parametrize(
    ("word", "kind"),
    [
        ("foliar spray", "spray"),
        ("aplicación al sustrato", "drench"),
        ("Kaltnebel", "fog"),
        ("suelta", "release"),
        ("water wash", "wash"),
        ("rogueing", "rogue"),
        ("Jäten", "weed"),
        ("limpieza", "clean"),
    ],
)
def test_kinds_are_known_by_their_words_in_three_languages(word, kind):
    assert one(kind=word).kind == kind


def test_a_natural_enemy_is_released_and_what_nothing_says_is_told_to_be_assumed():
    assert one(material="Encarsia formosa").kind == "release"
    reading = read("treatments", HEADINGS, row(material="blue jug"))
    assert [(a.what, a.value) for a in reading.assumed] == [("kind_of_treatment", "spray")]


@pytest.mark.parametrize(
    ("cell", "millilitres"),
    [("200 L", 200_000), ("200", 200_000), ("500 mL", 500), ("0.5 L", 500)],
)
def test_water_is_millilitres(cell, millilitres):
    headings = HEADINGS.replace("Water (L)", "Water") if "m" in cell else HEADINGS
    assert only(read("treatments", headings, row(water=cell))).water_ml == millilitres


def test_water_in_us_gallons_against_nist_sp_811():
    """1 gal (US) = 3.785412 L: NIST SP 811 (2008), appendix B.8, rounded there to 7 digits."""
    headings = HEADINGS.replace("Water (L)", "Water (gal)")
    assert only(read("treatments", headings, row(water="1"))).water_ml == 3785


def test_water_without_its_measure_is_asked():
    headings = HEADINGS.replace("Water (L)", "Water")
    reading = read("treatments", headings, row(water="200"))
    assert reasons(reading) == [(2, "unit_not_said")]
    assert [q.choices for q in reading.asked] == [("L", "mL", "us_gal")]


@pytest.mark.parametrize(
    ("start", "reason"),
    [("02:30", "time_shown_never"), ("25:00", "unreadable_time"), ("noon", "unreadable_time")],
)
def test_a_time_that_was_not_is_refused(start, reason):
    reading = read("treatments", HEADINGS, row(date="2026-03-08", start=start))
    assert reasons(reading) == [(2, reason)]


def test_a_time_that_was_twice_is_refused_unless_its_offset_is_written():
    assert reasons(read("treatments", HEADINGS, row(date="2026-11-01", start="01:30"))) == [
        (2, "time_shown_twice")
    ]
    told = one(date="2026-11-01 01:30-05:00")
    assert told.started == utc(2026, 11, 1, 6, 30)


def test_an_end_after_midnight_is_written_with_its_day():
    lines = row(date="2026-05-04", start="22:00", end="02:00")
    assert reasons(read("treatments", HEADINGS, lines)) == [(2, "ends_before_start_time")]
    assert one(start="22:00", end="2026-05-05 02:00").ended == utc(2026, 5, 5, 6)


def test_several_units_in_a_cell_are_each_treated(nursery):
    know(nursery, ("North", "Bay 1"), ("North", "Bay 2"), ("North", "Bay 3"))
    bring(nursery, row(unit="Bay 1, Bay 3"))
    assert treated(nursery) == ["Bay 1", "Bay 3"]


def test_a_name_that_is_a_unit_is_not_taken_apart(nursery):
    know(nursery, ("North", "Bay 1 & 2"), ("North", "Bay 1"))
    bring(nursery, row(unit="Bay 1 & 2"))
    assert treated(nursery) == ["Bay 1 & 2"]


def test_a_range_is_the_units_of_its_numbers_where_all_are_known(nursery):
    know(nursery, ("North", "Bay 1"), ("North", "Bay 2"), ("North", "Bay 3"))
    bring(nursery, row(unit="Bay 1-3"))
    assert treated(nursery) == ["Bay 1", "Bay 2", "Bay 3"]
    assert left(bring(nursery, row(unit="Bay 2-4"))) == ["unit_range"]


@pytest.mark.parametrize(
    ("house", "unit", "names"),
    [
        ("North", "all", ["Bay 1", "Bay 2"]),
        ("North", "", ["Bay 1", "Bay 2"]),
        ("", "North", ["Bay 1", "Bay 2"]),
        ("", "todas las unidades", ["Bay 1", "Bay 2", "Bay 8"]),
        ("South", "alle Tische", ["Bay 8"]),
    ],
)
def test_all_means_the_units_that_live_there_on_that_day(nursery, house, unit, names):
    know(nursery, ("North", "Bay 1"), ("North", "Bay 2"), ("South", "Bay 8"))
    with writing(nursery.engine, nursery.operation) as s:
        s.add(r.Unit(name="Later", opened_on=dt.date(2026, 6, 1)))
        closed = {"opened_on": dt.date(2026, 1, 1), "closed_on": dt.date(2026, 5, 4)}
        s.add(r.Unit(name="Closed", **closed))
        s.add(r.Unit(name="Door", kind="place", opened_on=dt.date(2026, 1, 1)))
    bring(nursery, row(house=house, unit=unit))
    assert treated(nursery) == names


def test_all_of_a_house_that_nobody_knows_is_refused(nursery):
    assert left(bring(nursery, row(house="East", unit="all"))) == ["no_units_known"]
    assert nursery.all(r.House) == []


def test_a_row_refused_for_one_of_its_units_leaves_the_others_as_they_were(nursery):
    with writing(nursery.engine, nursery.operation) as s:
        closed = {"opened_on": dt.date(2026, 1, 1), "closed_on": dt.date(2026, 2, 1)}
        s.add(r.Unit(name="Closed", **closed))
        s.add(r.Unit(name="Later", opened_on=dt.date(2026, 6, 1)))
    brought = bring(nursery, row(house="", unit="Later, New, Closed"))
    assert left(brought) == ["unit_closed"]
    opened = {u.name: u.opened_on for u in nursery.all(r.Unit)}
    assert opened == {"Closed": dt.date(2026, 1, 1), "Later": dt.date(2026, 6, 1)}
    assert brought.landed.units_made == []


def test_two_treatments_of_one_day_are_told_apart_by_their_times(nursery):
    bring(nursery, row(start="06:00", water="100"), row(start="16:00", water="150"))
    assert len(nursery.all(r.Application)) == 2


def test_two_rows_about_one_treatment_that_differ_are_both_refused():
    reading = read("treatments", HEADINGS, row(water="100"), row(water="150"))
    assert [(x.at.row, x.reason, x.conflicts_with.row) for x in reading.rejects] == [
        (2, "treatment_said_twice", 3),
        (3, "treatment_said_twice", 2),
    ]


def test_two_rows_that_name_the_same_units_in_other_words_are_one_treatment(nursery):
    know(nursery, ("North", "Bay 1"))
    brought = bring(nursery, row(unit="all"), row(unit="Bay 1"))
    assert left(brought) == ["treatment_said_twice"]
    assert len(nursery.all(r.Application)) == 1


def test_a_treatment_that_a_remark_told_of_is_already_there(nursery):
    """A scouting sheet's remark knows the day only; the log's row is the same treatment."""
    told = Treatment(
        At(2),
        dt.date(2026, 5, 4),
        "North",
        ("North / Bay 1",),
        "sprayed soap",
        "spray",
        "insecticidal soap",
        "potassium salts of fatty acids",
    )
    know(nursery, ("North", "Bay 1"))
    columns = {"file": "sheet.csv", "sha256": "0" * 64, "encoding": "utf-8", "delimiter": ","}
    with writing(nursery.engine, nursery.operation) as s:
        land(s, Reading(**columns, mapping={}, treatments=(told,)))
    brought = bring(nursery, row(start="06:00"), row(start="16:00"))
    assert (len(brought.landed.already_there), len(brought.landed.recorded)) == (1, 1)
    assert len(nursery.all(r.Application)) == 2
    again = bring(nursery, row(start="06:00"), row(start="16:00"))
    assert len(again.landed.already_there) == 2


def test_another_volume_for_a_recorded_treatment_is_told_and_changes_nothing(nursery):
    bring(nursery, row(water="100"))
    length = nursery.ledger_length()
    assert left(bring(nursery, row(water="150"))) == ["differs_from_recorded"]
    assert nursery.ledger_length() == length


def test_a_name_near_to_a_pest_is_proposed_and_an_unknown_one_is_kept_as_words():
    near = read("treatments", HEADINGS, row(target="thirps"))
    assert [(q.id, q.proposed) for q in near.asked] == [("name:thirps", "thrips")]
    unknown = one(target="everything that crawls")
    assert (unknown.target, unknown.note) == (None, "Target: everything that crawls")


def test_the_order_of_day_and_month_is_asked_where_nothing_settles_it():
    reading = read("treatments", HEADINGS, row(date="4/5/2026"), row(date="5/6/2026"))
    assert reasons(reading) == [(2, "ambiguous_date"), (3, "ambiguous_date")]
    assert [(q.id, q.choices) for q in reading.asked] == [
        ("date_order", ("month first", "day first"))
    ]
    answered = read(
        "treatments", HEADINGS, row(date="4/5/2026"), answers={"date_order": "day first"}
    )
    assert only(answered).on == dt.date(2026, 5, 4)


def test_dates_of_both_habits_in_one_column_leave_the_doubtful_ones_out():
    rows = row(date="5/13/2026"), row(date="13/5/2026"), row(date="4/5/2026")
    reading = read("treatments", HEADINGS, *rows)
    assert reasons(reading)[0] == (4, "ambiguous_date")
    assert reading.asked == ()
