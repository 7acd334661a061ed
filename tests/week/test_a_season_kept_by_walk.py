"""After any write the counts that are kept, of which only the touched were read again, are those
that a reader finds who reads everything."""

from __future__ import annotations

import random
import re

import pytest
from sqlalchemy import event, select

import benchwalk.records as r
from benchwalk.records import queries
from benchwalk.records.base import Record
from benchwalk.records.database import session, writing
from benchwalk.summarise import season, summarise
from benchwalk.summarise.gathered import LEARN_DAYS, gather
from benchwalk.summarise.kept import KeptWeeks
from benchwalk.summarise.season import Season
from tests.week.nursery import MONDAY, WEEK, noon

STEPS = 25


@pytest.fixture
def walked(nursery):
    """Two benches counted on plants and cards for three weeks."""
    nursery.benches = [nursery.unit(f"Bench {n}", "poinsettia", 500) for n in (1, 2)]
    nursery.threshold("poinsettia", 2.0)
    nursery.cards = {}
    for back in (2, 1, 0):
        on = MONDAY - back * WEEK
        for bench in nursery.benches:
            nursery.looks(bench, [0, 1, 3], on=on)
            held = nursery.cards.get(bench.id)
            nursery.cards[bench.id] = nursery.card(bench, 9 - back, on, on - WEEK, reuse=held)
    nursery.day = MONDAY
    return nursery


def of(nursery, kept):
    """What was gathered and made of it: kept, and read anew."""
    with session(nursery.engine, nursery.n) as s:
        known, new = kept(s), summarise(s)
    return known, new


def the_same(known, new):
    for counts in ("rounds", "efforts", "catches"):
        assert sorted(getattr(known.known, counts), key=str) == sorted(
            getattr(new.known, counts), key=str
        ), counts
    for said in ("first_found", "since", "day", "newest_seq"):
        assert getattr(known.known, said) == getattr(new.known, said), said
    assert set(known.history) == set(new.history)
    assert words(known.units) == words(new.units)
    assert known.counts == new.counts
    assert known.not_looked == new.not_looked


def words(units):
    """In words, since no NaN is equal to another, and with thresholds by their id."""
    rules = [line.rule and line.rule.threshold.id for unit in units for line in unit.lines]
    return re.sub(r"object at \w+", "", repr(units)), rules


def looked(n, any_of):
    bench, on = any_of(n.benches), n.day - any_of((0, 0, 1, 2, 9)) * WEEK
    n.looks(bench, [any_of((0, 2, "5+", "present", None))], on=on, why=any_of(("sample", "edge")))


def read(n, any_of):
    bench = any_of(n.benches)
    n.card(bench, any_of((0, 3, 40)), n.day, n.day - WEEK, reuse=n.cards[bench.id])


def next_week(n, any_of):
    n.day += WEEK
    n.looks(any_of(n.benches), [any_of((0, 7))], on=n.day, taxon="western_flower_thrips")


def corrected(n, any_of):
    with writing(n.engine, n.n) as s:
        tallies = s.scalars(select(r.Tally).where(r.Tally.how == "counted")).all()
        any_of(tallies).number = any_of((0, 1, 50))


def voided(n, any_of):
    with writing(n.engine, n.n) as s:
        s.info["void_reason"] = "wrong bench"
        s.delete(any_of(s.scalars(select(r.Observation).order_by(r.Observation.id)).all()))


def moved_to_another_day(n, any_of):
    with writing(n.engine, n.n) as s:
        walk = any_of(s.scalars(select(r.Walk).order_by(r.Walk.walk_on)).all()[:-1])
        walk.walk_on -= any_of((1, 3)) * WEEK / 7
    n.walks = {}
    n.visited = set()
    with session(n.engine, n.n) as s:
        n.walks = {walk.walk_on: walk for walk in s.scalars(select(r.Walk))}
        days = {walk.id: walk.walk_on for walk in n.walks.values()}
        n.visited = {(days.get(v.walk_id), v.unit_id) for v in s.scalars(select(r.Visit))}


def said_to_be_of_the_other_bench(n, any_of):
    """A look keyed to the wrong bench of the same walk."""
    with writing(n.engine, n.n) as s:
        look = any_of(s.scalars(select(r.Observation).where(r.Observation.kind == "look")).all())
        there = s.scalars(select(r.Visit.unit_id).where(r.Visit.walk_id == look.walk_id)).all()
        look.unit_id = any_of(sorted(there))


def said_to_be_of_another_walk(n, any_of):
    with writing(n.engine, n.n) as s:
        look = any_of(s.scalars(select(r.Observation).where(r.Observation.kind == "look")).all())
        there = select(r.Visit.walk_id).where(r.Visit.unit_id == look.unit_id)
        look.walk_id = any_of(sorted(s.scalars(there)))


def hung_on_another_day(n, any_of):
    with writing(n.engine, n.n) as s:
        card = any_of(s.scalars(select(r.Card)).all())
        card.hung_at = noon(MONDAY - any_of((3, 4, 5)) * WEEK)


def at_the_door(n, any_of):
    with writing(n.engine, n.n) as s:
        any_of(s.scalars(select(r.Station)).all()).role = any_of(("interior", "door"))


def a_threshold(n, any_of):
    n.threshold("poinsettia", any_of((1.0, 4.0)), from_on=n.day)


def a_bench(n, any_of):
    bench = n.unit(f"Bench {len(n.benches) + 1}", "poinsettia", 100)
    n.benches.append(bench)
    n.cards[bench.id] = n.card(bench, 1, n.day, n.day - WEEK)


WRITES = (
    *(looked, read, next_week, corrected, voided, moved_to_another_day),
    *(
        said_to_be_of_the_other_bench,
        said_to_be_of_another_walk,
        hung_on_another_day,
        at_the_door,
        a_threshold,
        a_bench,
    ),
)


def test_after_every_kind_of_write_the_kept_season_is_the_one_that_is_read_anew(walked):
    kept, any_of = KeptWeeks(), random.Random(20260302).choice
    the_same(*of(walked, kept))
    for write in WRITES:
        write(walked, any_of)
        the_same(*of(walked, kept))


def test_where_the_first_find_is_taken_back_the_next_one_is_the_first(walked):
    kept, last = KeptWeeks(), MONDAY - 3 * WEEK
    walked.looks(walked.benches[0], [5], on=last, taxon="green_peach_aphid", stage="motile")
    walked.looks(walked.benches[0], [7], taxon="green_peach_aphid", stage="motile")
    of_bench = (walked.benches[0].id, "green_peach_aphid")
    assert of(walked, kept)[0].known.first_found[of_bench] == last
    with writing(walked.engine, walked.n) as s:
        s.scalars(select(r.Tally).where(r.Tally.number == 5)).one().number = 0
    known, new = of(walked, kept)
    the_same(known, new)
    assert known.known.first_found[of_bench] == MONDAY


def test_a_look_that_was_keyed_to_the_wrong_walk_is_no_longer_of_that(walked):
    kept = KeptWeeks()
    of(walked, kept)
    with writing(walked.engine, walked.n) as s:
        was = r.Observation.walk_id == walked.walks[MONDAY].id
        look = s.scalars(select(r.Observation).where(was, r.Observation.kind == "look")).first()
        look.walk_id = walked.walks[MONDAY - WEEK].id
    the_same(*of(walked, kept))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2))
def test_after_any_history_of_writes_the_kept_season_is_the_one_that_is_read_anew(walked, seed):
    drawn, kept = random.Random(seed), KeptWeeks()
    of(walked, kept)
    for _ in range(STEPS):
        for _ in range(drawn.choice((1, 1, 3))):
            drawn.choice(WRITES)(walked, drawn.choice)
        the_same(*of(walked, kept))


def test_of_a_look_that_is_recorded_only_its_walk_is_read_again(walked):
    kept = KeptWeeks()
    known, _ = of(walked, kept)
    before = {id(x) for x in known.known.rounds}
    walked.looks(walked.benches[0], [4])
    known, new = of(walked, kept)
    the_same(known, new)
    of_walk = [x for x in known.known.rounds if x.walk_id == walked.walks[MONDAY].id]
    again = [x for x in known.known.rounds if id(x) not in before]
    assert again == of_walk
    assert len(known.known.rounds) > len(of_walk), "there are rounds that were not read again"


def asked_by(engine, what):
    """The statements that something sends."""
    sent = []

    def note(_, __, statement, *___):
        sent.append(statement)

    event.listen(engine, "before_cursor_execute", note)
    what()
    event.remove(engine, "before_cursor_execute", note)
    return sent


def test_vocabulary_and_cards_are_not_asked_for_again_where_nothing_touched_them(walked):
    kept = KeptWeeks()
    of(walked, kept)
    walked.looks(walked.benches[0], [4])
    with session(walked.engine, walked.n) as s:
        asked = " ".join(asked_by(walked.engine, lambda: kept(s)))
    assert "FROM taxon" not in asked
    assert "JOIN card" not in asked
    assert "ledger" in asked


def test_every_kind_of_record_says_whether_counts_have_to_be_read_again():
    kinds = {
        m.class_.__tablename__ for m in Record.registry.mappers if issubclass(m.class_, Record)
    }
    said = (season.BY_ID, season.ANY_COUNT, season.NO_COUNT)
    assert set().union(*said) == kinds
    assert sum(map(len, said)) == len(kinds), "each kind is said once"


def test_a_season_is_read_anew_where_it_cannot_be_followed(walked, monkeypatch):
    with session(walked.engine, walked.n) as s:
        ground = queries.ground(s)
        since = MONDAY - LEARN_DAYS * WEEK / 7
        held = Season(s, ground, since)
        assert held.follow(s, ground, since)
        assert not held.follow(s, ground, since - WEEK), "earlier days were never read"
        s.rollback()
        walked.looks(walked.benches[0], [4])
        monkeypatch.setattr(season, "MOST", 0)
        assert not held.follow(s, queries.ground(s), since), "too much was recorded since"


def test_a_day_turned_back_to_is_read_from_the_records_and_leaves_the_season_as_it_is(walked):
    kept = KeptWeeks()
    with session(walked.engine, walked.n) as s:
        kept(s)
        then = MONDAY - WEEK
        the_same(kept(s, then), summarise(s, then))
        walked.looks(walked.benches[0], [4])
        s.rollback()
        the_same(kept(s), summarise(s))
        assert gather(s, MONDAY, 7).rounds
