"""A unit nobody sent a word of is "not sent yet" where its phone has said that it holds counts."""

from __future__ import annotations

import datetime as dt

import pytest

import benchwalk.records as r
from benchwalk.catalogue import say
from benchwalk.records.database import writing
from benchwalk.report.row_words import page_words
from benchwalk.summarise.rows import Wanted, week_rows
from tests.week.nursery import MONDAY, noon


@pytest.fixture
def a_route(nursery):
    """A walk by a phone over two units, of which it has sent one; given what it said, and when."""
    sent, silent = nursery.unit("sent"), nursery.unit("silent")
    phone = r.uuid7()
    walk = r.Walk(
        id=r.uuid7(),
        walk_on=MONDAY,
        device_id=phone,
        route=[r.Route(unit_id=u.id, place=n) for n, u in enumerate((sent, silent), start=1)],
    )

    def heard(unsent, at):
        with writing(nursery.engine, nursery.n) as s:
            s.add(
                r.Device(
                    operation_id=nursery.n,
                    id=phone,
                    label="phone 3",
                    unsent=unsent,
                    last_heard_at=at,
                )
            )
        nursery.write(walk)
        nursery.write(r.Visit(id=r.uuid7(), walk_id=walk.id, unit_id=sent.id, state="done"))
        return nursery.week()

    return heard


EVENING = noon(MONDAY)
BEFORE = noon(MONDAY) - dt.timedelta(days=1)


@pytest.mark.parametrize(
    ("unsent", "at", "reason"),
    [
        (7, EVENING, "not_sent"),
        (0, EVENING, "no_word"),
        (None, EVENING, "no_word"),
        (7, BEFORE, "no_word"),  # what it held the day before says nothing of this walk
        (7, None, "no_word"),
    ],
)
def test_not_sent_is_said_only_where_the_phone_said_so_since_the_walk(a_route, unsent, at, reason):
    week = a_route(unsent, at)
    (missed,) = [m for m in week.not_looked if m.unit.name == "silent"]
    assert missed.reason == reason


@pytest.mark.parametrize("locale", ["en", "es"])
def test_the_week_names_the_phone_that_holds_counts_and_never_calls_that_no_word(a_route, locale):
    words = page_words(week_rows(a_route(7, EVENING), Wanted()), locale)
    said = " ".join(words.standing)
    assert "phone 3" in said
    assert say("abs.not_sent", locale) in said.lower()
    assert say("abs.no_word", locale) not in said.lower()
