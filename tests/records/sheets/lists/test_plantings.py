"""A list of plantings becomes plantings, phases and movements; the rules hold before landing."""

import datetime as dt

import pytest

import benchwalk.records as r
from benchwalk.records.database import session, writing
from benchwalk.records.queries import plantings
from benchwalk.records.sheets.lists.landing_plantings import Said, over_full
from tests.records.sheets.lists.small_list import only, read, reasons

HEADINGS = "House,Unit,Crop,Variety,Planted on,Removed,Plants,Share (%),Phase,Phase since,Edible"


def bring(nursery, *rows, **more):
    return nursery.bring("plantings", HEADINGS, *rows, **more)


def left(brought):
    return [x.reason for x in (*brought.reading.rejects, *brought.landed.rejects)]


def day(month, number):
    return dt.date(2026, month, number)


def test_a_planting_stands_from_its_day_with_its_plants_and_its_phases(nursery):
    bring(nursery, "North,Bay 1,petunia,Dot,2026-02-16,2026-05-01,900,60,flowering,2026-04-01,no")
    with session(nursery.engine, nursery.operation) as s:
        found = [plantings(s, day(m, n)) for m, n in ((2, 15), (2, 16), (4, 1), (5, 1))]
    said = [[(p.crop, p.phase, p.plants, p.provisional) for p in on] for on in found]
    assert said == [
        [],
        [("petunia", "not_said", 900, False)],
        [("petunia", "flowering", 900, False)],
        [],
    ]


def test_the_share_of_the_unit_holds_in_every_phase_until_the_end(nursery):
    bring(nursery, "North,Bay 1,petunia,,2026-02-16,2026-05-01,,60,flowering,2026-04-01,")
    phases = nursery.one(r.Planting).phases
    assert [(p.from_on, p.phase, p.area_percent) for p in phases] == [
        (day(2, 16), "not_said", 60),
        (day(4, 1), "flowering", 60),
        (day(5, 1), "gone", 0),
    ]


def test_rows_of_one_planting_are_its_phases(nursery):
    brought = bring(
        nursery,
        "North,Bay 1,petunia,,2026-02-16,,900,60,propagation,2026-02-16,",
        "North,Bay 1,petunia,,2026-02-16,,900,60,flowering,2026-04-01,",
    )
    assert len(brought.landed.recorded) == 2
    phases = nursery.one(r.Planting).phases
    assert [(p.from_on, p.phase) for p in phases] == [
        (day(2, 16), "propagation"),
        (day(4, 1), "flowering"),
    ]


def test_phases_of_one_planting_with_other_plants_are_refused(nursery):
    brought = bring(
        nursery,
        "North,Bay 1,petunia,,2026-02-16,,900,60,propagation,2026-02-16,",
        "North,Bay 1,petunia,,2026-02-16,,800,60,flowering,2026-04-01,",
    )
    assert left(brought) == ["list_said_twice", "list_said_twice"]
    assert nursery.all(r.Planting) == []


def test_a_phase_without_a_day_is_not_given_one():
    reading = read("plantings", HEADINGS, "North,Bay 1,petunia,,2026-02-16,,,,flowering,,")
    assert only(reading).phase_on is None
    assert [a.what for a in reading.assumed] == ["phase_without_day"]


def test_no_number_of_plants_is_no_movement_and_no_zero(nursery):
    bring(nursery, "North,Bay 1,petunia,,2026-02-16,,,,,,")
    assert nursery.all(r.Movement) == []
    with session(nursery.engine, nursery.operation) as s:
        assert [p.plants for p in plantings(s, day(3, 1))] == [None]


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_one_crop_after_another_fills_a_unit_in_whatever_order_the_list_has_them(nursery, order):
    """The database adds lines one by one; on no day in between may a unit be over full."""
    rows = (
        "North,Bay 1,petunia,,2026-02-16,2026-04-20,,100,,,",
        "North,Bay 1,basil,,2026-04-20,,,100,,,",
    )
    brought = bring(nursery, *(rows[n] for n in order))
    assert left(brought) == []
    assert len(nursery.all(r.Planting)) == 2


def test_more_than_all_of_a_unit_is_a_named_row_and_the_rest_is_taken(nursery):
    brought = bring(
        nursery,
        "North,Bay 1,petunia,,2026-02-16,,,70,,,",
        "North,Bay 1,basil,,2026-03-01,,,50,,,",
        "North,Bay 1,pansy,,2026-03-01,,,30,,,",
    )
    assert [(x.at.row, x.reason, x.raw) for x in brought.landed.rejects] == [
        (3, "unit_over_full", "2026-03-01: 120 %")
    ]
    assert sorted(p.crop for p in nursery.all(r.Planting)) == ["pansy", "petunia"]


def test_what_is_recorded_counts_towards_a_full_unit(nursery):
    bring(nursery, "North,Bay 1,petunia,,2026-02-16,,,70,,,")
    brought = bring(nursery, "North,Bay 1,basil,,2026-03-01,,,50,,,")
    assert left(brought) == ["unit_over_full"]


def test_an_unknown_share_fills_nothing_as_in_the_rule_of_the_database():
    known = {day(2, 1): Said("not_said", 100, None)}
    assert over_full([known, {day(2, 1): Said("not_said", None, None)}]) is None
    one = {day(2, 1): Said("not_said", 1, None)}
    assert over_full([known, one]) == (day(2, 1), 101)


def test_shares_are_rounded_down_so_that_six_sixths_fit(nursery):
    rows = [f"North,Bay 1,petunia,c{n},2026-02-16,,,16.67,,," for n in range(6)]
    brought = bring(nursery, *rows)
    assert left(brought) == []
    assert {p.phases[0].area_percent for p in nursery.all(r.Planting)} == {16}


def test_a_place_has_no_plantings(nursery):
    with writing(nursery.engine, nursery.operation) as s:
        s.add(r.Unit(kind="place", name="Door", opened_on=day(1, 1)))
    brought = bring(nursery, ",Door,petunia,,2026-02-16,,,,,,")
    assert left(brought) == ["place_has_no_plantings"]


def test_a_closed_unit_takes_no_plantings(nursery):
    life = {"opened_on": day(1, 1), "closed_on": day(2, 1)}
    with writing(nursery.engine, nursery.operation) as s:
        s.add(r.Unit(name="Bay 9", **life))
    brought = bring(nursery, ",Bay 9,petunia,,2026-02-16,,,,,,")
    assert left(brought) == ["unit_closed"]
    assert nursery.one(r.Unit).opened_on == day(1, 1)


def test_a_successor_is_not_planted_in_the_time_of_its_predecessor(nursery):
    with writing(nursery.engine, nursery.operation) as s:
        old = r.Unit(name="Bay 9", opened_on=day(1, 1), closed_on=day(3, 1))
        s.add(old)
        s.flush()
        s.add(r.Unit(name="Bay 9a", opened_on=day(3, 1), predecessor_id=old.id))
    brought = bring(nursery, ",Bay 9a,petunia,,2026-02-16,,,,,,")
    assert left(brought) == ["unit_not_open_yet"]


def test_a_unit_lives_since_its_first_planting(nursery):
    bring(nursery, "North,Bay 1,petunia,,2026-02-16,,,40,,,")
    bring(nursery, "North,Bay 1,basil,,2026-01-05,,,40,,,")
    assert nursery.one(r.Unit).opened_on == day(1, 5)


def test_a_refused_row_leaves_no_unit_and_no_house_behind(nursery):
    bring(nursery, "North,Bay 1,petunia,,2026-02-16,,,,,,no")
    brought = bring(nursery, "South,Bay 7,tomato,,2026-02-16,,,,,,no")
    assert left(brought) == ["edible_contradicts"]
    assert [h.name for h in nursery.all(r.House)] == ["North"]


def test_a_crop_nobody_knows_becomes_one_of_the_operations_own_and_is_named(nursery):
    brought = bring(nursery, "North,Bay 1,Fan flower,,2026-02-16,,,,,,no")
    assert brought.landed.crops_made == ["Fan flower"]
    crop = next(c for c in nursery.all(r.Crop) if c.code == "fan_flower")
    assert (crop.edible, crop.names) == (False, {"own": ["Fan flower"]})


def test_a_planting_only_seen_on_a_walk_is_confirmed_and_keeps_its_looks(nursery):
    with writing(nursery.engine, nursery.operation) as s:
        unit = r.Unit(name="Bay 1", opened_on=day(3, 2))
        s.add(unit)
        s.flush()
        seen = r.Planting(unit_id=unit.id, crop="petunia", provisional=True)
        seen.phases = [r.Phase(from_on=day(3, 2), phase="not_said")]
        s.add(seen)
    brought = bring(nursery, ",Bay 1,petunia,Dot,2026-02-16,,900,60,,,")
    assert brought.landed.confirmed == ["petunia Dot Bay 1 2026-02-16"]
    planting = nursery.one(r.Planting)
    assert (planting.id, planting.rev, planting.provisional) == (seen.id, 2, False)
    assert [(p.from_on, p.area_percent) for p in planting.phases] == [(day(2, 16), 60)]
    length = nursery.ledger_length()
    bring(nursery, ",Bay 1,petunia,Dot,2026-02-16,,900,60,,,")
    assert nursery.ledger_length() == length


def test_a_planting_seen_after_the_end_of_the_listed_one_is_another(nursery):
    with writing(nursery.engine, nursery.operation) as s:
        unit = r.Unit(name="Bay 1", opened_on=day(3, 2))
        s.add(unit)
        s.flush()
        seen = r.Planting(unit_id=unit.id, crop="petunia", provisional=True)
        seen.phases = [r.Phase(from_on=day(3, 2), phase="not_said")]
        s.add(seen)
    brought = bring(nursery, ",Bay 1,petunia,,2026-01-05,2026-03-02,,,,,")
    assert brought.landed.confirmed == []
    assert len(nursery.all(r.Planting)) == 2


def test_a_later_list_says_more_of_a_planting_as_a_higher_rev(nursery):
    bring(nursery, "North,Bay 1,petunia,,2026-02-16,,,60,,,")
    bring(nursery, "North,Bay 1,petunia,,2026-02-16,2026-05-01,900,60,flowering,2026-04-01,")
    planting = nursery.one(r.Planting)
    assert planting.rev == 2
    assert [(p.from_on, p.phase) for p in planting.phases] == [
        (day(2, 16), "not_said"),
        (day(4, 1), "flowering"),
        (day(5, 1), "gone"),
    ]
    assert nursery.one(r.Movement).plants == 900


@pytest.mark.parametrize(
    "row",
    [
        "North,Bay 1,petunia,,2026-02-16,,800,60,,,",
        "North,Bay 1,petunia,,2026-02-16,,900,50,,,",
        "North,Bay 1,petunia,,2026-02-16,,900,60,vegetative,2026-04-01,",
    ],
)
def test_another_word_for_a_recorded_planting_is_told_and_changes_nothing(nursery, row):
    bring(nursery, "North,Bay 1,petunia,,2026-02-16,,900,60,flowering,2026-04-01,")
    length = nursery.ledger_length()
    assert left(bring(nursery, row)) == ["differs_from_recorded"]
    assert nursery.ledger_length() == length


def test_a_voided_planting_does_not_come_back_by_itself(nursery):
    bring(nursery, "North,Bay 1,petunia,,2026-02-16,,,,,,")
    with writing(nursery.engine, nursery.operation) as s:
        s.info["void_reason"] = "wrong bay"
        s.delete(s.get_one(r.Planting, (nursery.operation, nursery.one(r.Planting).id)))
    assert left(bring(nursery, "North,Bay 1,petunia,,2026-02-16,,,,,,")) == ["voided_before"]


def test_an_area_is_a_share_of_a_unit_whose_size_is_known_and_is_told_where_it_is_not(nursery):
    with writing(nursery.engine, nursery.operation) as s:
        rectangle = {"x_m": 0, "y_m": 0, "width_m": 2, "length_m": 20}
        s.add(r.Unit(name="Bay 1", opened_on=day(1, 1), **rectangle))
    rows = (
        "Bay 1,petunia,2026-02-16,10",
        "Bay 2,petunia,2026-02-16,10",
        "Bay 1,basil,2026-02-16,41",
    )
    brought = nursery.bring("plantings", "Unit,Crop,Planted on,Area (m2)", *rows)
    shares = {p.unit_id: p.phases[0].area_percent for p in nursery.all(r.Planting)}
    named = {u.id: u.name for u in nursery.all(r.Unit)}
    assert {named[u]: share for u, share in shares.items()} == {"Bay 1": 25, "Bay 2": None}
    assert [(at.row, why) for at, why in brought.landed.not_kept] == [(3, "area_without_unit_size")]
    assert left(brought) == ["area_over_unit"]


@pytest.mark.parametrize(
    ("heading", "cell", "per_m2"),
    [
        ("Spacing (plants/m2)", "45", 45),
        ("Spacing", "45 plants/m2", 45),
        ("Plants per m2", "45", 45),
        ("Densidad (plantas/m2)", "45", 45),
        ("Pflanzen je m2", "45", 45),
        ("Spacing", "20 x 25 cm", 20),
        ("Spacing (plants/ft2)", "1", 10.763910416709722),
    ],
)
def test_spacing_is_plants_per_square_metre(heading, cell, per_m2):
    """1 ft = 0.3048 m exactly (NIST SP 811, B.8): 1/0.3048**2 = 10.76391... plants/m2."""
    reading = read("plantings", f"Unit,Crop,Planted on,{heading}", f"Bay 1,pansy,2026-02-16,{cell}")
    assert only(reading).plants_per_m2 == pytest.approx(per_m2, rel=1e-12)


def test_a_share_without_its_measure_is_asked_and_not_guessed():
    lines = "Unit,Crop,Planted on,Share", "Bay 1,pansy,2026-02-16,0.5"
    reading = read("plantings", *lines)
    assert reasons(reading) == [(2, "unit_not_said")]
    assert [(q.id, q.choices) for q in reading.asked] == [
        ("unit:area_share", ("percent", "fraction"))
    ]
    answered = read("plantings", *lines, answers={"unit:area_share": "fraction"})
    assert only(answered).area_percent == 50


def test_names_go_by_their_house_and_a_bare_name_of_two_houses_is_refused(nursery):
    bring(nursery, "North,Bay 1,petunia,,2026-02-16,,,,,,", "South,Bay 1,petunia,,2026-02-16,,,,,,")
    brought = bring(
        nursery, ",Bay 1,basil,,2026-02-16,,,,,,", ",South / Bay 1,basil,,2026-02-16,,,,,,"
    )
    assert left(brought) == ["unit_in_several_houses"]
    assert len(nursery.all(r.Unit)) == 2
