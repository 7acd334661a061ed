"""A sheet longer than a batch lands as a short one does, and what is recorded is read in bulk."""

import datetime as dt
import json

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.base import Base
from benchwalk.records.database import session, writing
from benchwalk.records.ledger import BATCH, batches, body, verify, write_in_order
from benchwalk.records.plain import Plain, plain
from benchwalk.records.sheets.found import At, Note, NothingSeen, Treatment
from tests.records.test_landing import MONDAY, all_of, card, count, landed, ledger_length, reading

MANY = 2 * BATCH + 7
RECORDS = {m.class_.__tablename__: m.class_ for m in Base.registry.mappers}


def a_count_on_each_of(plants, **said):
    return [count(n, plant=str(n), value=n % 4, raw=str(n % 4), **said) for n in range(plants)]


def some_of_everything():
    sprayed = Treatment(
        At(6), MONDAY, "Range C", ("Range C / Bay 1",), "soap", "spray", "soap", None
    )
    return reading(
        count(),
        count(3, taxon="thrips", stage="larva", how="present", value=None, raw="tntc"),
        card(4, station="K1", squares_counted=8, squares_printed=24),
        count(5, crop=None, scout=None, how="infested", value=0, of=25, plant=None, plants=None),
        nothing_seen=(NothingSeen(At(7), MONDAY, None, "Bay 1", "plant_count", "2", 1),),
        treatments=(sprayed,),
        notes=(Note(At(2, "Notes"), "wilted", MONDAY, "Range C", "Range C / Bay 1", False),),
    )


def statements(engine):
    """Everything sent to the database from here on."""
    sent = []
    sa.event.listen(engine, "before_cursor_execute", lambda *said: sent.append(said[2]))
    return sent


@pytest.mark.parametrize("number", [0, 1, BATCH - 1, BATCH, BATCH + 1, MANY])
def test_batches_hold_everything_once_and_in_order(number):
    held = list(batches(range(number)))
    assert [n for batch in held for n in batch] == list(range(number))
    assert all(len(batch) == BATCH for batch in held[:-1])
    assert [] not in held


def test_records_of_several_batches_are_one_chain_and_refer_to_each_other(engine, operation):
    found = landed(engine, operation, reading(*a_count_on_each_of(MANY)))
    with session(engine, operation) as s:
        assert verify(s, operation) is None
        seqs = s.scalars(sa.select(r.Ledger.seq).order_by(r.Ledger.seq)).all()
        kinds = s.scalars(sa.select(r.Ledger.kind)).all()
        looks = s.scalars(sa.select(r.Observation)).all()
        numbers = {(int(o.position), o.examined[0].tallies[0].number) for o in looks}
    assert numbers == {(n, n % 4) for n in range(MANY)}
    assert seqs == list(range(1, len(seqs) + 1))
    assert kinds.count("observation") == found.counts == MANY


def test_records_are_made_while_they_are_written_and_not_all_before(engine, operation):
    made = []

    def walks():
        for n in range(MANY):
            made.append(n)
            yield Plain(r.Walk, walk_on=MONDAY + dt.timedelta(days=n))

    sent = statements(engine)
    made_at_first_write = []
    sa.event.listen(
        engine,
        "before_cursor_execute",
        lambda *said: made_at_first_write.append(len(made)) if "INTO walk" in said[2] else None,
    )
    with writing(engine, operation) as s:
        assert write_in_order(s, walks()) == MANY
    assert made_at_first_write == [BATCH, 2 * BATCH, MANY]
    assert sum("INTO walk" in one for one in sent) == 3


def test_a_rule_broken_in_the_last_batch_leaves_nothing_of_the_first(engine, operation):
    before = ledger_length(engine, operation)
    walks = [Plain(r.Walk, walk_on=MONDAY) for _ in range(MANY)]
    nowhere = Plain(r.Visit, walk_id=r.uuid7(), unit_id=r.uuid7(), state="done")
    with (
        pytest.raises(sa.exc.IntegrityError, match=r"(?i)foreign key"),
        writing(engine, operation) as s,
    ):
        write_in_order(s, [*walks, nowhere])
    assert ledger_length(engine, operation) == before
    assert all_of(engine, operation, r.Walk) == []


def test_every_body_of_the_ledger_gives_back_the_row_that_stands(engine, operation):
    landed(engine, operation, some_of_everything())
    landed(engine, operation, reading(count(9, stage="adult", value=1, raw="1")))
    with session(engine, operation) as s:
        newest = {said.id: said for said in s.scalars(sa.select(r.Ledger).order_by(r.Ledger.seq))}
        for said in newest.values():
            row = s.get_one(RECORDS[said.kind], (operation, said.id))
            assert row.rev == said.rev
            assert without_keys(said.body) == without_keys(
                json.dumps(body(plain(row)), default=str)
            )
        kinds = {said.kind for said in newest.values()}
        assert {"observation", "card", "application", "visit", "planting"} <= kinds


TAKEN = {"examined": ("observation_id",), "tallies": ("observation_id", "method")}
TAKEN |= {"loads": ("application_id",), "treated": ("application_id", "n")}
TAKEN |= {"phases": ("planting_id",)}


def without_keys(text):
    """A body without the keys that lines take from where they stand; instants in one zone."""
    return json.dumps(json.loads(text, object_hook=_plainly), sort_keys=True)


def _plainly(held):
    for name in (n for n in TAKEN if isinstance(held.get(n), list)):
        for line in held[name]:
            for key in line.keys() & set(TAKEN[name]):
                del line[key]
        held[name].sort(key=lambda line: json.dumps(line, sort_keys=True))
    for name in (n for n in held if n.endswith("_at")):
        held[name] = dt.datetime.fromisoformat(held[name]).astimezone(dt.UTC).isoformat()
    return held


def test_a_long_sheet_twice_adds_nothing_and_is_told_in_its_own_order(engine, operation):
    held = reading(*reversed(a_count_on_each_of(MANY)))
    landed(engine, operation, held)
    before = ledger_length(engine, operation)
    again = landed(engine, operation, held)
    assert [at.row for at in again.already_there] == list(reversed(range(MANY)))
    assert (again.new, again.counts, ledger_length(engine, operation)) == (0, 0, before)


def test_what_is_recorded_is_asked_for_in_batches_and_not_look_by_look(engine, operation):
    held = reading(*a_count_on_each_of(MANY))
    landed(engine, operation, held)
    sent = statements(engine)
    landed(engine, operation, held)
    assert sum("FROM tally" in one for one in sent) == 3
    assert len(sent) < 40


def test_one_more_pest_on_many_recorded_plants_is_one_more_rev_of_each(engine, operation):
    landed(engine, operation, reading(*a_count_on_each_of(BATCH + 9)))
    sent = statements(engine)
    more = a_count_on_each_of(BATCH + 9, taxon="thrips", stage="larva")
    found = landed(engine, operation, reading(*more))
    assert (found.new, found.counts, found.already_there) == (0, BATCH + 9, [])
    assert len(sent) < 120, "looks were read or written one by one"
    with session(engine, operation) as s:
        assert verify(s, operation) is None
        revs = s.scalars(sa.select(r.Observation.rev)).all()
        assert revs == [2] * (BATCH + 9)
        taxa = s.scalars(sa.select(r.Tally.taxon).where(r.Tally.rev == 2)).all()
        assert sorted(taxa) == ["thrips"] * (BATCH + 9) + ["whitefly"] * (BATCH + 9)


def test_a_stage_that_overlaps_a_recorded_one_is_told_and_not_added(engine, operation):
    mites = {"taxon": "two_spotted_spider_mite"}
    landed(engine, operation, reading(count(**mites, stage="motile", value=5, raw="5")))
    found = landed(engine, operation, reading(count(3, **mites, stage="adult", value=2, raw="2")))
    assert [(o.at.row, o.taken, o.stage) for o in found.overlaps] == [(3, "motile", "adult")]
    assert (found.counts, [o.rev for o in all_of(engine, operation, r.Observation)]) == (0, [1])


def test_another_number_for_a_pest_added_by_the_same_sheet_is_no_second_row(engine, operation):
    landed(engine, operation, reading(count()))
    twice = [count(n, stage="adult", value=n, raw=str(n)) for n in (3, 4)]
    found = landed(engine, operation, reading(*twice))
    assert [(c.at.row, c.recorded, c.written) for c in found.conflicts] == [(4, "3", "4")]
    assert sorted(t.number for t in all_of(engine, operation, r.Tally)) == [3, 3]


def test_one_place_in_two_spellings_is_one_walk_one_visit_and_one_look(engine, operation):
    other = {"house": "range  c", "unit": "RANGE C / bay  1", "scout": "iq"}
    landed(engine, operation, reading(count(), count(3, stage="adult", **other)))
    for model in (r.Unit, r.Walk, r.Visit, r.Observation, r.Planting):
        assert len(all_of(engine, operation, model)) == 1, model


def test_one_plant_on_two_days_or_by_two_scouts_is_looked_at_more_than_once(engine, operation):
    later = MONDAY + dt.timedelta(days=7)
    landed(engine, operation, reading(count(), count(3, on=later), count(4, scout="AB")))
    looks = all_of(engine, operation, r.Observation)
    assert len({o.walk_id for o in looks}) == len(looks) == 3


def test_a_count_elsewhere_after_a_unit_was_closed_is_taken(engine, operation):
    landed(engine, operation, reading(count()))
    with writing(engine, operation) as s:
        s.scalars(sa.select(r.Unit)).one().closed_on = MONDAY + dt.timedelta(days=1)
    later = count(4, on=MONDAY + dt.timedelta(days=7), unit="Range C / Bay 9")
    assert landed(engine, operation, reading(count(3, plant="2"), later)).counts == 2


def test_a_remark_stays_with_the_row_of_its_own_page(engine, operation):
    pages = [At(2, "Count", sheet="North"), At(2, "Count", sheet="South")]
    looks = [count(at=at, plant=str(n)) for n, at in enumerate(pages)]
    wilted = Note(At(2, "Notes", "South"), "wilted", MONDAY, None, None, hostile=False)
    landed(engine, operation, reading(*looks, notes=(wilted,)))
    notes = {o.position: o.note for o in all_of(engine, operation, r.Observation)}
    assert notes == {"0": None, "1": "wilted"}


def test_remarks_of_a_row_keep_their_order_and_one_said_twice_is_kept_once(engine, operation):
    said = [(2, "wilted"), (3, "by the door"), (2, "b"), (3, "wilted")]
    notes = [Note(At(row), text, MONDAY, None, None, hostile=False) for row, text in said]
    unclear = Treatment(At(2), None, None, ("Bay 1",), "soap?", "spray", None, None)
    held = reading(count(3), count(2, stage="adult"), notes=tuple(notes), treatments=(unclear,))
    landed(engine, operation, held)
    [look] = all_of(engine, operation, r.Observation)
    assert look.note == "wilted\nby the door\nb\nsoap?"
