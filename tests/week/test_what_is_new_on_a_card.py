"""Readings of cards, counted in all ways in turn: what is new, since when, and what a page sums.

Hand-worked from what the words of a reading say: all insects since the card was hung hold the
earlier ones too; new ones since the last reading came since the card was last read.
"""

from __future__ import annotations

import datetime as dt

import pytest

import benchwalk.records as r
from benchwalk.records.corrections import void_record
from benchwalk.summarise import Key, summarise
from benchwalk.summarise.looks import behind
from tests.conftest import SMALL

WFT, THRIPS = "western_flower_thrips", "thrips"
HUNG = dt.datetime(2026, 3, 1, 8, tzinfo=dt.UTC)  # the small operation's card


@pytest.fixture
def template():
    return SMALL


def read(small, day, *counts, since="last", card=None, walk=None, hour=12):
    """A card read on a day of March, (pest, number)."""
    walk = walk or small.walk(on=dt.date(2026, 3, day))[0]
    tallies = [r.Tally(taxon=taxon, stage="adult", number=n) for taxon, n in counts]
    said = {"kind": "reading", "walk_id": walk.id, "unit_id": small.unit.id, "why": "sample"}
    said |= {"plants": 0, "card_id": (card or small.card).id, "state": "ok", "since": since}
    said |= {"counted": "new" if since == "last" else "all"}
    at = dt.datetime(2026, 3, day, hour, tzinfo=dt.UTC)
    examined = [r.Examined(method="yellow_card", items=40, of_items=40, tallies=tallies)]
    small.add(r.Observation(seen_at=at, examined=examined, **said))
    return walk


def line_of(small, taxon=WFT):
    small.s.rollback()
    (unit,) = summarise(small.s).units
    return next(line for line in unit.lines if line.taxon == taxon)


def summed(small, series):
    held = behind(small.s, series.key, series.on)
    counts = [held.counts(look) for look in held.looks]
    return len(held.looks), sum(n for n in counts if n is not None)


def test_all_after_a_reading_of_new_ones_holds_what_the_last_reading_of_all_held(small):
    read(small, 9, (WFT, 5), since="hung")
    read(small, 12, (WFT, 3))
    read(small, 16, (WFT, 10), since="hung")
    series = line_of(small).series
    assert series.total == 10 - 5
    assert series.effort == pytest.approx(7 / 7)  # days from the ninth to the sixteenth
    assert summed(small, series) == (1, 5)


def test_new_ones_of_a_pest_not_counted_before_came_since_the_last_reading_too(small):
    read(small, 9, (THRIPS, 4))
    read(small, 16, (THRIPS, 4), (WFT, 10))
    assert line_of(small, WFT).series.effort == pytest.approx(7 / 7)
    assert line_of(small, THRIPS).series.effort == pytest.approx(7 / 7)


def test_all_after_a_reading_that_only_saw_some_is_of_all_the_time_it_hung(small):
    walk = small.walk(on=dt.date(2026, 3, 3))[0]
    read(small, 3, walk=walk, since="hung")
    seen = small.s.query(r.Observation).one()
    seen.examined[0].tallies.append(r.Tally(taxon=WFT, stage="adult", how="present"))
    small.s.commit()
    read(small, 10, (WFT, 9), since="hung", hour=8)
    series = line_of(small).series
    # nine days of the clock on the wall, which went forward by an hour on the eighth
    assert (series.total, series.effort) == (9, pytest.approx((9 + 1 / 24) / 7))


def test_two_readings_of_a_card_on_one_walk_add_up_to_what_the_page_says(small):
    walk = read(small, 3, (WFT, 3), since="hung", hour=9)
    read(small, 3, (WFT, 10), since="hung", walk=walk, hour=15)
    series = line_of(small).series
    assert series.total == 10
    assert summed(small, series) == (2, 10)


def test_a_card_of_which_nothing_was_said_is_no_part_of_a_number(small):
    station = r.Station(
        unit_id=small.unit.id, code="S2", kind="card", opened_on=dt.date(2026, 1, 1)
    )
    other = small.add(station)
    card = small.add(r.Card(station_id=other.id, method="yellow_card", hung_at=HUNG))
    walk = read(small, 7, (WFT, 10), hour=8)
    read(small, 7, walk=walk, card=card)
    series = line_of(small).series
    assert (series.looks, series.total, series.effort) == (1, 10, pytest.approx(6 / 7))
    assert summed(small, series) == (1, 10)


def test_a_look_after_midnight_that_was_taken_back_stands_with_its_walk(small):
    """00:30 in New York on the day after the walk began."""
    walk, _ = small.walk()
    late = small.look(walk, seen_at=dt.datetime(2026, 3, 11, 4, 30, tzinfo=dt.UTC))
    small.look(walk)
    void_record(small.s, late.id, 1, "dropped")
    small.s.commit()
    key = Key(small.unit.id, WFT, "adult", "leaf_count")
    held = behind(small.s, key, walk.walk_on)
    assert ([said.id for said in held.voided], len(held.looks)) == ([late.id], 1)
