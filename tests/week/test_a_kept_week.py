"""A week that is kept is the week that the records say, after whatever was written."""

from __future__ import annotations

import datetime as dt

import pytest
from sqlalchemy import select

import benchwalk.records as r
from benchwalk.records.database import session, writing
from benchwalk.report.row_words import page_words
from benchwalk.summarise import season, summarise
from benchwalk.summarise.kept import KeptWeeks
from benchwalk.summarise.rows import Wanted, week_rows
from tests.week.nursery import MONDAY, WEEK, noon


@pytest.fixture
def walked(nursery):
    """A bench that was counted, and one that a phone was to send."""
    counted, silent = nursery.unit("Bench 1", "poinsettia"), nursery.unit("Bench 2", "poinsettia")
    nursery.threshold("poinsettia", 2.0)
    nursery.looks(counted, [0, 1, 3], on=MONDAY - WEEK)
    nursery.looks(counted, [2, 0, 4])
    phone = r.Device(operation_id=nursery.n, id=r.uuid7(), label="phone 3")
    with writing(nursery.engine, nursery.n) as s:
        s.add(phone)
        s.flush()
        nursery.phone = phone.id
    walk = r.Walk(id=r.uuid7(), walk_on=MONDAY, device_id=nursery.phone)
    walk.route = [r.Route(unit_id=silent.id, place=1)]
    nursery.write(walk)
    nursery.counted, nursery.silent = counted, silent
    return nursery


def said(nursery, week):
    with session(nursery.engine, nursery.n) as s:
        summary = week(s)
    return page_words(week_rows(summary, Wanted())), summary


def a_count(nursery):
    nursery.looks(nursery.counted, [30], position="far end")


def a_void(nursery):
    with writing(nursery.engine, nursery.n) as s:
        s.info["void_reason"] = "wrong bench"
        s.delete(s.scalars(select(r.Observation).order_by(r.Observation.id.desc())).first())


def a_correction(nursery):
    with writing(nursery.engine, nursery.n) as s:
        s.scalars(select(r.Tally).where(r.Tally.number == 4)).one().number = 40


def a_threshold(nursery):
    nursery.threshold("poinsettia", 0.5, from_on=MONDAY)


def a_name(nursery):
    with writing(nursery.engine, nursery.n) as s:
        s.get_one(r.House, (nursery.n, nursery.house.id)).name = "Glass"


def an_older_walk(nursery):
    nursery.looks(nursery.counted, [9, 9, 9], on=MONDAY - WEEK, position="door")


def a_phone_that_holds_counts(nursery):
    """No record: a phone says so at any time, and no ledger row follows."""
    with writing(nursery.engine, nursery.n) as s:
        phone = s.scalars(select(r.Device)).one()
        phone.unsent, phone.last_heard_at = 7, noon(MONDAY) + dt.timedelta(hours=1)


WRITES = (a_count, a_void, a_correction, a_threshold, a_name, an_older_walk)


def test_a_kept_week_says_what_a_new_one_says_after_every_kind_of_write(walked):
    kept = KeptWeeks()
    before, _ = said(walked, kept)
    for write in (*WRITES, a_phone_that_holds_counts):
        write(walked)
        after, _ = said(walked, kept)
        assert after == said(walked, summarise)[0], write.__name__
        assert after != before, f"{write.__name__} changes what the page says"
        before = after


def test_after_a_reading_that_failed_half_way_the_week_is_the_one_of_the_records(
    walked, monkeypatch
):
    """What one of two walks of a day counted is forgotten, and reading it again fails."""
    walked.walks.clear()
    walked.visited.clear()  # the next look is of a walk of its own
    walked.looks(walked.counted, [50])
    kept = KeptWeeks()
    said(walked, kept)
    with writing(walked.engine, walked.n) as s:
        s.info["void_reason"] = "another bench"
        found = select(r.Observation).join(r.Tally, r.Tally.observation_id == r.Observation.id)
        s.delete(s.scalars(found.where(r.Tally.number == 50)).one())
    with monkeypatch.context() as broken:
        broken.setattr(season.queries, "efforts", not_now)
        with pytest.raises(TimeoutError, match="not now"):
            said(walked, kept)
    assert said(walked, kept)[1].history.samples == said(walked, summarise)[1].history.samples


def not_now(*_, **__):
    raise TimeoutError("not now")


def test_a_week_is_reckoned_once_as_long_as_nothing_is_recorded(walked):
    kept = KeptWeeks()
    _, first = said(walked, kept)
    words, second = said(walked, kept)
    assert second.units is first.units
    assert words == said(walked, summarise)[0]
    a_count(walked)
    _, third = said(walked, kept)
    assert third.units is not first.units


def test_a_kept_threshold_can_be_read_after_its_session_took_everything_back(walked):
    kept = KeptWeeks()
    with session(walked.engine, walked.n) as s:
        summary = kept(s)
        s.rollback()
    assert 2.0 in [t.value for t in summary.known.thresholds]


def test_a_week_before_is_kept_beside_the_newest_and_one_more_is_not(walked):
    kept = KeptWeeks()
    days = (MONDAY, MONDAY - WEEK, MONDAY)
    with session(walked.engine, walked.n) as s:
        found = [kept(s, day) for day in days]
        assert found[0].units is found[2].units
        kept(s, MONDAY - 2 * WEEK)
        kept(s, MONDAY + WEEK)
        assert kept(s, MONDAY).units is not found[0].units
