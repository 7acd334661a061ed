"""A reading lands in an operation whole or not at all, and what is there is never written over."""

import datetime as dt

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.database import session, writing
from benchwalk.records.ledger import verify
from benchwalk.records.queries import catches, units
from benchwalk.records.setup import set_up
from benchwalk.records.sheets.found import (
    At,
    Count,
    Note,
    NothingSeen,
    Reading,
    Rename,
    Treatment,
)
from benchwalk.records.sheets.landing import (
    LandingRefusedError,
    keep_names,
    land,
    own_names,
)
from benchwalk.summarise import summarise

MONDAY = dt.date(2024, 5, 6)
DAY = dt.timedelta(days=1)


def count(row=2, **said):
    known = {
        "at": At(row, "Count"),
        "on": MONDAY,
        "house": "Range C",
        "unit": "Range C / Bay 1",
        "unit_raw": "Bay 1",
        "method": "plant_count",
        "sampling_unit": "plant",
        "taxon": "whitefly",
        "taxon_raw": "wf",
        "stage": "nymph",
        "how": "counted",
        "value": 3,
        "raw": "3",
        "plant": "1",
        "plants": 1,
        "crop": "tomato",
        "scout": "IQ",
    }
    return Count(**known | said)


def card(row=2, **said):
    known = {"method": "yellow_card", "sampling_unit": "card", "plant": None, "plants": None}
    pest = {"taxon": "fungus_gnat", "stage": "adult"}
    return count(row, **known | pest | said)


def reading(*records, **more):
    columns = {"file": "sheet.csv", "sha256": "0" * 64, "encoding": "utf-8", "delimiter": ","}
    return Reading(**columns, mapping={}, records=records, **more)


def landed(engine, operation, held):
    with writing(engine, operation) as s:
        return land(s, held)


def all_of(engine, operation, model):
    with session(engine, operation) as s:
        return s.scalars(sa.select(model)).all()


def ledger_length(engine, operation):
    with session(engine, operation) as s:
        return s.scalar(sa.select(sa.func.max(r.Ledger.seq)))


def test_into_an_empty_operation_goes_a_house_a_unit_a_planting_a_walk_and_a_look(
    engine, operation
):
    found = landed(engine, operation, reading(count()))
    with session(engine, operation) as s:
        place = units(s)[0]
        look = s.scalars(sa.select(r.Observation)).one()
        planting = s.scalars(sa.select(r.Planting)).one()
        assert (place.full_name, place.on_plan, place.opened_on) == (
            "Range C / Bay 1",
            False,
            MONDAY,
        )
        assert (look.why, look.why_assumed, look.plants, look.position) == ("sample", True, 1, "1")
        assert (planting.crop, planting.provisional) == ("tomato", True)
        assert [(p.phase, p.area_percent) for p in planting.phases] == [("not_said", None)]
        assert verify(s, operation) is None
    assert (found.counts, found.units_made) == (1, ["Range C / Bay 1"])


def test_the_scout_is_a_person_and_the_ledger_holds_no_initials(engine, operation):
    landed(engine, operation, reading(count()))
    person = all_of(engine, operation, r.Person)[0]
    assert (person.name, person.pseudonym) == ("IQ", "scout 1")
    said = " ".join(x.body for x in all_of(engine, operation, r.Ledger))
    assert "IQ" not in said


def test_the_same_sheet_twice_adds_nothing(engine, operation):
    held = reading(
        count(),
        count(3, taxon="thrips", stage="larva", value=0, raw="0"),
        card(4),
        nothing_seen=(
            NothingSeen(At(5), MONDAY, "Range C", "Range C / Bay 1", "plant_count", "2", 1),
        ),
        treatments=(
            Treatment(
                At(6), MONDAY, "Range C", ("Range C / Bay 1",), "soap", "spray", "soap", None
            ),
        ),
    )
    landed(engine, operation, held)
    before = ledger_length(engine, operation)
    again = landed(engine, operation, held)
    assert ledger_length(engine, operation) == before
    assert (again.new, again.counts, again.conflicts) == (0, 0, [])
    assert [at.row for at in again.already_there] == [2, 3, 5, 4, 6]


def test_another_number_for_a_recorded_count_is_told_and_nothing_is_written_over(engine, operation):
    landed(engine, operation, reading(count()))
    found = landed(engine, operation, reading(count(value=9, raw="9")))
    assert [(c.at.row, c.recorded, c.written) for c in found.conflicts] == [(2, "3", "9")]
    assert [t.number for t in all_of(engine, operation, r.Tally)] == [3]


def test_one_more_pest_on_a_recorded_plant_is_added_to_its_look_as_a_higher_rev(engine, operation):
    landed(engine, operation, reading(count()))
    found = landed(engine, operation, reading(count(), count(3, stage="adult", value=1, raw="1")))
    look = all_of(engine, operation, r.Observation)
    assert [x.rev for x in look] == [2]
    assert sorted(t.stage for t in all_of(engine, operation, r.Tally)) == ["adult", "nymph"]
    assert (found.counts, len(found.already_there)) == (1, 1)


def test_two_pests_of_one_plant_are_one_look_and_another_plant_is_another(engine, operation):
    landed(
        engine,
        operation,
        reading(count(), count(3, taxon="thrips", stage="larva"), count(4, plant="2")),
    )
    assert len(all_of(engine, operation, r.Observation)) == 2


def test_stages_that_overlap_are_counted_once_and_told(engine, operation):
    mites = {"taxon": "two_spotted_spider_mite"}
    found = landed(
        engine,
        operation,
        reading(count(**mites, stage="motile", value=5), count(3, **mites, stage="adult", value=2)),
    )
    assert [(t.stage, t.number) for t in all_of(engine, operation, r.Tally)] == [("motile", 5)]
    assert [(o.at.row, o.taken, o.stage) for o in found.overlaps] == [(3, "motile", "adult")]
    assert found.counts == 1


def test_a_crop_nobody_knows_becomes_the_operations_own(engine, operation):
    landed(engine, operation, reading(count(crop="Petchoa mix")))
    landed(engine, operation, reading(count(3, crop="petchoa  MIX", plant="2")))
    own = [c for c in all_of(engine, operation, r.Crop) if c.source is None]
    assert [(c.code, c.names, c.parent) for c in own] == [
        ("petchoa_mix", {"own": ["Petchoa mix"]}, "any_crop")
    ]
    assert [p.crop for p in all_of(engine, operation, r.Planting)] == ["petchoa_mix"]


def test_no_row_for_a_pest_is_no_zero(engine, operation):
    landed(engine, operation, reading(count(), count(3, plant="2", taxon="thrips", stage="larva")))
    tallies = all_of(engine, operation, r.Tally)
    assert sorted((t.taxon, t.number) for t in tallies) == [("thrips", 3), ("whitefly", 3)]


def test_nothing_seen_is_a_look_with_effort_and_without_tallies(engine, operation):
    seen = NothingSeen(At(2), MONDAY, "Range C", "Range C / Bay 1", "plant_count", "5", 1, "tomato")
    landed(engine, operation, reading(nothing_seen=(seen,)))
    assert len(all_of(engine, operation, r.Examined)) == 1
    assert all_of(engine, operation, r.Tally) == []


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ({"how": "at_least", "value": 51, "raw": ">50"}, ("at_least", 51, None, None)),
        ({"how": "present", "value": None, "raw": "tntc"}, ("present", None, None, None)),
        ({"how": "density", "value": 3.5, "raw": "3.5"}, ("density", None, 3.5, None)),
        (
            {"how": "infested", "value": 4, "of": 25, "raw": "4/25", "plants": None},
            ("present", None, None, 4),
        ),
        (
            {"how": "infested", "value": 0, "of": 25, "raw": "0/25", "plants": None},
            ("counted", 0, None, 0),
        ),
    ],
)
def test_every_kind_of_count_is_kept_as_what_it_says(engine, operation, said, kept):
    landed(engine, operation, reading(count(**said)))
    t = all_of(engine, operation, r.Tally)[0]
    assert (t.how, t.number, t.mean, t.infested) == kept


def test_infested_of_25_is_a_look_at_25_plants(engine, operation):
    landed(
        engine, operation, reading(count(how="infested", value=4, of=25, raw="4/25", plants=None))
    )
    assert all_of(engine, operation, r.Observation)[0].plants == 25
    with session(engine, operation) as s:
        assert summarise(s).units[0].lines[0].infested_percent[0] == 16.0


def test_a_look_at_nobody_knows_how_many_plants_keeps_its_silence(engine, operation):
    landed(engine, operation, reading(count(plant=None, plants=None, lacks=("plants",))))
    assert all_of(engine, operation, r.Observation)[0].plants is None


def test_a_card_without_a_day_out_has_no_day_out(engine, operation):
    landed(engine, operation, reading(card(lacks=("exposure",))))
    hung = all_of(engine, operation, r.Card)[0]
    assert hung.hung_at is None
    station = all_of(engine, operation, r.Station)[0]
    assert station.code == "Range C / Bay 1 / yellow_card"


def test_a_card_with_days_and_squares_makes_a_rate(engine, operation):
    zone = dt.UTC
    out = MONDAY - 7 * DAY
    landed(
        engine,
        operation,
        reading(card(hung_on=out, station="K1", squares_counted=8, squares_printed=24)),
    )
    with session(engine, operation) as s:
        c = catches(s, MONDAY, MONDAY, zone)[0]
    assert (c.station, c.days, c.squares, c.of_squares, c.fresh) == ("K1", 7, 8, 24, 3)


def test_two_pests_on_one_card_are_one_reading(engine, operation):
    landed(
        engine,
        operation,
        reading(card(station="K1"), card(3, station="K1", taxon="western_flower_thrips")),
    )
    assert len(all_of(engine, operation, r.Card)) == 1
    assert len(all_of(engine, operation, r.Observation)) == 1


def test_a_units_name_is_the_same_without_case_and_double_spaces(engine, operation):
    landed(engine, operation, reading(count()))
    landed(
        engine, operation, reading(count(3, unit="range c / BAY  1", house="range C", plant="9"))
    )
    assert len(all_of(engine, operation, r.Unit)) == 1


def test_two_houses_may_each_have_a_bay_1(engine, operation):
    landed(engine, operation, reading(count(), count(3, house="Range D", unit="Range D / Bay 1")))
    assert len(all_of(engine, operation, r.Unit)) == 2


def test_without_a_house_column_the_only_unit_of_that_name_is_meant(engine, operation):
    landed(engine, operation, reading(count()))
    landed(engine, operation, reading(count(3, house=None, unit="Bay 1", plant="7")))
    assert len(all_of(engine, operation, r.Unit)) == 1
    assert len(all_of(engine, operation, r.Observation)) == 2


def test_an_older_sheet_lengthens_a_units_life_backwards(engine, operation):
    landed(engine, operation, reading(count()))
    landed(engine, operation, reading(count(3, on=MONDAY - 30 * DAY)))
    unit = all_of(engine, operation, r.Unit)[0]
    planting = all_of(engine, operation, r.Planting)[0]
    assert (unit.opened_on, unit.rev) == (MONDAY - 30 * DAY, 2)
    assert [p.from_on for p in planting.phases] == [MONDAY - 30 * DAY]


def test_a_count_after_a_unit_was_closed_refuses_the_file_and_keeps_nothing(engine, operation):
    landed(engine, operation, reading(count()))
    with writing(engine, operation) as s:
        s.scalars(sa.select(r.Unit)).one().closed_on = MONDAY + DAY
    before = ledger_length(engine, operation)
    late = reading(count(3, unit="Range C / Bay 9"), count(4, on=MONDAY + 7 * DAY))
    with pytest.raises(LandingRefusedError, match="unit Bay 1 was closed on 2024-05-07"):
        landed(engine, operation, late)
    assert ledger_length(engine, operation) == before
    assert len(all_of(engine, operation, r.Unit)) == 1


def test_a_stated_rename_is_one_unit_that_answers_to_both_names(engine, operation):
    told = Rename("North 3", "N3", dt.date(2024, 6, 3), At(41), stated=True)
    landed(engine, operation, reading(count(house=None, unit="N3"), renames=(told,)))
    landed(engine, operation, reading(count(3, house=None, unit="North 3", plant="2")))
    unit = all_of(engine, operation, r.Unit)
    assert [(u.name, u.former_names) for u in unit] == [("N3", {"North 3": "2024-06-03"})]


def test_a_rename_of_a_recorded_unit_is_a_new_rev_with_a_dated_alias(engine, operation):
    landed(engine, operation, reading(count(house=None, unit="North 3")))
    told = Rename("North 3", "N3", dt.date(2024, 6, 3), At(41), stated=True)
    landed(engine, operation, reading(count(3, house=None, unit="N3", plant="2"), renames=(told,)))
    unit = all_of(engine, operation, r.Unit)[0]
    assert (unit.name, unit.former_names, unit.rev) == ("N3", {"North 3": "2024-06-03"}, 2)


def test_an_unstated_rename_merges_nothing(engine, operation):
    landed(engine, operation, reading(count(house=None, unit="North 3")))
    told = Rename("North 3", "N3", None, At(41), stated=False)
    landed(engine, operation, reading(count(3, house=None, unit="N3", plant="2"), renames=(told,)))
    assert sorted(u.name for u in all_of(engine, operation, r.Unit)) == ["N3", "North 3"]


def test_a_treatment_has_one_load_of_which_only_the_day_is_known(engine, operation):
    sprayed = Treatment(
        At(2, "Remarks"),
        MONDAY,
        "Range C",
        ("Range C / Bay 1",),
        "sprayed 5/6, soap",
        "spray",
        "insecticidal soap",
        "potassium salts of fatty acids",
    )
    landed(engine, operation, reading(count(), treatments=(sprayed,)))
    application = all_of(engine, operation, r.Application)[0]
    assert (application.kind, application.note) == ("spray", "sprayed 5/6, soap")
    assert [(x.precision, [t.share_percent for t in x.treated]) for x in application.loads] == [
        ("day", [100])
    ]


def test_one_treatment_told_in_two_remarks_is_one_application(engine, operation):
    told = [
        Treatment(At(row), MONDAY, "Range C", ("Range C / Bay 1",), words, "spray", "soap", None)
        for row, words in ((2, "sprayed 5/6, soap"), (9, "soap on 5/6"))
    ]
    found = landed(engine, operation, reading(count(), treatments=tuple(told)))
    assert len(all_of(engine, operation, r.Application)) == 1
    assert [at.row for at in found.already_there] == [9]


def test_a_treatment_without_a_day_stays_a_remark_of_its_row(engine, operation):
    unclear = Treatment(At(2), None, "Range C", ("Range C / Bay 1",), "soap?", "spray", None, None)
    found = landed(engine, operation, reading(count(), treatments=(unclear,)))
    assert all_of(engine, operation, r.Application) == []
    assert found.undated == [unclear]
    assert all_of(engine, operation, r.Observation)[0].note == "soap?"


def test_a_remark_is_kept_as_the_text_it_is(engine, operation):
    text = '=HYPERLINK("http://example.invalid/x","see")'
    note = Note(At(2, "Notes"), text, MONDAY, "Range C", "Range C / Bay 1", hostile=True)
    landed(engine, operation, reading(count(), notes=(note,)))
    assert all_of(engine, operation, r.Observation)[0].note == text


def test_names_a_person_agreed_to_become_the_operations_own(engine, operation):
    with writing(engine, operation) as s:
        assert keep_names(s, {"thirps": "thrips"}) == 1
    with writing(engine, operation) as s:
        assert keep_names(s, {"Thirps": "thrips"}) == 0
    with session(engine, operation) as s:
        assert own_names(s) == {"thirps": "thrips"}


def test_two_operations_import_one_sheet_without_meeting(engine, operation):
    other = set_up(engine, "Another (invented)", "Europe/Madrid").operation
    landed(engine, operation, reading(count()))
    landed(engine, other, reading(count()))
    ids = {n: {x.id for x in all_of(engine, n, r.Observation)} for n in (operation, other)}
    assert len(ids[operation] & ids[other]) == 0


@pytest.mark.parametrize(("what", "kind"), [("weeding", "weed"), ("pruning", "clean")])
def test_work_in_the_crop_is_recorded_as_a_kind_that_records_know(engine, operation, what, kind):
    done = Treatment(
        at=At(2, "Notes"),
        on=MONDAY,
        house="Range C",
        units=("Range C / Bay 1",),
        raw=f"{what} 5/6",
        kind="cultural",
        what=what,
        active=None,
    )
    landed(engine, operation, reading(count(), treatments=(done,)))
    assert [a.kind for a in all_of(engine, operation, r.Application)] == [kind]


def test_a_remark_below_a_day_stays_with_the_looks_of_that_day(engine, operation):
    one = count(at=At(6, sheet="Bay 1", cell="B6", line=(0, 2)))
    other = count(at=At(6, sheet="Bay 1", cell="C6", line=(0, 3)), on=MONDAY + 7 * DAY)
    below = At(13, sheet="Bay 1", cell="C13", line=(0, 3))
    remark = Note(below, "plants moved", other.on, "Range C", "Range C / Bay 1", False)
    landed(engine, operation, reading(one, other, notes=(remark,)))
    said = {(o.seen_at.date(), o.note) for o in all_of(engine, operation, r.Observation)}
    assert said == {(MONDAY, None), (MONDAY + 7 * DAY, "plants moved")}


def test_a_mean_per_leaf_is_kept_as_a_count_on_leaves_and_never_as_one_on_plants(engine, operation):
    mean = count(how="density", value=2.5, sampling_unit="leaf", plant=None, plants=10)
    landed(engine, operation, reading(mean))
    assert [t.method for t in all_of(engine, operation, r.Tally)] == ["leaf_count"]


def test_counts_on_leaves_keep_how_many_leaves_and_say_nothing_of_plants(engine, operation):
    on_leaves = count(sampling_unit="leaf", items=30, plant=None, plants=None)
    landed(engine, operation, reading(on_leaves))
    look = all_of(engine, operation, r.Observation)[0]
    assert look.plants is None
    assert [(e.method, e.items) for e in look.examined] == [("leaf_count", 30)]


def test_counts_of_one_bench_on_other_numbers_of_leaves_are_looks_of_their_own(engine, operation):
    on_leaves = {"sampling_unit": "leaf", "plant": None, "plants": None}
    mites = count(items=30, taxon="spider_mite", stage="any", **on_leaves)
    landed(engine, operation, reading(mites, count(3, items=20, **on_leaves)))
    looks = all_of(engine, operation, r.Observation)
    assert sorted(e.items for o in looks for e in o.examined) == [20, 30]


def test_two_rounds_of_a_day_are_two_looks_at_their_times_and_a_second_import_adds_none(
    engine, operation
):
    rounds = reading(count(time="08:05"), count(3, time="16:00", value=5, raw="5"))
    landed(engine, operation, rounds)
    seen = sorted(o.seen_at for o in all_of(engine, operation, r.Observation))
    assert seen[1] - seen[0] == dt.timedelta(hours=7, minutes=55)
    before = ledger_length(engine, operation)
    assert len(landed(engine, operation, rounds).already_there) == 2
    assert ledger_length(engine, operation) == before


def test_a_round_of_which_only_the_half_of_the_day_is_said_has_no_hour_made_up(engine, operation):
    landed(engine, operation, reading(count(time="am"), count(3, time="pm", value=5, raw="5")))
    looks = all_of(engine, operation, r.Observation)
    assert len(looks) == 2
    assert len({o.seen_at for o in looks}) == 1
